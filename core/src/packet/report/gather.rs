//! Gathers the report of a reader from what the review already says of the job.

use std::collections::{BTreeMap, BTreeSet};

use super::table::Moment;
use super::*;
use crate::job::*;
use crate::packet::photos::PlacedPhoto;
use crate::packet::{PacketInput, PacketKind, Selection, texts};
use crate::review::FindingsList;
use crate::sorted::Keyed;

/// What the entries are made from.
pub(super) struct Gathering<'a> {
    pub(super) job: &'a Job,
    pub(super) input: &'a PacketInput<'a>,
    pub(super) selection: &'a Selection<'a>,
    pub(super) list: &'a FindingsList,
    pub(super) photos: &'a [PlacedPhoto<'a>],
    /// Names of the photos that the packet shows.
    names: BTreeMap<&'a RecordId, &'a str>,
}

/// The report of the reader that the selection is for.
pub(in crate::packet) fn gather(
    input: &PacketInput<'_>,
    selection: &Selection<'_>,
    list: &FindingsList,
    photos: &[PlacedPhoto<'_>],
) -> FullReport {
    let names = photos
        .iter()
        .map(|photo| (photo.shown.id, photo.stem.as_str()));
    let gathering = Gathering {
        job: selection.job(),
        input,
        selection,
        list,
        photos,
        names: names.keyed(),
    };
    let report = match selection.kind() {
        PacketKind::Shared => ReaderReport::InsurersPacket(Box::new(gathering.insurers())),
        PacketKind::Owner => ReaderReport::OwnersAccount(Box::new(OwnersReport {
            account: gathering.account(),
            photos: gathering.photo_entries(),
        })),
        PacketKind::Production => {
            let (sheet, materials, sheet_lines) = gathering.production();
            ReaderReport::ProductionSheet(Box::new(ProductionReport {
                sheet,
                materials,
                sheet_lines,
                photos: gathering.photo_entries(),
            }))
        }
        PacketKind::Archive => ReaderReport::EstimatorsFile(Box::new(gathering.estimators())),
    };
    FullReport {
        format: FORMAT,
        head: gathering.head(),
        report,
    }
}

impl Gathering<'_> {
    fn insurers(&self) -> InsurersPacket {
        let (scope, scope_totals, disputes) = self.scope_entries();
        InsurersPacket {
            places: self.place_entries(),
            findings: self.finding_entries(),
            components: self.component_entries(),
            scope,
            scope_totals,
            disputes,
            measurements: self.measurement_entries(),
            test_squares: self.square_entries(),
            storm_reports: self.storm_entries(),
            requirements: self.requirement_entries(),
            confirm: self.confirm_entries(),
            photos: self.photo_entries(),
        }
    }

    fn estimators(&self) -> EstimatorsFile {
        let (sheet, materials, sheet_lines) = self.production();
        let account = self.account();
        EstimatorsFile {
            all: self.insurers(),
            comparison: self.comparison_entries(),
            doubts: self.doubt_entries(&account),
            sheet,
            materials,
            sheet_lines,
            account,
        }
    }

    fn head(&self) -> Head {
        let property = self.job.property();
        let visits = self.job.records.visits.values();
        let visited: BTreeSet<_> = visits
            .filter(|visit| visit.stands())
            .filter_map(|visit| visit.day)
            .keyed();
        let people: BTreeSet<String> = self
            .selection
            .devices()
            .into_iter()
            .filter_map(|device| self.job.crew.get(&device))
            .map(|member| member.person.clone())
            .keyed();
        Head {
            title: self.selection.kind().title(),
            company: self.input.company.to_owned(),
            address: address(self.job),
            date_of_loss: property.and_then(|property| property.date_of_loss),
            visited: visited.into_iter().collect(),
            recorded_by: people.into_iter().collect(),
            statement: texts::STATEMENT,
            made_at: Moment(self.input.created_at),
        }
    }

    /// The names of those photos that the packet shows.
    pub(super) fn photo_names(&self, photos: &[RecordId]) -> Vec<String> {
        let names = photos.iter().filter_map(|id| self.names.get(id));
        names.map(|name| (*name).to_owned()).collect()
    }

    /// True where the packet shows the photo.
    pub(super) fn has_photo(&self, photo: &RecordId) -> bool {
        self.names.contains_key(photo)
    }

    /// The names of the packet's photos that show a record, in walk order.
    pub(super) fn showing(&self, at: &RecordRef) -> Vec<String> {
        let showing = self.photos.iter();
        let showing = showing.filter(|photo| photo.shown.photo.shows.contains(at));
        showing.map(|photo| photo.stem.clone()).collect()
    }

    /// A place's name, where the packet shows the place.
    pub(super) fn place(&self, place: Option<&Place>) -> Option<String> {
        let shown = place.filter(|place| self.selection.shows_record(place));
        shown.map(|place| self.job.place_name(place))
    }

    /// The records of a kind that the packet shows.
    pub(super) fn shown<'r, F>(
        &self,
        kind: Kind,
        records: &'r BTreeMap<RecordId, Record<F>>,
    ) -> Vec<(RecordRef, &'r Record<F>)> {
        let all = records.iter();
        let all = all.map(|(id, record)| (RecordRef::new(kind, id.clone()), record));
        all.filter(|(at, _)| self.selection.shows_record(at))
            .collect()
    }
}

/// Street, town, state and code; says so where nothing of it is recorded.
pub(in crate::packet) fn address(job: &Job) -> String {
    let Some(property) = job.property() else {
        return "address not recorded".to_owned();
    };
    let town = [&property.town, &property.state, &property.postal_code];
    let town: Vec<&str> = town.iter().filter_map(|part| part.as_deref()).collect();
    let town = town.join(" ");
    let parts = [property.street.as_deref().unwrap_or(""), town.as_str()];
    let parts: Vec<&str> = parts.into_iter().filter(|part| !part.is_empty()).collect();
    if parts.is_empty() {
        return "address not recorded".to_owned();
    }
    parts.join(", ")
}

/// A value in words; `None` where there is none.
pub(super) fn words<T: FieldValue>(value: &Option<T>) -> Option<String> {
    value.as_ref().map(FieldValue::in_words)
}

/// Four decimals: a 64th of an inch stays what it is.
pub(super) fn rounded(number: f64) -> f64 {
    (number * 1e4).round() / 1e4 + 0.0
}

pub(super) fn feet(length: Option<Length>) -> Option<f64> {
    length.map(|length| rounded(length.to_feet()))
}

pub(super) fn inches(length: Option<Length>) -> Option<f64> {
    length.map(|length| rounded(length.to_inches()))
}

/// A text with something in it.
pub(super) fn some(text: &str) -> Option<String> {
    (!text.is_empty()).then(|| text.to_owned())
}

pub(super) fn struck<F>(record: &Record<F>) -> Option<String> {
    record.struck.as_ref().map(|struck| struck.reason.clone())
}

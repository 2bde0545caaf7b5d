//! Findings, parts and photos.

use super::gather::{Gathering, feet, inches, rounded, struck, words};
use super::table::Moment;
use super::{ComponentEntry, FindingEntry, PhotoEntry, PlaceEntry};
use crate::job::*;
use crate::packet::photos::PlacedPhoto;
use crate::packet::when;
use crate::review::{FindingRow, PartRow, PlaceGroup, office_only_photo, side_of};

impl Gathering<'_> {
    pub(super) fn place_entries(&self) -> Vec<PlaceEntry> {
        let groups = self.list.groups.iter();
        let entry = |group: &PlaceGroup| PlaceEntry {
            place: group.name.clone(),
            side: words(&group.side),
            damaged: group.counts.damaged,
            prior: group.counts.prior,
            unsure: group.counts.unsure,
            cleared: group.counts.cleared,
            hits: group.counts.hits,
            units: group.counts.units,
            units_total: group.counts.units_total,
        };
        groups.map(entry).collect()
    }

    pub(super) fn finding_entries(&self) -> Vec<FindingEntry> {
        let groups = self.list.groups.iter();
        groups
            .flat_map(|group| group.findings.iter().map(|row| self.finding(group, row)))
            .collect()
    }

    fn finding(&self, group: &PlaceGroup, row: &FindingRow) -> FindingEntry {
        let finding = &row.finding;
        let audience = if row.office_only {
            "office only"
        } else {
            "shared"
        };
        FindingEntry {
            number: row.number,
            place: group.name.clone(),
            side: words(&group.side),
            component: words(&finding.component),
            storey: finding.storey,
            from_left: finding.from_left,
            unit_name: finding.unit_name.clone(),
            height_in: inches(finding.height),
            state: row.state.label().to_owned(),
            condition: words(&finding.condition),
            cause: words(&finding.cause),
            reason: finding.cause_reason.clone(),
            hits: row.hits,
            units: finding.units,
            units_total: finding.units_total,
            length_ft: feet(finding.extent_length),
            area_sqft: finding
                .extent_area
                .map(|area| rounded(area.to_square_feet())),
            material: words(&finding.material),
            finish: words(&finding.finish),
            severity: words(&finding.severity),
            text: finding.text.clone(),
            unsettled: row.unsettled.iter().map(|f| f.replace('_', " ")).collect(),
            photos: self.photo_names(&row.photos),
            recorded_by: row.recorded_by.clone(),
            recorded_at: Moment(row.recorded_at),
            audience: self.for_office(|| audience.to_owned()),
            struck: row.struck.clone(),
        }
    }

    pub(super) fn component_entries(&self) -> Vec<ComponentEntry> {
        let entry = |group: &PlaceGroup, row: &PartRow| ComponentEntry {
            place: group.name.clone(),
            side: words(&group.side),
            component: words(&row.part.component),
            condition: words(&row.part.condition),
            count: row.part.count,
            length_ft: feet(row.part.length),
            material: words(&row.part.material),
            finish: words(&row.part.finish),
            details: row.part.details.clone(),
            struck: row.struck.clone(),
        };
        let groups = self.list.groups.iter();
        groups
            .flat_map(|group| group.parts.iter().map(move |row| entry(group, row)))
            .collect()
    }

    pub(super) fn photo_entries(&self) -> Vec<PhotoEntry> {
        let entries = self.photos.iter().map(|photo| self.photo(photo));
        entries.collect()
    }

    fn photo(&self, photo: &PlacedPhoto<'_>) -> PhotoEntry {
        let record = photo.shown.photo;
        let capture = photo.shown.capture.as_ref();
        let (width, height) = capture.map_or((None, None), upright);
        let at = capture.and_then(|capture| capture.place);
        let at = at.filter(|_| self.selection.tells_places(self.input.choices));
        let place = self.place_of(photo);
        let audience = if office_only_photo(record) {
            "office only"
        } else {
            "shared"
        };
        PhotoEntry {
            number: u32::try_from(photo.number).unwrap_or(u32::MAX),
            name: photo.stem.clone(),
            file: photo.file.clone(),
            lacking: photo.lacking.map(str::to_owned),
            record: RecordRef::new(Kind::Photo, photo.shown.id.clone()).to_string(),
            role: words(&record.role),
            place: self.place(place),
            side: place
                .filter(|place| self.selection.shows_record(place))
                .and_then(|place| side_of(self.job, place))
                .map(|side| side.in_words()),
            caption: record.caption.clone(),
            taken: capture.map(when::taken),
            taken_in_at: capture.map(|capture| Moment(capture.taken_in_at)),
            latitude: at.map(|at| at.latitude),
            longitude: at.map(|at| at.longitude),
            camera: capture.and_then(|capture| capture.camera.clone()),
            width_px: width,
            height_px: height,
            bytes: capture.map(|capture| capture.size),
            blake3: capture.map(|capture| capture.hash.to_string()),
            sha256: capture.map(|capture| hex(&capture.sha256)),
            audience: self.for_office(|| audience.to_owned()),
            struck: struck(record),
        }
    }

    /// Where a photo was taken, the place it shows, or the place of the finding it shows.
    fn place_of<'p>(&'p self, photo: &'p PlacedPhoto<'_>) -> Option<&'p Place> {
        let record = photo.shown.photo;
        let shown = record.shows.iter().find(|at| at.is_place());
        let of_finding = || {
            let findings = record.shows.iter().filter(|at| at.kind == Kind::Finding);
            let mut findings = findings.filter(|at| self.selection.shows_record(at));
            let finding = self.job.records.findings.get(&findings.next()?.id)?;
            finding.fields.place.as_ref()
        };
        record.fields.place.as_ref().or(shown).or_else(of_finding)
    }

    /// A word that is in the office's reports only.
    pub(super) fn for_office(&self, word: impl FnOnce() -> String) -> Option<String> {
        self.selection.for_office().then(word)
    }
}

/// Width and height as seen upright; `None` where they could not be read.
fn upright(capture: &Capture) -> (Option<u32>, Option<u32>) {
    let known = |pixels: u32| (pixels > 0).then_some(pixels);
    match capture.orientation {
        5..=8 => (known(capture.height), known(capture.width)),
        _ => (known(capture.width), known(capture.height)),
    }
}

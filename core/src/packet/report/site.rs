//! Measures, storm reports, sections of the code, the production sheet, the owner's account.

use super::gather::{Gathering, feet, inches, rounded, struck, words};
use super::table::Moment;
use super::{
    ConfirmEntry, MaterialEntry, MeasurementEntry, RequirementEntry, SheetEntry, SquareEntry,
    StormEntry,
};
use crate::job::*;
use crate::review::account::{AccountLine, OwnersAccount, owners_account};
use crate::review::production::{Certainty, ProductionSheet, SheetLine, production_sheet};
use crate::review::requirements::{Stated, requirements};
use crate::review::tear_off;
use crate::sorted::Sorted;
use crate::trade::code::{Standing, Status};

impl Gathering<'_> {
    pub(super) fn measurement_entries(&self) -> Vec<MeasurementEntry> {
        let shown = self.shown(Kind::Measurement, &self.job.records.measurements);
        let entries = shown.into_iter().map(|(at, measure)| MeasurementEntry {
            of: words(&measure.of),
            place: self.place(measure.place.as_ref()),
            pitch: words(&measure.pitch),
            rise_in_12: measure.pitch.map(|pitch| rounded(pitch.rise())),
            length_ft: feet(measure.length),
            method: words(&measure.method),
            report_pitch: self.report_pitch(measure),
            remarks: measure.remarks.clone(),
            photos: self.showing(&at),
            recorded_by: self.job.who(measure.made.device),
            struck: struck(measure),
        });
        entries.collect()
    }

    /// The report's pitch beside the measured one.
    fn report_pitch(&self, measure: &Measurement) -> Option<String> {
        let slope = measure.place.as_ref();
        let slope = slope.filter(|_| measure.of == Some(MeasuredThing::Pitch))?;
        words(&self.job.records.slopes.get(&slope.id)?.report_pitch)
    }

    pub(super) fn square_entries(&self) -> Vec<SquareEntry> {
        let shown = self.shown(Kind::TestSquare, &self.job.records.test_squares);
        let entries = shown.into_iter().map(|(at, square)| SquareEntry {
            slope: self.place(square.slope.as_ref()),
            hits: square.hits(),
            width_ft: feet(square.width),
            height_ft: feet(square.height),
            placement: words(&square.placement),
            remarks: square.remarks.clone(),
            photos: self.showing(&at),
            struck: struck(square),
        });
        entries.collect()
    }

    pub(super) fn storm_entries(&self) -> Vec<StormEntry> {
        let mut shown = self.shown(Kind::StormReport, &self.job.records.storm_reports);
        shown.order_by_key(|(at, report)| (report.at, at.clone()));
        let entries = shown.into_iter().map(|(_, report)| StormEntry {
            kind: words(&report.kind),
            at: report.at.map(Moment),
            hail_in: inches(report.size),
            size_word: report.size_word.clone(),
            gust_mph: report.gust_mph.map(rounded),
            measured: report.gust_measured,
            latitude: report.latitude,
            longitude: report.longitude,
            where_said: report.where_said.clone(),
            source: report.source.clone(),
            remarks: report.remarks.clone(),
            struck: struck(report),
        });
        entries.collect()
    }

    pub(super) fn requirement_entries(&self) -> Vec<RequirementEntry> {
        let answers = requirements(self.job, &Stated::default());
        let entries = answers.into_iter().map(|requirement| {
            let answer = requirement.answer;
            let because = answer.triggered_by.iter();
            let because = because.map(|by| format!("{}: {}", by.input.label(), by.value));
            let not_known = answer.not_known.iter();
            RequirementEntry {
                place: answer.place,
                standing: match answer.standing {
                    Standing::Asks => "asks",
                    Standing::NotAsked => "asks nothing here",
                    Standing::NotKnown => "not known",
                }
                .to_owned(),
                section: answer.section.to_owned(),
                edition: answer.edition.to_string(),
                edition_assumed: answer.edition_assumed,
                sentence: answer.sentence,
                because: because.collect(),
                not_known: not_known.map(|input| input.label().to_owned()).collect(),
                section_read: answer.status == Status::Read,
                confirm: answer.confirm.to_owned(),
            }
        });
        entries.collect()
    }

    pub(super) fn confirm_entries(&self) -> Vec<ConfirmEntry> {
        let lines = tear_off(self.job).into_iter().map(|line| ConfirmEntry {
            place: line.place,
            what: line.what.to_owned(),
            known: line.known,
            reason: line.reason,
        });
        lines.collect()
    }

    /// The production sheet, its materials and its lines.
    pub(super) fn production(&self) -> (ProductionSheet, Vec<MaterialEntry>, Vec<SheetEntry>) {
        let options = &self.input.choices.sheet;
        let mut sheet = production_sheet(self.job, self.selection.reader(), options);
        let materials = sheet.materials.iter().map(|line| MaterialEntry {
            item: line.item.label().to_owned(),
            place: line.place.clone(),
            quantity: line.quantity.map(rounded),
            at_least: line.at_least.map(rounded),
            unit: line.unit.label().to_owned(),
            arithmetic: line.arithmetic.clone(),
            not_known: line.not_known.clone(),
        });
        let materials = materials.collect();
        let parts: [(&str, &mut Vec<SheetLine>); 8] = [
            ("deck", &mut sheet.deck),
            ("layers", &mut sheet.layers),
            ("in the way of tear-off", &mut sheet.obstacles),
            ("confirm at tear-off", &mut sheet.confirm_at_tear_off),
            ("access", &mut sheet.access),
            ("there before", &mut sheet.prior_conditions),
            ("paint to match", &mut sheet.paint_to_match),
            ("comes off and goes back", &mut sheet.detach_and_reset),
        ];
        let mut lines = Vec::new();
        for (part, found) in parts {
            for line in found {
                line.photos.retain(|photo| self.has_photo(photo));
                lines.push(SheetEntry {
                    part: part.to_owned(),
                    text: line.text.clone(),
                    certainty: match line.certainty {
                        Certainty::Known => "known",
                        Certainty::Confirm => "confirm at tear-off",
                        Certainty::Unknown => "unknown",
                    }
                    .to_owned(),
                    photos: self.photo_names(&line.photos),
                });
            }
        }
        (sheet, materials, lines)
    }

    /// The owner's account, with the photos that the packet shows.
    pub(super) fn account(&self) -> OwnersAccount {
        let mut account = owners_account(self.job);
        let keep = |line: &mut AccountLine| line.photos.retain(|photo| self.has_photo(photo));
        account.looked_at.iter_mut().for_each(keep);
        let observed = account.observed.iter_mut();
        observed.flat_map(|place| &mut place.lines).for_each(keep);
        account.before.iter_mut().for_each(keep);
        account.unsure.iter_mut().for_each(keep);
        account
    }
}

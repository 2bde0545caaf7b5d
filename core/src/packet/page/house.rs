//! Measurements, eave openings, test squares and what tear-off has to confirm.

use maud::{Markup, html};

use super::super::photos::PlacedPhoto;
use super::places::words;
use super::{Home, Page, capital};
use crate::job::*;
use crate::review::tear_off;

impl Page<'_> {
    pub(super) fn measurements(&self) -> Markup {
        let shown = self.shown(Kind::Measurement, &self.job.records.measurements);
        let photos = self.at_home(Home::Measurement);
        html! {
            @if !shown.is_empty() {
                section #measurements {
                    h2 { "Measurements" }
                    div.wide { table {
                        thead { tr { th { "What" } th { "Place" } th { "Measured" } th { "How" }
                            th { "Remarks" } th { "Photos" } } }
                        tbody { @for (at, measure) in shown { tr {
                            td { (words(&measure.of)) (self.struck(&measure.struck)) }
                            td { (self.place(measure.place.as_ref())) }
                            td { (words(&measure.pitch)) (words(&measure.length)) (self.report_pitch(measure)) }
                            td { (words(&measure.method)) }
                            td { (words(&measure.remarks)) }
                            td { (self.numbers(&at)) }
                        } } }
                    } }
                    (self.figures(&photos))
                }
            }
        }
    }

    /// The report's pitch beside the measured one.
    fn report_pitch(&self, measure: &Measurement) -> Markup {
        let slope = measure
            .place
            .as_ref()
            .filter(|_| measure.of == Some(MeasuredThing::Pitch));
        let report = slope
            .and_then(|place| self.job.records.slopes.get(&place.id))
            .and_then(|slope| slope.report_pitch);
        html! { @if let Some(report) = report { " (report: " (report) ")" } }
    }

    pub(super) fn eaves(&self) -> Markup {
        const LAYERS: &[&str] = &[
            "starter",
            "drip_edge",
            "gutter_apron",
            "underlayment",
            "ice_barrier",
            "deck",
            "widest_gap",
            "valley_lining",
            "roofing_layers",
            "reason",
        ];
        let shown = self.shown(Kind::EaveOpening, &self.job.records.eave_openings);
        html! {
            @if !shown.is_empty() {
                section #eaves {
                    h2 { "Eave openings" }
                    p.soft { "What lies under the first course, as far as it could be seen." }
                    @for (at, eave) in shown {
                        div.card {
                            h3 { (capital(&self.job.place_name(&at))) (self.struck(&eave.struck)) }
                            table { tbody { @for key in LAYERS {
                                @if let Some(value) = self.job.records.words(&at, key) {
                                    tr { td { (capital(&key.replace('_', " "))) } td { (value) } }
                                }
                            } } }
                            @let photos: Vec<&PlacedPhoto<'_>> = self.at_home(Home::Eave)
                                .into_iter()
                                .filter(|photo| photo.shown.photo.shows.contains(&at)
                                    || photo.shown.photo.place.as_ref() == Some(&at))
                                .collect();
                            (self.figures(&photos))
                            (self.notes(&at))
                        }
                    }
                }
            }
        }
    }

    pub(super) fn test_squares(&self) -> Markup {
        let shown = self.shown(Kind::TestSquare, &self.job.records.test_squares);
        html! {
            @if !shown.is_empty() {
                section #squares {
                    h2 { "Test squares" }
                    div.wide { table {
                        thead { tr { th { "Slope" } th.n { "Hits" } th { "Size" } th { "Spot" }
                            th { "Remarks" } th { "Photos" } } }
                        tbody { @for (at, square) in shown { tr {
                            td { (self.place(square.slope.as_ref())) (self.struck(&square.struck)) }
                            td.n { @match square.hits() { Some(hits) => (hits), None => "not counted" } }
                            td { (words(&square.width)) " by " (words(&square.height)) }
                            td { (words(&square.placement)) }
                            td { (words(&square.remarks)) }
                            td { (self.numbers(&at)) }
                        } } }
                    } }
                    (self.figures(&self.at_home(Home::Square)))
                }
            }
        }
    }

    pub(super) fn tear_off(&self) -> Markup {
        let lines = tear_off(self.job);
        html! {
            @if !lines.is_empty() {
                section #tear-off {
                    h2 { "Open until tear-off" }
                    p.soft { "Could not be seen without breaking something, or is inferred." }
                    ul { @for line in lines { li {
                        (capital(&line.place)) ": " (line.what) ", " (line.known)
                        @if let Some(reason) = line.reason { " (" (reason) ")" }
                    } } }
                }
            }
        }
    }

    fn shown<'r, F>(
        &self,
        kind: Kind,
        records: &'r std::collections::BTreeMap<RecordId, Record<F>>,
    ) -> Vec<(RecordRef, &'r Record<F>)> {
        records
            .iter()
            .map(|(id, record)| (RecordRef::new(kind, id.clone()), record))
            .filter(|(at, _)| self.selection.shows_record(at))
            .collect()
    }

    fn at_home(&self, home: Home) -> Vec<&PlacedPhoto<'_>> {
        self.photos
            .iter()
            .filter(|photo| self.home(photo) == home)
            .collect()
    }

    fn place(&self, place: Option<&Place>) -> String {
        place.map_or_else(String::new, |place| self.job.place_name(place))
    }

    fn struck(&self, struck: &Option<Struck>) -> Markup {
        html! { @if let Some(struck) = struck { " (struck: " (struck.reason) ")" } }
    }

    /// The numbers of the photos that show a record.
    fn numbers(&self, at: &RecordRef) -> String {
        let numbers: Vec<String> = self
            .showing(at)
            .iter()
            .map(|photo| photo.number.to_string())
            .collect();
        numbers.join(", ")
    }
}

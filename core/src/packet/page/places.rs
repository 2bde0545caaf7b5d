//! The sections of the page by place, and the card of each finding.

use maud::{Markup, html};

use super::super::photos::PlacedPhoto;
use super::{Home, Page, capital};
use crate::job::*;
use crate::review::{FindingRow, PartRow, PlaceGroup, State};

impl Page<'_> {
    /// A place has a section where there is something to show beside its counts.
    pub(super) fn has_section(&self, group: &PlaceGroup) -> bool {
        group.findings.iter().any(|row| row.state != State::Prior)
            || !group.parts.is_empty()
            || !self.photos_of_place(group).is_empty()
    }

    pub(super) fn place_section(&self, index: usize, group: &PlaceGroup) -> Markup {
        if !self.has_section(group) {
            return html! {};
        }
        html! {
            section id={ "place-" (index) } {
                h2 { (capital(&group.name)) }
                (self.place_facts(group))
                (self.figures(&self.photos_of_place(group)))
                @for row in group.findings.iter().filter(|row| row.state != State::Prior) {
                    (self.card(row, None))
                }
                (self.parts(&group.parts))
                @if let Some(place) = &group.place { (self.notes(place)) }
            }
        }
    }

    fn photos_of_place(&self, group: &PlaceGroup) -> Vec<&PlacedPhoto<'_>> {
        let Some(place) = &group.place else {
            return Vec::new();
        };
        self.photos
            .iter()
            .filter(|photo| self.home(photo) == Home::Place && self.place_of(photo) == Some(place))
            .collect()
    }

    fn place_facts(&self, group: &PlaceGroup) -> Markup {
        const ELEVATION: &[&str] = &[
            "storeys",
            "eave_height",
            "wall_length",
            "cladding",
            "blocked_by",
            "walked",
        ];
        const SLOPE: &[&str] = &[
            "roofing",
            "layers",
            "report_pitch",
            "report_area",
            "measured_area",
            "age_years",
            "walked",
        ];
        const ROOM: &[&str] = &["storey", "length", "width", "height"];
        const STRUCTURE: &[&str] = &["kind", "material", "length", "height"];
        let Some(place) = &group.place else {
            return html! {};
        };
        let keys = match place.kind {
            Kind::Elevation => ELEVATION,
            Kind::Slope => SLOPE,
            Kind::Room => ROOM,
            Kind::Structure => STRUCTURE,
            _ => &[],
        };
        let facts: Vec<(String, String)> = keys
            .iter()
            .filter_map(|key| {
                let words = self.job.records.words(place, key)?;
                Some((key.replace('_', " "), words))
            })
            .collect();
        facts_list(&facts)
    }

    /// The card of a finding; `place` is said where the section does not say it.
    pub(super) fn card(&self, row: &FindingRow, place: Option<&str>) -> Markup {
        let finding = &row.finding;
        let at = RecordRef::new(Kind::Finding, row.id.clone());
        let part = finding
            .component
            .map_or("part not stated", Component::label);
        html! {
            article.card.struck[row.struck.is_some()] id={ "finding-" (row.number) } {
                div.head {
                    h3 { (row.number) ". " (capital(part)) @if let Some(place) = place { ", " (place) } }
                    span class={ "badge " (state_class(row.state)) } { (row.state.label()) }
                    @if let Some(cause) = finding.cause { span.badge { "cause: " (cause) } }
                    @if row.office_only { span.badge.office { "office only" } }
                }
                @if let Some(reason) = &row.struck { p { "Struck: " (reason) } }
                @if let Some(text) = &finding.text { p { (text) } }
                @if let Some(reason) = &finding.cause_reason { p { "Reason: " (reason) } }
                (facts_list(&facts(row)))
                @if !row.unsettled.is_empty() {
                    p.unsure { "Two statements stand, not settled yet: "
                        (row.unsettled.join(", ").replace('_', " ")) "." }
                }
                (self.pair(row))
                (self.notes(&at))
            }
        }
    }

    /// Standoff beside close-ups.
    fn pair(&self, row: &FindingRow) -> Markup {
        let photos: Vec<&PlacedPhoto<'_>> = row
            .photos
            .iter()
            .filter_map(|id| self.by_record.get(id).copied())
            .collect();
        let (far, near): (Vec<_>, Vec<_>) = photos.iter().copied().partition(|photo| {
            matches!(
                photo.shown.photo.role,
                Some(PhotoRole::Standoff | PhotoRole::Overview)
            )
        });
        html! {
            @if far.is_empty() || near.is_empty() {
                (self.figures(&photos))
            } @else {
                div.pair {
                    div.far { (self.figures(&far)) }
                    div.near { (self.figures(&near)) }
                }
            }
        }
    }

    fn parts(&self, parts: &[PartRow]) -> Markup {
        html! {
            @if !parts.is_empty() {
                div.card {
                    h3 { "Parts counted and cleared" }
                    div.wide { table {
                        thead { tr { th { "Part" } th { "State" } th.n { "Count" } th { "Length" }
                            th { "Material and finish" } th { "Details" } } }
                        tbody { @for row in parts { tr {
                            td { (words(&row.part.component)) }
                            td { (words(&row.part.condition))
                                @if let Some(reason) = &row.struck { " (struck: " (reason) ")" } }
                            td.n { (words(&row.part.count)) }
                            td { (words(&row.part.length)) }
                            td { (joined(&[words(&row.part.material), words(&row.part.finish)])) }
                            td { (words(&row.part.details)) }
                        } } }
                    } }
                }
            }
        }
    }

    /// Prior conditions in their own section, whatever side they lie on.
    pub(super) fn prior(&self) -> Markup {
        html! {
            section #prior {
                h2 { "Prior conditions" }
                p.soft { "What the crew takes to be older than the storm, worn or aged." }
                @let rows = self.list.groups.iter().flat_map(|group| {
                    group.findings.iter().map(move |row| (group, row))
                });
                @let rows: Vec<_> = rows.filter(|(_, row)| row.state == State::Prior).collect();
                @if rows.is_empty() { p { "None recorded." } }
                @for (group, row) in rows { (self.card(row, Some(&group.name))) }
            }
        }
    }

    pub(super) fn notes(&self, at: &RecordRef) -> Markup {
        let notes = self.job.records.notes.iter().filter(|(id, note)| {
            let here = note.about.as_ref() == Some(at);
            here && self
                .selection
                .shows_record(&RecordRef::new(Kind::Note, (*id).clone()))
        });
        html! {
            @for (_, note) in notes {
                p { "Note: " (note.text.as_deref().unwrap_or(""))
                    @if let Some(struck) = &note.struck { " (struck: " (struck.reason) ")" }
                    @if note.audience == Some(Audience::OfficeOnly) { " " span.office { "office only" } }
                }
            }
        }
    }
}

fn facts(row: &FindingRow) -> Vec<(String, String)> {
    let finding = &row.finding;
    let units = match (finding.units, finding.units_total) {
        (Some(units), Some(total)) => format!("{units} of {total}"),
        (Some(units), None) => units.to_string(),
        (None, _) => String::new(),
    };
    let facts = [
        ("units", units),
        ("hits counted", words(&row.hits)),
        ("from left", words(&finding.from_left)),
        ("storey", words(&finding.storey)),
        ("unit", words(&finding.unit_name)),
        ("above grade", words(&finding.height)),
        ("length", words(&finding.extent_length)),
        ("area", words(&finding.extent_area)),
        (
            "material",
            joined(&[words(&finding.material), words(&finding.finish)]),
        ),
        ("severity", words(&finding.severity)),
        (
            "condition",
            words(
                &finding
                    .condition
                    .filter(|said| said.label() != row.state.label()),
            ),
        ),
        ("recorded by", row.recorded_by.clone()),
    ];
    facts
        .into_iter()
        .filter(|(_, value)| !value.is_empty())
        .map(|(name, value)| (name.to_owned(), value))
        .collect()
}

pub(super) fn facts_list(facts: &[(String, String)]) -> Markup {
    html! {
        @if !facts.is_empty() {
            dl.facts { @for (name, value) in facts { div { dt { (name) } dd { (value) } } } }
        }
    }
}

pub(super) fn words<T: FieldValue>(value: &Option<T>) -> String {
    value.as_ref().map(FieldValue::in_words).unwrap_or_default()
}

fn joined(parts: &[String]) -> String {
    let parts: Vec<&str> = parts
        .iter()
        .map(String::as_str)
        .filter(|part| !part.is_empty())
        .collect();
    parts.join(", ")
}

fn state_class(state: State) -> &'static str {
    match state {
        State::Damaged => "damaged",
        State::Prior => "prior",
        State::Unsure => "unsure",
        State::Cleared => "cleared",
        State::NotPresent => "not_present",
        State::Open => "open",
    }
}

//! `index.html`: the record as one page in walk order, without scripts and without anything from
//! elsewhere. Every text is escaped by the template.

mod figure;
mod house;
mod office;
mod places;
mod reader;

use std::collections::{BTreeMap, BTreeSet};

use maud::{DOCTYPE, Markup, PreEscaped, html};
pub(super) use reader::reader_page;

use super::photos::{PlacedPhoto, by_record};
use super::report::address;
use super::when::utc_for_people;
use super::{PacketInput, Selection, texts};
use crate::job::*;
use crate::review::{Counts, FindingsList};
use crate::sorted::Keyed;

/// What every part of the page needs.
pub(super) struct Page<'a> {
    job: &'a Job,
    selection: &'a Selection<'a>,
    list: &'a FindingsList,
    photos: &'a [PlacedPhoto<'a>],
    by_record: BTreeMap<&'a RecordId, &'a PlacedPhoto<'a>>,
    /// Findings that stand on the page.
    listed: BTreeSet<RecordRef>,
    /// Photos on the cards of findings: struck ones are not.
    carded: BTreeSet<&'a RecordId>,
    /// Places that have a section of their own.
    places: BTreeSet<&'a Place>,
}

/// Where on the page a photo stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Home {
    Finding,
    Measurement,
    Eave,
    Square,
    Place,
    Further,
}

/// The page.
pub(super) fn page(
    input: &PacketInput<'_>,
    selection: &Selection<'_>,
    list: &FindingsList,
    photos: &[PlacedPhoto<'_>],
    downloads: &[(&str, &str)],
) -> Markup {
    let rows = list.groups.iter().flat_map(|group| &group.findings);
    let carded = rows.clone().flat_map(|row| &row.photos).keyed();
    let page = Page {
        carded,
        job: selection.job(),
        selection,
        list,
        photos,
        by_record: by_record(photos),
        listed: rows
            .map(|row| RecordRef::new(Kind::Finding, row.id.clone()))
            .keyed(),
        places: list
            .groups
            .iter()
            .filter_map(|group| group.place.as_ref())
            .keyed(),
    };
    let address = address(page.job);
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="robots" content="noindex";
                title { "Storm inspection record, " (address) }
                style { (PreEscaped(include_str!("style.css"))) }
            }
            body {
                header.top {
                    p.kicker { (input.company) " · Storm inspection record"
                        @if selection.for_office() { " · " span.office { "archive of the office" } }
                    }
                    h1 { (address) }
                    (page.about(input))
                    p.statement { (texts::STATEMENT) }
                    (page.contents())
                }
                main {
                    (page.summary())
                    @for (index, group) in list.groups.iter().enumerate() {
                        (page.place_section(index, group))
                    }
                    (page.prior())
                    (page.measurements())
                    (page.eaves())
                    (page.test_squares())
                    (page.tear_off())
                    (page.further())
                    @if selection.for_office() { (page.office_sections()) }
                    (page.photo_index())
                }
                footer {
                    p { "Made " (utc_for_people(input.created_at)) ". Photos are the files as the "
                        "camera wrote them; marks are drawn beside them. "
                        @for (file, words) in downloads { a href=(file) { (words) } ", " }
                        a href="HOW-TO-CHECK.txt" { "How to check this folder" } ", "
                        a href="findings.csv" { "findings as a table" } ", "
                        a href="report.json" { "all of it as data" } "." }
                }
            }
        }
    }
}

impl Page<'_> {
    fn about(&self, input: &PacketInput<'_>) -> Markup {
        let property = self.job.property();
        let loss = property.and_then(|property| property.date_of_loss);
        let visits: BTreeSet<_> = self
            .job
            .records
            .visits
            .values()
            .filter(|visit| visit.stands())
            .filter_map(|visit| visit.day)
            .keyed();
        let days: Vec<String> = visits
            .iter()
            .map(|d| d.format("%-d %b %Y").to_string())
            .collect();
        let people: BTreeSet<String> = self
            .selection
            .devices()
            .into_iter()
            .filter_map(|device| self.job.crew.get(&device))
            .map(|member| member.person.clone())
            .keyed();
        let people: Vec<String> = people.into_iter().collect();
        html! {
            dl.about {
                div { dt { "Date of loss" } dd {
                    @match loss { Some(day) => (day.format("%-d %b %Y")), None => "not recorded" }
                } }
                div { dt { "Visited" } dd {
                    @if days.is_empty() { "not recorded" } @else { (days.join(", ")) }
                } }
                div { dt { "Recorded by" } dd {
                    @if people.is_empty() { "not recorded" } @else { (people.join(", ")) }
                } }
                div { dt { "Company" } dd { (input.company) } }
                @if let Some(storm) = property.and_then(|property| property.storm_reports.as_ref()) {
                    div { dt { "Storm reports noted" } dd { (storm) } }
                }
            }
        }
    }

    fn contents(&self) -> Markup {
        html! {
            nav aria-label="Contents" {
                a href="#summary" { "Summary" }
                @for (index, group) in self.list.groups.iter().enumerate() {
                    @if self.has_section(group) {
                        a href={ "#place-" (index) } { (capital(&group.name)) }
                    }
                }
                a href="#prior" { "Prior conditions" }
                a href="#photos" { "All photos" }
            }
        }
    }

    fn summary(&self) -> Markup {
        let cells = |counts: &Counts| {
            html! {
                td.n { (counts.damaged) } td.n { (counts.prior) } td.n { (counts.unsure) }
                td.n { (counts.cleared) } td.n { (counts.hits) }
                td.n { @if counts.units_total > 0 { (counts.units) " of " (counts.units_total) } }
            }
        };
        html! {
            section #summary {
                h2 { "Summary" }
                div.wide { table.counts {
                    thead { tr {
                        th { "Place" } th.n { "Damaged" } th.n { "Prior" } th.n { "Unsure" }
                        th.n { "Cleared" } th.n { "Hits" } th.n { "Units" }
                    } }
                    tbody {
                        @for group in &self.list.groups {
                            tr { td { (capital(&group.name)) } (cells(&group.counts)) }
                        }
                        tr.sum { td { "All" } (cells(&self.list.totals)) }
                    }
                } }
                p.soft { "Hits are those counted on findings and in test squares. Units are those "
                    "of findings that state how many there are." }
            }
        }
    }

    fn home(&self, photo: &PlacedPhoto<'_>) -> Home {
        let shows = &photo.shown.photo.shows;
        let place = photo.shown.photo.place.as_ref();
        // What is not on the page is no home.
        let here = |at: &RecordRef, kind| at.kind == kind && self.selection.shows_record(at);
        let shows_kind = |kind| shows.iter().any(|at| here(at, kind));
        if self.carded.contains(photo.shown.id) {
            Home::Finding
        } else if shows_kind(Kind::Measurement) {
            Home::Measurement
        } else if shows_kind(Kind::TestSquare) {
            Home::Square
        } else if shows_kind(Kind::EaveOpening)
            || place.is_some_and(|place| here(place, Kind::EaveOpening))
        {
            Home::Eave
        } else if self
            .place_of(photo)
            .is_some_and(|at| self.places.contains(at))
        {
            Home::Place
        } else {
            Home::Further
        }
    }

    /// Where a photo was taken, or the place it shows.
    fn place_of<'p>(&self, photo: &'p PlacedPhoto<'_>) -> Option<&'p Place> {
        let shown = photo.shown.photo.shows.iter().find(|at| at.is_place());
        photo.shown.photo.fields.place.as_ref().or(shown)
    }

    /// The photos of the packet that show a record, in walk order.
    fn showing(&self, at: &RecordRef) -> Vec<&PlacedPhoto<'_>> {
        self.photos
            .iter()
            .filter(|photo| photo.shown.photo.shows.contains(at))
            .collect()
    }
}

/// The first letter large, for headings.
fn capital(text: &str) -> String {
    let mut letters = text.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}

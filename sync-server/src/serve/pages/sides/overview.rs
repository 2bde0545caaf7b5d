//! The whole house on one page: a line for each place, then pitches, layers, test squares, hits and
//! storm reports.

use std::sync::Arc;

use chalkwalk_core::job::Role;
use chalkwalk_core::review::{Counts, Hits, HitsInput, PlaceGroup, Reader, State, hits};
use maud::{Markup, PreEscaped, html};

use super::super::at_job::AtJob;
use super::super::findings::listed;
use super::super::memo::Worked;
use super::super::words::{capital, state};
use super::{add, eaves, linked, pattern, pitches, squares, storms};

pub(super) fn body(at: &AtJob) -> Markup {
    let list = listed(&at.worked());
    let hits = counted(&at.worked());
    html! {
        h2 { "Sides and slopes" }
        nav.chips aria-label="On this page" {
            a href="#places" { "Places" } a href="#pitch" { "Pitch" } a href="#layers" { "Layers" }
            a href="#squares" { "Test squares" } a href="#hits" { "Hits" } a href="#storms" { "Storm reports" }
        }
        section #places aria-label="Places" { (places(at, &list.groups, &hits)) }
        (pitches::section(at))
        (eaves::section(at))
        (squares::section(at, &hits))
        (PreEscaped(at.worked().once("pattern", |_| pattern::section(&hits).into_string()).as_str()))
        (PreEscaped(at.worked().once("storms", |job| storms::section(job).into_string()).as_str()))
        (additions(at))
    }
}

/// What the house has beside its four sides can be added here.
fn additions(at: &AtJob) -> Markup {
    html! {
        @if at.may(Role::Estimator) {
            section.no-print aria-labelledby="add-head" {
                h2 #add-head { "Add a place" }
                p.row {
                    (add(at, "slope", "", "A slope")) (add(at, "eave_opening", "", "An eave opening"))
                    (add(at, "room", "", "A room")) (add(at, "structure", "", "A structure"))
                    (add(at, "elevation", "", "A further wall"))
                }
            }
        }
    }
}

/// The hits of the job as the office reads them.
pub(in crate::serve) fn counted(worked: &Worked) -> Arc<Hits> {
    let input = HitsInput {
        reader: Reader::Office,
        ..HitsInput::default()
    };
    worked.once("office", |job| hits::hits(job, &input))
}

fn places(at: &AtJob, groups: &[PlaceGroup], hits: &Hits) -> Markup {
    html! {
        div.sheet role="region" aria-label="Table of places" tabindex="0" {
            table.stack {
                thead { tr {
                    th scope="col" { "Place" }
                    th.count scope="col" { (state(State::Damaged)) }
                    th.count scope="col" { (state(State::Prior)) }
                    th.count scope="col" { (state(State::Unsure)) }
                    th.count scope="col" { (state(State::Cleared)) }
                    th.count scope="col" { "Hail hits" }
                    th.count scope="col" { "Photos" }
                } }
                tbody { @for group in groups { (row(at, group, hits)) } }
            }
        }
    }
}

fn row(at: &AtJob, group: &PlaceGroup, hits: &Hits) -> Markup {
    let Counts {
        damaged,
        prior,
        unsure,
        cleared,
        ..
    } = group.counts;
    let here = at.worked().walk().count_at(group.place.as_ref());
    let hail = hits
        .places
        .iter()
        .find(|place| Some(&place.place) == group.place.as_ref())
        .map_or(0, |place| place.hail);
    let cell = |label: &str, count: u64| {
        html! { td.count.soft[count == 0] data-label=(label) { (count) } }
    };
    html! {
        tr {
            th scope="row" {
                @match &group.place {
                    Some(place) if at.job.records.header(place).is_some() => (linked(at, place)),
                    _ => (capital(&group.name)),
                }
            }
            (cell("Damaged", damaged.into())) (cell("Prior", prior.into()))
            (cell("Unsure", unsure.into())) (cell("Cleared", cleared.into()))
            (cell("Hail hits", hail)) (cell("Photos", here as u64))
        }
    }
}

//! The whole house on one page: a line for each place, then pitches, layers, test squares, hits and
//! storm reports.

use std::sync::Arc;

use chalkwalk_core::review::findings_list::findings_list;
use chalkwalk_core::review::{Counts, Hits, HitsInput, PlaceGroup, Reader, State, hits};
use maud::{Markup, html};

use super::super::at_job::AtJob;
use super::super::words::{capital, state};
use super::{eaves, linked, pattern, pitches, squares, storms};

pub(super) fn body(at: &AtJob) -> Markup {
    let list = at
        .worked()
        .once("office", |job| findings_list(job, Reader::Office));
    let hits = counted_hits(at);
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
        (pattern::section(&hits))
        (storms::section(at))
    }
}

/// The hits of the job as the office reads them.
pub(super) fn counted_hits(at: &AtJob) -> Arc<Hits> {
    let input = HitsInput {
        reader: Reader::Office,
        ..HitsInput::default()
    };
    at.worked().once("office", |job| hits::hits(job, &input))
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
    let photos = at.job.records.photos.values();
    let here = photos
        .filter(|photo| photo.stands() && photo.place == group.place)
        .count();
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

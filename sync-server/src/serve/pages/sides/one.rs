//! One place: what is known of it, its photos, findings, parts, measures, layers, test squares.

use axum::response::Response;
use chalkwalk_core::job::{Job, Kind, RecordRef, Role};
use chalkwalk_core::review::hits::PlaceHits;
use chalkwalk_core::review::{FindingRow, PlaceGroup};
use maud::{Markup, html};

use super::super::super::icons::icon;
use super::super::at_job::AtJob;
use super::super::findings::listed;
use super::super::open::questions;
use super::super::shots::{Shots, taken_at};
use super::super::words::{capital, record_name};
use super::overview::counted;
use super::{add, eaves, edges, linked, measures, pitches, squares};
use crate::limits;

pub(super) async fn body(at: &AtJob, place: &RecordRef) -> Result<Markup, Response> {
    let shots = Shots::of(at).await?;
    let list = listed(&at.worked());
    let group = list
        .groups
        .iter()
        .find(|group| group.place.as_ref() == Some(place));
    let hits = counted(&at.worked());
    let here = hits.places.iter().find(|here| here.place == *place);
    let mut asked = vec![place.clone()];
    asked.extend(hits.squares.iter().map(squares::pointer).filter(|square| {
        let square = at.job.records.test_squares.get(&square.id);
        square.is_some_and(|square| square.slope.as_ref() == Some(place))
    }));
    Ok(html! {
        p.up { a href={ (at.path()) "/sides" } { (icon("arrow-left")) "All sides and slopes" } }
        header.head {
            h2.struck[is_struck(at, place)] { (capital(&at.job.place_name(place))) }
            (beside(at, place))
        }
        (tools(at, place))
        (known(at, place))
        (findings(at, &shots, place, group))
        (measures::parts(at, place, group.map_or(&[], |group| &group.parts)))
        (measures::measures(at, place))
        @if place.kind == Kind::Slope { (edges::of_place(at, place)) }
        (eaves::of_place(at, place))
        (squares::of_place(at, &hits, place))
        (hits_here(here))
        (pictures(at, &shots, place))
        (questions::about(at, &shots, &asked, at.may(Role::Estimator)))
    })
}

fn is_struck(at: &AtJob, place: &RecordRef) -> bool {
    at.job
        .records
        .header(place)
        .is_some_and(|header| header.struck.is_some())
}

/// The ways to change the place, and to how it came about.
fn tools(at: &AtJob, place: &RecordRef) -> Markup {
    let own = format!("{}/records/{}/{}", at.path(), place.kind.code(), place.id);
    let stands = !is_struck(at, place);
    html! {
        p.row.tight.no-print {
            @if stands && at.may(Role::Estimator) { a.button.small href={ (own) "/edit" } { (icon("pencil")) "Edit" } }
            a href=(own) { "How it came about" }
        }
    }
}

/// The places before and after it on the way round.
fn beside(at: &AtJob, place: &RecordRef) -> Markup {
    let places = at.places();
    let places: Vec<&RecordRef> = places
        .iter()
        .filter(|place| at.job.records.header(place).is_some())
        .collect();
    let here = places.iter().position(|known| *known == place);
    let before = here.and_then(|here| places.get(here.checked_sub(1)?));
    let after = here.and_then(|here| places.get(here + 1));
    html! {
        nav.row.tight aria-label="Next places" {
            @if let Some(before) = before { span { (icon("chevron-left")) (linked(at, before)) } }
            @if let Some(after) = after { span { (linked(at, after)) (icon("chevron-right")) } }
        }
    }
}

/// Every field of the place, as recorded.
fn known(at: &AtJob, place: &RecordRef) -> Markup {
    let header = at.job.records.header(place);
    let disputed = |key: &str| {
        header.is_some_and(|header| {
            header
                .conflicts
                .iter()
                .any(|conflict| conflict.field == key)
        })
    };
    let layers = place.kind == Kind::EaveOpening;
    html! {
        dl.stated {
            @for (key, words) in fields(&at.job, place) {
                @if !(layers && is_layer(key)) {
                    div { dt { (capital(&key.replace('_', " "))) }
                        dd { (words) @if disputed(key) {
                            a.tag href={ (at.path()) "/open#settle" } { "two statements" } } } }
                }
            }
            @if place.kind == Kind::Slope { (pitch(at, place)) }
        }
    }
}

/// Shown in the table of layers.
fn is_layer(key: &str) -> bool {
    [
        "starter",
        "drip_edge",
        "gutter_apron",
        "underlayment",
        "ice_barrier",
        "deck",
        "valley_lining",
        "reason",
    ]
    .contains(&key)
}

fn fields(job: &Job, place: &RecordRef) -> Vec<(&'static str, String)> {
    let keys = place.kind.keys();
    let stated = |key: &&'static str| {
        let words = job.records.words(place, key)?;
        let words = match words.parse::<RecordRef>() {
            Ok(at) => record_name(job, &at),
            Err(_) => words,
        };
        Some((*key, with_unit(key, words)))
    };
    keys.iter().filter_map(stated).collect()
}

fn with_unit(key: &str, words: String) -> String {
    match key {
        "bearing" => format!("{words}° from north"),
        _ => words,
    }
}

fn pitch(at: &AtJob, place: &RecordRef) -> Markup {
    let measured = pitches::measured(at, place);
    let report = at
        .job
        .records
        .slopes
        .get(&place.id)
        .and_then(|slope| slope.report_pitch);
    html! {
        div { dt { "Measured pitch beside the report's" } dd { (pitches::beside(&measured, report)) } }
    }
}

fn findings(at: &AtJob, shots: &Shots, place: &RecordRef, group: Option<&PlaceGroup>) -> Markup {
    let all = group.map_or(&[][..], |group| &group.findings);
    let rows: Vec<&FindingRow> = all.iter().take(limits::FINDINGS_PAGE).collect();
    html! {
        section aria-labelledby="findings-head" {
            header.head {
                h3 #findings-head { "Findings" }
                (add(at, "finding", &format!("place={place}"), "Add a finding"))
            }
            @if rows.is_empty() { p.soft { "Nothing was found here." } }
            @else { (super::super::findings::rows(at, shots, "Table of findings", &rows)) }
            @if all.len() > rows.len() {
                p { "The first " (rows.len()) " of " (all.len()) ". "
                    a href={ (at.path()) "/findings" } { "All findings of the house" } }
            }
        }
    }
}

fn hits_here(counted: Option<&PlaceHits>) -> Markup {
    let parts = counted.map_or(&[][..], |counted| &counted.parts);
    html! {
        @if !parts.is_empty() {
            section aria-labelledby="hits-head" {
                h3 #hits-head { "Hits by part" }
                div.sheet role="region" aria-label="Table of hits" tabindex="0" { table {
                    thead { tr {
                        th scope="col" { "Part" } th.count scope="col" { "From hail" }
                        th.count scope="col" { "Low ones of these" } th.count scope="col" { "Other" }
                    } }
                    tbody { @for part in parts { tr {
                        th scope="row" {
                            (capital(part.component.map_or("not named", |part| part.label())))
                            @if part.soft_metal { span.soft.small { " soft metal" } }
                        }
                        td.count { (part.hail) } td.count { (part.low) } td.count { (part.other) }
                    } } }
                } }
            }
        }
    }
}

fn pictures(at: &AtJob, shots: &Shots, place: &RecordRef) -> Markup {
    let photos = taken_at(at, place);
    html! {
        section aria-labelledby="photos-head" {
            h3 #photos-head { "Photos taken here" }
            @if photos.is_empty() {
                p.soft { "No photo was taken here." }
            } @else {
                div.thumbs { @for photo in photos.iter().take(limits::PICTURES_PAGE) {
                    (shots.figure(at, photo, &html! {}))
                } }
                @if photos.len() > limits::PICTURES_PAGE {
                    p { "The first " (limits::PICTURES_PAGE) " of " (photos.len()) ". "
                        a href={ (at.path()) "/walk" } { "All of them on the walk round" } }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_layer_key_is_a_field_of_an_eave_opening() {
        let keys = Kind::EaveOpening.keys();
        assert_eq!(keys.iter().filter(|key| is_layer(key)).count(), 8);
        assert_eq!(with_unit("bearing", "140".into()), "140° from north");
    }
}

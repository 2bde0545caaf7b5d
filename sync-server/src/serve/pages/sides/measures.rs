//! What was counted and measured at one place.

use chalkwalk_core::job::{ComponentCount, Condition, Measurement, Record, RecordId, RecordRef};
use chalkwalk_core::review::PartRow;
use maud::{Markup, html};

use super::super::super::icons::icon;
use super::super::at_job::AtJob;
use super::super::words::{capital, said};
use super::add;

pub(super) fn parts(at: &AtJob, place: &RecordRef, rows: &[PartRow]) -> Markup {
    html! {
        section aria-labelledby="parts-head" {
            header.head {
                h3 #parts-head { "Parts" }
                (add(at, "component", &format!("place={place}"), "Add a part"))
            }
            @if rows.is_empty() {
                p.soft { "No part was counted or cleared here." }
            } @else {
                div.sheet role="region" aria-label="Table of parts" tabindex="0" { table.stack {
                    thead { tr {
                        th scope="col" { "Part" } th scope="col" { "As a whole" } th.count scope="col" { "Count" }
                        th scope="col" { "Length" } th scope="col" { "Material and finish" } th scope="col" { "Details" }
                    } }
                    tbody { @for row in rows { (part(at, row)) } }
                } }
            }
        }
    }
}

fn part(at: &AtJob, row: &PartRow) -> Markup {
    let part = &row.part;
    let made_of: Vec<String> = [
        part.material.map(|material| material.to_string()),
        part.finish.map(|finish| finish.to_string()),
    ]
    .into_iter()
    .flatten()
    .collect();
    html! {
        tr {
            th.struck[row.struck.is_some()] scope="row" {
                a href={ (at.path()) "/records/component/" (row.id) } {
                    (capital(part.component.map_or("part", |part| part.label())))
                }
            }
            td { (condition(part)) @if let Some(reason) = &row.struck { div.small { "struck: " (reason) } } }
            td.count data-label="Count" { @if let Some(count) = part.count { (count) } }
            td data-label="Length" { @if let Some(length) = part.length { (length) } }
            td data-label="Made of" { (made_of.join(", ")) }
            td data-label="Details" { (part.details.as_deref().unwrap_or_default()) }
        }
    }
}

/// The state of all of a part: a shape, a word and a colour.
fn condition(part: &ComponentCount) -> Markup {
    let Some(condition) = part.condition else {
        return html! { span.state.soft { (icon("circle-dashed")) "counted only" } };
    };
    let (class, shape) = match condition {
        Condition::Cleared => ("state cleared", "circle-check"),
        Condition::Damaged | Condition::Missing => ("state damaged", "triangle"),
        Condition::Worn => ("state worn", "diamond"),
        Condition::Unsure => ("state unsure", "circle-question-mark"),
        Condition::NotPresent => ("state soft", "circle-slash"),
    };
    html! { span class=(class) { (icon(shape)) (condition) } }
}

pub(super) fn measures(at: &AtJob, place: &RecordRef) -> Markup {
    let all = at.job.records.measurements.iter();
    let here: Vec<(&RecordId, &Record<Measurement>)> = all
        .filter(|(_, measure)| measure.place.as_ref() == Some(place))
        .collect();
    html! {
        section aria-labelledby="measures-head" {
            header.head {
                h3 #measures-head { "Measures" }
                (add(at, "measurement", &format!("place={place}"), "Add a measure"))
            }
            @if here.is_empty() { p.soft { "Nothing was measured here." } } @else {
                div.sheet role="region" aria-label="Table of measures" tabindex="0" { table.stack {
                    thead { tr {
                        th scope="col" { "What" } th scope="col" { "Measure" } th scope="col" { "How" }
                        th scope="col" { "Remarks" } th scope="col" { "Recorded" }
                    } }
                    tbody { @for (id, measure) in here { tr {
                        th.struck[!measure.stands()] scope="row" {
                            a href={ (at.path()) "/records/measurement/" (id) } {
                                (capital(measure.of.map_or("measure", |of| of.label())))
                            }
                        }
                        td data-label="Measure" { @match measure.pitch {
                            Some(pitch) => { (pitch) }
                            None => { (said(measure.length)) }
                        } }
                        td data-label="How" { (said(measure.method)) }
                        td data-label="Remarks" { (measure.remarks.as_deref().unwrap_or_default())
                            @if let Some(struck) = &measure.struck { div.small { "struck: " (struck.reason) } } }
                        td data-label="Recorded" { (at.job.who(measure.made.device))
                            div.soft.small { (at.when(measure.made.at)) } }
                    } } }
                } }
            }
        }
    }
}

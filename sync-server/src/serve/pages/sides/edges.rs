//! The edges of a slope: where it ends or meets another.

use chalkwalk_core::job::{Edge, FieldValue, Record, RecordId, RecordRef};
use maud::{Markup, html};

use super::super::at_job::AtJob;
use super::super::layout::sheet;
use super::super::words::{capital, said};
use super::{add, linked};

pub(super) fn of_place(at: &AtJob, place: &RecordRef) -> Markup {
    let own = |edge: &Edge| [&edge.slope, &edge.other_slope].contains(&&Some(place.clone()));
    let edges = at.job.records.edges.iter();
    let here: Vec<(&RecordId, &Record<Edge>)> = edges.filter(|(_, edge)| own(edge)).collect();
    html! {
        section aria-labelledby="edges-head" {
            header.head {
                h3 #edges-head { "Edges" }
                (add(at, "edge", &format!("slope={place}"), "Add an edge"))
            }
            @if here.is_empty() { p.soft { "No edge of it is recorded." } } @else {
                (sheet("Table of edges", &html! { table.stack {
                    thead { tr {
                        th scope="col" { "Edge" } th.count scope="col" { "Length" }
                        th scope="col" { "Meets" } th scope="col" { "Lining" }
                    } }
                    tbody { @for (id, edge) in here { (row(at, place, id, edge)) } }
                } }))
            }
        }
    }
}

fn row(at: &AtJob, place: &RecordRef, id: &RecordId, edge: &Record<Edge>) -> Markup {
    let slopes = edge.slope.iter().chain(&edge.other_slope);
    let others: Vec<&RecordRef> = slopes.filter(|slope| *slope != place).collect();
    html! {
        tr {
            th.struck[!edge.stands()] scope="row" {
                a href={ (at.path()) "/records/edge/" (id) } {
                    (capital(edge.kind.map_or("edge", |kind| kind.label())))
                }
                @if let Some(struck) = &edge.struck { div.small { "struck: " (struck.reason) } }
            }
            td.count data-label="Length" { (said(edge.length)) }
            td data-label="Meets" { @for other in others { (linked(at, other)) " " } }
            td data-label="Lining" { @if let Some(lining) = edge.lining { (lining.in_words()) } }
        }
    }
}

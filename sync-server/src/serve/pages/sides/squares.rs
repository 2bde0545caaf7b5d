//! Test squares: what was counted, and how far that count can be off.

use chalkwalk_core::job::{Kind, RecordRef};
use chalkwalk_core::review::Hits;
use chalkwalk_core::review::hits::SquareRow;
use maud::{Markup, html};

use super::super::at_job::AtJob;
use super::super::words::said;
use super::{add, linked};

/// Width of the interval's drawing, and hits for 100 sq ft at its right end at least.
const WIDTH: f64 = 160.0;
const LEAST_END: f64 = 10.0;

pub(super) fn section(at: &AtJob, hits: &Hits) -> Markup {
    let rows: Vec<&SquareRow> = hits.squares.iter().collect();
    html! {
        section #squares aria-labelledby="squares-head" {
            h2 #squares-head { "Test squares" }
            @if rows.is_empty() {
                p.soft { "No test square was counted." }
            } @else {
                (table(at, &rows))
                @if let Some(slopes) = &hits.slopes { p { (slopes.sentence) } }
                p.soft.small { "Intervals are exact for a Poisson count (Garwood, Biometrika 28, 1936)." }
            }
        }
    }
}

/// The squares of one slope.
pub(super) fn of_place(at: &AtJob, hits: &Hits, place: &RecordRef) -> Markup {
    let own = |row: &&SquareRow| slope_of(at, row).as_ref() == Some(place);
    let rows: Vec<&SquareRow> = hits.squares.iter().filter(own).collect();
    let slope = place.kind == Kind::Slope;
    html! {
        @if slope || !rows.is_empty() {
            section aria-labelledby="squares-head" {
                header.head {
                    h3 #squares-head { "Test squares" }
                    @if slope { (add(at, "test_square", &format!("slope={place}"), "Add a test square")) }
                }
                @if rows.is_empty() { p.soft { "No test square was counted here." } }
                @else { (table(at, &rows)) }
                (struck(at, place))
            }
        }
    }
}

/// Squares of a slope that were struck: they count nowhere.
fn struck(at: &AtJob, place: &RecordRef) -> Markup {
    let squares = at.job.records.test_squares.iter();
    let own = squares.filter(|(_, square)| square.slope.as_ref() == Some(place));
    let gone: Vec<_> = own
        .filter_map(|(id, square)| Some((id, square.struck.as_ref()?)))
        .collect();
    html! {
        @for (id, struck) in gone {
            p.small { a.struck href={ (at.path()) "/records/test_square/" (id) } { "Test square" }
                " struck: " (struck.reason) }
        }
    }
}

fn slope_of(at: &AtJob, row: &SquareRow) -> Option<RecordRef> {
    at.job.records.test_squares.get(&row.id)?.slope.clone()
}

fn table(at: &AtJob, rows: &[&SquareRow]) -> Markup {
    let end = rows
        .iter()
        .filter_map(|row| row.high)
        .fold(LEAST_END, f64::max);
    html! {
        div.sheet role="region" aria-label="Table of test squares" tabindex="0" { table.stack {
            thead { tr {
                th scope="col" { "Slope" }
                th.count scope="col" { "Hits" }
                th.count scope="col" { "Looked at" }
                th.count scope="col" { "For 100 sq ft" }
                th scope="col" { "Interval" }
                th scope="col" { "Spot" }
            } }
            tbody { @for row in rows { tr {
                th scope="row" { @match slope_of(at, row) {
                    Some(slope) if at.job.records.header(&slope).is_some() => (linked(at, &slope)),
                    _ => (row.slope),
                } }
                td.count data-label="Hits" {
                    a href={ (at.path()) "/records/test_square/" (row.id) } {
                        (said(row.hits)) span.out-of-sight { " hits: the square" } }
                }
                td.count data-label="Looked at" { @match row.square_feet {
                    Some(feet) => { (format!("{feet:.0} sq ft")) }
                    None => span.soft { "not recorded" },
                } }
                td.count data-label="For 100 sq ft" { (said(row.per_square.map(|per| format!("{per:.1}")))) }
                td data-label="Interval" { (interval(row, end)) }
                td data-label="Spot" { (said(row.placement)) div.soft.small { (row.bias) } }
            } } }
        } }
    }
}

/// The interval in figures and as a line with the count on it.
fn interval(row: &SquareRow, end: f64) -> Markup {
    let (Some(low), Some(high), Some(per)) = (row.low, row.high, row.per_square) else {
        return html! { span.soft { "not to be told" } };
    };
    let x = |value: f64| format!("{:.1}", 4.0 + value / end * (WIDTH - 8.0));
    html! {
        (format!("{low:.1} to {high:.1}")) span.soft { (format!(" ({:.0} %)", row.level * 100.0)) }
        svg.interval viewBox={ "0 0 " (WIDTH) " 14" } width=(WIDTH) height="14" aria-hidden="true" {
            line x1="4" y1="7" x2=(WIDTH - 4.0) y2="7" stroke="currentColor" stroke-opacity=".25" {}
            line x1=(x(low)) y1="7" x2=(x(high)) y2="7" stroke="currentColor" stroke-width="3" {}
            line x1=(x(low)) y1="3" x2=(x(low)) y2="11" stroke="currentColor" {}
            line x1=(x(high)) y1="3" x2=(x(high)) y2="11" stroke="currentColor" {}
            circle cx=(x(per)) cy="7" r="4" fill="currentColor" {}
        }
    }
}

/// A pointer to a square, as questions name it.
pub(super) fn pointer(row: &SquareRow) -> RecordRef {
    RecordRef::new(Kind::TestSquare, row.id.clone())
}

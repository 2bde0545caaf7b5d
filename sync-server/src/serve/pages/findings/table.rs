//! Findings of one place as a table; on a phone each row is a card.

use chalkwalk_core::job::Record;
use chalkwalk_core::review::{FindingRow, PlaceGroup};
use maud::{Markup, html};

use super::super::at_job::AtJob;
use super::super::counted;
use super::super::shots::Shots;
use super::super::words::{capital, extent, finding_name, record_path, said, state_of};

/// Small pictures in one row.
const PICTURES: usize = 2;

pub(super) fn group(
    at: &AtJob,
    shots: &Shots,
    group: &PlaceGroup,
    rows_shown: &[&FindingRow],
) -> Markup {
    let name = capital(&group.name);
    let path = group.place.as_ref().and_then(record_path);
    html! {
        section aria-label=(name) {
            h3 {
                @match path {
                    Some(path) => a.unmarked href={ (at.path()) (path) } { (name) },
                    None => (name),
                }
                span.soft.small { " · " (counted(rows_shown.len() as u64, "finding", "findings")) }
            }
            (rows(at, shots, &format!("{name}, table"), rows_shown))
        }
    }
}

/// A table of findings.
pub(in crate::serve) fn rows(
    at: &AtJob,
    shots: &Shots,
    label: &str,
    rows: &[&FindingRow],
) -> Markup {
    html! {
        div.sheet role="region" aria-label=(label) tabindex="0" {
            table.stack.findings {
                thead { tr {
                    th.count.of-number scope="col" { "No." }
                    th scope="col" { "Finding" }
                    th.of-state scope="col" { "State" }
                    th.of-cause scope="col" { "Cause" }
                    th.count.of-hits scope="col" { "Hits" }
                    th.of-extent scope="col" { "Extent" }
                    th.of-photos scope="col" { "Photos" }
                    th.of-person scope="col" { "Recorded" }
                } }
                tbody { @for finding in rows { (row(at, shots, finding)) } }
            }
        }
    }
}

fn row(at: &AtJob, shots: &Shots, row: &FindingRow) -> Markup {
    let finding = &row.finding;
    let path = format!("{}/findings/{}", at.path(), row.id);
    html! {
        tr id={ "finding-" (row.id) } {
            td.count.soft.number data-label="No." { (row.number) }
            th scope="row" {
                a.struck[row.struck.is_some()] href=(path) { (finding_name(finding)) }
                @if row.office_only { span.tag { "office only" } }
                @if !row.unsettled.is_empty() { span.tag { "two statements" } }
                @if let Some(text) = &finding.text { div.soft.brief { (text) } }
                @if let Some(reason) = &row.struck { div.small { b { "Struck: " } (reason) } }
            }
            td { (state_of(finding)) }
            td data-label="Cause" { (said(finding.cause)) }
            td.count data-label="Hits" { @if let Some(hits) = row.hits { (hits) } }
            td data-label="Extent" { (extent(finding)) }
            td.pictures { (pictures(at, shots, row, &path)) }
            td.by data-label="Recorded" { (row.recorded_by) div.soft.small { (at.when(row.recorded_at)) } }
        }
    }
}

fn pictures(at: &AtJob, shots: &Shots, row: &FindingRow, path: &str) -> Markup {
    let photos: Vec<&Record<_>> = row
        .photos
        .iter()
        .filter_map(|id| at.job.records.photos.get(id))
        .collect();
    html! {
        @if photos.is_empty() {
            span.soft { "none" }
        } @else {
            a.minis href=(path) {
                @for photo in photos.iter().take(PICTURES) { (shots.picture(&at.job, photo)) }
                @if photos.len() > PICTURES {
                    span.soft.small { "+" (photos.len() - PICTURES) }
                }
            }
        }
    }
}

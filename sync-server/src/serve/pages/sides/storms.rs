//! Storm reports that are kept in the record, round the address, as a plot and a table.

use chalkwalk_core::drawing::storm_plot;
use chalkwalk_core::job::Job;
use chalkwalk_core::review::{StormsError, kept_storms};
use chalkwalk_core::trade::storm::Nearby;
use chalkwalk_core::trade::zone::offset_minutes;
use maud::{Markup, PreEscaped, html};

/// How far round the address, miles.
const MILES: f64 = 10.0;

pub(super) fn section(job: &Job) -> Markup {
    let zone = job
        .property()
        .and_then(|property| property.time_zone.clone());
    let offset = |moment| {
        let minutes = zone
            .as_deref()
            .and_then(|zone| offset_minutes(zone, moment));
        minutes.unwrap_or(0)
    };
    html! {
        section #storms aria-labelledby="storms-head" {
            h2 #storms-head { "Storm reports round the address" }
            @match kept_storms(job, MILES, &offset) {
                Ok(nearby) => (found(&nearby, zone.is_none())),
                Err(StormsError::NoneKept) => p.soft { "No storm report is kept in this job. Whoever prepares \
                    the job looks them up in the public files and keeps those that are near." },
                Err(error) => p.soft { (super::super::edit::in_a_sentence(&error)) },
            }
        }
    }
}

fn found(nearby: &Nearby, in_utc: bool) -> Markup {
    html! {
        // The drawing is the core's own; every text in it is escaped there.
        div.drawing { (PreEscaped(storm_plot(nearby, "Storm reports round the house"))) }
        @if in_utc { p.missing { "No time zone is recorded: the times are UTC." } }
        div.sheet role="region" aria-label="Table of storm reports" tabindex="0" { table.stack {
            thead { tr {
                th.count scope="col" { "No." } th scope="col" { "What" } th scope="col" { "Size or speed" }
                th scope="col" { "Where from the house" } th scope="col" { "Local time" }
                th scope="col" { "In the reporter's words" }
            } }
            tbody { @for (number, near) in (1..).zip(&nearby.reports) { tr {
                td.count data-label="No." { (number) }
                th scope="row" { (super::super::words::capital(near.report.kind.label())) }
                td data-label="Size or speed" { (near.report.strength()) }
                td data-label="Where from the house" { @match near.bearing {
                    Some(_) => { (format!("{:.1} miles {}", near.miles, near.direction)) }
                    None => { (near.direction) }
                } }
                td.nowrap data-label="Local time" { (near.local.format("%-d %b %Y, %H:%M").to_string()) }
                td data-label="Words" { (near.report.place) @if !near.report.remarks.is_empty() {
                    div.soft.small { (near.report.remarks) } } }
            } } }
        } }
        p.soft.small { (nearby.summary()) }
    }
}

//! The check before leaving the site, as the office sees it.

use chalkwalk_core::job::RecordRef;
use chalkwalk_core::review::{OpenPoint, Urgency};
use maud::{Markup, html};

use super::super::super::icons::icon;
use super::super::at_job::AtJob;
use super::super::words::{record_name, record_path};

/// Records that are named for one point; a point may be about a hundred photos.
const NAMED: usize = 6;

pub(super) fn section(at: &AtJob, points: &[OpenPoint]) -> Markup {
    html! {
        section #check aria-labelledby="check-head" {
            h2 #check-head { "What the record lacks" }
            @if points.is_empty() {
                div.card.empty { p { span.state.cleared { (icon("circle-check")) "Nothing is missing" }
                    ", as far as the check can tell." } }
            }
            @for urgency in [Urgency::Must, Urgency::Should, Urgency::Consider] {
                @let these: Vec<_> = points.iter().filter(|point| point.urgency == urgency).collect();
                @if !these.is_empty() {
                    h3 { (mark(urgency)) }
                    ul.points { @for point in these { li.card { (card(at, point)) } } }
                }
            }
        }
    }
}

fn mark(urgency: Urgency) -> Markup {
    let (class, shape, words) = match urgency {
        Urgency::Must => (
            "state damaged",
            "triangle-alert",
            "Must: the record does not stand without it",
        ),
        Urgency::Should => (
            "state unsure",
            "circle-dot",
            "Should: somebody will ask for it",
        ),
        Urgency::Consider => ("state soft", "circle-dashed", "Consider"),
    };
    html! { span class=(class) { (icon(shape)) (words) } }
}

fn card(at: &AtJob, point: &OpenPoint) -> Markup {
    html! {
        p { b { (point.sentence) } }
        p.soft { (point.why) }
        p { "What would settle it: " (point.settles)
            @if point.office_can_settle { " " span.pill { "the office can do this" } } }
        @if !point.triggered_by.is_empty() {
            p.small { @for (n, record) in point.triggered_by.iter().take(NAMED).enumerate() {
                @if n > 0 { " · " }
                (linked(at, record))
            }
            @if point.triggered_by.len() > NAMED { " · and " (point.triggered_by.len() - NAMED) " more" } }
        }
        p.soft.small { "Source: " (point.source) }
    }
}

fn linked(at: &AtJob, record: &RecordRef) -> Markup {
    let name = record_name(&at.job, record);
    match record_path(record) {
        Some(path) => html! { a href={ (at.path()) (path) } { (name) } },
        None => html! { (name) },
    }
}

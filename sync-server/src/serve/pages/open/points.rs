//! The check before leaving the site, as the office sees it.

use chalkwalk_core::review::{OpenPoint, Urgency};
use maud::{Markup, html};

use super::super::super::icons::icon;
use super::super::at_job::AtJob;
use super::super::words::called;

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
                @let these = by_rule(points, urgency);
                @if !these.is_empty() {
                    h3 { (mark(urgency)) }
                    ul.points { @for rule in these { li.card { (card(at, &rule)) } } }
                }
            }
        }
    }
}

/// Points of one urgency; those of one rule share their reason and what would settle them.
fn by_rule(points: &[OpenPoint], urgency: Urgency) -> Vec<Vec<&OpenPoint>> {
    let mut rules: Vec<Vec<&OpenPoint>> = Vec::new();
    for point in points.iter().filter(|point| point.urgency == urgency) {
        let known = rules
            .iter_mut()
            .find(|rule| rule.iter().any(|known| known.rule == point.rule));
        match known {
            Some(rule) => rule.push(point),
            None => rules.push(vec![point]),
        }
    }
    rules
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

fn card(at: &AtJob, rule: &[&OpenPoint]) -> Markup {
    let Some(first) = rule.first() else {
        return html! {};
    };
    html! {
        @for point in rule {
            p { b { (point.sentence) }
                @if !point.triggered_by.is_empty() { " " span.small { (named(at, point)) } } }
        }
        p.soft.small { (first.why) " What would settle it: " (first.settles) }
        p.soft.small {
            @if first.office_can_settle { span.pill { (icon("building-2")) "the office can do this" } " " }
            "Source: " (first.source)
        }
    }
}

fn named(at: &AtJob, point: &OpenPoint) -> Markup {
    let shown = point.triggered_by.iter().take(NAMED).enumerate();
    let more = point.triggered_by.len().saturating_sub(NAMED);
    html! {
        @for (n, record) in shown { @if n > 0 { " · " } (called(at, record)) }
        @if more > 0 { " · and " (more) " more" }
    }
}

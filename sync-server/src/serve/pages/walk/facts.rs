//! What stands beside a photo: the finding it proves, and what is known of the picture itself.

use chalkwalk_core::job::{Audience, Capture, Finding, North, Record, RecordId, Role};
use chrono::DateTime;
use maud::{Markup, html};

use super::super::at_job::AtJob;
use super::super::words::{capital, extent, state_of};
use super::order::Step;

/// A finding in a few lines.
pub(super) fn finding(at: &AtJob, id: &RecordId, finding: &Record<Finding>) -> Markup {
    let job = &at.job;
    let what = finding
        .component
        .map_or("something", |component| component.label());
    let extent = extent(finding);
    html! {
        section.card.found {
            h3 { (capital(what)) " " (state_of(finding)) }
            @if let Some(place) = &finding.place {
                p.under { (job.place_name(place)) @if let Some(unit) = &finding.unit_name { ", " (unit) } }
            }
            @if let Some(text) = &finding.text { p { (text) } }
            dl.pairs {
                @if let Some(cause) = finding.cause {
                    dt { "Cause" }
                    dd { (cause) @if let Some(reason) = &finding.cause_reason { ": " (reason) } }
                }
                @if let Some(hits) = finding.hits() { dt { "Hits" } dd { (hits) " counted" } }
                @if !extent.is_empty() { dt { "Extent" } dd { (extent) } }
                @if let Some(severity) = finding.severity { dt { "Severity" } dd { (severity) } }
                @if let Some(material) = finding.material {
                    dt { "Material" }
                    dd { (material) @if let Some(finish) = finding.finish { ", " (finish) } }
                }
                dt { "Recorded" }
                dd { (job.who(finding.made.device)) ", " (at.when(finding.made.at)) }
            }
            @if finding.audience == Some(Audience::OfficeOnly) { p { span.tag { "office only" } } }
            @if !finding.conflicts.is_empty() {
                p { span.tag { "two statements" } " "
                    a href={ (at.path()) "/open" } { "Settle it among the open points" } }
            }
            p { a href={ (at.path()) "/findings/" (id) } { "All that is known of it" } }
        }
    }
}

/// What is known of the picture.
pub(super) fn picture(at: &AtJob, step: &Step, original: Option<&str>) -> Markup {
    let photo = at.job.records.photos.get(&step.id);
    html! {
        section.card.picture-facts {
            h3 { "The photo" }
            dl.pairs {
                @if let Some(role) = photo.and_then(|photo| photo.role) { dt { "Shows" } dd { (role) } }
                @if let Some(side) = step.side { dt { "Side" } dd { (side) } }
                @match &step.capture {
                    Some(capture) => (captured(at, capture)),
                    None => { dt { "Capture" } dd { "cannot be read by this version" } }
                }
            }
            @match original {
                Some(href) => p { a href=(href) { "The original file" } },
                None => p.missing { "The original is still on its way." },
            }
            @if at.may(Role::Estimator) {
                p { a href={ (at.path()) "/records/photo/" (step.id) } { "Edit its words" } " · "
                    a href={ (at.path()) "/marks/" (step.id) } { "Draw marks on it" } }
            }
        }
    }
}

fn captured(at: &AtJob, capture: &Capture) -> Markup {
    let hash = capture.hash.to_string();
    let (wide, high) = upright(capture);
    html! {
        dt { "Taken" } dd { (taken(at, capture)) }
        dt { "By" } dd { (at.job.who(capture.device)) }
        @if let Some(bearing) = capture.bearing {
            dt { "Looks" }
            dd { (format!("{bearing:.0}°"))
                @if capture.bearing_from != Some(North::True) { " by the compass" } }
        }
        @if let Some(camera) = &capture.camera { dt { "Camera" } dd { (camera) } }
        dt { "File" }
        dd { (capture.file_name)
            @if wide > 0 { ", " (wide) " × " (high) }
            ", " (size(capture.size)) }
        dt { "Hash" } dd { code title=(hash) { (hash.get(..12).unwrap_or(&hash)) "…" } }
    }
}

/// When it was taken; where the camera's clock names no zone, its own words.
fn taken(at: &AtJob, capture: &Capture) -> String {
    if let Some(taken) = capture.taken_at() {
        return at.when(taken);
    }
    match capture.local_time.and_then(DateTime::from_timestamp_millis) {
        Some(local) => format!("{} by the camera", local.format("%-d %b %Y, %H:%M")),
        None => format!("taken in {}", at.when(capture.taken_in_at)),
    }
}

/// Width and height of the upright picture.
pub(super) const fn upright(capture: &Capture) -> (u32, u32) {
    match capture.orientation {
        5..=8 => (capture.height, capture.width),
        _ => (capture.width, capture.height),
    }
}

fn size(bytes: u64) -> String {
    match bytes {
        0..1_000_000 => format!("{} kB", bytes.div_ceil(1_000)),
        _ => format!("{:.1} MB", bytes as f64 / 1e6),
    }
}

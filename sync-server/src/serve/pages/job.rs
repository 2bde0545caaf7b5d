//! One job: what was found, how many on each side, and the photos in walk order.

use std::collections::BTreeSet;

use chalkwalk_core::document::Refusal;
use chalkwalk_core::job::{
    Audience, BlobKind, Condition, Finding, Job, Kind, Photo, PhotoHash, Place, Record, RecordId,
    Side, SignedCapture,
};
use chalkwalk_core::photo::walk_order;
use maud::{Markup, html};

use super::at_job::AtJob;
use super::counted;
use super::list::Missing;

/// What the page shows beside the record.
pub(super) struct View {
    missing: Missing,
    whole: BTreeSet<(BlobKind, PhotoHash)>,
}

pub(super) async fn read(at: &AtJob) -> Result<View, Refusal> {
    let hub = &at.shared.hub;
    let whole = hub.records().blobs(at.id).await?;
    Ok(View {
        missing: Missing::of(hub, &at.status).await?,
        whole: whole.iter().map(|file| (file.kind, file.hash)).collect(),
    })
}

pub(super) fn body(at: &AtJob, view: &View) -> Markup {
    let job = &at.job;
    html! {
        p.under {
            (counted(at.status.changes, "change", "changes"))
            " · last news " (at.when(at.status.last_news))
            " · " (view.missing.shown())
        }
        h2 { "Sides" }
        (sides(job))
        h2 { "Findings" }
        (findings(at))
        h2 { "Photos in walk order" }
        (photos(at, view))
        footer { p { "Observed, measured and counted by the crew." } }
    }
}

fn sides(job: &Job) -> Markup {
    let rows: Vec<(String, Option<Side>)> = Side::ALL
        .iter()
        .map(|side| (side.to_string(), Some(*side)))
        .chain([("elsewhere".to_owned(), None)])
        .collect();
    html! {
        div.sheet role="region" aria-label="Sides" tabindex="0" {
            table {
                thead {
                    tr {
                        th scope="col" { "Side" }
                        th.count scope="col" { "Findings" }
                        th.count scope="col" { "Damaged" }
                        th.count scope="col" { "Photos" }
                    }
                }
                tbody {
                    @for (name, side) in rows {
                        @let here = findings_at(job, side);
                        tr {
                            th scope="row" { (name) }
                            td.count { (here.len()) }
                            td.count { (here.iter().filter(|f| f.condition == Some(Condition::Damaged)).count()) }
                            td.count { (photos_at(job, side)) }
                        }
                    }
                }
            }
        }
    }
}

fn findings_at(job: &Job, side: Option<Side>) -> Vec<&Record<Finding>> {
    job.standing_findings()
        .map(|(_, finding)| finding)
        .filter(|finding| finding.place.as_ref().and_then(|place| side_of(job, place)) == side)
        .collect()
}

fn photos_at(job: &Job, side: Option<Side>) -> usize {
    job.records
        .photos
        .values()
        .filter(|photo| photo.stands())
        .filter(|photo| photo.place.as_ref().and_then(|place| side_of(job, place)) == side)
        .count()
}

/// The side of the house a place belongs to.
fn side_of(job: &Job, place: &Place) -> Option<Side> {
    let records = &job.records;
    match place.kind {
        Kind::Elevation => records.elevations.get(&place.id)?.side,
        Kind::Slope => records.slopes.get(&place.id)?.side,
        Kind::EaveOpening => records.eave_openings.get(&place.id)?.side,
        _ => None,
    }
}

fn findings(at: &AtJob) -> Markup {
    let job = &at.job;
    if job.records.findings.is_empty() {
        return html! { p.soft { "No finding has come in yet." } };
    }
    html! {
        div.sheet role="region" aria-label="Findings" tabindex="0" {
            table {
                thead {
                    tr {
                        th scope="col" { "Where" }
                        th scope="col" { "What" }
                        th scope="col" { "Condition" }
                        th scope="col" { "Cause" }
                        th.count scope="col" { "Hits" }
                        th scope="col" { "Extent" }
                        th scope="col" { "Recorded" }
                    }
                }
                tbody { @for finding in job.records.findings.values() { (finding_row(at, finding)) } }
            }
        }
    }
}

fn finding_row(at: &AtJob, finding: &Record<Finding>) -> Markup {
    let job = &at.job;
    let place = finding.place.as_ref().map(|place| job.place_name(place));
    html! {
        tr {
            td { (said(place)) }
            td {
                span.struck[!finding.stands()] { (said(finding.component)) }
                @if finding.audience == Some(Audience::OfficeOnly) { span.tag { "office only" } }
                @if !finding.conflicts.is_empty() { span.tag { "two statements" } }
                @if let Some(text) = &finding.text { div.soft { (text) } }
                @if let Some(struck) = &finding.struck { div.soft { "struck: " (struck.reason) } }
            }
            td { (said(finding.condition)) }
            td {
                (said(finding.cause))
                @if let Some(reason) = &finding.cause_reason { div.soft { (reason) } }
            }
            td.count { @if let Some(hits) = finding.hits() { (hits) } }
            td { (extent(finding)) }
            td { (job.who(finding.made.device)) div.soft { (at.when(finding.made.at)) } }
        }
    }
}

fn said<T: ToString>(value: Option<T>) -> Markup {
    html! {
        @match value {
            Some(value) => (value.to_string()),
            None => span.soft { "not recorded" },
        }
    }
}

fn extent(finding: &Finding) -> String {
    let units = match (finding.units, finding.units_total) {
        (Some(units), Some(total)) => Some(format!("{units} of {total}")),
        (Some(units), None) => Some(units.to_string()),
        (None, _) => None,
    };
    let length = finding.extent_length.map(|length| length.to_string());
    let area = finding.extent_area.map(|area| area.to_string());
    let parts: Vec<String> = [units, length, area].into_iter().flatten().collect();
    parts.join(", ")
}

fn photos(at: &AtJob, view: &View) -> Markup {
    let shown: Vec<_> = walk_order(&at.job)
        .into_iter()
        .filter_map(|id| Some((at.job.records.photos.get(&id)?, id)))
        .filter(|(photo, _)| photo.stands())
        .collect();
    html! {
        @if shown.is_empty() {
            p.soft { "No photo has come in yet." }
        } @else {
            ol.thumbs { @for (photo, id) in &shown { li { (figure(at, view, id, photo)) } } }
        }
    }
}

fn figure(at: &AtJob, view: &View, id: &RecordId, photo: &Record<Photo>) -> Markup {
    let hash = photo
        .capture
        .as_ref()
        .and_then(|capture| SignedCapture::from_bytes(capture).ok()?.capture().ok())
        .map(|capture| capture.hash);
    let words = caption(&at.job, photo);
    let path = at.path();
    let has = |kind| hash.is_some_and(|hash| view.whole.contains(&(kind, hash)));
    let picture = html! {
        @match hash {
            Some(hash) if has(BlobKind::Thumbnail) => {
                img src={ (path) "/thumbnail/" (hash) } alt=(words) loading="lazy";
            }
            _ => div.waiting { "thumbnail on its way" },
        }
    };
    html! {
        figure id={ "photo-" (id) } {
            @match hash {
                Some(hash) if has(BlobKind::Original) => {
                    a href={ (path) "/original/" (hash) } { (picture) }
                }
                _ => (picture),
            }
            figcaption {
                (words)
                @if photo.audience == Some(Audience::OfficeOnly) { span.tag { "office only" } }
                @if !has(BlobKind::Original) { div.missing { "original on its way" } }
            }
        }
    }
}

fn caption(job: &Job, photo: &Photo) -> String {
    let place = photo.place.as_ref().map(|place| job.place_name(place));
    let role = photo.role.map(|role| role.to_string());
    let parts: Vec<String> = [place, role, photo.caption.clone()]
        .into_iter()
        .flatten()
        .collect();
    if parts.is_empty() {
        "a photo without a place".to_owned()
    } else {
        parts.join(", ")
    }
}

//! What is open: questions to the crew, fields that two people stated differently, and the check
//! before leaving the site.

mod ask;
mod conflicts;
mod points;
pub(in crate::serve) mod questions;
mod settle;

pub(in crate::serve) use ask::{answer, ask, ask_page};
pub(in crate::serve) use settle::settle;

use std::sync::Arc;

use axum::Extension;
use axum::extract::{Path, Query, State};
use axum::response::Response;
use chalkwalk_core::job::{BlobKind, Job, Millis, Role};
use chalkwalk_core::review::{Facts, OpenPoint, Urgency, leave_site};
use maud::{Markup, html};

use super::super::Shared;
use super::super::guard::SignedIn;
use super::at_job::AtJob;
use super::form::{Tone, notice};
use super::layout::Part;
use super::memo::Worked;
use super::shots::{Files, Shots, capture};
use crate::store::JobStatus;

/// `GET /jobs/{job}/open`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    Query(query): Query<Vec<(String, String)>>,
) -> Result<Response, Response> {
    let at = AtJob::open(&shared, &who, &id).await?;
    let done = query
        .iter()
        .find(|(name, _)| name == "done")
        .map(|(_, what)| what.as_str());
    let main = body(&at, done.map_or_else(|| html! {}, said_done)).await?;
    Ok(at.page(Part::Open, &[], &main))
}

/// The page below a message.
async fn body(at: &AtJob, message: Markup) -> Result<Markup, Response> {
    let shots = Shots::of(at).await?;
    let points = points(at, &shots);
    let may_edit = at.may(Role::Estimator);
    Ok(html! {
        h2 { "Open points" }
        (message)
        (tally(at, &points))
        (questions::section(at, &shots, may_edit))
        (conflicts::section(at, may_edit))
        (points::section(at, &points))
    })
}

/// What the check before leaving finds open, as the office sees it.
pub(in crate::serve) fn points(at: &AtJob, shots: &Shots) -> Arc<Vec<OpenPoint>> {
    checked(&at.worked(), &at.status, &shots.files, at.shared.hub.now())
}

/// The same of a reading of a job. The check speaks of times in days, and of which files are here.
pub(in crate::serve) fn checked(
    worked: &Worked,
    status: &JobStatus,
    files: &Files,
    now: Millis,
) -> Arc<Vec<OpenPoint>> {
    let with = format!("{}, {} originals", now / 3_600_000, status.originals);
    worked.once(&with, |job| leave_site::check(job, &facts(job, files, now)))
}

/// What the office knows of the photos beside the record: whether their originals are here.
fn facts(job: &Job, files: &Files, now: Millis) -> Facts {
    let mut facts = Facts::of_record(job, now);
    for (id, known) in &mut facts.photos {
        let capture = job.records.photos.get(id).and_then(|photo| capture(photo));
        known.at_office = capture.map(|capture| files.has(BlobKind::Original, capture.hash));
    }
    facts
}

fn tally(at: &AtJob, points: &[OpenPoint]) -> Markup {
    let of = |urgency| {
        points
            .iter()
            .filter(|point| point.urgency == urgency)
            .count()
    };
    let rows = [
        (
            questions::waiting(&at.job),
            "waiting for an answer",
            "#questions",
        ),
        (at.disputed().len(), "stated in two ways", "#settle"),
        (of(Urgency::Must), "must be there", "#check"),
        (of(Urgency::Should), "should be there", "#check"),
        (of(Urgency::Consider), "to consider", "#check"),
    ];
    html! {
        ul.tally { @for (count, words, to) in rows {
            li { a.unmarked href=(to) { b { (count) } span { (words) } } }
        } }
    }
}

fn said_done(what: &str) -> Markup {
    let words = match what {
        "asked" => {
            "The question is on its way to the crew's phones: each gets it when it next meets the office."
        }
        "answered" => "The answer is recorded.",
        "withdrawn" => {
            "The question is withdrawn. It leaves the phones' lists when they next meet the office."
        }
        "settled" => "It is settled. Both statements stay in the history.",
        _ => return html! {},
    };
    notice(Tone::Good, &html! { p { (words) } })
}

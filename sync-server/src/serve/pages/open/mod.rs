//! What is open: questions to the crew, fields that two people stated differently, and the check
//! before leaving the site.

mod ask;
mod conflicts;
mod points;
pub(in crate::serve) mod questions;
mod settle;

pub(in crate::serve) use ask::{answer, ask, ask_page};
pub(in crate::serve) use settle::settle;

use axum::Extension;
use axum::extract::{Path, Query, State};
use axum::response::Response;
use chalkwalk_core::job::{BlobKind, Role, SignedCapture};
use chalkwalk_core::review::{Facts, OpenPoint, Urgency, leave_site};
use maud::{Markup, html};

use super::super::Shared;
use super::super::guard::SignedIn;
use super::at_job::AtJob;
use super::form::{Tone, notice};
use super::layout::Part;
use super::shots::Shots;

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
    // The check speaks of times in days, and of which files are here.
    let hour = at.shared.hub.now() / 3_600_000;
    let with = format!("{hour}, {} originals", at.status.originals);
    let points = at
        .worked()
        .once(&with, |job| leave_site::check(job, &facts(at, &shots)));
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

/// What the office knows of the photos beside the record: whether their originals are here.
fn facts(at: &AtJob, shots: &Shots) -> Facts {
    let mut facts = Facts::of_record(&at.job, at.shared.hub.now());
    for (id, known) in &mut facts.photos {
        let capture = at.job.records.photos.get(id).and_then(|photo| {
            SignedCapture::from_bytes(photo.capture.as_ref()?)
                .ok()?
                .capture()
                .ok()
        });
        known.at_office = capture.map(|capture| shots.has(BlobKind::Original, capture.hash));
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
        (at.job.conflicts().len(), "stated in two ways", "#settle"),
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
        "settled" => "It is settled. Both statements stay in the history.",
        _ => return html! {},
    };
    notice(Tone::Good, &html! { p { (words) } })
}

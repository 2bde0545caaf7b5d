//! Marks drawn beside a photo: rings round hits, arrows, words. They are a field of the photo's record
//! and never part of its file. The form works by numbers; a script lets them be drawn on the picture.

mod plan;

use axum::Extension;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::Response;
use chalkwalk_core::job::{BlobKind, Capture, Mark, Photo, PictureFormat, Record, RecordId};
use chalkwalk_core::packet::{drawn, marks_of};
use maud::{Markup, html};

use super::super::Shared;
use super::super::guard::SignedIn;
use super::super::icons::icon;
use super::at_job::AtJob;
use super::edit::not_written;
use super::fields::{Fields, Sent};
use super::form::{Tone, notice};
use super::layout::Part;
use super::shots::{Shots, caption, capture};
use super::{edit, nothing_here, to};
use plan::{Refused, Row, digest, plan};

pub(in crate::serve) use plan::in_words;

/// `GET /jobs/{job}/marks/{photo}`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((id, photo)): Path<(String, String)>,
) -> Result<Response, Response> {
    let at = AtJob::open(&shared, &who, &id).await?;
    let (id, photo) = named(&at, &photo)?;
    let rows = marks_of(photo).iter().map(Row::of).collect();
    let main = body(&at, id, photo, rows, &html! {}, false).await?;
    Ok(at.page(Part::Walk, &["marks.js"], &main))
}

#[expect(clippy::result_large_err, reason = "a refusal is a whole answer")]
fn named<'a>(at: &'a AtJob, id: &str) -> Result<(&'a RecordId, &'a Record<Photo>), Response> {
    let known = id.parse::<RecordId>().ok();
    let known = known.and_then(|id| at.job.records.photos.get_key_value(&id));
    known.ok_or_else(|| nothing_here(&at.shared))
}

/// `POST /jobs/{job}/marks/{photo}`.
pub(in crate::serve) async fn draw(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((id, photo)): Path<(String, String)>,
    sent: Sent,
) -> Result<Response, Response> {
    let at = AtJob::open(&shared, &who, &id).await?;
    let known = named(&at, &photo)?.0.clone();
    let typed = Fields::of(sent);
    let rows = Row::all(&typed);
    let (of, planned) = (known.clone(), rows.clone());
    let (seen, both) = (typed.get("seen").to_owned(), typed.get("do") == "both");
    let done = shared.hub.record(&at.person, at.id, move |job| {
        plan(job, &of, &planned, &seen, both)
    });
    let refused = match done.await {
        Ok(wrote) => {
            let word = if wrote == 0 { "same" } else { "marked" };
            let path = format!("/jobs/{}/records/photo/{known}?done={word}", at.id);
            return Ok(to(&shared, &path));
        }
        Err(refused) => refused,
    };
    // As it stands now, not as it stood when the form came in.
    let at = AtJob::open(&shared, &who, &id).await?;
    let (id, photo) = named(&at, &photo)?;
    let (code, clash, words) = match &refused {
        Refused::Clash => (
            StatusCode::CONFLICT,
            true,
            notice(Tone::Bad, &meanwhile(photo)),
        ),
        Refused::Wrong(words) => {
            let words = html! { p { b { "Nothing was written yet. " } (words) } };
            (
                StatusCode::UNPROCESSABLE_ENTITY,
                false,
                notice(Tone::Bad, &words),
            )
        }
        Refused::Pen(error) => (edit::code_of(error), false, not_written(error)),
    };
    let main = body(&at, id, photo, rows, &words, clash).await?;
    let mut response = at.page(Part::Walk, &["marks.js"], &main);
    *response.status_mut() = code;
    Ok(response)
}

fn meanwhile(photo: &Photo) -> Markup {
    html! {
        p { b { "Nothing was written yet." } " Somebody changed the marks of this photo while you drew. \
            The picture shows theirs (" (in_words(&marks_of(photo))) "); yours are kept in the form \
            below. Record both, put yours in their place, or leave theirs as they are." }
    }
}

async fn body(
    at: &AtJob,
    id: &RecordId,
    photo: &Record<Photo>,
    mut rows: Vec<Row>,
    message: &Markup,
    clash: bool,
) -> Result<Markup, Response> {
    let shots = Shots::of(at).await?;
    // One row is always free, for a mark that is not there yet.
    rows.retain(|row| !row.is_empty());
    rows.push(Row::default());
    let own = format!("{}/records/photo/{id}", at.path());
    let disputed = photo
        .conflicts
        .iter()
        .any(|conflict| conflict.field == "marks");
    Ok(html! {
        p.up { a href=(own) { (icon("arrow-left")) "Back without a change" } }
        h2 { "Marks" }
        p.under { (caption(&at.job, photo)) }
        (message)
        @if disputed {
            (notice(Tone::Warn, &html! { p { "Two people drew differently. "
                a href={ (at.path()) "/open#settle" } { "Settle it first" } "." } }))
        }
        div.split.marking {
            figure.stage { (picture(at, &shots, photo)) }
            form method="post" action={ (at.path()) "/marks/" (id) } data-marks-form novalidate {
                input type="hidden" name="seen" value=(digest(photo));
                p.soft.small { "Places are in percent of the picture: from its left edge and from its top. "
                    span.needs-script { "Tap the picture to ring a hit; draw a line on it for an arrow." } }
                @for (number, row) in (1..).zip(&rows) { (row.shown(number)) }
                div.row {
                    @if clash { button.main name="do" value="both" { (icon("check")) "Record both" } }
                    button.main[!clash] { (icon("check")) @if clash { "Put mine in their place" } @else { "Record" } }
                    a.button href=(own) { @if clash { "Leave theirs" } @else { "Cancel" } }
                }
            }
        }
    })
}

/// The picture as large as a browser shows it, with its marks.
fn picture(at: &AtJob, shots: &Shots, photo: &Photo) -> Markup {
    let capture = capture(photo);
    let has = |kind| {
        capture
            .as_ref()
            .is_some_and(|known: &Capture| shots.has(kind, known.hash))
    };
    let heic = capture
        .as_ref()
        .is_some_and(|known| known.format == PictureFormat::Heic);
    let part = match () {
        () if has(BlobKind::Original) && !heic => Some("original"),
        () if has(BlobKind::Thumbnail) => Some("thumbnail"),
        () => None,
    };
    html! {
        div.picture.drawn data-draw {
            @match part.zip(capture.as_ref()) {
                Some((part, known)) => {
                    img src={ (at.path()) "/" (part) "/" (known.hash) } alt=(caption(&at.job, photo));
                    (drawn(&marks_of(photo), Some(known)))
                }
                None => p.waiting { "The picture is still on its way." },
            }
        }
    }
}

/// One mark in the words of a list.
pub(super) fn label(mark: &Mark) -> &'static str {
    match mark {
        Mark::Ring { .. } => "ring",
        Mark::Arrow { .. } => "arrow",
        Mark::Text { .. } => "words",
    }
}

//! The office's word on a job: ready, handed on, or nothing.

use axum::Extension;
use axum::extract::{Form, Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use maud::html;
use serde::Deserialize;

use super::super::super::Shared;
use super::super::super::guard::SignedIn;
use super::super::at_job::AtJob;
use super::super::form::{Tone, notice};
use super::super::layout::Part;
use super::super::{refused, store_unwell, to};
use crate::store::{Actor, DeedKind, Mark, Marked, StoreError};

#[derive(Deserialize)]
#[serde(default)]
#[derive(Default)]
pub(in crate::serve) struct Said {
    mark: String,
    was: String,
}

/// The word of a mark in a form; none where there is none.
pub(in crate::serve) fn code(marked: Option<Marked>) -> &'static str {
    marked.map_or("", |marked| marked.mark.code())
}

/// `POST /jobs/{job}/mark`.
pub(in crate::serve) async fn mark(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    Form(said): Form<Said>,
) -> Response {
    let at = match AtJob::open(&shared, &who, &id).await {
        Ok(at) => at,
        Err(response) => return response,
    };
    let mark = Mark::from_code(&said.mark);
    if mark.is_none() && said.mark != "none" {
        let words = "Say whether the job is ready or handed on, or take the word back.";
        return refused(
            &shared,
            StatusCode::UNPROCESSABLE_ENTITY,
            "Say which",
            words,
        );
    }
    match set(&at, &said, mark).await {
        Ok(None) => to(&shared, &format!("/jobs/{}", at.id)),
        Ok(Some(response)) => response,
        Err(error) => store_unwell(&shared, &error),
    }
}

async fn set(at: &AtJob, said: &Said, mark: Option<Mark>) -> Result<Option<Response>, StoreError> {
    let accounts = at.shared.accounts();
    let stands = accounts.access(at.id).await?.marked;
    if code(stands) != said.was {
        return Ok(Some(meanwhile(at, stands).await?));
    }
    let now = at.shared.hub.now();
    let by = at.person.id;
    let marked = mark.map(|mark| Marked { mark, by, at: now });
    accounts.set_mark(at.id, marked).await?;
    let deed = match mark {
        Some(Mark::Ready) => DeedKind::JobReady,
        Some(Mark::HandedOn) => DeedKind::JobHandedOn,
        None => DeedKind::MarkTaken,
    };
    at.shared
        .note(Actor::Person(by), deed, Some(at.id), "")
        .await?;
    Ok(None)
}

/// Somebody else said something since the page was made: nothing was changed.
async fn meanwhile(at: &AtJob, stands: Option<Marked>) -> Result<Response, StoreError> {
    let words = match stands {
        Some(marked) => {
            let who = at.shared.accounts().person(marked.by).await?;
            let who = who.map_or_else(|| "somebody".to_owned(), |person| person.name);
            let what = if marked.mark == Mark::Ready {
                "ready"
            } else {
                "handed on"
            };
            format!("{who} marked this job {what} on {}.", at.when(marked.at))
        }
        None => "Somebody took back the word on this job.".to_owned(),
    };
    let main = html! {
        (notice(Tone::Warn, &html! { p { (words) " Nothing of yours was changed." }
            p { a href=(at.path()) { "See the job as it stands" } ", then say it again if it still holds." } }))
    };
    Ok((StatusCode::CONFLICT, at.page(Part::House, &[], &main)).into_response())
}

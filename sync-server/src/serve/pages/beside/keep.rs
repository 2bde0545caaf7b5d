//! `POST /jobs/{job}/beside/keep` and `/strike`: their scope becomes a record of the job, or stands
//! no more.

use axum::Extension;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::Response;
use chalkwalk_core::document::Action;
use chalkwalk_core::job::{Job, Kind, RecordId, RecordRef};
use chalkwalk_core::review::compare::{TheirFile, take_in};

use super::super::at_job::AtJob;
use super::super::estimate::{NotDone, aside, reason};
use super::super::fields::{Fields, Sent};
use super::super::to;
use super::list::again;
use super::look::{bytes, mapping, sentence, sheet, turn};
use super::preview::shown;
use crate::serve::Shared;
use crate::serve::guard::SignedIn;

/// `POST /jobs/{job}/beside/keep`.
pub(in crate::serve) async fn keep(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    sent: Sent,
) -> Response {
    let fields = Fields::of(sent);
    let read = async {
        let at = AtJob::open(&shared, &who, &id).await?;
        let bytes = bytes(&at, &fields).await?;
        Ok::<_, Response>((at, bytes))
    };
    let (at, bytes) = match read.await {
        Ok(read) => read,
        Err(response) => return response,
    };
    let _turn = match turn(&shared).await {
        Ok(turn) => turn,
        Err(words) => {
            let busy = (StatusCode::SERVICE_UNAVAILABLE, words.to_owned());
            return shown(&at, &fields, Some(busy)).await;
        }
    };
    let (job, said) = (at.job.clone(), fields.clone());
    let work = move || {
        let mapping = mapping(&said);
        let file = TheirFile {
            name: said.get("name"),
            file_name: said.get("as"),
            bytes: &bytes,
            sheet: sheet(&said),
            mapping: mapping.as_deref(),
        };
        take_in(&job, &file)
            .map(|taken| taken.record)
            .map_err(|error| sentence(&error.to_string()))
    };
    let taken = match aside(&shared, work).await {
        Ok(taken) => taken,
        Err(response) => return response,
    };
    drop(_turn);
    let other = match taken {
        Ok(other) => other,
        Err(words) => {
            let bad = (StatusCode::UNPROCESSABLE_ENTITY, words);
            return shown(&at, &fields, Some(bad)).await;
        }
    };
    let record = shared.hub.fresh_record_id();
    let id = record.clone();
    let plan = move |job: &Job| {
        // The same file with the same columns is kept once.
        let known = job.records.other_scopes.values().any(|kept| {
            kept.stands() && kept.file_hash == other.file_hash && kept.columns == other.columns
        });
        let add = Action::Add {
            id,
            record: other.into(),
            hits: None,
            shows: Vec::new(),
        };
        Ok::<_, NotDone>(if known { Vec::new() } else { vec![add] })
    };
    match shared.hub.record(&at.person, at.id, plan).await {
        Ok(0) => to(&shared, &format!("/jobs/{}/beside", at.id)),
        Ok(_) => to(&shared, &format!("/jobs/{}/beside?of={record}", at.id)),
        Err(not_done) => {
            let words = not_done.words();
            shown(&at, &fields, Some((not_done.status(), words))).await
        }
    }
}

/// `POST /jobs/{job}/beside/strike`.
pub(in crate::serve) async fn strike(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    sent: Sent,
) -> Response {
    let fields = Fields::of(sent);
    let at = match AtJob::open(&shared, &who, &id).await {
        Ok(at) => at,
        Err(response) => return response,
    };
    let wish = fields.clone();
    let plan = move |job: &Job| {
        let reason = reason(&wish)?;
        let of = wish.get("of").parse::<RecordId>().ok();
        let stands = |of: &RecordId| {
            let other = job.records.other_scopes.get(of);
            other.is_some_and(|other| other.stands())
        };
        let of = of
            .filter(stands)
            .ok_or_else(|| NotDone::Clash(vec!["this scope was struck already".to_owned()]))?;
        let at = RecordRef::new(Kind::OtherScope, of);
        Ok::<_, NotDone>(vec![Action::Strike { at, reason }])
    };
    match shared.hub.record(&at.person, at.id, plan).await {
        Ok(_) => to(&shared, &format!("/jobs/{}/beside", at.id)),
        Err(not_done) => again(&shared, &who, &id, &fields, &not_done.words()).await,
    }
}

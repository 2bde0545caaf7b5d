//! Changing findings at the page: every change is signed by the person's pen and reaches the phones.

use std::collections::BTreeMap;

use axum::Extension;
use axum::extract::{Form, Path, State};
use axum::http::StatusCode;
use axum::response::Response;
use chalkwalk_core::document::{Action, ActionError};
use chalkwalk_core::job::{Job, Record, RecordId};

use super::super::super::Shared;
use super::super::super::guard::SignedIn;
use super::super::at_job::AtJob;
use super::super::layout::Part;
use super::super::{deeds, form::Tone, form::notice, to};
use super::form::{Sheet, body};
use super::plan::{self, Refused, Typed, in_a_sentence};
use super::{named, one, pointer};
use crate::hub::PenError;

type Pairs = Form<Vec<(String, String)>>;

/// `GET /jobs/{job}/findings/new`.
pub(in crate::serve) async fn new_page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
) -> Result<Response, Response> {
    let at = AtJob::open(&shared, &who, &id).await?;
    let fresh = shared.hub.fresh_record_id();
    Ok(at.page(Part::Findings, &[], &body(&at, &fresh, &Sheet::default())))
}

/// `POST /jobs/{job}/findings`.
pub(in crate::serve) async fn add(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    Form(pairs): Pairs,
) -> Result<Response, Response> {
    let at = AtJob::open(&shared, &who, &id).await?;
    let typed = Typed::of(pairs);
    // The form brings its own id, so that sending it twice records it once.
    let asked = typed.get("id").and_then(|id| id.parse::<RecordId>().ok());
    let fresh = asked.unwrap_or_else(|| shared.hub.fresh_record_id());
    let (planned, of) = (typed.clone(), fresh.clone());
    let done = shared
        .hub
        .record(&at.person, at.id, move |job| plan::add(job, &of, &planned))
        .await;
    match done {
        Ok(_) => Ok(at_finding(&at, &fresh, "added")),
        Err(refused) => Ok(again(at, None, &fresh, typed, refused).await),
    }
}

/// `GET /jobs/{job}/findings/{finding}/edit`.
pub(in crate::serve) async fn edit_page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((id, finding)): Path<(String, String)>,
) -> Result<Response, Response> {
    let at = AtJob::open(&shared, &who, &id).await?;
    let finding = named(&at, &finding)?;
    let sheet = sheet(&at.job, &finding, Typed::default());
    Ok(at.page(Part::Findings, &[], &body(&at, &finding, &sheet)))
}

fn sheet<'a>(job: &'a Job, id: &RecordId, typed: Typed) -> Sheet<'a> {
    let finding = job.records.findings.get(id);
    let conflicts = finding.map_or(&[][..], |finding: &Record<_>| &finding.conflicts);
    Sheet {
        finding: finding.map(|finding| &finding.fields),
        disputed: conflicts
            .iter()
            .map(|conflict| conflict.field.as_str())
            .collect(),
        typed,
        ..Sheet::default()
    }
}

/// `POST /jobs/{job}/findings/{finding}`.
pub(in crate::serve) async fn amend(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((id, finding)): Path<(String, String)>,
    Form(pairs): Pairs,
) -> Result<Response, Response> {
    let at = AtJob::open(&shared, &who, &id).await?;
    let finding = named(&at, &finding)?;
    let typed = Typed::of(pairs);
    let (planned, of) = (typed.clone(), finding.clone());
    let done = shared
        .hub
        .record(&at.person, at.id, move |job| plan::edit(job, &of, &planned))
        .await;
    match done {
        Ok(0) => Ok(at_finding(&at, &finding, "same")),
        Ok(_) => Ok(at_finding(&at, &finding, "changed")),
        Err(refused) => {
            // As it stands now, not as it stood when the form came in.
            let now = AtJob::open(&shared, &who, &id).await?;
            Ok(again(now, Some(&finding), &finding, typed, refused).await)
        }
    }
}

fn at_finding(at: &AtJob, finding: &RecordId, done: &str) -> Response {
    to(
        &at.shared,
        &format!("/jobs/{}/findings/{finding}?done={done}", at.id),
    )
}

/// The form once more, with all that was typed and why it was not written.
async fn again(
    at: AtJob,
    known: Option<&RecordId>,
    id: &RecordId,
    typed: Typed,
    refused: Refused,
) -> Response {
    let mut sheet = match known {
        Some(known) => sheet(&at.job, known, typed),
        None => Sheet {
            typed,
            ..Sheet::default()
        },
    };
    let code = match refused {
        Refused::Wrong(wrong) => {
            sheet.wrong = wrong;
            StatusCode::UNPROCESSABLE_ENTITY
        }
        Refused::Clash(fields) => {
            sheet.clash = match by_whom(&at, id, &fields).await {
                Ok(clash) => clash,
                Err(response) => return response,
            };
            StatusCode::CONFLICT
        }
        Refused::Gone => {
            sheet.trouble = Some("There is no such finding in the record.".to_owned());
            StatusCode::NOT_FOUND
        }
        Refused::Pen(error) => {
            sheet.trouble = Some(in_a_sentence(&error));
            code_of(&error)
        }
    };
    let mut response = at.page(Part::Findings, &[], &body(&at, id, &sheet));
    *response.status_mut() = code;
    response
}

async fn by_whom(
    at: &AtJob,
    id: &RecordId,
    fields: &[&'static str],
) -> Result<BTreeMap<&'static str, Option<chalkwalk_core::job::Stamp>>, Response> {
    let deeds = deeds::all(at).await?;
    let written = |field: &&'static str| (*field, deeds::last_written(&deeds, &pointer(id), field));
    Ok(fields.iter().map(written).collect())
}

/// The status of a refusal.
pub(in crate::serve) fn code_of(error: &PenError) -> StatusCode {
    match error {
        PenError::NoSuchJob | PenError::Action(ActionError::NoSuchRecord(_)) => {
            StatusCode::NOT_FOUND
        }
        PenError::Action(
            ActionError::NoReason | ActionError::TooLong { .. } | ActionError::WrongValue { .. },
        ) => StatusCode::UNPROCESSABLE_ENTITY,
        PenError::Action(_) => StatusCode::CONFLICT,
        PenError::Refused(chalkwalk_core::document::Refusal::Storage(_)) => {
            StatusCode::SERVICE_UNAVAILABLE
        }
        PenError::Refused(_) => StatusCode::FORBIDDEN,
    }
}

/// `POST /jobs/{job}/findings/{finding}/strike`.
pub(in crate::serve) async fn strike(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((id, finding)): Path<(String, String)>,
    Form(pairs): Pairs,
) -> Result<Response, Response> {
    let at = AtJob::open(&shared, &who, &id).await?;
    let finding = named(&at, &finding)?;
    let typed = Typed::of(pairs);
    let reason = typed.get("reason").unwrap_or_default().to_owned();
    let action = Action::Strike {
        at: pointer(&finding),
        reason,
    };
    decide(at, &finding, action, "struck").await
}

/// `POST /jobs/{job}/findings/{finding}/reinstate`.
pub(in crate::serve) async fn reinstate(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((id, finding)): Path<(String, String)>,
) -> Result<Response, Response> {
    let at = AtJob::open(&shared, &who, &id).await?;
    let finding = named(&at, &finding)?;
    let action = Action::Reinstate {
        at: pointer(&finding),
    };
    decide(at, &finding, action, "stands").await
}

/// `POST /jobs/{job}/findings/{finding}/photos`: a photo shows it, or does not after all.
pub(in crate::serve) async fn photos(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((id, finding)): Path<(String, String)>,
    Form(pairs): Pairs,
) -> Result<Response, Response> {
    let at = AtJob::open(&shared, &who, &id).await?;
    let finding = named(&at, &finding)?;
    let typed = Typed::of(pairs);
    let Some(photo) = typed
        .get("photo")
        .and_then(|photo| photo.parse::<RecordId>().ok())
    else {
        let words = "Choose a photo of the list.";
        return not_done(&at, &finding, StatusCode::UNPROCESSABLE_ENTITY, words).await;
    };
    let action = match typed.get("do") {
        Some("detach") => Action::Detach {
            photo,
            from: pointer(&finding),
        },
        _ => Action::Attach {
            photo,
            to: pointer(&finding),
        },
    };
    decide(at, &finding, action, "photos").await
}

async fn decide(
    at: AtJob,
    finding: &RecordId,
    action: Action,
    done: &str,
) -> Result<Response, Response> {
    let reason = match &action {
        Action::Strike { reason, .. } => Some(reason.clone()),
        _ => None,
    };
    let wrote = at
        .shared
        .hub
        .record(&at.person, at.id, move |_| Ok::<_, PenError>(vec![action]))
        .await;
    match wrote {
        Ok(_) => Ok(at_finding(&at, finding, done)),
        Err(error) => {
            // What was typed is said again where it was not taken.
            let mut words = in_a_sentence(&error);
            if let Some(reason) = reason.filter(|reason| !reason.is_empty()) {
                words.push_str(&format!(" You wrote: “{reason}”."));
            }
            not_done(&at, finding, code_of(&error), &words).await
        }
    }
}

async fn not_done(
    at: &AtJob,
    finding: &RecordId,
    code: StatusCode,
    words: &str,
) -> Result<Response, Response> {
    let why = notice(
        Tone::Bad,
        &maud::html! { p { b { "Nothing was written. " } (words) } },
    );
    let page = one::body(at, finding, None).await?;
    let mut response = at.page(Part::Findings, &[], &maud::html! { (why) (page) });
    *response.status_mut() = code;
    Ok(response)
}

//! Changing records at the page.

use std::collections::BTreeMap;

use axum::Extension;
use axum::extract::{Form, Path, State};
use axum::http::StatusCode;
use axum::response::Response;
use chalkwalk_core::document::{Action, ActionError, Refusal};
use chalkwalk_core::job::{Kind, RecordId, RecordRef, Stamp};
use maud::html;

use super::super::super::Shared;
use super::super::super::guard::SignedIn;
use super::super::at_job::AtJob;
use super::super::fields::Asked;
use super::super::form::{Tone, notice};
use super::super::{deeds, nothing_here, to};
use super::fields::in_a_sentence;
use super::form::{Shown, body};
use super::plan::{self, HITS, Refused, Typed};
use super::spec::Sheet;
use super::tables::sheet_of;
use super::{one, own_path, part_of};
use crate::hub::PenError;

type Pairs = Form<Vec<(String, String)>>;
/// Job, kind and record as the path names them.
type Named = Path<(String, String, String)>;

/// A record of the job that is asked about.
pub(super) struct Target {
    pub(super) at: AtJob,
    pub(super) of: RecordRef,
    pub(super) sheet: &'static Sheet,
}

impl Target {
    /// Opens the job and finds the record.
    pub(super) async fn open(
        shared: &Shared,
        who: &SignedIn,
        (job, kind, id): (&str, &str, &str),
    ) -> Result<Self, Response> {
        let at = AtJob::open(shared, who, job).await?;
        let kind = Kind::from_code(kind);
        let found = kind
            .zip(id.parse::<RecordId>().ok())
            .and_then(|(kind, id)| {
                let of = RecordRef::new(kind, id);
                at.job.records.header(&of)?;
                Some((sheet_of(kind)?, of))
            });
        let (sheet, of) = found.ok_or_else(|| nothing_here(shared))?;
        Ok(Self { at, of, sheet })
    }

    fn done(&self, what: &str) -> Response {
        let withdrawn = self.of.kind == Kind::Question && what == "struck";
        let path = match withdrawn {
            true => format!("{}/open?done=withdrawn#questions", self.at.path()),
            false => format!("{}?done={what}", own_path(&self.at, &self.of)),
        };
        let base = &self.at.shared.base;
        to(&self.at.shared, path.strip_prefix(&**base).unwrap_or(&path))
    }
}

/// A kind of which another may be added.
#[expect(clippy::result_large_err, reason = "a refusal is a whole answer")]
fn addable(shared: &Shared, kind: &str) -> Result<&'static Sheet, Response> {
    let sheet = Kind::from_code(kind).and_then(sheet_of);
    sheet
        .filter(|sheet| sheet.adds)
        .ok_or_else(|| nothing_here(shared))
}

/// `GET /jobs/{job}/records/{kind}/new`; the address may fill fields in.
pub(in crate::serve) async fn new_page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((id, kind)): Path<(String, String)>,
    Asked(filled): Asked,
) -> Result<Response, Response> {
    let at = AtJob::open(&shared, &who, &id).await?;
    let sheet = addable(&shared, &kind)?;
    let keys = sheet.specs().map(|spec| spec.key);
    let given = keys.filter(|key| !filled.get(key).is_empty());
    let shown = Shown {
        typed: Typed::of(
            given
                .map(|key| (key.to_owned(), filled.get(key).to_owned()))
                .collect(),
        ),
        ..Shown::default()
    };
    let of = RecordRef::new(sheet.kind, shared.hub.fresh_record_id());
    Ok(at.page(part_of(of.kind), &[], &body(&at, &of, sheet, &shown)))
}

/// `POST /jobs/{job}/records/{kind}`.
pub(in crate::serve) async fn add(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((id, kind)): Path<(String, String)>,
    Form(pairs): Pairs,
) -> Result<Response, Response> {
    let at = AtJob::open(&shared, &who, &id).await?;
    let sheet = addable(&shared, &kind)?;
    let typed = Typed::of(pairs);
    // The form brings its own id, so that sending it twice records it once.
    let asked = typed.get("id").and_then(|id| id.parse::<RecordId>().ok());
    let fresh = asked.unwrap_or_else(|| shared.hub.fresh_record_id());
    let of = RecordRef::new(sheet.kind, fresh);
    let (planned, new) = (typed.clone(), of.clone());
    let done = shared.hub.record(&at.person, at.id, move |job| {
        plan::add(job, &new, sheet, &planned)
    });
    let done = done.await;
    let target = Target { at, of, sheet };
    match done {
        Ok(_) => Ok(target.done("added")),
        Err(refused) => {
            again(
                &target,
                Shown {
                    typed,
                    ..Shown::default()
                },
                refused,
            )
            .await
        }
    }
}

/// `GET /jobs/{job}/records/{kind}/{record}/edit`.
pub(in crate::serve) async fn edit_page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((id, kind, record)): Named,
) -> Result<Response, Response> {
    let target = Target::open(&shared, &who, (&id, &kind, &record)).await?;
    if !target.sheet.edits {
        return Err(nothing_here(&shared));
    }
    let main = body(
        &target.at,
        &target.of,
        target.sheet,
        &standing(&target, Typed::default()),
    );
    Ok(target.at.page(part_of(target.of.kind), &[], &main))
}

fn standing(target: &Target, typed: Typed) -> Shown<'_> {
    let records = &target.at.job.records;
    let conflicts = records
        .header(&target.of)
        .map_or(&[][..], |header| header.conflicts);
    Shown {
        record: records.fields(&target.of),
        disputed: conflicts
            .iter()
            .map(|conflict| conflict.field.as_str())
            .collect(),
        typed,
        ..Shown::default()
    }
}

/// `POST /jobs/{job}/records/{kind}/{record}`.
pub(in crate::serve) async fn amend(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((id, kind, record)): Named,
    Form(pairs): Pairs,
) -> Result<Response, Response> {
    let target = Target::open(&shared, &who, (&id, &kind, &record)).await?;
    if !target.sheet.edits {
        return Err(nothing_here(&shared));
    }
    let typed = Typed::of(pairs);
    let (planned, of, sheet) = (typed.clone(), target.of.clone(), target.sheet);
    let done = shared
        .hub
        .record(&target.at.person, target.at.id, move |job| {
            plan::edit(job, &of, sheet, &planned)
        });
    match done.await {
        Ok(0) => Ok(target.done("same")),
        Ok(_) => Ok(target.done("changed")),
        Err(refused) => {
            // As it stands now, not as it stood when the form came in.
            let now = Target::open(&shared, &who, (&id, &kind, &record)).await?;
            let shown = standing(&now, typed);
            again(&now, shown, refused).await
        }
    }
}

/// The form once more, with all that was typed and why it was not written.
async fn again(
    target: &Target,
    mut shown: Shown<'_>,
    refused: Refused,
) -> Result<Response, Response> {
    let (at, of) = (&target.at, &target.of);
    let code = match refused.beside(target.sheet) {
        Refused::Wrong(wrong) => {
            shown.wrong = wrong;
            StatusCode::UNPROCESSABLE_ENTITY
        }
        Refused::Clash(fields) => {
            shown.clash = by_whom(at, of, &fields).await?;
            StatusCode::CONFLICT
        }
        Refused::Gone => {
            shown.trouble = Some("There is no such record in the job.".to_owned());
            StatusCode::NOT_FOUND
        }
        Refused::Pen(error) => {
            shown.trouble = Some(in_a_sentence(&error));
            code_of(&error)
        }
    };
    let main = body(at, of, target.sheet, &shown);
    let mut response = at.page(part_of(of.kind), &[], &main);
    *response.status_mut() = code;
    Ok(response)
}

async fn by_whom(
    at: &AtJob,
    of: &RecordRef,
    fields: &[&'static str],
) -> Result<BTreeMap<&'static str, Option<Stamp>>, Response> {
    let deeds = deeds::all(at).await?;
    let written = |field: &&'static str| (*field, deeds::last_written(&deeds, of, field));
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
        PenError::Refused(Refusal::Storage(_)) => StatusCode::SERVICE_UNAVAILABLE,
        PenError::Refused(_) => StatusCode::FORBIDDEN,
    }
}

/// `POST /jobs/{job}/records/{kind}/{record}/strike`.
pub(in crate::serve) async fn strike(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((id, kind, record)): Named,
    Form(pairs): Pairs,
) -> Result<Response, Response> {
    let target = Target::open(&shared, &who, (&id, &kind, &record)).await?;
    let typed = Typed::of(pairs);
    let reason = typed.get("reason").unwrap_or_default().to_owned();
    let (of, why) = (target.of.clone(), reason.clone());
    let done = shared
        .hub
        .record(&target.at.person, target.at.id, move |_| {
            plan::strike(&of, &why)
        });
    match done.await {
        Ok(_) => Ok(target.done("struck")),
        Err(error) => {
            // What was typed is said again where it was not taken.
            let mut words = in_a_sentence(&error);
            if !reason.is_empty() {
                words.push_str(&format!(" You wrote: “{reason}”."));
            }
            not_done(&target, code_of(&error), &words).await
        }
    }
}

/// `POST /jobs/{job}/records/{kind}/{record}/reinstate`.
pub(in crate::serve) async fn reinstate(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((id, kind, record)): Named,
) -> Result<Response, Response> {
    let target = Target::open(&shared, &who, (&id, &kind, &record)).await?;
    let at = target.of.clone();
    decide(target, Action::Reinstate { at }, "stands").await
}

/// `POST /jobs/{job}/records/{kind}/{record}/photos`: a photo shows it, or does not after all.
pub(in crate::serve) async fn photos(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((id, kind, record)): Named,
    Form(pairs): Pairs,
) -> Result<Response, Response> {
    let target = Target::open(&shared, &who, (&id, &kind, &record)).await?;
    let typed = Typed::of(pairs);
    let photo = typed
        .get("photo")
        .and_then(|photo| photo.parse::<RecordId>().ok());
    let Some(photo) = photo else {
        let words = "Choose a photo of the list.";
        return not_done(&target, StatusCode::UNPROCESSABLE_ENTITY, words).await;
    };
    let of = target.of.clone();
    let action = match typed.get("do") {
        Some("detach") => Action::Detach { photo, from: of },
        _ => Action::Attach { photo, to: of },
    };
    decide(target, action, "photos").await
}

/// `POST /jobs/{job}/records/{kind}/{record}/count`: the hits that this person counted.
pub(in crate::serve) async fn count(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((id, kind, record)): Named,
    Form(pairs): Pairs,
) -> Result<Response, Response> {
    let target = Target::open(&shared, &who, (&id, &kind, &record)).await?;
    let typed = Typed::of(pairs);
    let own = one::own_device(&target.at)?;
    let (of, planned) = (target.of.clone(), typed.clone());
    let done = shared
        .hub
        .record(&target.at.person, target.at.id, move |job| {
            plan::count(job, &of, own, &planned)
        });
    let refused = match done.await {
        Ok(0) => return Ok(target.done("same")),
        Ok(_) => return Ok(target.done("counted")),
        Err(refused) => refused,
    };
    let now = Target::open(&shared, &who, (&id, &kind, &record)).await?;
    let said = typed.get(HITS).unwrap_or_default();
    let (code, words) = match refused {
        Refused::Wrong(wrong) => (
            StatusCode::UNPROCESSABLE_ENTITY,
            wrong.into_values().collect::<Vec<_>>().concat(),
        ),
        Refused::Clash(_) => (
            StatusCode::CONFLICT,
            "You stated another count meanwhile, in another window. It stands below.".to_owned(),
        ),
        Refused::Gone => (StatusCode::NOT_FOUND, "There is no such record.".to_owned()),
        Refused::Pen(error) => (code_of(&error), in_a_sentence(&error)),
    };
    not_done(&now, code, &format!("{words} You wrote: “{said}”.")).await
}

async fn decide(target: Target, action: Action, done: &str) -> Result<Response, Response> {
    let at = &target.at;
    let wrote = at
        .shared
        .hub
        .record(&at.person, at.id, move |_| Ok::<_, PenError>(vec![action]))
        .await;
    match wrote {
        Ok(_) => Ok(target.done(done)),
        Err(error) => not_done(&target, code_of(&error), &in_a_sentence(&error)).await,
    }
}

async fn not_done(target: &Target, code: StatusCode, words: &str) -> Result<Response, Response> {
    let why = notice(
        Tone::Bad,
        &html! { p { b { "Nothing was written. " } (words) } },
    );
    let page = one::body(&target.at, &target.of, None).await?;
    let main = html! { (why) (page) };
    let mut response = target.at.page(part_of(target.of.kind), &[], &main);
    *response.status_mut() = code;
    Ok(response)
}

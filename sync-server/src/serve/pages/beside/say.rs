//! `POST /jobs/{job}/beside/say`: a person says which lines of ours a row of theirs stands for.

use axum::Extension;
use axum::extract::{Path, State};
use axum::response::Response;
use chalkwalk_core::document::Action;
use chalkwalk_core::job::{Job, Kind, RecordId, RecordRef, ScopeMatch};
use chalkwalk_core::review::scope::{ScopeInputs, scope};

use super::super::at_job::AtJob;
use super::super::estimate::{NotDone, Reckoned};
use super::super::fields::{Fields, Sent};
use super::super::to;
use super::join::{said, seen, shown};
use crate::limits;
use crate::serve::Shared;
use crate::serve::guard::SignedIn;

/// `POST /jobs/{job}/beside/say`.
pub(in crate::serve) async fn post(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    sent: Sent,
) -> Response {
    let fields = Fields::of(sent);
    let read = async {
        let at = AtJob::open(&shared, &who, &id).await?;
        let reckoned = Reckoned::of(&at).await?;
        Ok::<_, Response>((at, reckoned))
    };
    let (at, reckoned) = match read.await {
        Ok(read) => read,
        Err(response) => return response,
    };
    let lines = fields.all("line").count().max(1);
    let fresh: Vec<RecordId> = (0..lines).map(|_| shared.hub.fresh_record_id()).collect();
    let (wish, inputs) = (fields.clone(), reckoned.set.inputs);
    let plan = move |job: &Job| plan(job, &inputs, &wish, fresh);
    match shared.hub.record(&at.person, at.id, plan).await {
        Ok(_) => to(
            &shared,
            &format!("/jobs/{}/beside?of={}", at.id, fields.get("of")),
        ),
        Err(not_done) => shown(&shared, &who, &id, &fields, Some(&not_done)).await,
    }
}

fn plan(
    job: &Job,
    inputs: &ScopeInputs,
    wish: &Fields,
    fresh: Vec<RecordId>,
) -> Result<Vec<Action>, NotDone> {
    let unknown = || NotDone::Clash(vec!["this scope or row stands no more".to_owned()]);
    let other = wish.get("of").parse::<RecordId>().ok();
    let other = other.filter(|other| {
        let kept = job.records.other_scopes.get(other);
        kept.is_some_and(|kept| kept.stands())
    });
    let other = other.ok_or_else(unknown)?;
    let row = wish.get("row").parse::<u32>().map_err(|_| unknown())?;
    let reason = wish.get("reason");
    if reason.len() > limits::REASON_BYTES {
        return Err(NotDone::Wrong(
            "reason",
            "Say why in fewer words.".to_owned(),
        ));
    }
    let before = said(job, &other, row);
    if seen(&before) != wish.get("seen") {
        let words = format!("somebody said something else of row {row} meanwhile: it is shown now");
        return Err(NotDone::Clash(vec![words]));
    }
    let why = if reason.is_empty() {
        "said anew"
    } else {
        reason
    };
    let mut actions: Vec<Action> = before
        .into_iter()
        .map(|id| Action::Strike {
            at: RecordRef::new(Kind::ScopeMatch, id),
            reason: why.to_owned(),
        })
        .collect();
    let word = |line: Option<&str>| ScopeMatch {
        other: Some(RecordRef::new(Kind::OtherScope, other.clone())),
        row: Some(row),
        line: line.map(str::to_owned),
        reason: (!reason.is_empty()).then(|| reason.to_owned()),
    };
    let words: Vec<ScopeMatch> = match wish.get("do") {
        "join" => lines(job, inputs, wish)?
            .into_iter()
            .map(|line| word(Some(line)))
            .collect(),
        "alone" => vec![word(None)],
        "back" => Vec::new(),
        _ => {
            return Err(NotDone::Wrong(
                "do",
                "Say what is to be done with the row.".to_owned(),
            ));
        }
    };
    actions.extend(fresh.into_iter().zip(words).map(|(id, word)| Action::Add {
        id,
        record: word.into(),
        hits: None,
        shows: Vec::new(),
    }));
    Ok(actions)
}

fn lines<'a>(job: &Job, inputs: &ScopeInputs, wish: &'a Fields) -> Result<Vec<&'a str>, NotDone> {
    let mut chosen: Vec<&str> = wish.all("line").collect();
    chosen.sort_unstable();
    chosen.dedup();
    if chosen.is_empty() {
        let words = "Tick the lines that the row stands for, or say that ours has none of it.";
        return Err(NotDone::Wrong("line", words.to_owned()));
    }
    let ours = scope(job, inputs);
    let stands = |key: &&str| ours.lines.iter().any(|line| line.key.as_str() == *key);
    match chosen.iter().find(|key| !stands(key)) {
        None => Ok(chosen),
        Some(_) => Err(NotDone::Clash(vec![
            "a ticked line stands no more".to_owned(),
        ])),
    }
}

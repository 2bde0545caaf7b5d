//! `POST /jobs/{job}/scope/change`: an estimator amends a line, leaves it out, takes the change
//! back, or adds a line. Each has a reason and is one signed change of the record.

use axum::Extension;
use axum::extract::{Path, State};
use axum::response::Response;
use chalkwalk_core::document::Action;
use chalkwalk_core::job::{
    Audience, Job, Kind, RecordId, RecordRef, ScopeChange, ScopeChangeKind, Unit, WorkAction,
};
use chalkwalk_core::limits as core_limits;
use chalkwalk_core::review::scope::{LineKey, Quantity, ScopeInputs, ScopeLine, scope};

use super::super::at_job::AtJob;
use super::super::fields::{Fields, Sent};
use super::super::to;
use super::clash::NotDone;
use super::line;
use super::list::anchor;
use super::reckoned::Reckoned;
use crate::limits;
use crate::serve::Shared;
use crate::serve::guard::SignedIn;

/// `POST /jobs/{job}/scope/change`.
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
    let record = shared.hub.fresh_record_id();
    let (wish, inputs) = (fields.clone(), reckoned.set.inputs.clone());
    let key = match fields.get("do") {
        "add" => RecordRef::new(Kind::ScopeChange, record.clone()).to_string(),
        _ => fields.get("key").to_owned(),
    };
    let plan = move |job: &Job| plan(job, &inputs, &wish, record);
    match shared.hub.record(&at.person, at.id, plan).await {
        Ok(_) => to(
            &shared,
            &format!("/jobs/{}/scope#{}", at.id, anchor(&LineKey::named(&key))),
        ),
        Err(not_done) => line::again(&shared, &who, &id, &fields, &not_done).await,
    }
}

/// What is to be recorded, from the job as it stands.
fn plan(
    job: &Job,
    inputs: &ScopeInputs,
    wish: &Fields,
    record: RecordId,
) -> Result<Vec<Action>, NotDone> {
    let reason = reason(wish)?;
    let add = |change: ScopeChange| Action::Add {
        id: record,
        record: change.into(),
        hits: None,
        shows: Vec::new(),
    };
    if wish.get("do") == "add" {
        return Ok(vec![add(added(job, wish, reason)?)]);
    }
    let now = scope(job, inputs);
    let key = LineKey::named(wish.get("key"));
    let mut all = now.lines.iter().chain(&now.left_out);
    let Some(line) = all.find(|line| line.key == key) else {
        let gone = "the record makes this line no more; open the scope again".to_owned();
        return Err(NotDone::Clash(vec![gone]));
    };
    match wish.get("do") {
        "amend" => Ok(vec![add(amended(job, wish, line, reason)?)]),
        "leave_out" => {
            same_change(job, wish, line)?;
            Ok(vec![add(ScopeChange {
                line: Some(key.as_str().to_owned()),
                kind: Some(ScopeChangeKind::LeftOut),
                reason: Some(reason),
                ..ScopeChange::default()
            })])
        }
        "take_back" => {
            same_change(job, wish, line)?;
            let change = line.change.as_ref();
            let at = change.map(|change| change.record.clone());
            let at = at.ok_or_else(|| NotDone::Clash(vec!["no change stands here".to_owned()]))?;
            Ok(vec![Action::Strike { at, reason }])
        }
        _ => Err(NotDone::Wrong(
            "do",
            "Say what is to be done to the line.".to_owned(),
        )),
    }
}

/// The reason that every change has.
pub(in crate::serve) fn reason(wish: &Fields) -> Result<String, NotDone> {
    let (text, most) = (wish.get("reason"), limits::REASON_BYTES);
    if text.is_empty() {
        let words = "Say why, in a few words: the reason stands beside the line.";
        return Err(NotDone::Wrong("reason", words.to_owned()));
    }
    if text.len() > most {
        let words = format!("Say why in at most {most} bytes.");
        return Err(NotDone::Wrong("reason", words));
    }
    Ok(text.to_owned())
}

/// Sees that the last change of the line is the one that was shown.
fn same_change(job: &Job, wish: &Fields, line: &ScopeLine) -> Result<(), NotDone> {
    if last_change(line) == wish.get("seen") {
        return Ok(());
    }
    Err(NotDone::Clash(vec![match &line.change {
        Some(change) => format!(
            "{} says now: {}, {}",
            job.who(change.by.device),
            change.kind.label(),
            change.reason
        ),
        None => "the change that was shown was taken back".to_owned(),
    }]))
}

/// What names the last change of a line in a form; empty where there is none.
pub(super) fn last_change(line: &ScopeLine) -> String {
    let change = line.change.as_ref();
    change.map_or_else(String::new, |change| change.record.to_string())
}

/// The values of a line as its form shows them: name in the form and value.
pub(super) fn shown_values(line: &ScopeLine) -> [(&'static str, String); 4] {
    [
        (
            "quantity",
            line.quantity.map(Quantity::digits).unwrap_or_default(),
        ),
        (
            "unit",
            line.unit()
                .map(|unit| unit.code().to_owned())
                .unwrap_or_default(),
        ),
        ("action", line.action.code().to_owned()),
        ("audience", line.audience.code().to_owned()),
    ]
}

/// The change that holds what was typed differently from what was shown, and nothing else.
fn amended(
    job: &Job,
    wish: &Fields,
    line: &ScopeLine,
    reason: String,
) -> Result<ScopeChange, NotDone> {
    let mut typed = Vec::new();
    let mut clash = Vec::new();
    for (name, now) in shown_values(line) {
        let was = wish.get(&format!("was-{name}"));
        let value = wish.get(name);
        if value == was {
            continue;
        }
        typed.push(name);
        if now != was {
            let who = line.change.as_ref().map(|change| job.who(change.by.device));
            clash.push(format!(
                "the {} was shown as \"{was}\" and is now \"{now}\"{}; you typed \"{value}\"",
                label(name),
                who.map(|who| format!(", by {who}")).unwrap_or_default(),
            ));
        }
    }
    if !clash.is_empty() {
        return Err(NotDone::Clash(clash));
    }
    if typed.is_empty() {
        let words = "Nothing differs from what stands there: change the quantity, the unit, the \
                     work or who may read it.";
        return Err(NotDone::Wrong("quantity", words.to_owned()));
    }
    let mut change = ScopeChange {
        line: Some(line.key.as_str().to_owned()),
        kind: Some(ScopeChangeKind::Amended),
        reason: Some(reason),
        ..ScopeChange::default()
    };
    if typed.contains(&"quantity") || typed.contains(&"unit") {
        let quantity = quantity(wish, line.unit())?;
        change.quantity = Some(quantity.value());
        change.unit = Some(quantity.unit());
    }
    if typed.contains(&"action") {
        change.action = Some(action(wish)?);
    }
    if typed.contains(&"audience") {
        change.audience = Some(audience(wish)?);
    }
    Ok(change)
}

fn label(name: &str) -> &str {
    match name {
        "action" => "work",
        "audience" => "reader",
        other => other,
    }
}

fn added(job: &Job, wish: &Fields, reason: String) -> Result<ScopeChange, NotDone> {
    let item = wish.get("item");
    if item.is_empty() || item.len() > limits::REASON_BYTES {
        let words = "Name the item in a few words, such as gutter or pipe boot.";
        return Err(NotDone::Wrong("item", words.to_owned()));
    }
    let place = match wish.get("place") {
        "" => None,
        text => Some(
            text.parse::<RecordRef>()
                .ok()
                .filter(|place| place.is_place() && job.records.header(place).is_some())
                .ok_or_else(|| {
                    let words = "Choose one of the house's places, or the house as a whole.";
                    NotDone::Wrong("place", words.to_owned())
                })?,
        ),
    };
    let quantity = quantity(wish, None)?;
    Ok(ScopeChange {
        kind: Some(ScopeChangeKind::Added),
        place,
        item: Some(item.to_owned()),
        action: Some(action(wish)?),
        quantity: Some(quantity.value()),
        unit: Some(quantity.unit()),
        reason: Some(reason),
        audience: Some(audience(wish)?),
        ..ScopeChange::default()
    })
}

/// The quantity and unit of a form; `unit` where the form names none.
fn quantity(wish: &Fields, unit: Option<Unit>) -> Result<Quantity, NotDone> {
    let text = wish.get("quantity").replace(',', "");
    let value = text.parse::<f64>().ok().filter(|value| *value > 0.0);
    let wrong = || {
        let most = core_limits::SCOPE_QUANTITY;
        let words = format!(
            "Write the quantity as a number above 0 and up to {most}, such as 12.5. To drop the \
             line, leave it out."
        );
        NotDone::Wrong("quantity", words)
    };
    let value = value.ok_or_else(wrong)?;
    let unit = match wish.get("unit") {
        "" => unit,
        code => Unit::from_code(code),
    };
    let unit = unit.ok_or_else(|| {
        let words = "Choose a unit: EA, LF, SF or SQ.";
        NotDone::Wrong("unit", words.to_owned())
    })?;
    Quantity::new(value, unit)
        .filter(|quantity| quantity.value() > 0.0)
        .ok_or_else(wrong)
}

fn action(wish: &Fields) -> Result<WorkAction, NotDone> {
    WorkAction::from_code(wish.get("action"))
        .ok_or_else(|| NotDone::Wrong("action", "Choose the work.".to_owned()))
}

fn audience(wish: &Fields) -> Result<Audience, NotDone> {
    Audience::from_code(wish.get("audience"))
        .ok_or_else(|| NotDone::Wrong("audience", "Choose who may read it.".to_owned()))
}

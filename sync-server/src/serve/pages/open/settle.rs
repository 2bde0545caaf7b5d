//! Settling what two people stated differently, by somebody who has seen both.

use axum::Extension;
use axum::extract::{Form, Path, State};
use axum::http::StatusCode;
use axum::response::Response;
use chalkwalk_core::document::Action;
use chalkwalk_core::job::{Job, RecordRef};
use maud::{Markup, html};
use serde::Deserialize;

use super::super::super::Shared;
use super::super::super::guard::SignedIn;
use super::super::at_job::AtJob;
use super::super::edit::{code_of, in_a_sentence, label};
use super::super::form::{Tone, notice};
use super::super::layout::Part;
use super::super::{deeds, to};
use super::body;
use super::conflicts::digest;
use crate::hub::PenError;

/// What the form sends.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::serve) struct Chosen {
    record: String,
    field: String,
    seen: String,
    statement: String,
}

/// Why nothing was settled.
#[derive(Debug, PartialEq)]
enum Refused {
    /// The form does not name a statement.
    NoChoice,
    /// It is settled already.
    Settled,
    /// Another statement came in since.
    Changed,
    Pen(PenError),
}

impl From<PenError> for Refused {
    fn from(error: PenError) -> Self {
        Refused::Pen(error)
    }
}

fn plan(job: &Job, chosen: &Chosen) -> Result<Vec<Action>, Refused> {
    let at: RecordRef = chosen.record.parse().map_err(|_| Refused::NoChoice)?;
    let number: usize = chosen.statement.parse().map_err(|_| Refused::NoChoice)?;
    let header = job.records.header(&at).ok_or(Refused::NoChoice)?;
    let conflict = header
        .conflicts
        .iter()
        .find(|conflict| conflict.field == chosen.field);
    let conflict = conflict.ok_or(Refused::Settled)?;
    if digest(conflict) != chosen.seen {
        return Err(Refused::Changed);
    }
    let said = conflict.statements.get(number).ok_or(Refused::NoChoice)?;
    Ok(vec![Action::Settle {
        field: chosen.field.clone(),
        value: said.value.clone(),
        at,
    }])
}

/// `POST /jobs/{job}/open/settle`.
pub(in crate::serve) async fn settle(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    Form(chosen): Form<Chosen>,
) -> Result<Response, Response> {
    let at = AtJob::open(&shared, &who, &id).await?;
    let asked = chosen.clone();
    let done = shared
        .hub
        .record(&at.person, at.id, move |job| plan(job, &asked))
        .await;
    let refused = match done {
        Ok(_) => {
            return Ok(to(
                &shared,
                &format!("/jobs/{}/open?done=settled#settle", at.id),
            ));
        }
        Err(refused) => refused,
    };
    let at = AtJob::open(&shared, &who, &id).await?;
    let (code, words) = match &refused {
        Refused::NoChoice => (
            StatusCode::UNPROCESSABLE_ENTITY,
            html! { "Choose one of the statements." },
        ),
        Refused::Settled => (StatusCode::CONFLICT, settled_by(&at, &chosen).await?),
        Refused::Changed => (
            StatusCode::CONFLICT,
            html! {
                "Another statement came in while you were looking. All of them are shown below: choose again."
            },
        ),
        Refused::Pen(error) => (code_of(error), html! { (in_a_sentence(error)) }),
    };
    let message = notice(
        Tone::Bad,
        &html! { p { b { "Nothing was written. " } (words) } },
    );
    let mut response = at.page(Part::Open, &[], &body(&at, message).await?);
    *response.status_mut() = code;
    Ok(response)
}

/// Who settled it, when, and what holds now.
async fn settled_by(at: &AtJob, chosen: &Chosen) -> Result<Markup, Response> {
    let Ok(record) = chosen.record.parse::<RecordRef>() else {
        return Ok(html! { "It has one statement." });
    };
    let deeds = deeds::all(at).await?;
    let by = deeds::last_written(&deeds, &record, &chosen.field);
    let now = at.job.records.words(&record, &chosen.field);
    Ok(html! {
        "“" (label(record.kind, &chosen.field)) "” has one statement now: "
        b { (now.unwrap_or_else(|| "left empty".to_owned())) }
        @if let Some(by) = by { ", settled by " (deeds::who(at, by)) ", " (at.when(by.at)) }
        "."
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use std::collections::BTreeMap;

    use chalkwalk_core::job::{
        Conflict, DeviceId, Kind, Record, RecordId, Records, Scalar, Stamp, Statement,
    };

    use super::*;

    fn job() -> (Job, Conflict) {
        let by = Stamp {
            device: DeviceId::from_bytes([1; 16]),
            at: 5,
        };
        let conflict = Conflict {
            field: "layers".into(),
            statements: [Some(Scalar::Int(1)), None]
                .map(|value| Statement { value, by })
                .to_vec(),
        };
        let mut slope = Record::new(by);
        slope.conflicts.push(conflict.clone());
        let mut records = Records::default();
        records.slopes.insert(id(), slope);
        let job = Job {
            id: None,
            schema: 1,
            crew: BTreeMap::new(),
            records,
        };
        (job, conflict)
    }

    fn id() -> RecordId {
        "01J00000000000000000000001".parse().unwrap()
    }

    fn chosen(conflict: &Conflict, statement: &str) -> Chosen {
        Chosen {
            record: RecordRef::new(Kind::Slope, id()).to_string(),
            field: "layers".into(),
            seen: digest(conflict),
            statement: statement.into(),
        }
    }

    #[test]
    fn one_of_the_statements_that_were_seen_is_chosen() {
        let (mut job, conflict) = job();
        let values: Vec<_> = ["0", "1"]
            .map(
                |n| match plan(&job, &chosen(&conflict, n)).unwrap().remove(0) {
                    Action::Settle { value, .. } => value,
                    other => panic!("{other:?}"),
                },
            )
            .to_vec();
        assert_eq!(values, [Some(Scalar::Int(1)), None]);
        for wrong in ["2", "", "-1", "x"] {
            assert_eq!(
                plan(&job, &chosen(&conflict, wrong)),
                Err(Refused::NoChoice),
                "{wrong}"
            );
        }
        let slope = job.records.slopes.get_mut(&id()).unwrap();
        slope.conflicts[0].statements.pop();
        assert_eq!(plan(&job, &chosen(&conflict, "0")), Err(Refused::Changed));
        job.records.slopes.get_mut(&id()).unwrap().conflicts.clear();
        assert_eq!(plan(&job, &chosen(&conflict, "0")), Err(Refused::Settled));
        let mut nowhere = chosen(&conflict, "0");
        nowhere.record = "../../slope".into();
        assert_eq!(plan(&job, &nowhere), Err(Refused::NoChoice));
    }
}

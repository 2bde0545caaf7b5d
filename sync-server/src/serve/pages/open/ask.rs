//! Asking the crew, and answering at the page.

use axum::Extension;
use axum::extract::{Form, Path, Query, State};
use axum::http::StatusCode;
use axum::response::Response;
use chalkwalk_core::document::Action;
use chalkwalk_core::job::{Answer, AnyFields, Kind, Question, RecordId, RecordRef};
use maud::{Markup, html};

use super::super::super::Shared;
use super::super::super::guard::SignedIn;
use super::super::super::icons::icon;
use super::super::at_job::AtJob;
use super::super::edit::{code_of, not_written, plain};
use super::super::form::{Field, Tone, notice};
use super::super::layout::Part;
use super::super::shots::Shots;
use super::super::{nothing_here, to};
use super::questions::{MOST, answer_form, subject};
use crate::hub::PenError;

type Pairs = Vec<(String, String)>;

fn value<'a>(pairs: &'a Pairs, name: &str) -> &'a str {
    let found = pairs.iter().find(|(given, _)| given == name);
    found.map_or("", |(_, value)| value.as_str())
}

/// `GET /jobs/{job}/open/ask`.
pub(in crate::serve) async fn ask_page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    Query(query): Query<Pairs>,
) -> Result<Response, Response> {
    let at = AtJob::open(&shared, &who, &id).await?;
    let about = known(&at, value(&query, "about"));
    let main = form(&at, about.as_ref(), "", None, &html! {}).await?;
    Ok(at.page(Part::Open, &[], &main))
}

/// The record that a question is about; `None` where none is named or there is no such.
fn known(at: &AtJob, about: &str) -> Option<RecordRef> {
    let about: RecordRef = about.parse().ok()?;
    at.job.records.header(&about).map(|_| about)
}

async fn form(
    at: &AtJob,
    about: Option<&RecordRef>,
    typed: &str,
    wrong: Option<&str>,
    message: &Markup,
) -> Result<Markup, Response> {
    let shots = Shots::of(at).await?;
    Ok(html! {
        p.up { a href={ (at.path()) "/open" } { (icon("arrow-left")) "Open points" } }
        h2 { "Ask the crew" }
        (message)
        (notice(Tone::Plain, &html! {
            p { "The question goes into the record and to every phone of this job. The crew answers \
                there or on the page Open points, with a photo where one is needed." }
        }))
        @match about {
            Some(about) => (subject(at, &shots, about)),
            None => p.soft { "It is about the house as a whole. Ask from a finding or a photo to point at it." },
        }
        form.narrow method="post" action={ (at.path()) "/questions" } {
            input type="hidden" name="id" value=(at.shared.hub.fresh_record_id());
            @if let Some(about) = about { input type="hidden" name="about" value=(about); }
            (Field {
                name: "text",
                label: "Question",
                value: typed,
                hint: "One thing at a time: what is to be looked at, and what the answer decides.",
                wrong,
                required: true,
                most: Some(MOST),
                ..Field::default()
            }.area())
            button.main { (icon("message-circle-question-mark")) "Ask" }
        }
    })
}

/// `POST /jobs/{job}/questions`.
pub(in crate::serve) async fn ask(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    Form(pairs): Form<Pairs>,
) -> Result<Response, Response> {
    let at = AtJob::open(&shared, &who, &id).await?;
    let text = plain(value(&pairs, "text"));
    let about = known(&at, value(&pairs, "about"));
    if text.is_empty() {
        let wrong = Some("Write the question.");
        let main = form(&at, about.as_ref(), &text, wrong, &html! {}).await?;
        return Ok(with(&at, StatusCode::UNPROCESSABLE_ENTITY, &main));
    }
    let question = Question {
        about: about.clone(),
        text: Some(text.clone()),
    };
    match add(&at, value(&pairs, "id"), question.into()).await {
        Ok(()) => Ok(to(&shared, &back(&at, about.as_ref(), "asked"))),
        Err(error) => {
            let main = form(&at, about.as_ref(), &text, None, &not_written(&error)).await?;
            Ok(with(&at, code_of(&error), &main))
        }
    }
}

/// Where the person came from: the finding, or the open points.
fn back(at: &AtJob, about: Option<&RecordRef>, done: &str) -> String {
    match about {
        Some(about) if about.kind == Kind::Finding => {
            format!("/jobs/{}/findings/{}?done={done}#asked", at.id, about.id)
        }
        _ => format!("/jobs/{}/open?done={done}#questions", at.id),
    }
}

/// `POST /jobs/{job}/questions/{question}/answer`.
pub(in crate::serve) async fn answer(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((id, question)): Path<(String, String)>,
    Form(pairs): Form<Pairs>,
) -> Result<Response, Response> {
    let at = AtJob::open(&shared, &who, &id).await?;
    let asked = question.parse::<RecordId>().ok();
    let Some((question, record)) =
        asked.and_then(|asked| at.job.records.questions.get_key_value(&asked))
    else {
        return Err(nothing_here(&shared));
    };
    let text = plain(value(&pairs, "text"));
    let photo = value(&pairs, "photo").parse::<RecordId>().ok();
    let photo = photo.map(|id| RecordRef::new(Kind::Photo, id));
    let again = |wrong: Option<&str>, message: &Markup| {
        html! {
            p.up { a href={ (at.path()) "/open#questions" } { (icon("arrow-left")) "Open points" } }
            h2 { "Answer" }
            (message)
            p.said { (record.text.as_deref().unwrap_or_default()) }
            div.narrow { (answer_form(&at, question, record, &text, wrong)) }
        }
    };
    if text.is_empty() && photo.is_none() {
        let main = again(
            Some("Write the answer, or choose a photo that shows it."),
            &html! {},
        );
        return Ok(with(&at, StatusCode::UNPROCESSABLE_ENTITY, &main));
    }
    let answer = Answer {
        question: Some(RecordRef::new(Kind::Question, question.clone())),
        text: (!text.is_empty()).then(|| text.clone()),
        photo,
    };
    match add(&at, value(&pairs, "id"), answer.into()).await {
        Ok(()) => Ok(to(&shared, &back(&at, record.about.as_ref(), "answered"))),
        Err(error) => Ok(with(
            &at,
            code_of(&error),
            &again(None, &not_written(&error)),
        )),
    }
}

/// Adds a record under the id that the form brought, so that sending it twice adds it once.
async fn add(at: &AtJob, id: &str, record: AnyFields) -> Result<(), PenError> {
    let hub = &at.shared.hub;
    let id = id
        .parse::<RecordId>()
        .unwrap_or_else(|_| hub.fresh_record_id());
    let plan = move |job: &chalkwalk_core::job::Job| {
        let known = job
            .records
            .header(&RecordRef::new(record.kind(), id.clone()));
        let add = Action::Add {
            id,
            record,
            hits: None,
            shows: Vec::new(),
        };
        Ok::<_, PenError>(if known.is_some() {
            Vec::new()
        } else {
            vec![add]
        })
    };
    hub.record(&at.person, at.id, plan).await.map(|_| ())
}

fn with(at: &AtJob, code: StatusCode, main: &Markup) -> Response {
    let mut response = at.page(Part::Open, &[], main);
    *response.status_mut() = code;
    response
}

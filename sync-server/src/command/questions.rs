//! The office's questions on the device, and the crew's answers.

use std::fmt::Write;
use std::path::Path;

use chalkwalk_core::job::{
    Answer, Job, Kind, PhotoRole, Place, Question, Record, RecordId, RecordRef,
};
use chalkwalk_core::notebook::PhotoNote;
use serde::Serialize;
use serde_json::json;

use super::args::{AnswerArgs, JobArg};
use super::jobs::{close, local_time, open};
use super::output::{Failure, Output};

/// A question as a program reads it.
#[derive(Debug, Serialize)]
struct Asked {
    question: RecordRef,
    about: Option<RecordRef>,
    about_words: Option<String>,
    text: Option<String>,
    by: String,
    at: i64,
    answers: Vec<Given>,
}

#[derive(Debug, Serialize)]
struct Given {
    text: Option<String>,
    photo: Option<RecordRef>,
    by: String,
    at: i64,
}

pub(super) fn list(dir: &Path, args: &JobArg, out: Output) -> Result<(), Failure> {
    let mut notebook = open(dir)?;
    let job = notebook.job(args.job)?.clone();
    close(notebook)?;
    let asked = all(&job);
    out.give(&asked, || words(&job, &asked))
}

/// Standing questions: those without an answer first, then by time.
fn all(job: &Job) -> Vec<Asked> {
    let standing = job
        .records
        .questions
        .iter()
        .filter(|(_, question)| question.stands());
    let mut asked: Vec<Asked> = standing
        .map(|(id, question)| one(job, id, question))
        .collect();
    asked.sort_by_key(|asked| (!asked.answers.is_empty(), asked.at));
    asked
}

fn one(job: &Job, id: &RecordId, question: &Record<Question>) -> Asked {
    let at = RecordRef::new(Kind::Question, id.clone());
    let answers = job
        .records
        .answers
        .values()
        .filter(|answer| answer.stands());
    let answers = answers.filter(|answer| answer.question.as_ref() == Some(&at));
    let given = |answer: &Record<Answer>| Given {
        text: answer.text.clone(),
        photo: answer.photo.clone(),
        by: job.who(answer.made.device),
        at: answer.made.at,
    };
    Asked {
        answers: answers.map(given).collect(),
        about_words: question.about.as_ref().map(|about| about_words(job, about)),
        about: question.about.clone(),
        text: question.text.clone(),
        by: job.who(question.made.device),
        at: question.made.at,
        question: at,
    }
}

/// What a question is about, as the crew calls it.
fn about_words(job: &Job, about: &RecordRef) -> String {
    let part = match about.kind {
        Kind::Finding => job.records.findings.get(&about.id).map(|finding| {
            let part = finding.component.map_or("a finding", |part| part.label());
            let unit = finding.unit_name.as_ref().map(|unit| format!(", {unit}"));
            format!("{part}{}", unit.unwrap_or_default())
        }),
        Kind::Photo => job.records.photos.get(&about.id).map(|photo| {
            let role = photo.role.map_or("photo", |role| role.label());
            format!("{role} photo")
        }),
        _ if about.is_place() => return job.place_name(about),
        _ => None,
    };
    let part = part.unwrap_or_else(|| about.to_string());
    match place_of(job, about) {
        Some(place) => format!("{part}, {}", job.place_name(&place)),
        None => part,
    }
}

/// The place of what a question is about.
fn place_of(job: &Job, about: &RecordRef) -> Option<Place> {
    match about.kind {
        Kind::Finding => job.records.findings.get(&about.id)?.place.clone(),
        Kind::Photo => job.records.photos.get(&about.id)?.place.clone(),
        _ if about.is_place() => Some(about.clone()),
        _ => None,
    }
}

fn words(job: &Job, asked: &[Asked]) -> String {
    if asked.is_empty() {
        return "The office has not asked anything.".to_owned();
    }
    let mut words = String::new();
    for one in asked {
        let state = if one.answers.is_empty() {
            "waits"
        } else {
            "answered"
        };
        let text = one.text.as_deref().unwrap_or("without words");
        let _ = writeln!(words, "{state:<9} {}  {text}", one.question);
        let about = one.about_words.as_deref().unwrap_or("the house");
        let when = local_time(job, one.at);
        let _ = writeln!(
            words,
            "          about {about}; asked by {}, {when}",
            one.by
        );
        for answer in &one.answers {
            let text = answer.text.as_deref().unwrap_or("a photo");
            let _ = writeln!(words, "          {}: {text}", answer.by);
        }
    }
    words
}

pub(super) fn answer(dir: &Path, args: &AnswerArgs, out: Output) -> Result<(), Failure> {
    let mut notebook = open(dir)?;
    let job = notebook.job(args.job)?.clone();
    let question = job.records.questions.get(&args.question.id);
    let question = question.filter(|_| args.question.kind == Kind::Question);
    let question = question
        .filter(|question| question.stands())
        .ok_or_else(|| {
            Failure::new(format!(
                "{} is no question of this job: look at them with chalkwalk questions",
                args.question
            ))
        })?;
    let mut photo = None;
    if let Some(file) = &args.photo {
        let about = question.about.as_ref();
        let shown = about.filter(|about| about.kind != Kind::Photo).cloned();
        let note = PhotoNote {
            role: Some(PhotoRole::CloseUp),
            place: about.and_then(|about| place_of(&job, about)),
            shows: shown.into_iter().collect(),
            ..PhotoNote::default()
        };
        photo = Some(notebook.add_photo(args.job, file, note)?.record);
    }
    let answer = Answer {
        question: Some(args.question.clone()),
        text: args.text.clone(),
        photo: photo.clone(),
    };
    let record = notebook.add(args.job, answer)?;
    close(notebook)?;
    out.give(&json!({ "answer": record, "photo": photo }), || {
        "answered; it goes to the office with the next sync".to_owned()
    })
}

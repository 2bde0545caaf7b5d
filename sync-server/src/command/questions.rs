//! The office's questions on the device, and the crew's answers.

use std::fmt::Write;
use std::path::Path;

use chalkwalk_core::job::{Answer, Job, Kind, PhotoRole};
use chalkwalk_core::notebook::PhotoNote;
use chalkwalk_core::review::questions::{Asked, place_of_question, questions};
use serde_json::json;

use super::args::{AnswerArgs, JobArg};
use super::jobs::{close, local_time, open};
use super::output::{Failure, Output};

pub(super) fn list(dir: &Path, args: &JobArg, out: Output) -> Result<(), Failure> {
    let mut notebook = open(dir)?;
    let job = notebook.job(args.job)?.clone();
    close(notebook)?;
    let asked = questions(&job);
    out.give(&asked, || words(&job, &asked))
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
            place: about.and_then(|about| place_of_question(&job, about)),
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

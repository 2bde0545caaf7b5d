//! The office's questions to the crew, with the answers they got.

use serde::Serialize;

use crate::job::{Answer, Job, Kind, Millis, Place, Question, Record, RecordId, RecordRef};
use crate::sorted::Sorted;

/// A question of the office.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Asked {
    /// Its record.
    pub question: RecordRef,
    /// The record that it is about; `None` for the house.
    pub about: Option<RecordRef>,
    /// The same as the crew calls it.
    pub about_words: Option<String>,
    /// The question.
    pub text: Option<String>,
    /// Who asked.
    pub by: String,
    /// When, by that person's device.
    pub at: Millis,
    /// The answers that stand.
    pub answers: Vec<Given>,
}

/// An answer to a question.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Given {
    /// In words.
    pub text: Option<String>,
    /// A photo that answers it.
    pub photo: Option<RecordRef>,
    /// Who answered.
    pub by: String,
    /// When, by that person's device.
    pub at: Millis,
}

/// Questions that stand: those without an answer first, then by time.
pub fn questions(job: &Job) -> Vec<Asked> {
    let standing = job
        .records
        .questions
        .iter()
        .filter(|(_, question)| question.stands());
    let mut asked: Vec<Asked> = standing
        .map(|(id, question)| one(job, id, question))
        .collect();
    asked.order_by_key(|asked| (!asked.answers.is_empty(), asked.at));
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
        Kind::Component => job.records.components.get(&about.id).map(|part| {
            let part = part.component.map_or("part", |part| part.label());
            part.to_owned()
        }),
        Kind::Measurement => job.records.measurements.get(&about.id).map(|measure| {
            let of = measure.of.map_or("measure", |of| of.label());
            of.to_owned()
        }),
        Kind::TestSquare => Some("test square".to_owned()),
        _ if about.is_place() => return job.place_name(about),
        _ => None,
    };
    let part = part.unwrap_or_else(|| about.to_string());
    match place_of_question(job, about) {
        Some(place) => format!("{part}, {}", job.place_name(&place)),
        None => part,
    }
}

/// The place of what a question is about.
pub fn place_of_question(job: &Job, about: &RecordRef) -> Option<Place> {
    match about.kind {
        Kind::Finding => job.records.findings.get(&about.id)?.place.clone(),
        Kind::Photo => job.records.photos.get(&about.id)?.place.clone(),
        Kind::Component => job.records.components.get(&about.id)?.place.clone(),
        Kind::Measurement => job.records.measurements.get(&about.id)?.place.clone(),
        Kind::TestSquare => job.records.test_squares.get(&about.id)?.slope.clone(),
        _ if about.is_place() => Some(about.clone()),
        _ => None,
    }
}

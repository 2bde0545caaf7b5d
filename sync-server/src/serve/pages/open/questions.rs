//! Questions to the crew and what was answered.

use chalkwalk_core::job::{Answer, Job, Kind, Question, Record, RecordId, RecordRef};
use maud::{Markup, html};

use super::super::super::icons::icon;
use super::super::at_job::AtJob;
use super::super::edit::strike_form;
use super::super::shots::{Shots, caption, showing, taken_at};
use super::super::words::called;
use super::super::{counted, deeds};

/// Longest question or answer that a form takes, characters.
pub(super) const MOST: usize = 4_000;

/// Standing questions without a standing answer.
pub(in crate::serve) fn waiting(job: &Job) -> usize {
    standing(job)
        .filter(|(id, _)| answers(job, id).next().is_none())
        .count()
}

/// All questions, those that wait first.
pub(super) fn section(at: &AtJob, shots: &Shots, may_ask: bool) -> Markup {
    let mut all: Vec<_> = standing(&at.job).collect();
    all.sort_by_key(|(id, question)| {
        let answered = answers(&at.job, id).next().is_some();
        (answered, std::cmp::Reverse(question.made.at))
    });
    html! {
        section #questions aria-labelledby="questions-head" {
            header.head {
                h2 #questions-head { "Questions to the crew" }
                @if may_ask {
                    a.button href={ (at.path()) "/open/ask" } {
                        (icon("message-circle-question-mark")) "Ask the crew"
                    }
                }
            }
            @if all.is_empty() {
                p.soft { "Nothing was asked. A question goes to the crew's phones with the record, \
                    and so does what it is about." }
            }
            @for (id, question) in all { (card(at, shots, id, question, may_ask)) }
            (withdrawn(at))
        }
    }
}

/// Questions that were withdrawn, with the reasons.
fn withdrawn(at: &AtJob) -> Markup {
    let gone: Vec<_> = at
        .job
        .records
        .questions
        .iter()
        .filter_map(|(id, question)| Some((id, question, question.struck.as_ref()?)))
        .collect();
    html! {
        @if !gone.is_empty() {
            details.no-print {
                summary { (counted(gone.len() as u64, "question was", "questions were")) " withdrawn" }
                ul { @for (id, question, struck) in gone { li {
                    a.struck href={ (at.path()) "/records/question/" (id) } {
                        (question.text.as_deref().unwrap_or("A question without words.")) }
                    div.small { (struck.reason) }
                    div.small.soft { (deeds::who(at, struck.by)) ", " (at.when(struck.by.at)) }
                } } }
            }
        }
    }
}

/// The questions about a record or about a photo that shows it, and the way to ask one.
pub(in crate::serve) fn about(
    at: &AtJob,
    shots: &Shots,
    records: &[RecordRef],
    may_ask: bool,
) -> Markup {
    let photos = records.iter().flat_map(|record| showing(at, record));
    let photos: Vec<RecordRef> = photos.map(|id| RecordRef::new(Kind::Photo, id)).collect();
    let meant = |question: &Question| {
        let about = question.about.as_ref();
        about.is_some_and(|about| records.contains(about) || photos.contains(about))
    };
    let these: Vec<_> = standing(&at.job)
        .filter(|(_, question)| meant(question))
        .collect();
    let first = records.first();
    html! {
        section aria-labelledby="asked" {
            header.head {
                h3 #asked { "Questions to the crew" }
                @if let (true, Some(record)) = (may_ask, first) {
                    a.button.small href={ (at.path()) "/open/ask?about=" (record) } {
                        (icon("message-circle-question-mark")) "Ask about this"
                    }
                }
            }
            @if these.is_empty() { p.soft { "Nothing was asked about this." } }
            @for (id, question) in these { (card(at, shots, id, question, may_ask)) }
        }
    }
}

fn standing(job: &Job) -> impl Iterator<Item = (&RecordId, &Record<Question>)> {
    job.records
        .questions
        .iter()
        .filter(|(_, question)| question.stands())
}

fn answers<'a>(
    job: &'a Job,
    question: &RecordId,
) -> impl Iterator<Item = (&'a RecordId, &'a Record<Answer>)> {
    let asked = RecordRef::new(Kind::Question, question.clone());
    job.records
        .answers
        .iter()
        .filter(move |(_, answer)| answer.stands() && answer.question.as_ref() == Some(&asked))
}

fn card(
    at: &AtJob,
    shots: &Shots,
    id: &RecordId,
    question: &Record<Question>,
    may_ask: bool,
) -> Markup {
    let withdraw = format!("{}/records/question/{id}", at.path());
    let given: Vec<_> = answers(&at.job, id).collect();
    html! {
        article.card.asked id={ "question-" (id) } {
            p { (state(!given.is_empty())) }
            p.said { (question.text.as_deref().unwrap_or("A question without words.")) }
            p.soft.small { "Asked by " (deeds::who(at, question.made)) ", " (at.when(question.made.at)) }
            @if let Some(record) = &question.about { (subject(at, shots, record)) }
            @for (_, answer) in &given { (answered(at, shots, answer)) }
            details open[given.is_empty()] {
                summary { @if given.is_empty() { "Answer here" } @else { "Add to the answer" } }
                (answer_form(at, id, question, "", None))
            }
            @if may_ask {
                details.no-print {
                    summary { "Withdraw the question" }
                    (strike_form(&withdraw, "Withdraw", &format!("why-of-{id}")))
                }
            }
        }
    }
}

fn state(answered: bool) -> Markup {
    if answered {
        html! { span.state.cleared { (icon("circle-check")) "answered" } }
    } else {
        html! { span.state.unsure { (icon("circle-dashed")) "waiting for an answer" } }
    }
}

/// What a question is about, with its picture where it is a photo.
pub(super) fn subject(at: &AtJob, shots: &Shots, record: &RecordRef) -> Markup {
    let photo = match record.kind {
        Kind::Photo => Some(record.id.clone()),
        _ => showing(at, record).into_iter().next(),
    };
    let photo = photo.filter(|id| at.job.records.photos.contains_key(id));
    html! {
        div.subject {
            @if let Some(photo) = photo { div.thumbs { (shots.figure(at, &photo, &html! {})) } }
            p { "About: "
                (called(at, record))
            }
        }
    }
}

fn answered(at: &AtJob, shots: &Shots, answer: &Record<Answer>) -> Markup {
    let photo = answer.photo.as_ref().filter(|at| at.kind == Kind::Photo);
    html! {
        div.answer {
            @if let Some(text) = &answer.text { p.said { (text) } }
            @if let Some(photo) = photo { div.thumbs { (shots.figure(at, &photo.id, &html! {})) } }
            p.soft.small { "Answered by " (deeds::who(at, answer.made)) ", " (at.when(answer.made.at)) }
        }
    }
}

/// The form of an answer, with what was typed.
pub(super) fn answer_form(
    at: &AtJob,
    id: &RecordId,
    question: &Question,
    typed: &str,
    wrong: Option<&str>,
) -> Markup {
    let photos = photos_for(at, question);
    html! {
        form method="post" action={ (at.path()) "/questions/" (id) "/answer" } {
            input type="hidden" name="id" value=(at.shared.hub.fresh_record_id());
            // Several of these forms stand on one page: each field has an id of its own.
            div.field {
                label for={ "text-of-" (id) } { "Answer" }
                textarea id={ "text-of-" (id) } name="text" maxlength=(MOST)
                    aria-describedby=[wrong.map(|_| format!("wrong-of-{id}"))]
                    aria-invalid=[wrong.map(|_| "true")] { (typed) }
                @if let Some(wrong) = wrong { p.wrong id={ "wrong-of-" (id) } { (wrong) } }
            }
            @if !photos.is_empty() {
                div.field {
                    label for={ "photo-of-" (id) } { "A photo that shows it " span.soft.small { "(optional)" } }
                    select id={ "photo-of-" (id) } name="photo" {
                        option value="" { "none" }
                        @for photo in &photos {
                            @if let Some(record) = at.job.records.photos.get(photo) {
                                option value=(photo) { (caption(&at.job, record)) ", " (at.when(record.made.at)) }
                            }
                        }
                    }
                }
            }
            button { (icon("message-square")) "Answer" }
        }
    }
}

/// The photos that may show an answer: of what was asked about, and of its place.
fn photos_for(at: &AtJob, question: &Question) -> Vec<RecordId> {
    let Some(about) = &question.about else {
        return Vec::new();
    };
    let records = &at.job.records;
    let place = match about.kind {
        Kind::Finding => records
            .findings
            .get(&about.id)
            .and_then(|finding| finding.place.clone()),
        Kind::Photo => records
            .photos
            .get(&about.id)
            .and_then(|photo| photo.place.clone()),
        _ if about.is_place() => Some(about.clone()),
        _ => None,
    };
    let mut photos = showing(at, about);
    let here = place.map_or_else(Vec::new, |place| taken_at(at, &place));
    for id in here {
        if !photos.contains(&id) {
            photos.push(id);
        }
    }
    photos
}

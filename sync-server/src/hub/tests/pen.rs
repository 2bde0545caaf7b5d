//! Recording at the pages: signed, kept, told, and taken by phones like any other change.

use std::collections::BTreeMap;
use std::sync::Arc;

use chalkwalk_core::document::{Action, ActionError, Document, Gate, Refusal, Table};
use chalkwalk_core::job::{AnyFields, Job, Property, Question, RecordRef, Role};
use chalkwalk_core::sync::Replica;

use super::crew::{Bench, Phone, job};
use crate::hub::{News, PenError};
use crate::store::{Person, PersonId};

fn person(n: u8, role: Role) -> Person {
    Person {
        id: PersonId([n; 16]),
        name: format!("Person {n}"),
        mail: None,
        role,
        password: None,
        made_at: 3,
        shut_out_at: None,
    }
}

fn ask(bench: &Bench, about: RecordRef, text: &str) -> Action {
    let question = Question {
        about: Some(about),
        text: Some(text.into()),
    };
    Action::Add {
        id: bench.hub.fresh_record_id(),
        record: AnyFields::from(question),
        hits: None,
        shows: Vec::new(),
    }
}

fn some_finding(job: &Job) -> RecordRef {
    let (id, _) = job.records.findings.iter().next().unwrap();
    RecordRef::new(chalkwalk_core::job::Kind::Finding, id.clone())
}

/// A phone's job with one finding, at the office.
fn met() -> (Bench, Phone) {
    let bench = Bench::new();
    let mut phone = Phone::new(1, &bench.office, Role::Crew);
    let mut batch = phone.begin(job(1));
    batch.push(phone.finding("hail on the front gutter"));
    let shown = [phone.signed.clone()];
    bench
        .replica()
        .accept(&phone.certificate, job(1), batch, &shown)
        .unwrap();
    (bench, phone)
}

fn record(bench: &Bench, by: &Person, action: Action) -> Result<usize, PenError> {
    bench.run(
        bench
            .hub
            .record(by, job(1), move |_| Ok::<_, PenError>(vec![action])),
    )
}

#[test]
fn a_question_asked_at_the_pages_reaches_the_phone_with_its_signature() {
    let (bench, phone) = met();
    let mut news = bench.hub.news();
    let about = some_finding(phone.document.job());
    let by = person(1, Role::Estimator);
    let asked = record(&bench, &by, ask(&bench, about.clone(), "which panel?")).unwrap();
    // The first time the person joins as well.
    assert_eq!(asked, 2);
    assert!(matches!(news.try_recv().unwrap(), News::Job { .. }));

    let mut replica = bench.replica();
    replica.jobs(&phone.certificate).unwrap();
    let rows = replica
        .lacking(job(1), &phone.document.table(), usize::MAX)
        .unwrap();
    let devices: Vec<_> = rows.iter().map(|row| row.author.device).collect();
    let shown = replica.certificates(&devices[..1]).unwrap();
    let certificate = bench.office.verify(&shown[0]).unwrap();
    assert_eq!(
        (certificate.person.as_str(), certificate.role),
        ("Person 1", Role::Estimator)
    );
    let keys = BTreeMap::from([(certificate.device, certificate.verifying_key().unwrap())]);
    let admitted = phone.document.admit(&rows, &Gate::of_keys(&keys)).unwrap();
    let questions = &admitted.document.job().records.questions;
    assert_eq!(questions.values().next().unwrap().about, Some(about));
    assert_eq!(
        &*bench.run(bench.hub.read(job(1))).unwrap().unwrap(),
        admitted.document.job()
    );
}

#[test]
fn one_person_writes_at_two_nodes_and_after_a_restart() {
    let (one, phone) = met();
    let two = Bench::beside(Arc::clone(&one.records), Arc::clone(&one.blobs));
    let about = some_finding(phone.document.job());
    let by = person(1, Role::Estimator);
    for (n, node) in [&one, &two, &one, &two].into_iter().enumerate() {
        let asked = record(
            node,
            &by,
            ask(node, about.clone(), &format!("question {n}")),
        );
        assert_eq!(asked.unwrap(), if n == 0 { 2 } else { 1 });
    }
    let fresh = Bench::beside(Arc::clone(&one.records), Arc::clone(&one.blobs));
    record(&fresh, &by, ask(&fresh, about, "after a restart")).unwrap();
    for node in [&one, &two, &fresh] {
        let read = node.run(node.hub.read(job(1))).unwrap().unwrap();
        assert_eq!(read.records.questions.len(), 5);
        assert_eq!(read.crew.len(), 2, "the phone and one pen");
    }
}

#[test]
fn what_one_action_of_several_is_refused_for_leaves_nothing_of_the_others() {
    let (bench, phone) = met();
    let about = some_finding(phone.document.job());
    let by = person(1, Role::Estimator);
    let good = ask(&bench, about.clone(), "good");
    let bad = Action::Strike {
        at: about,
        reason: " ".into(),
    };
    let tried = bench.run(
        bench
            .hub
            .record(&by, job(1), move |_| Ok::<_, PenError>(vec![good, bad])),
    );
    assert_eq!(tried, Err(PenError::Action(ActionError::NoReason)));
    let read = bench.run(bench.hub.read(job(1))).unwrap().unwrap();
    assert_eq!(&*read, phone.document.job());
    let all = bench.replica();
    drop(all);
    // And the next one is numbered as if nothing had been tried.
    let about = some_finding(phone.document.job());
    assert_eq!(record(&bench, &by, ask(&bench, about, "again")), Ok(2));
}

#[test]
fn a_person_of_the_crew_asks_no_questions_and_a_pen_shut_out_writes_nothing() {
    let (bench, phone) = met();
    let about = some_finding(phone.document.job());
    let crew = person(2, Role::Crew);
    let tried = record(&bench, &crew, ask(&bench, about.clone(), "no"));
    assert!(
        matches!(&tried, Err(PenError::Refused(Refusal::Forbidden(_)))),
        "{tried:?}"
    );
    let by = person(1, Role::Estimator);
    record(&bench, &by, ask(&bench, about.clone(), "yes")).unwrap();
    let pen = bench.office.pen(&by).unwrap().certificate.device;
    assert!(bench.run(bench.hub.revoke(pen)).unwrap());
    let tried = record(&bench, &by, ask(&bench, about, "no more"));
    assert!(
        matches!(&tried, Err(PenError::Refused(Refusal::Forbidden(_)))),
        "{tried:?}"
    );
}

#[test]
fn a_job_begun_at_the_pages_is_one_that_phones_can_fill() {
    let bench = Bench::new();
    let by = person(1, Role::Estimator);
    let property = Property {
        street: Some("3 Kiln Road".into()),
        ..Property::default()
    };
    let id = bench.run(bench.hub.begin_job(&by, property)).unwrap();
    let phone = Phone::new(1, &bench.office, Role::Crew);
    let mut replica = bench.replica();
    assert_eq!(replica.jobs(&phone.certificate).unwrap(), [id]);
    let rows = replica.lacking(id, &Table::new(), usize::MAX).unwrap();
    let pen = bench.office.pen(&by).unwrap();
    let keys = BTreeMap::from([(pen.certificate.device, pen.key.verifying_key())]);
    let held = Document::new()
        .unwrap()
        .admit(&rows, &Gate::of_keys(&keys))
        .unwrap()
        .document;
    assert_eq!(held.job().id, Some(id));
    let other = job(9);
    let none = bench.run(
        bench
            .hub
            .record(&by, other, |_| Ok::<_, PenError>(Vec::new())),
    );
    assert_eq!(none, Err(PenError::NoSuchJob));
}

#[test]
fn a_job_begun_for_some_is_not_had_by_others() {
    let bench = Bench::new();
    let by = person(1, Role::Estimator);
    let sent = Phone::new(1, &bench.office, Role::Crew);
    let other = Phone::new(2, &bench.office, Role::Crew);
    let devices = [sent.author.device];
    let begun = bench
        .hub
        .begin_job_with(&by, Property::default(), Vec::new(), &devices);
    let id = bench.run(begun).unwrap();
    let jobs = |phone: &Phone| bench.replica().jobs(&phone.certificate).unwrap();
    assert_eq!(jobs(&sent), [id]);
    assert!(jobs(&other).is_empty());
    // What is not begun is nobody's.
    let record = Action::Begin {
        job: job(9),
        property: Property::default(),
    };
    let refused = bench
        .hub
        .begin_job_with(&by, Property::default(), vec![record], &devices);
    assert!(bench.run(refused).is_err());
    assert_eq!(jobs(&sent), [id]);
}

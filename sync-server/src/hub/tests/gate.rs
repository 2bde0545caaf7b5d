//! What is taken, what is refused, and that a refusal leaves everything as it was.

use chalkwalk_core::document::{Refusal, Table};
use chalkwalk_core::job::Role;
use chalkwalk_core::sync::Replica;

use super::crew::{Bench, Phone, job, office};
use crate::hub::News;
use crate::store::{AuditKind, Records};

#[test]
fn a_batch_is_kept_told_and_listed() {
    let bench = Bench::new();
    let mut phone = Phone::new(1, &bench.office, Role::Crew);
    let mut news = bench.hub.news();
    let mut replica = bench.replica();
    let mut batch = phone.begin(job(1));
    batch.push(phone.finding("hail on the front gutter"));

    let shown = [phone.signed.clone()];
    let accepted = replica
        .accept(&phone.certificate, job(1), batch.clone(), &shown)
        .unwrap();
    assert_eq!(accepted.new_changes, 3);
    assert_eq!(accepted.held, phone.document.table());
    assert_eq!(replica.table(job(1)).unwrap(), phone.document.table());
    let session = replica.session();
    assert_eq!(
        news.try_recv().unwrap(),
        News::Job {
            job: job(1),
            session,
            files: false
        }
    );

    let again = replica
        .accept(&phone.certificate, job(1), batch.clone(), &[])
        .unwrap();
    assert_eq!((again.new_changes, again.held), (0, phone.document.table()));
    assert!(news.try_recv().is_err());

    assert_eq!(
        replica.lacking(job(1), &Table::new(), usize::MAX).unwrap(),
        batch
    );
    assert_eq!(
        replica.certificates(&[phone.author.device]).unwrap(),
        [phone.signed.clone()]
    );
    assert_eq!(replica.jobs(&phone.certificate).unwrap(), [job(1)]);
    let status = bench.run(bench.records.job(job(1))).unwrap().unwrap();
    let summary = status.summary.unwrap();
    assert_eq!(
        (summary.title.as_str(), summary.findings),
        ("12 Alder Way", 1)
    );
    assert_eq!(summary.date_of_loss.unwrap().to_string(), "2026-05-02");
    assert_eq!(summary.changes, status.changes);
    let read = bench.run(bench.hub.read(job(1))).unwrap().unwrap();
    assert_eq!(&*read, phone.document.job());
}

#[test]
fn an_author_without_a_certificate_of_this_office_is_refused() {
    let bench = Bench::new();
    let known = Phone::new(2, &bench.office, Role::Crew);
    for other in [
        Phone::new(1, &bench.office, Role::Crew),
        Phone::new(1, &office(2), Role::Crew),
    ] {
        let mut other = other;
        let batch = other.begin(job(1));
        let shown = if other.certificate.company == bench.office.company().id {
            vec![known.signed.clone()]
        } else {
            vec![other.signed.clone()]
        };
        let refusal = bench
            .replica()
            .accept(&known.certificate, job(1), batch, &shown);
        assert!(matches!(refusal, Err(Refusal::Unsigned(_))), "{refusal:?}");
    }
    assert!(bench.run(bench.records.jobs()).unwrap().is_empty());
    let audit = bench.run(bench.records.audit(9)).unwrap();
    assert_eq!(
        audit
            .iter()
            .filter(|entry| entry.what == AuditKind::Refused)
            .count(),
        2
    );
}

#[test]
fn a_relayed_change_counts_by_its_author() {
    let bench = Bench::new();
    let mut author = Phone::new(1, &bench.office, Role::Crew);
    let relay = Phone::new(2, &bench.office, Role::Estimator);
    let batch = author.begin(job(1));
    let shown = [author.signed.clone()];
    let accepted = bench
        .replica()
        .accept(&relay.certificate, job(1), batch, &shown)
        .unwrap();
    assert_eq!(accepted.new_changes, 2);
    // Known from now on: the certificate need not come again.
    let later = vec![author.finding("shutter")];
    let accepted = bench
        .replica()
        .accept(&relay.certificate, job(1), later, &[])
        .unwrap();
    assert_eq!(accepted.new_changes, 1);
}

#[test]
fn an_office_server_records_nothing() {
    let bench = Bench::new();
    let mut phone = Phone::new(1, &bench.office, Role::Office);
    let batch = phone.begin(job(1));
    let shown = [phone.signed.clone()];
    let refusal = bench
        .replica()
        .accept(&phone.certificate, job(1), batch, &shown);
    assert!(matches!(refusal, Err(Refusal::Forbidden(_))), "{refusal:?}");
}

#[test]
fn a_device_that_was_shut_out_is_refused_and_may_come_back() {
    let bench = Bench::new();
    let mut phone = Phone::new(1, &bench.office, Role::Crew);
    let friend = Phone::new(2, &bench.office, Role::Crew);
    let mut replica = bench.replica();
    let shown = [phone.signed.clone()];
    let batch = phone.begin(job(1));
    replica
        .accept(&phone.certificate, job(1), batch, &shown)
        .unwrap();

    let mut news = bench.hub.news();
    let device = phone.author.device;
    assert!(bench.run(bench.hub.revoke(device)).unwrap());
    assert_eq!(news.try_recv().unwrap(), News::Revoked(device));
    let forbidden = |what: Result<(), Refusal>| {
        assert!(matches!(what, Err(Refusal::Forbidden(_))), "{what:?}");
    };
    let later = vec![phone.finding("screen")];
    forbidden(replica.jobs(&phone.certificate).map(drop));
    forbidden(replica.may_exchange(&phone.certificate, job(1)).map(drop));
    forbidden(replica.lacking(job(1), &Table::new(), 100).map(drop));
    forbidden(
        replica
            .accept(&phone.certificate, job(1), later.clone(), &shown)
            .map(drop),
    );
    // Nor does another device carry it in.
    let mut relay = bench.replica();
    forbidden(
        relay
            .accept(&friend.certificate, job(1), later.clone(), &shown)
            .map(drop),
    );

    assert!(bench.run(bench.hub.reinstate(device)).unwrap());
    let accepted = relay
        .accept(&friend.certificate, job(1), later, &shown)
        .unwrap();
    assert_eq!(accepted.new_changes, 1);
    assert!(
        !bench
            .run(bench.hub.revoke(office(9).server().device))
            .unwrap()
    );
}

#[test]
fn a_device_of_another_office_is_shown_nothing() {
    let bench = Bench::new();
    let stranger = Phone::new(1, &office(2), Role::Admin);
    let mut replica = bench.replica();
    assert!(matches!(
        replica.jobs(&stranger.certificate),
        Err(Refusal::Forbidden(_))
    ));
    assert!(matches!(
        replica.lacking(job(1), &Table::new(), 100),
        Err(Refusal::Forbidden(_))
    ));
}

#[test]
fn an_altered_change_is_refused_and_the_good_one_is_taken_after_it() {
    let bench = Bench::new();
    let mut phone = Phone::new(1, &bench.office, Role::Crew);
    let mut replica = bench.replica();
    let shown = [phone.signed.clone()];
    let batch = phone.begin(job(1));
    replica
        .accept(&phone.certificate, job(1), batch, &shown)
        .unwrap();
    let before = replica.table(job(1)).unwrap();
    let good = phone.finding("downspout");
    for at in (0..good.bytes.len()).step_by(7) {
        let mut bad = good.clone();
        bad.bytes[at] ^= 0x20;
        let refusal = replica.accept(&phone.certificate, job(1), vec![bad], &[]);
        assert!(refusal.is_err(), "byte {at}");
        assert_eq!(replica.table(job(1)).unwrap(), before);
    }
    let mut unsigned = good.clone();
    unsigned.signature = Some([7; 64]);
    let refusal = replica.accept(&phone.certificate, job(1), vec![unsigned], &[]);
    assert!(matches!(refusal, Err(Refusal::Unsigned(_))), "{refusal:?}");
    let accepted = replica
        .accept(&phone.certificate, job(1), vec![good], &[])
        .unwrap();
    assert_eq!(accepted.held, phone.document.table());
}

#[test]
fn a_gap_a_fork_and_another_job_are_named() {
    let bench = Bench::new();
    let mut phone = Phone::new(1, &bench.office, Role::Crew);
    let mut copy = Phone::new(1, &bench.office, Role::Crew);
    let mut replica = bench.replica();
    let shown = [phone.signed.clone()];
    let rows = phone.begin(job(1));
    copy.begin(job(1));
    let other = replica.accept(&phone.certificate, job(2), rows.clone(), &shown);
    assert!(matches!(other, Err(Refusal::Malformed(_))), "{other:?}");
    let gap = replica.accept(&phone.certificate, job(1), vec![rows[1].clone()], &shown);
    assert_eq!(gap, Err(Refusal::Gap));
    replica
        .accept(&phone.certificate, job(1), rows, &shown)
        .unwrap();
    let mine = phone.finding("gutter");
    replica
        .accept(&phone.certificate, job(1), vec![mine], &[])
        .unwrap();
    let theirs = copy.finding("fascia");
    let fork = replica.accept(&phone.certificate, job(1), vec![theirs], &[]);
    let device = phone.author.device;
    assert_eq!(fork, Err(Refusal::Forked { device, number: 3 }));
    let jobs = replica.jobs(&phone.certificate).unwrap();
    assert_eq!(jobs, [job(1)]);
}

#[test]
fn what_a_peer_holds_is_written_down() {
    let bench = Bench::new();
    let mut phone = Phone::new(1, &bench.office, Role::Crew);
    phone.begin(job(1));
    let device = phone.author.device;
    let table = phone.document.table();
    bench
        .replica()
        .note_peer_holds(device, job(1), &table)
        .unwrap();
    let peers = bench.run(bench.records.peers(job(1))).unwrap();
    assert_eq!(peers.len(), 1);
    assert_eq!((peers[0].device, &peers[0].table), (device, &table));
}

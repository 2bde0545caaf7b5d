//! Several nodes over one store, documents that leave memory, and descriptions after a crash.

use std::sync::Arc;

use chalkwalk_core::job::{BlobKind, PhotoHash, Role};
use chalkwalk_core::limits;
use chalkwalk_core::sync::Replica;

use super::crew::{Bench, Phone, job};
use crate::store::{Device, Records};

#[test]
fn two_nodes_take_turns_on_one_job() {
    let one = Bench::new();
    let two = Bench::beside(Arc::clone(&one.records), Arc::clone(&one.blobs));
    let mut phone = Phone::new(1, &one.office, Role::Crew);
    let shown = [phone.signed.clone()];
    let first = phone.begin(job(1));
    one.replica()
        .accept(&phone.certificate, job(1), first, &shown)
        .unwrap();
    for (n, node) in [&two, &one, &two, &one].into_iter().enumerate() {
        let batch = vec![phone.finding(&format!("finding {n}"))];
        let accepted = node
            .replica()
            .accept(&phone.certificate, job(1), batch, &[])
            .unwrap();
        assert_eq!(accepted.new_changes, 1);
    }
    for node in [&one, &two] {
        let read = node.run(node.hub.read(job(1))).unwrap().unwrap();
        assert_eq!(&*read, phone.document.job());
    }
}

#[test]
fn idle_documents_leave_and_come_back() {
    let bench = Bench::new();
    let mut replica = bench.replica();
    let jobs = limits::OPEN_DOCUMENTS as u8 + 3;
    let mut phones = Vec::new();
    for n in 1..=jobs {
        let mut phone = Phone::new(n, &bench.office, Role::Crew);
        let batch = phone.begin(job(n));
        let shown = [phone.signed.clone()];
        replica
            .accept(&phone.certificate, job(n), batch, &shown)
            .unwrap();
        phones.push(phone);
        assert!(bench.hub.0.desks.len() <= limits::OPEN_DOCUMENTS);
    }
    assert_eq!(bench.hub.0.desks.len(), limits::OPEN_DOCUMENTS);
    let first = &mut phones[0];
    let batch = vec![first.finding("after a while")];
    replica
        .accept(&first.certificate, job(1), batch, &[])
        .unwrap();
    let read = bench.run(bench.hub.read(job(1))).unwrap().unwrap();
    assert_eq!(&*read, first.document.job());
}

#[test]
fn a_job_opens_from_its_snapshot_and_without_a_damaged_one() {
    let bench = Bench::new();
    let mut phone = Phone::new(1, &bench.office, Role::Crew);
    let mut batch = phone.begin(job(1));
    for n in 0..limits::SNAPSHOT_EVERY + 5 {
        batch.push(phone.finding(&format!("finding {n}")));
    }
    let shown = [phone.signed.clone()];
    bench
        .replica()
        .accept(&phone.certificate, job(1), batch, &shown)
        .unwrap();
    let late = vec![phone.finding("after the snapshot")];
    bench
        .replica()
        .accept(&phone.certificate, job(1), late, &shown)
        .unwrap();
    let mut snapshot = bench.run(bench.records.snapshot(job(1))).unwrap().unwrap();
    assert_eq!(
        snapshot.table[&phone.author].number,
        limits::SNAPSHOT_EVERY + 7
    );

    let opened = || {
        let fresh = Bench::beside(Arc::clone(&bench.records), Arc::clone(&bench.blobs));
        fresh.run(fresh.hub.read(job(1))).unwrap().unwrap()
    };
    assert_eq!(&*opened(), phone.document.job());
    let middle = snapshot.bytes.len() / 2;
    snapshot.bytes.truncate(middle);
    bench
        .run(bench.records.put_snapshot(job(1), &snapshot))
        .unwrap();
    assert_eq!(&*opened(), phone.document.job());
}

#[test]
fn what_a_crash_left_undescribed_is_described_when_it_is_asked_for() {
    let bench = Bench::new();
    let mut phone = Phone::new(1, &bench.office, Role::Crew);
    let mut batch = phone.begin(job(1));
    batch.push(phone.photo(b"a photo"));
    // The changes are durable, and the process ended before it wrote what they say.
    let device = Device {
        id: phone.author.device,
        key: phone.key.verifying_key().to_bytes(),
        certificate: phone.signed.clone(),
        known_since: 3,
        revoked_at: None,
    };
    bench
        .run(bench.records.append(job(1), &batch, &[device], 9))
        .unwrap();
    assert!(bench.run(bench.records.photos(job(1))).unwrap().is_empty());
    let wanted = bench.replica().wanted(job(1), BlobKind::Original).unwrap();
    assert_eq!(wanted, [(PhotoHash::of(b"a photo"), 0)]);
    let summary = bench
        .run(bench.records.job(job(1)))
        .unwrap()
        .unwrap()
        .summary
        .unwrap();
    assert_eq!((summary.photos, summary.changes), (1, 3));
}

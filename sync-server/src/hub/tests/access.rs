//! Who sees which job, and who may write what.

use chalkwalk_core::document::{Action, ChangeRow, OFFICE_KINDS, Refusal, Table};
use chalkwalk_core::job::{
    AnyFields, BlobKind, Kind, PhotoHash, Role, ScopeChange, ScopeChangeKind,
};
use chalkwalk_core::sync::Replica;

use super::crew::{Bench, Phone, job};
use super::small_picture;

const CREW: u8 = 1;
const OTHER_CREW: u8 = 2;
const DESK: u8 = 3;

fn begun(bench: &Bench, file: &[u8]) -> Phone {
    let mut phone = Phone::new(CREW, &bench.office, Role::Crew);
    let mut batch = phone.begin(job(1));
    batch.push(phone.photo(file));
    send(bench, &phone, batch).unwrap();
    phone
}

fn send(bench: &Bench, phone: &Phone, batch: Vec<ChangeRow>) -> Result<usize, Refusal> {
    let shown = [phone.signed.clone()];
    let mut replica = bench.replica();
    let accepted = replica.accept(&phone.certificate, job(1), batch, &shown)?;
    Ok(accepted.new_changes)
}

/// What a device is shown of the job: listed, spoken of, changes, its photo.
fn shown(bench: &Bench, phone: &Phone, hash: PhotoHash) -> [bool; 4] {
    let mut replica = bench.replica();
    let listed = replica.jobs(&phone.certificate).unwrap().contains(&job(1));
    let spoken = replica.may_exchange(&phone.certificate, job(1)).unwrap();
    let changes = replica.lacking(job(1), &Table::new(), usize::MAX);
    let photo = replica.blob_size(BlobKind::Thumbnail, hash).unwrap();
    [listed, spoken, changes.is_ok(), photo.is_some()]
}

#[test]
fn a_job_is_everybodys_until_somebody_is_assigned() {
    let bench = Bench::new();
    let file = b"a picture of the ridge";
    let writer = begun(&bench, file);
    let hash = PhotoHash::of(file);
    bench
        .replica()
        .may_exchange(&writer.certificate, job(1))
        .unwrap();
    let mut replica = bench.replica();
    replica.may_exchange(&writer.certificate, job(1)).unwrap();
    replica
        .write_blob(job(1), BlobKind::Thumbnail, hash, 64, 0, &small_picture(64))
        .unwrap();
    let other = Phone::new(OTHER_CREW, &bench.office, Role::Crew);
    let desk = Phone::new(DESK, &bench.office, Role::Estimator);
    let all = [true; 4];
    assert_eq!(shown(&bench, &other, hash), all);

    let third = Phone::new(4, &bench.office, Role::Crew);
    let accounts = bench.hub.accounts();
    bench
        .run(accounts.assign(job(1), third.author.device, true))
        .unwrap();
    assert_eq!(shown(&bench, &other, hash), [false; 4]);
    for phone in [&writer, &desk, &third] {
        assert_eq!(shown(&bench, phone, hash), all);
    }
    let mut intruder = Phone::new(OTHER_CREW, &bench.office, Role::Crew);
    let batch = intruder.begin(job(1));
    let refused = send(&bench, &intruder, batch).unwrap_err();
    assert!(matches!(refused, Refusal::Forbidden(_)), "{refused}");

    bench
        .run(accounts.assign(job(1), third.author.device, false))
        .unwrap();
    assert_eq!(shown(&bench, &other, hash), all);
    bench.run(accounts.set_closed(job(1), Some(9))).unwrap();
    assert_eq!(shown(&bench, &other, hash), [false; 4]);
    assert_eq!(shown(&bench, &writer, hash), all);
    assert_eq!(shown(&bench, &desk, hash), all);
    bench.run(accounts.set_closed(job(1), None)).unwrap();
    assert_eq!(shown(&bench, &other, hash), all);
}

#[test]
fn a_photo_of_a_hidden_job_is_not_had_through_another() {
    let bench = Bench::new();
    let file = b"a picture of the ridge";
    let writer = begun(&bench, file);
    let hash = PhotoHash::of(file);
    let mut replica = bench.replica();
    replica.may_exchange(&writer.certificate, job(1)).unwrap();
    replica
        .write_blob(job(1), BlobKind::Thumbnail, hash, 64, 0, &small_picture(64))
        .unwrap();
    let accounts = bench.hub.accounts();
    bench
        .run(accounts.assign(job(1), writer.author.device, true))
        .unwrap();
    let mut other = Phone::new(OTHER_CREW, &bench.office, Role::Crew);
    let batch = other.begin(job(2));
    let shown = [other.signed.clone()];
    let mut replica = bench.replica();
    replica
        .accept(&other.certificate, job(2), batch, &shown)
        .unwrap();
    assert!(replica.may_exchange(&other.certificate, job(2)).unwrap());
    assert_eq!(replica.blob_size(BlobKind::Thumbnail, hash), Ok(None));
    let read = replica.read_blob(BlobKind::Thumbnail, hash, 0, 3);
    assert!(matches!(read, Err(Refusal::Forbidden(_))));
}

/// A record of a kind as the gate takes it.
fn real(kind: Kind) -> AnyFields {
    match kind {
        Kind::ScopeChange => ScopeChange {
            line: Some("elevation/front|gutter|remove_and_replace".into()),
            kind: Some(ScopeChangeKind::Amended),
            quantity: Some(24.0),
            reason: Some("the run was measured again".into()),
            ..ScopeChange::default()
        }
        .into(),
        other => AnyFields::empty(other),
    }
}

#[test]
fn what_is_the_offices_counts_by_its_signer_whoever_brings_it() {
    for (kind, _) in OFFICE_KINDS {
        let bench = Bench::new();
        let mut crew = begun(&bench, b"one");
        let mut desk = Phone::new(DESK, &bench.office, Role::Estimator);
        desk.document = crew.document.clone();
        let add = |id: &str, kind: Kind| Action::Add {
            id: id.parse().unwrap(),
            record: real(kind),
            hits: None,
            shows: Vec::new(),
        };
        let forged = crew.act(&add("01J0000000000000000000000A", *kind));
        let certificates = [crew.signed.clone(), desk.signed.clone()];
        // The crew's own, and the same change relayed by the estimator's device.
        for carrier in [&crew, &desk] {
            let mut replica = bench.replica();
            let refused = replica.accept(
                &carrier.certificate,
                job(1),
                vec![forged.clone()],
                &certificates,
            );
            let refused = refused.unwrap_err().to_string();
            assert!(refused.contains(kind.label()), "{refused}");
        }
        let before = bench.replica().table(job(1)).unwrap();
        assert!(before[&crew.author].number < crew.document.table()[&crew.author].number);
        // The estimator's, brought by the crew's device.
        let rightful = desk.act(&add("01J0000000000000000000000B", *kind));
        let mut replica = bench.replica();
        let taken = replica.accept(&crew.certificate, job(1), vec![rightful], &certificates);
        assert_eq!(taken.unwrap().new_changes, 1);
    }
}

//! Two notebooks and what they must keep.

use ed25519_dalek::SigningKey;
use tempfile::TempDir;

use super::*;
use crate::document::Refusal;
use crate::env::SeededEnv;
use crate::job::{
    BlobKind, Certificate, CompanyId, Component, Condition, Finding, PhotoHash, PhotoRole, Role,
    Side, SignedCertificate,
};
use crate::sync::{Event, Replica, Session};

#[test]
fn a_job_that_is_still_to_come_wants_no_files_and_is_no_error() {
    let dir = TempDir::new().unwrap();
    let mut notebook = enrolled(&dir, "ada", 1);
    let coming = JobId::from_bytes([9; 16]);
    let device = notebook.identity().device;
    for kind in [BlobKind::Thumbnail, BlobKind::Original] {
        assert_eq!(notebook.wanted(coming, kind), Ok(Vec::new()));
    }
    assert_eq!(notebook.unconfirmed(device, &[coming]), Ok(Vec::new()));
    assert!(notebook.jobs().unwrap().is_empty());
}

fn who(name: &str) -> NewIdentity {
    NewIdentity {
        person: name.into(),
        device_name: format!("{name} phone"),
        role: Role::Crew,
    }
}

fn env(seed: u64) -> Box<dyn Env> {
    Box::new(SeededEnv::new(seed, 1_777_381_629_331, 5))
}

fn enrolled(dir: &TempDir, name: &str, seed: u64) -> Notebook {
    let office = SigningKey::from_bytes(&[77; 32]);
    let mut notebook = Notebook::create(&dir.path().join(name), who(name), env(seed)).unwrap();
    let company = CompanyId::from_bytes([3; 16]);
    let certificate = Certificate {
        company,
        device: notebook.identity().device,
        key: notebook.identity().key.verifying_key().to_bytes().to_vec(),
        person: name.into(),
        role: Role::Crew,
        device_name: name.into(),
        issued_at: 1,
    };
    let enrolment = Enrolment {
        company,
        company_name: "Test office".into(),
        office_key: office.verifying_key().to_bytes().to_vec(),
        certificate: SignedCertificate::sign(&certificate, &office).unwrap(),
        address: String::new(),
    };
    notebook.enrol(enrolment).unwrap();
    notebook
}

fn dents(text: &str) -> Finding {
    Finding {
        place: Some(RecordRef::side(Side::Front)),
        component: Some(Component::Gutter),
        condition: Some(Condition::Damaged),
        text: Some(text.into()),
        ..Finding::default()
    }
}

/// A small picture file.
fn picture(dir: &TempDir, name: &str, shade: u8) -> PathBuf {
    let path = dir.path().join(name);
    let picture = image::RgbImage::from_fn(64, 48, |x, y| image::Rgb([shade, x as u8, y as u8]));
    picture.save(&path).unwrap();
    path
}

/// Runs a session between two notebooks until both are quiet; `drop_after` frames the link breaks.
fn exchange(one: &mut Notebook, other: &mut Notebook, drop_after: usize) -> u64 {
    let mut a = Session::new(one.session(true, None, true).unwrap(), 0).unwrap();
    let mut b = Session::new(other.session(false, None, true).unwrap(), 0).unwrap();
    let mut frames = 0;
    loop {
        let mut quiet = true;
        while let Some(frame) = a.poll_outgoing(one) {
            quiet = false;
            frames += 1;
            if frames > drop_after {
                return a.progress().changes_sent + b.progress().changes_sent;
            }
            b.receive(other, &frame, 0);
        }
        while let Some(frame) = b.poll_outgoing(other) {
            quiet = false;
            frames += 1;
            if frames > drop_after {
                return a.progress().changes_sent + b.progress().changes_sent;
            }
            a.receive(one, &frame, 0);
        }
        for event in
            std::iter::from_fn(|| a.poll_event()).chain(std::iter::from_fn(|| b.poll_event()))
        {
            if let Event::Ended(ending) = event {
                assert_eq!(ending.words, "");
            }
        }
        if quiet {
            return a.progress().changes_sent + b.progress().changes_sent;
        }
    }
}

#[test]
fn two_notebooks_end_equal_wherever_the_link_breaks() {
    for drop_after in (0..40).step_by(3) {
        let dir = TempDir::new().unwrap();
        let (mut rep, mut helper) = (enrolled(&dir, "rep", 1), enrolled(&dir, "helper", 2));
        let job = rep.begin(None, Property::default()).unwrap();
        helper.begin(Some(job), Property::default()).unwrap();
        let shown = rep.add(job, dents("rep")).unwrap();
        helper.add(job, dents("helper")).unwrap();
        for (i, device) in [&mut rep, &mut helper].into_iter().enumerate() {
            let file = picture(&dir, &format!("p{i}.jpg"), 40 + 90 * i as u8);
            let mut note = PhotoNote {
                role: Some(PhotoRole::Standoff),
                ..PhotoNote::default()
            };
            if i == 0 {
                note.shows = vec![shown.clone()];
            }
            device.add_photo(job, &file, note).unwrap();
        }
        exchange(&mut rep, &mut helper, drop_after);
        exchange(&mut rep, &mut helper, usize::MAX);
        assert_eq!(
            exchange(&mut rep, &mut helper, usize::MAX),
            0,
            "a change crossed again"
        );
        assert_eq!(
            rep.document(job).unwrap().heads(),
            helper.document(job).unwrap().heads()
        );
        assert_eq!(rep.job(job).unwrap(), helper.job(job).unwrap());
        assert_eq!(rep.history(job).unwrap(), helper.history(job).unwrap());
        for notebook in [&mut rep, &mut helper] {
            let status = notebook.status(job).unwrap();
            assert_eq!((status.here.originals, status.here.thumbnails), (2, 2));
            let peer = &status.peers[0];
            assert_eq!(
                (peer.photos.originals, peer.photos.thumbnails),
                (2, 2),
                "lost word"
            );
            assert_eq!(peer.changes, status.changes);
            assert!(
                !status.safe_at_office,
                "another phone passes for the office"
            );
        }
    }
}

#[test]
fn a_notebook_opens_once_and_reads_back() {
    let dir = TempDir::new().unwrap();
    let path = dir.path().join("rep");
    let mut notebook = enrolled(&dir, "rep", 1);
    let job = notebook.begin(None, Property::default()).unwrap();
    notebook.add(job, dents("first")).unwrap();
    assert!(matches!(
        Notebook::open(&path, env(3)),
        Err(NotebookError::InUse(_))
    ));
    let before = notebook.job(job).unwrap().clone();
    notebook.close().unwrap();
    assert!(matches!(
        Notebook::create(&path, who("rep"), env(4)),
        Err(NotebookError::Exists(_))
    ));
    let mut again = Notebook::open(&path, env(5)).unwrap();
    assert_eq!(again.first_screen(job).unwrap(), before);
    again.add(job, dents("second")).unwrap();
    let authors = again.document(job).unwrap().table();
    assert_eq!(
        authors.len(),
        2,
        "a device that was closed went on with its old number"
    );
    let nowhere = dir.path().join("nowhere");
    assert!(matches!(
        Notebook::open(&nowhere, env(6)),
        Err(NotebookError::Missing(_))
    ));
}

#[test]
fn a_missing_photo_file_is_named_and_comes_back_from_the_other_phone() {
    let dir = TempDir::new().unwrap();
    let (mut rep, mut helper) = (enrolled(&dir, "rep", 1), enrolled(&dir, "helper", 2));
    let job = rep.begin(None, Property::default()).unwrap();
    let file = picture(&dir, "p.jpg", 90);
    let added = rep.add_photo(job, &file, PhotoNote::default()).unwrap();
    let twice = rep.add_photo(job, &file, PhotoNote::default()).unwrap();
    assert!(
        twice.known && twice.record == added.record,
        "the same file is in the job twice"
    );
    exchange(&mut rep, &mut helper, usize::MAX);
    let hash: PhotoHash = added.capture.hash;
    std::fs::remove_file(rep.photo_store().path(BlobKind::Original, hash)).unwrap();
    let missing = rep.missing_originals(job).unwrap();
    assert_eq!(missing, [(added.record.id.clone(), hash, 0)]);
    assert_eq!(
        rep.job(job).unwrap().records.photos.len(),
        1,
        "the record is read all the same"
    );
    exchange(&mut rep, &mut helper, usize::MAX);
    assert!(rep.missing_originals(job).unwrap().is_empty());
}

#[test]
fn a_bad_small_picture_is_left_out_and_ends_no_exchange() {
    let dir = TempDir::new().unwrap();
    let (mut rep, mut helper) = (enrolled(&dir, "rep", 1), enrolled(&dir, "helper", 2));
    let job = rep.begin(None, Property::default()).unwrap();
    let mut hashes = Vec::new();
    for (name, shade) in [("p.jpg", 90), ("q.jpg", 160)] {
        let file = picture(&dir, name, shade);
        let added = rep.add_photo(job, &file, PhotoNote::default()).unwrap();
        hashes.push(added.capture.hash);
    }
    let small = rep.photo_store().path(BlobKind::Thumbnail, hashes[0]);
    let good = std::fs::read(&small).unwrap();
    let too_large = [
        &good[..good.len() - 2],
        &vec![0; limits::THUMBNAIL_BYTES as usize],
        &[0xFF, 0xD9],
    ]
    .concat();
    for bad in [&b"words"[..], &[], &too_large] {
        std::fs::write(&small, bad).unwrap();
        exchange(&mut rep, &mut helper, usize::MAX);
        let held = |kind, hash| helper.photo_store().have(kind, hash).unwrap();
        assert_eq!(held(BlobKind::Thumbnail, hashes[0]), None);
        assert!(held(BlobKind::Original, hashes[0]).is_some());
        assert!(held(BlobKind::Thumbnail, hashes[1]).is_some());
    }
    std::fs::write(&small, &good).unwrap();
    exchange(&mut rep, &mut helper, usize::MAX);
    let held = helper.photo_store().have(BlobKind::Thumbnail, hashes[0]);
    assert_eq!(held.unwrap(), Some(good.len() as u64));
}

#[test]
fn a_copied_device_is_noticed_even_where_both_hold_as_many_changes() {
    let dir = TempDir::new().unwrap();
    let mut helper = enrolled(&dir, "helper", 2);
    let mut rep = enrolled(&dir, "rep", 1);
    let job = rep.begin(None, Property::default()).unwrap();
    rep.add(job, dents("first")).unwrap();
    exchange(&mut rep, &mut helper, usize::MAX);
    let certificate = rep
        .office()
        .unwrap()
        .certificate
        .verify(&rep.office().unwrap().key)
        .unwrap();
    let mut table = helper.table(job).unwrap();
    assert!(helper.lacking(job, &table, 1 << 20).unwrap().is_empty());
    let (author, held) = table
        .iter()
        .map(|(a, h)| (*a, *h))
        .find(|(a, _)| a.device == certificate.device)
        .unwrap();
    let other = crate::document::Held {
        short_hash: [9; 8],
        ..held
    };
    table.insert(author, other);
    let refusal = helper.lacking(job, &table, 1 << 20).unwrap_err();
    let expected = Refusal::Forked {
        device: author.device,
        number: held.number,
    };
    assert_eq!(refusal, expected);
    table.insert(
        author,
        crate::document::Held {
            number: 1,
            short_hash: [9; 8],
        },
    );
    let refusal = helper.lacking(job, &table, 1 << 20).unwrap_err();
    assert_eq!(
        refusal,
        Refusal::Forked {
            device: author.device,
            number: 1
        }
    );
}

//! Bundles: written, read, cut, altered.

use std::collections::BTreeMap;

use super::{JOB, net};
use crate::document::Refusal;
use crate::job::{BlobKind, CompanyId, JobId, PhotoHash};
use crate::sync::bundle::{self, BundleError, Contents, Report};
use crate::sync::testing::{MemoryReplica, Office};
use crate::sync::{Replica, encode_stream};

const COMPANY: CompanyId = CompanyId::from_bytes([1; 16]);

fn maker() -> (MemoryReplica, Vec<PhotoHash>) {
    let mut net = net(2);
    // Half of the changes are relayed.
    for n in 0..20 {
        assert!(net.record(n % 2, JOB, &format!("finding {n}")));
    }
    let large = vec![5; 700_000];
    let hashes = vec![
        net.replicas[0].take_photo(JOB, &large, &[1; 800]).unwrap(),
        net.replicas[0]
            .take_photo(JOB, b"a small picture", &[2; 800])
            .unwrap(),
    ];
    net.connect(0, 1, false).unwrap();
    assert!(net.run(1000));
    (net.replicas.remove(0), hashes)
}

fn contents(hashes: &[PhotoHash]) -> Contents {
    let kinds = [BlobKind::Thumbnail, BlobKind::Original];
    let files = kinds
        .into_iter()
        .flat_map(|kind| hashes.iter().map(move |hash| (JOB, kind, *hash)));
    Contents {
        made_at: 1_700_000_000_000,
        jobs: BTreeMap::from([(JOB, Default::default())]),
        files: files.collect(),
    }
}

fn write(maker: &mut MemoryReplica, contents: &Contents) -> (Vec<u8>, Report) {
    let device = maker.device().clone();
    let mut bytes = Vec::new();
    let report = bundle::write(
        maker,
        &device.certificate,
        &device.key,
        contents,
        &mut bytes,
    )
    .unwrap();
    (bytes, report)
}

fn reader() -> MemoryReplica {
    MemoryReplica::new(Office::new(1).device(3).unwrap(), 3)
}

fn read(reader: &mut MemoryReplica, mut bytes: &[u8]) -> Result<Report, BundleError> {
    let office = reader.device().office;
    bundle::read(reader, &office, COMPANY, &mut bytes)
}

#[test]
fn a_bundle_brings_changes_and_photos_and_names_its_maker() {
    let (mut maker, hashes) = maker();
    let (bytes, written) = write(&mut maker, &contents(&hashes));
    assert_eq!(
        (written.changes, written.files, written.bytes),
        (22, 4, bytes.len() as u64)
    );
    let mut reader = reader();
    let report = read(&mut reader, &bytes).unwrap();
    assert_eq!(
        (report.changes, report.new_changes, report.files),
        (22, 22, 4)
    );
    assert_eq!(report.maker.unwrap().device, maker.device().id);
    assert!(reader.same_content(&maker));
    assert!(reader.peer_holds_blob(maker.device().id, BlobKind::Original, hashes[0]));
    assert_eq!(
        reader.peer_holds(maker.device().id, JOB),
        maker.table(JOB).unwrap()
    );
    // Twice is harmless.
    let report = read(&mut reader, &bytes).unwrap();
    assert_eq!(
        (
            report.changes,
            report.new_changes,
            report.files,
            report.files_left_out
        ),
        (22, 0, 0, 4)
    );
    assert!(reader.same_content(&maker));
}

#[test]
fn a_bundle_for_a_reader_that_holds_some_is_smaller() {
    let (mut maker, _) = maker();
    let (whole, _) = write(&mut maker, &contents(&[]));
    let mut reader = reader();
    read(&mut reader, &whole).unwrap();
    maker.record(JOB, "one more").unwrap();
    let held = reader.table(JOB).unwrap();
    let news = Contents {
        jobs: BTreeMap::from([(JOB, held)]),
        ..Contents::default()
    };
    let (bytes, written) = write(&mut maker, &news);
    assert_eq!(written.changes, 1);
    assert_eq!(read(&mut reader, &bytes).unwrap().new_changes, 1);
    assert_eq!(reader.changes(JOB), maker.changes(JOB));
    // It does not help one that holds nothing, and says so.
    let mut empty = self::reader();
    let report = read(&mut empty, &bytes).unwrap();
    assert_eq!(report.refused, BTreeMap::from([(JOB, Refusal::Gap)]));
    assert!(empty.changes(JOB).is_empty());
}

#[test]
fn what_stands_before_a_cut_counts() {
    let (mut maker, hashes) = maker();
    let (bytes, _) = write(&mut maker, &contents(&hashes));
    let mut before = (0, 0);
    let steps = (0..bytes.len()).step_by(4001).chain([bytes.len() - 1]);
    for end in steps {
        let mut reader = reader();
        match read(&mut reader, &bytes[..end]) {
            Err(BundleError::Cut(report)) => {
                let now = (report.changes, report.files);
                assert!(now.0 >= before.0 && now.1 >= before.1);
                assert_eq!(reader.changes(JOB).len() as u64, report.new_changes);
                assert_eq!(reader.blobs_complete() as u64, report.files);
                before = now;
            }
            Err(BundleError::NotABundle(_)) => assert_eq!(before, (0, 0)),
            other => panic!("{other:?}"),
        }
    }
    assert_eq!(before, (22, 4));
}

#[test]
fn an_altered_bundle_gives_only_what_its_maker_sealed() {
    let (mut maker, hashes) = maker();
    let (bytes, _) = write(&mut maker, &contents(&hashes));
    for at in (0..bytes.len()).step_by(997) {
        let mut altered = bytes.clone();
        altered[at] ^= 1;
        let mut reader = reader();
        assert!(read(&mut reader, &altered).is_err());
        for hash in &hashes {
            for kind in [BlobKind::Thumbnail, BlobKind::Original] {
                assert!(
                    reader
                        .blob(kind, *hash)
                        .is_none_or(|blob| Some(blob) == maker.blob(kind, *hash))
                );
            }
        }
    }
}

#[test]
fn a_frame_slipped_in_behind_the_head_does_not_count() {
    use crate::sync::message::{Files, Message, Piece};
    let (mut maker, hashes) = maker();
    let (bytes, _) = write(
        &mut maker,
        &Contents {
            files: Vec::new(),
            ..contents(&hashes)
        },
    );
    let mut reader = reader();
    // The changes are taken, so the thumbnail is wanted; the forger has no key to seal with.
    read(&mut reader, &bytes).unwrap();
    let mut stream = crate::sync::FrameReader::new();
    stream.push(&bytes);
    let head = stream.pop().unwrap().unwrap();
    let piece = Piece {
        kind: BlobKind::Thumbnail,
        hash: hashes[0],
        size: 3,
        offset: 0,
        bytes: serde_bytes::ByteBuf::from(vec![6; 3]),
    };
    let forged = Message::Files(Files {
        job: JOB,
        pieces: vec![piece],
    })
    .encode(1)
    .unwrap();
    let forged = [encode_stream(&head), encode_stream(&forged)].concat();
    assert!(matches!(
        read(&mut reader, &forged),
        Err(BundleError::Cut(_))
    ));
    assert!(reader.blob(BlobKind::Thumbnail, hashes[0]).is_none());
}

#[test]
fn strangers_bundles_other_files_and_unwanted_jobs_are_refused() {
    let device = Office::new(2).device(7).unwrap();
    let mut stranger = MemoryReplica::new(device, 1);
    stranger.record(JOB, "theirs").unwrap();
    let (bytes, _) = write(&mut stranger, &contents(&[]));
    assert!(matches!(
        read(&mut reader(), &bytes),
        Err(BundleError::Stranger)
    ));
    assert!(matches!(
        read(&mut reader(), b"a text file that is no bundle"),
        Err(BundleError::NotABundle(_))
    ));
    assert!(matches!(
        read(&mut reader(), b""),
        Err(BundleError::NotABundle(_))
    ));

    let (mut maker, _) = maker();
    let other = JobId::from_bytes([8; 16]);
    maker.record(other, "another job").unwrap();
    let mut both = contents(&[]);
    both.jobs.insert(other, Default::default());
    let (bytes, _) = write(&mut maker, &both);
    let mut reader = reader();
    reader.forbidden.insert(JOB);
    let report = read(&mut reader, &bytes).unwrap();
    assert!(matches!(
        report.refused.get(&JOB),
        Some(Refusal::Forbidden(_))
    ));
    assert_eq!(
        (reader.changes(JOB).len(), reader.changes(other).len()),
        (0, 1)
    );

    let mut full = self::reader();
    full.fail_next_accept = true;
    assert!(matches!(
        read(&mut full, &bytes),
        Err(BundleError::Stopped { .. })
    ));
}

//! The bytes of every frame, so that a change of the wire is noticed.

use serde_bytes::{ByteArray, ByteBuf};

use crate::document::Author;
use crate::job::{BlobKind, DeviceId, JobId, PhotoHash, hex, unhex};
use crate::sync::frame::WIRE_VERSION;
use crate::sync::message::*;

pub(super) fn every_message() -> Vec<(&'static str, Message)> {
    let job = JobId::from_bytes([0x0a; 16]);
    let author = Author {
        device: DeviceId::from_bytes([0x0d; 16]),
        nonce: [0x0e; 8],
    };
    let hash = PhotoHash::from_bytes([0x0f; 32]);
    let held = vec![(
        ByteArray::new(author.to_bytes()),
        300,
        ByteArray::new([0x0c; 8]),
    )];
    let (certificate, signature) = (ByteBuf::from(vec![0xce; 5]), ByteArray::new([0x51; 64]));
    let kind = BlobKind::Thumbnail;
    let bytes = ByteBuf::from(vec![1, 2, 3]);
    vec![
        (
            "hello",
            Message::Hello(Hello {
                initiator: true,
                live: false,
                nonce: ByteArray::new([0x4e; 32]),
                certificate: certificate.clone(),
                certificate_signature: signature,
            }),
        ),
        (
            "prove",
            Message::Prove(Prove {
                only: None,
                signature,
            }),
        ),
        (
            "prove, one job",
            Message::Prove(Prove {
                only: Some(vec![job]),
                signature,
            }),
        ),
        (
            "digests",
            Message::Digests(Digests {
                cut: false,
                jobs: vec![(job, ByteArray::new([0xdd; 16]))],
            }),
        ),
        (
            "table",
            Message::Table(TableOf {
                job,
                held: held.clone(),
            }),
        ),
        ("declined", Message::Declined(Declined { job })),
        (
            "batch",
            Message::Batch(BatchPart {
                job,
                more: true,
                bytes: bytes.clone(),
            }),
        ),
        ("ack", Message::Ack(TableOf { job, held })),
        (
            "done",
            Message::Done(Done {
                settled: true,
                seen: 7,
            }),
        ),
        (
            "want",
            Message::Want(Want {
                job,
                kind,
                files: vec![(hash, 65_536)],
            }),
        ),
        (
            "lacks",
            Message::Lacks(Lacks {
                kind: BlobKind::Original,
                files: vec![hash],
            }),
        ),
        (
            "files",
            Message::Files(Files {
                job,
                pieces: vec![Piece {
                    kind,
                    hash,
                    size: 9,
                    offset: 6,
                    bytes,
                }],
            }),
        ),
        (
            "kept",
            Message::Kept(Kept {
                pieces: vec![KeptPiece {
                    kind,
                    hash,
                    held: 9,
                    state: KeptPiece::WHOLE,
                }],
            }),
        ),
        ("ping", Message::Ping),
        (
            "bye",
            Message::Bye(Bye {
                code: 0,
                words: String::new(),
                fork: None,
            }),
        ),
        (
            "bye, copied device",
            Message::Bye(Bye {
                code: 9,
                words: "why".into(),
                fork: Some((ByteArray::new([0x0d; 16]), 4)),
            }),
        ),
        (
            "bundle head",
            Message::BundleHead(BundleHead {
                made_at: 1_700_000_000_000,
                certificate,
                certificate_signature: signature,
            }),
        ),
        (
            "seal",
            Message::Seal(Seal {
                last: true,
                signature,
            }),
        ),
        (
            "doubt",
            Message::Doubt(Lacks {
                kind,
                files: vec![hash],
            }),
        ),
        (
            "holds",
            Message::Holds(Lacks {
                kind,
                files: Vec::new(),
            }),
        ),
    ]
}

#[test]
fn every_frame_has_the_bytes_that_version_one_has() {
    let mut lines = format!("version {WIRE_VERSION}\n");
    for (name, message) in every_message() {
        let frame = message.encode(1).unwrap();
        assert_eq!(Message::decode(&frame), Ok((1, message)), "{name}");
        lines += &format!("{name}: {}\n", hex(&frame));
    }
    insta::assert_snapshot!("wire", lines);
}

#[test]
fn the_frames_of_the_snapshot_are_read_for_ever() {
    let kept = include_str!("snapshots/chalkwalk_core__sync__tests__wire__wire.snap");
    let mut read = 0;
    for (name, message) in every_message() {
        let line = kept
            .lines()
            .find_map(|line| line.strip_prefix(&format!("{name}: ")));
        let frame = unhex(line.unwrap()).unwrap();
        assert_eq!(Message::decode(&frame), Ok((1, message)), "{name}");
        read += 1;
    }
    assert_eq!(read, 20);
}

//! One past each limit of an exchange.

use serde_bytes::{ByteArray, ByteBuf};

use super::victim::{Victim, batch, two};
use super::{JOB, ended, finished, net};
use crate::document::{Author, ChangeRow, Refusal, sign_change};
use crate::job::{BlobKind, JobId, PhotoHash};
use crate::limits;
use crate::sync::batch::{cut, pack_batch, unpack_batch};
use crate::sync::event::{Event, Reason};
use crate::sync::message::*;
use crate::sync::table::from_wire;
use crate::sync::testing::{Office, change_chunk};
use crate::sync::{ChunkHead, Session, SessionError};

fn numbered(n: usize) -> [u8; 16] {
    (n as u128 + 1).to_be_bytes()
}

fn rows(count: u64, words: &str) -> Vec<ChangeRow> {
    let (device, author) = two();
    let mut before = Vec::new();
    (1..=count)
        .map(|number| {
            let chunk = change_chunk(author, number, &before, words);
            let mut row = ChunkHead::row(chunk, None).unwrap();
            row.signature = (number == count).then(|| sign_change(&device.key, &row.hash));
            before = vec![row.hash];
            row
        })
        .collect()
}

fn limit<T: std::fmt::Debug>(result: Result<T, Refusal>) {
    assert!(matches!(result, Err(Refusal::Limit(_))), "{result:?}");
}

#[test]
fn a_batch_inflates_to_no_more_than_its_limit() {
    let zeros = vec![0u8; 64 << 20];
    let bomb = zstd::bulk::compress(&zeros, 3).unwrap();
    assert!(bomb.len() < 10_000);
    limit(unpack_batch(&bomb));
    let zeros = &zeros[..limits::BATCH_BYTES];
    let most = zstd::bulk::compress(zeros, 3).unwrap();
    assert!(matches!(unpack_batch(&most), Err(Refusal::Malformed(_))));
    let over = zstd::bulk::compress(&[zeros, &[0]].concat(), 3).unwrap();
    limit(unpack_batch(&over));
}

#[test]
fn a_batch_of_one_change_too_many_is_refused_and_never_cut() {
    let most = limits::BATCH_CHANGES as u64;
    let unpacked = unpack_batch(&pack_batch(rows(most, ""), Vec::new()).unwrap());
    assert_eq!(unpacked.unwrap().rows.len(), limits::BATCH_CHANGES);
    limit(unpack_batch(
        &pack_batch(rows(most + 1, ""), Vec::new()).unwrap(),
    ));
    let (device, _) = two();
    let mut over = rows(most + 1, "");
    assert_eq!(cut(&over), 0);
    over[9].signature = Some(sign_change(&device.key, &over[9].hash));
    assert_eq!(cut(&over), 10);
}

#[test]
fn a_change_of_one_byte_too_many_is_refused_and_the_largest_travels() {
    let (_, author) = two();
    let head = change_chunk(author, 1, &[], &"x".repeat(1 << 20)).len() - (1 << 20);
    let most = "x".repeat(limits::CHANGE_BYTES - head);
    let chunk = change_chunk(author, 1, &[], &most);
    assert_eq!(chunk.len(), limits::CHANGE_BYTES);
    assert!(ChunkHead::read(&chunk).is_ok());
    limit(ChunkHead::read(&change_chunk(
        author,
        1,
        &[],
        &format!("{most}x"),
    )));
    limit(ChunkHead::read(&change_chunk(
        author,
        limits::JOB_CHANGES + 1,
        &[],
        "",
    )));
    assert!(ChunkHead::read(&change_chunk(author, limits::JOB_CHANGES, &[], "")).is_ok());

    // Letters that do not compress fill more than one frame.
    let mut letters = String::new();
    let mut state = blake3::hash(b"letters");
    while letters.len() < limits::CHANGE_BYTES - 400 {
        letters.extend(
            state
                .as_bytes()
                .iter()
                .map(|byte| char::from(0x21 + byte % 94)),
        );
        state = blake3::hash(state.as_bytes());
    }
    let mut net = net(2);
    assert!(net.record(0, JOB, &letters));
    assert!(net.record(1, JOB, "small"));
    let link = net.connect(0, 1, false).unwrap();
    assert!(net.run(1000));
    finished(&net.links[link]);
    assert!(net.replicas[0].same_content(&net.replicas[1]));
}

#[test]
fn a_job_of_one_author_too_many_is_refused() {
    let line = |n: usize| {
        let mut author = [1; 24];
        author[16..].copy_from_slice(&(n as u64).to_be_bytes());
        (ByteArray::new(author), 1, ByteArray::new([0; 8]))
    };
    let mut lines: Vec<WireHeld> = (0..limits::JOB_AUTHORS).map(line).collect();
    assert_eq!(from_wire(&lines).unwrap().len(), limits::JOB_AUTHORS);
    lines.push(line(limits::JOB_AUTHORS));
    limit(from_wire(&lines));
    let author = Author {
        device: two().0.id,
        nonce: [0; 8],
    };
    let number = |number| {
        vec![(
            ByteArray::new(author.to_bytes()),
            number,
            ByteArray::new([0; 8]),
        )]
    };
    assert!(from_wire(&number(limits::JOB_CHANGES)).is_ok());
    limit(from_wire(&number(limits::JOB_CHANGES + 1)));
}

#[test]
fn one_job_too_many_is_left_out_or_refused() {
    let digests = |count: usize| {
        let jobs = (0..count).map(|n| (JobId::from_bytes(numbered(n)), ByteArray::new([0; 16])));
        Message::Digests(Digests {
            cut: false,
            jobs: jobs.collect(),
        })
    };
    let mut victim = Victim::met();
    victim.say(&digests(limits::SESSION_JOBS + 1));
    victim.ends_with(Reason::Limit);
    let mut victim = Victim::met();
    victim.say(&digests(limits::SESSION_JOBS));
    assert!(!victim.session.has_ended());

    let device = Office::new(1).device(1).unwrap();
    let config = |count: usize| {
        let mut config = device.config(true, 1);
        config.jobs = Some((0..count).map(|n| JobId::from_bytes(numbered(n))).collect());
        config
    };
    assert!(Session::new(config(limits::SESSION_JOBS), 0).is_ok());
    let refused = Session::new(config(limits::SESSION_JOBS + 1), 0).err();
    assert_eq!(
        refused,
        Some(SessionError::TooManyJobs(limits::SESSION_JOBS + 1))
    );

    let mut net = net(2);
    for n in 0..=limits::SESSION_JOBS {
        assert!(
            net.replicas[0]
                .record(JobId::from_bytes(numbered(n)), "")
                .is_ok()
        );
    }
    let link = net.connect(0, 1, false).unwrap();
    assert!(net.run(100_000));
    finished(&net.links[link]);
    assert!(net.links[link].events[0].contains(&Event::JobsLeftOut { count: 1 }));
    // The oldest is left out, and reached when it is named.
    let oldest = JobId::from_bytes(numbered(0));
    let newest = JobId::from_bytes(numbered(limits::SESSION_JOBS));
    assert_eq!(net.replicas[1].changes(oldest).len(), 0);
    assert_eq!(net.replicas[1].changes(newest).len(), 1);
    let link = net
        .connect_with(0, 1, |config| config.jobs = Some([oldest].into()))
        .unwrap();
    assert!(net.run(1000));
    finished(&net.links[link]);
    assert_eq!(net.replicas[1].changes(oldest).len(), 1);
}

#[test]
fn one_wish_too_many_is_refused() {
    let want = |from: usize, count: usize| {
        let files = (from..from + count).map(|n| (PhotoHash::of(&n.to_be_bytes()), 0));
        Message::Want(Want {
            job: JOB,
            kind: BlobKind::Original,
            files: files.collect(),
        })
    };
    let met = || {
        let mut victim = Victim::met();
        victim.say(&Message::Digests(Digests {
            cut: false,
            jobs: Vec::new(),
        }));
        victim.say(&Message::Table(TableOf {
            job: JOB,
            held: Vec::new(),
        }));
        victim
    };
    let mut victim = met();
    victim.say(&want(0, limits::WANT_PAGE + 1));
    victim.ends_with(Reason::Limit);
    let mut victim = met();
    victim.say(&Message::Doubt(Lacks {
        kind: BlobKind::Original,
        files: vec![PhotoHash::of(b"x"); limits::WANT_PAGE + 1],
    }));
    victim.ends_with(Reason::Limit);
    let mut victim = met();
    let pages = limits::SESSION_FILES / limits::WANT_PAGE;
    for page in 0..pages {
        victim.say(&want(page * limits::WANT_PAGE, limits::WANT_PAGE));
    }
    let rest = limits::SESSION_FILES - pages * limits::WANT_PAGE;
    victim.say(&want(pages * limits::WANT_PAGE, rest));
    assert!(!victim.session.has_ended());
    victim.say(&want(limits::SESSION_FILES, 1));
    victim.ends_with(Reason::Limit);
}

#[test]
fn a_file_of_one_byte_too_many_is_refused() {
    use crate::sync::piece::{check_piece, check_pieces};
    for (kind, most) in [
        (BlobKind::Thumbnail, limits::THUMBNAIL_BYTES),
        (BlobKind::Original, limits::ORIGINAL_BYTES),
    ] {
        let piece = |size, offset, count| Piece {
            kind,
            hash: PhotoHash::of(b"x"),
            size,
            offset,
            bytes: ByteBuf::from(vec![0; count]),
        };
        assert!(check_piece(&piece(most, 0, 1)).is_ok());
        limit(check_piece(&piece(most + 1, 0, 1)));
        assert!(check_piece(&piece(5, 2, 3)).is_ok());
        assert!(check_piece(&piece(5, 5, 0)).is_ok());
        for (size, offset, count) in [(5, 2, 4), (5, 2, 0), (5, u64::MAX, 1), (5, 6, 0)] {
            assert!(check_piece(&piece(size, offset, count)).is_err());
        }
        assert!(check_pieces(&[piece(most, 0, limits::PHOTO_CHUNK)]).is_ok());
        limit(check_pieces(&[
            piece(most, 0, limits::PHOTO_CHUNK),
            piece(most, 0, 1),
        ]));
        limit(check_pieces(&vec![piece(0, 0, 0); limits::WANT_PAGE + 1]));
    }
}

#[test]
fn a_certificate_of_one_byte_too_many_is_refused() {
    let hello = |bytes: usize| {
        Message::Hello(Hello {
            initiator: true,
            live: false,
            nonce: ByteArray::new([0; 32]),
            certificate: ByteBuf::from(vec![0; bytes]),
            certificate_signature: ByteArray::new([0; 64]),
        })
    };
    for (bytes, reason) in [
        (limits::CERTIFICATE_BYTES, Reason::Identity),
        (limits::CERTIFICATE_BYTES + 1, Reason::Limit),
    ] {
        let mut victim = Victim::unmet();
        victim.say(&hello(bytes));
        victim.ends_with(reason);
    }
    let chunk = rows(1, "");
    let certificate = |bytes| crate::job::SignedCertificate {
        body: vec![0; bytes],
        signature: vec![0; 64],
    };
    let packed = |bytes| pack_batch(chunk.clone(), vec![certificate(bytes)]).unwrap();
    assert!(unpack_batch(&packed(limits::CERTIFICATE_BYTES)).is_ok());
    limit(unpack_batch(&packed(limits::CERTIFICATE_BYTES + 1)));
    limit(unpack_batch(
        &pack_batch(chunk.clone(), vec![certificate(1); 2]).unwrap(),
    ));
    let mut victim = Victim::met();
    victim.say(&Message::Digests(Digests {
        cut: false,
        jobs: Vec::new(),
    }));
    victim.say(&Message::Table(TableOf {
        job: JOB,
        held: Vec::new(),
    }));
    victim.say(&batch(packed(limits::CERTIFICATE_BYTES + 1)));
    victim.ends_with(Reason::Limit);
}

#[test]
fn a_silent_side_gives_a_sign_of_life_and_a_dead_link_ends() {
    let mut net = net(2);
    let start = net.now;
    let link = net.connect(0, 1, true).unwrap();
    assert!(net.run(1000));
    assert_eq!(
        net.links[link].sessions[0].poll_timeout(),
        Some(start + limits::KEEP_ALIVE_MS)
    );
    for _ in 0..10 {
        net.now += limits::KEEP_ALIVE_MS;
        for end in 0..2 {
            let now = net.now;
            net.links[link].sessions[end].handle_timeout(now);
        }
        assert!(net.run(1000));
    }
    assert!(
        net.links[link]
            .sessions
            .iter()
            .all(|s| s.is_settled() && !s.has_ended())
    );
    // The link goes dead without a word.
    let heard = net.now;
    let session = &mut net.links[link].sessions[0];
    session.handle_timeout(heard + limits::IDLE_MS - 1);
    assert!(!session.has_ended());
    session.handle_timeout(heard + limits::IDLE_MS);
    assert!(session.has_ended());
    assert_eq!(session.poll_timeout(), None);
    net.poll(link, 0);
    assert_eq!(ended(&net.links[link], 0), Some(Reason::Idle));
}

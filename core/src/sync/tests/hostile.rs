//! Peers that do not keep to the protocol: the session ends with a reason, the replica stays as it
//! was.

use proptest::prelude::*;
use serde_bytes::{ByteArray, ByteBuf};

use super::victim::{Victim, batch, handshake, held, raw_batch, row, two};
use super::{JOB, net};
use crate::document::{Author, sign_change};
use crate::job::{BlobKind, JobId, PhotoHash};
use crate::sync::batch::{pack_batch, unpack_batch};
use crate::sync::event::{Event, Reason};
use crate::sync::frame::{FrameError, FrameReader, seal_frame};
use crate::sync::handshake::Handshake;
use crate::sync::message::*;
use crate::sync::testing::{Office, TestDevice, change_chunk};
use crate::sync::{ChunkHead, Session};

#[test]
fn the_made_up_peer_is_believed_when_it_keeps_to_the_protocol() {
    let mut victim = Victim::compared();
    victim.say(&batch(
        pack_batch(vec![row(1, "theirs")], Vec::new()).unwrap(),
    ));
    assert_eq!(victim.reason(), None);
    assert_eq!(victim.replica.changes(JOB).len(), 2);
}

#[test]
fn strangers_are_refused() {
    let office = Office::new(1);
    for (device, reason) in [
        (Office::new(2).device(2), Reason::Identity),
        (office.with_company(9).device(2), Reason::Identity),
        (office.device(1), Reason::SameDevice),
    ] {
        let mut victim = Victim::unmet();
        victim.greet(&device.unwrap());
        victim.ends_with(reason);
    }
}

#[test]
fn a_certificate_of_somebody_else_needs_its_key() {
    let office = Office::new(1);
    let mut victim = Victim::unmet();
    let thief = TestDevice {
        key: office.device(3).unwrap().key,
        ..office.device(2).unwrap()
    };
    let stolen = Handshake::new(
        thief.certificate.clone(),
        thief.key.clone(),
        thief.office,
        [3; 32],
        true,
        false,
    );
    assert!(stolen.is_err());
    victim.say(&Message::Hello(
        handshake(&office.device(2).unwrap()).hello().unwrap(),
    ));
    victim.say(&Message::Prove(Prove {
        only: None,
        signature: ByteArray::new([5; 64]),
    }));
    victim.ends_with(Reason::Identity);
}

#[test]
fn a_proof_does_not_fit_another_session_or_other_jobs() {
    let device = Office::new(1).device(2).unwrap();
    let peer = handshake(&device);
    // The proof was made for a session of device 1 with another nonce.
    let mut earlier = Session::new(Office::new(1).device(1).unwrap().config(false, 4), 0).unwrap();
    let mut victim = Victim::unmet();
    let frame = earlier.poll_outgoing(&mut victim.replica).unwrap();
    let Ok((_, Message::Hello(theirs))) = Message::decode(&frame) else {
        panic!("no greeting");
    };
    victim.say(&Message::Hello(peer.hello().unwrap()));
    victim.say(&Message::Prove(peer.prove(&theirs, None).unwrap()));
    victim.ends_with(Reason::Identity);

    let mut victim = Victim::unmet();
    victim.say(&Message::Hello(peer.hello().unwrap()));
    let theirs = handshake_of_victim(&victim);
    let mut prove = peer.prove(&theirs, None).unwrap();
    prove.only = Some(vec![JOB]);
    victim.say(&Message::Prove(prove));
    victim.ends_with(Reason::Identity);
}

fn handshake_of_victim(victim: &Victim) -> Hello {
    let config = victim.replica.device().config(false, 5);
    let hello = Handshake::new(
        config.certificate,
        config.key,
        config.office,
        config.nonce,
        false,
        false,
    );
    hello.unwrap().hello().unwrap()
}

#[test]
fn both_sides_cannot_have_begun() {
    let mut victim = Victim::unmet();
    let device = Office::new(1).device(2).unwrap();
    let (signed, key) = (device.certificate.clone(), device.key.clone());
    let peer = Handshake::new(signed, key, device.office, [3; 32], false, false).unwrap();
    victim.say(&Message::Hello(peer.hello().unwrap()));
    victim.ends_with(Reason::Protocol);
}

#[test]
fn frames_out_of_place_are_refused() {
    let nothing = || TableOf {
        job: JOB,
        held: Vec::new(),
    };
    let files = Files {
        job: JOB,
        pieces: vec![Piece {
            kind: BlobKind::Original,
            hash: PhotoHash::of(b"x"),
            size: 1,
            offset: 0,
            bytes: ByteBuf::from(vec![1]),
        }],
    };
    let digests = || {
        Message::Digests(Digests {
            cut: false,
            jobs: Vec::new(),
        })
    };
    let mut victim = Victim::unmet();
    victim.say(&digests());
    victim.ends_with(Reason::Protocol);
    for message in [
        batch(pack_batch(vec![row(1, "early")], Vec::new()).unwrap()),
        Message::Table(nothing()),
        Message::Ack(nothing()),
        Message::Declined(Declined { job: JOB }),
        Message::Files(files.clone()),
        Message::Kept(Kept { pieces: Vec::new() }),
        Message::Seal(Seal {
            last: true,
            signature: ByteArray::new([0; 64]),
        }),
        Message::Hello(handshake(&two().0).hello().unwrap()),
        Message::Holds(Lacks {
            kind: BlobKind::Original,
            files: vec![PhotoHash::of(b"x")],
        }),
    ] {
        let mut victim = Victim::met();
        victim.say(&message);
        victim.ends_with(Reason::Protocol);
    }
    let mut victim = Victim::met();
    victim.say(&digests());
    victim.say(&digests());
    victim.ends_with(Reason::Protocol);
    let mut victim = Victim::compared();
    victim.say(&Message::Table(nothing()));
    victim.ends_with(Reason::Protocol);
    let mut victim = Victim::compared();
    victim.say(&Message::Files(files));
    victim.ends_with(Reason::Protocol);
    // The first acknowledgement was due; it must say at least what was sent.
    let mut victim = Victim::compared();
    victim.say(&Message::Ack(nothing()));
    victim.ends_with(Reason::Protocol);
}

#[test]
fn changes_that_nobody_vouches_for_are_refused() {
    let (device, author) = two();
    let chunk = change_chunk(author, 1, &[], "unsigned");
    let hash = ChunkHead::read(&chunk).unwrap().hash;
    let good = ByteArray::new(sign_change(&device.key, &hash));
    let stranger = Office::new(1).device(3).unwrap();
    let wrong = ByteArray::new(sign_change(&stranger.key, &hash));
    let other = ByteArray::new(sign_change(&device.key, &[1; 32]));
    for signatures in [Vec::new(), vec![(0, wrong)], vec![(0, other)]] {
        let mut victim = Victim::compared();
        victim.say(&raw_batch(vec![chunk.clone()], signatures));
        victim.ends_with(Reason::Unsigned);
    }
    // The last of two is not signed.
    let next = change_chunk(author, 2, &[hash], "unsigned too");
    let mut victim = Victim::compared();
    victim.say(&raw_batch(vec![chunk.clone(), next], vec![(0, good)]));
    victim.ends_with(Reason::Unsigned);
    for signatures in [vec![(1, good)], vec![(0, good), (0, good)]] {
        let mut victim = Victim::compared();
        victim.say(&raw_batch(vec![chunk.clone()], signatures));
        victim.ends_with(Reason::Malformed);
    }
}

#[test]
fn changes_that_are_not_what_they_claim_are_refused() {
    let (device, author) = two();
    let chunk = change_chunk(author, 1, &[], "words");
    let hash = ChunkHead::read(&chunk).unwrap().hash;
    let signature = || vec![(0, ByteArray::new(sign_change(&device.key, &hash)))];
    // The words of one change under the checksum of another.
    let mut altered = chunk.clone();
    let at = altered.len() - 4;
    altered[at] ^= 1;
    // A deflated chunk, and the first change of a job under a made-up number.
    let mut deflated = chunk.clone();
    deflated[8] = 2;
    let genesis = change_chunk(Author::GENESIS, 1, &[], "");
    for bad in [
        altered,
        deflated,
        genesis,
        chunk[..20].to_vec(),
        Vec::new(),
        [chunk.clone(), vec![0]].concat(),
    ] {
        let mut victim = Victim::compared();
        victim.say(&raw_batch(vec![bad], signature()));
        victim.ends_with(Reason::Malformed);
    }
    let mut victim = Victim::compared();
    victim.say(&raw_batch(Vec::new(), Vec::new()));
    victim.ends_with(Reason::Malformed);
    let mut victim = Victim::compared();
    victim.say(&batch(b"not compressed".to_vec()));
    victim.ends_with(Reason::Malformed);
    let sound = pack_batch(vec![row(1, "theirs")], Vec::new()).unwrap();
    let mut victim = Victim::compared();
    victim.say(&batch([sound, vec![0]].concat()));
    victim.ends_with(Reason::Malformed);
    // Numbers with a hole.
    let mut victim = Victim::compared();
    victim.say(&batch(
        pack_batch(vec![row(2, "second")], Vec::new()).unwrap(),
    ));
    victim.ends_with(Reason::Gap);
    let mut victim = Victim::compared();
    victim.say(&batch(
        pack_batch(vec![row(1, "first"), row(3, "third")], Vec::new()).unwrap(),
    ));
    victim.ends_with(Reason::Gap);
}

#[test]
fn absurd_tables_are_refused() {
    let (_, author) = two();
    let later = Author {
        nonce: [9; 8],
        ..author
    };
    for (lines, reason) in [
        (vec![held(author, 0)], Reason::Malformed),
        (vec![held(author, u64::MAX)], Reason::Limit),
        (
            vec![held(author, u64::MAX / 2), held(later, u64::MAX / 2 + 9)],
            Reason::Limit,
        ),
        (vec![held(later, 1), held(author, 1)], Reason::Malformed),
        (vec![held(author, 1), held(author, 1)], Reason::Malformed),
        (vec![held(Author::GENESIS, 1)], Reason::Malformed),
    ] {
        let mut victim = Victim::met();
        victim.say(&Message::Digests(Digests {
            cut: false,
            jobs: Vec::new(),
        }));
        victim.say(&Message::Table(TableOf {
            job: JOB,
            held: lines,
        }));
        victim.ends_with(reason);
    }
    let digest = ByteArray::new([0; 16]);
    let mut victim = Victim::met();
    victim.say(&Message::Digests(Digests {
        cut: false,
        jobs: vec![(JOB, digest), (JOB, digest)],
    }));
    victim.ends_with(Reason::Malformed);
}

#[test]
fn unknown_types_are_refused_or_passed_over_by_their_number() {
    let frame = |number: u64, code: u8| {
        let mut body = pack(&number).unwrap();
        body.extend(pack(&code).unwrap());
        body.extend(pack(&("from", "a later version")).unwrap());
        seal_frame(&body)
    };
    let mut victim = Victim::met();
    for code in [64, 127, 200, 255] {
        victim
            .session
            .receive(&mut victim.replica, &frame(victim.number, code), 0);
        victim.number += 1;
    }
    assert_eq!(victim.reason(), None);
    victim
        .session
        .receive(&mut victim.replica, &frame(victim.number, 63), 0);
    victim.ends_with(Reason::Protocol);
    let mut victim = Victim::met();
    let mut other = Message::Ping.encode(victim.number).unwrap();
    other[0] = 2;
    victim.session.receive(&mut victim.replica, &other, 0);
    victim.ends_with(Reason::Version);
}

#[test]
fn frames_lost_repeated_swapped_or_damaged_end_the_session() {
    use crate::sync::testing::Fault;
    for fault in [Fault::Lose, Fault::Repeat, Fault::Swap, Fault::Flip(77)] {
        let mut net = net(2);
        for n in 0..3 {
            assert!(net.record(0, JOB, &format!("{n}")));
            assert!(net.record(0, JobId::from_bytes([n; 16]), "another job"));
        }
        let link = net.connect(0, 1, false).unwrap();
        for _ in 0..6 {
            net.poll(link, 0);
            net.poll(link, 1);
            while net.deliver(link, 1) {}
            if net.links[link].wires[0].len() > 1 {
                break;
            }
            while net.deliver(link, 0) {}
        }
        assert!(net.links[link].wires[0].len() > 1);
        assert!(net.links[link].fault(0, fault));
        assert!(net.run(1000));
        let reason = super::ended(&net.links[link], 1);
        assert_eq!(reason, Some(Reason::Damaged), "{fault:?}");
        assert_eq!(
            super::ended(&net.links[link], 0),
            Some(Reason::Damaged),
            "{fault:?}"
        );
    }
}

#[test]
fn words_of_a_farewell_are_cleaned_before_a_shell_shows_them() {
    let mut victim = Victim::met();
    let words = format!("{}\u{7}\u{1b}[31m", "é".repeat(400));
    victim.say(&Message::Bye(Bye {
        code: 99,
        words,
        fork: None,
    }));
    let mut endings = Vec::new();
    while let Some(event) = victim.session.poll_event() {
        if let Event::Ended(ending) = event {
            endings.push(ending);
        }
    }
    let [ending] = endings.as_slice() else {
        panic!("{endings:?}")
    };
    assert!(ending.by_peer);
    assert_eq!(ending.reason, Reason::Other(99));
    assert_eq!(ending.words, "é".repeat(256));
    assert!(victim.session.poll_outgoing(&mut victim.replica).is_none());
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_bytes_bring_a_reader_down(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let _ = Message::decode(&bytes);
        let _ = Message::decode(&seal_frame(&bytes));
        let _ = unpack_batch(&bytes);
        let _ = unpack_batch(&zstd::bulk::compress(&bytes, 1).unwrap());
        let _ = ChunkHead::read(&bytes);
        let mut reader = FrameReader::new();
        reader.push(&bytes);
        while let Ok(Some(_)) = reader.pop() {}
    }

    /// A frame of each type with a true checksum and random content after a true beginning.
    #[test]
    fn no_content_brings_a_session_down(code in 0..20u8, content in prop::collection::vec(any::<u8>(), 0..60)) {
        let mut victim = Victim::compared();
        let mut body = pack(&victim.number).unwrap();
        body.push(code);
        body.extend(&content);
        let frame = seal_frame(&body);
        victim.session.receive(&mut victim.replica, &frame, 0);
        while victim.session.poll_outgoing(&mut victim.replica).is_some() {}
        prop_assert!(victim.replica.same_content(&victim.before));
        match Message::decode(&frame) {
            Err(FrameError::Unreadable(_)) => prop_assert_eq!(victim.reason(), Some(Reason::Protocol)),
            Err(error) => prop_assert!(false, "{}", error),
            Ok(_) => {}
        }
    }

    #[test]
    fn one_altered_bit_in_a_batch_changes_nothing_here(at in any::<usize>()) {
        let mut victim = Victim::compared();
        let mut bytes = pack_batch(vec![row(1, "theirs")], Vec::new()).unwrap();
        let at = at % (bytes.len() * 8);
        bytes[at / 8] ^= 1 << (at % 8);
        victim.say(&batch(bytes));
        // Some bits of the compression do not alter what it holds.
        let changes = victim.replica.changes(JOB);
        let theirs = changes.get(&(two().1, 1));
        prop_assert!(theirs.is_none_or(|bytes| *bytes == row(1, "theirs").bytes));
        prop_assert_eq!(changes.len(), 1 + usize::from(theirs.is_some()));
        prop_assert_eq!(theirs.is_none(), victim.session.has_ended());
    }
}

//! A session under attack: a peer whose frames a test makes up.

use serde_bytes::{ByteArray, ByteBuf};

use super::JOB;
use crate::document::{Author, ChangeRow, sign_change};
use crate::sync::event::{Event, Reason};
use crate::sync::handshake::Handshake;
use crate::sync::message::*;
use crate::sync::testing::{MemoryReplica, Office, TestDevice, change_chunk};
use crate::sync::{ChunkHead, Session};

/// A session of device 1 against a peer whose frames a test makes up.
pub(super) struct Victim {
    pub(super) replica: MemoryReplica,
    pub(super) session: Session,
    pub(super) number: u64,
    pub(super) before: MemoryReplica,
}

impl Victim {
    pub(super) fn unmet() -> Self {
        let mut replica = MemoryReplica::new(Office::new(1).device(1).unwrap(), 1);
        replica.record(JOB, "mine").unwrap();
        let session = Session::new(replica.device().config(false, 5), 0).unwrap();
        Self {
            before: replica.clone(),
            replica,
            session,
            number: 0,
        }
    }

    /// A session that believes device 2 to be there.
    pub(super) fn met() -> Self {
        let mut victim = Self::unmet();
        victim.greet(&Office::new(1).device(2).unwrap());
        assert_eq!(victim.reason(), None);
        assert!(victim.session.peer().is_some());
        victim
    }

    /// A session that has seen the digests and the empty table of device 2.
    pub(super) fn compared() -> Self {
        let mut victim = Self::met();
        victim.say(&Message::Digests(Digests {
            cut: false,
            jobs: Vec::new(),
        }));
        victim.say(&Message::Table(TableOf {
            job: JOB,
            held: Vec::new(),
        }));
        victim
    }

    pub(super) fn greet(&mut self, device: &TestDevice) {
        let peer = handshake(device);
        let mut theirs = None;
        while let Some(frame) = self.session.poll_outgoing(&mut self.replica) {
            if let Ok((_, Message::Hello(hello))) = Message::decode(&frame) {
                theirs = Some(hello);
            }
        }
        self.say(&Message::Hello(peer.hello().unwrap()));
        if self.session.has_ended() {
            return;
        }
        if let Some(theirs) = theirs {
            self.say(&Message::Prove(peer.prove(&theirs, None).unwrap()));
        }
    }

    pub(super) fn say(&mut self, message: &Message) {
        let frame = message.encode(self.number).unwrap();
        self.number += 1;
        self.session.receive(&mut self.replica, &frame, 0);
        if !self.session.has_ended() {
            while self.session.poll_outgoing(&mut self.replica).is_some() {}
        }
    }

    /// Why the session ended. The peer is told the same as the last thing.
    pub(super) fn reason(&mut self) -> Option<Reason> {
        let mut reason = None;
        while let Some(event) = self.session.poll_event() {
            if let Event::Ended(ending) = event {
                reason = Some(ending.reason);
            }
        }
        reason
    }

    #[track_caller]
    pub(super) fn ends_with(mut self, reason: Reason) {
        assert_eq!(self.reason(), Some(reason));
        assert!(self.session.has_ended());
        let mut last = None;
        while let Some(frame) = self.session.poll_outgoing(&mut self.replica) {
            last = Some(Message::decode(&frame).unwrap().1);
        }
        match last {
            Some(Message::Bye(bye)) => assert_eq!(Reason::from_code(bye.code), reason),
            other => panic!("the last word was {other:?}"),
        }
        assert!(self.replica.same_content(&self.before));
    }
}

pub(super) fn handshake(device: &TestDevice) -> Handshake {
    let (signed, key) = (device.certificate.clone(), device.key.clone());
    Handshake::new(signed, key, device.office, [3; 32], true, false).unwrap()
}

pub(super) fn two() -> (TestDevice, Author) {
    let device = Office::new(1).device(2).unwrap();
    let author = Author {
        device: device.id,
        nonce: [2; 8],
    };
    (device, author)
}

pub(super) fn row(number: u64, words: &str) -> ChangeRow {
    let (device, author) = two();
    let mut row = ChunkHead::row(change_chunk(author, number, &[], words), None).unwrap();
    row.signature = Some(sign_change(&device.key, &row.hash));
    row
}

pub(super) fn batch(bytes: Vec<u8>) -> Message {
    Message::Batch(BatchPart {
        job: JOB,
        more: false,
        bytes: ByteBuf::from(bytes),
    })
}

pub(super) fn raw_batch(chunks: Vec<Vec<u8>>, signatures: Vec<(u32, ByteArray<64>)>) -> Message {
    let chunks: Vec<ByteBuf> = chunks.into_iter().map(ByteBuf::from).collect();
    let certificates: Vec<(ByteBuf, ByteArray<64>)> = Vec::new();
    let body = pack(&(chunks, signatures, certificates)).unwrap();
    batch(zstd::bulk::compress(&body, 3).unwrap())
}

pub(super) fn held(author: Author, number: u64) -> WireHeld {
    (
        ByteArray::new(author.to_bytes()),
        number,
        ByteArray::new([1; 8]),
    )
}

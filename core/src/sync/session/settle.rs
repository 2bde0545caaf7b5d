//! The flow of an open session: what comes first, and when all is exchanged.

use std::collections::BTreeSet;

use super::changes::{Compared, Took};
use super::doubt::Doubt;
use super::{Peer, Phase, Session, out_of_place};
use crate::job::{BlobKind, JobId};
use crate::sync::Replica;
use crate::sync::event::{Ending, Event, Reason};
use crate::sync::message::{Done, Files, Kept, Lacks, Message};

/// Who has said that nothing is left, and whether that still stands.
///
/// Tables, batches, pieces of files, doubts and their answers are *weighty*: each may give its receiver something to do.
/// So a side that says it is done says how many it has seen, and a word that has not seen all
/// counts for nothing.
#[derive(Default)]
pub(super) struct Settle {
    weighty_sent: u64,
    weighty_seen: u64,
    /// All changes that the peer had at the start are here.
    peer_sent: bool,
    said_sent: bool,
    /// This side has said that it is done, having seen so many.
    said_done: Option<u64>,
    /// The peer has said that it is done, having seen so many.
    peer_done: Option<u64>,
    told: bool,
}

impl Settle {
    pub(super) fn is_settled(&self) -> bool {
        self.said_done == Some(self.weighty_seen) && self.peer_done == Some(self.weighty_sent)
    }

    fn sent_weighty(&mut self) {
        self.weighty_sent += 1;
        self.said_done = None;
        self.told = false;
    }

    fn saw_weighty(&mut self) {
        self.weighty_seen += 1;
        self.peer_done = None;
        self.told = false;
    }
}

impl Session {
    pub(super) fn open(
        &mut self,
        replica: &mut dyn Replica,
        peer: Peer,
        only: Option<BTreeSet<JobId>>,
    ) -> Result<(), Ending> {
        let (digests, count) = self.changes.open(replica, &peer.certificate, only)?;
        if count > 0 {
            self.events.push_back(Event::JobsLeftOut { count });
        }
        self.control.push_back(Message::Digests(digests));
        self.phase = Phase::Open(Box::new(peer));
        Ok(())
    }

    pub(super) fn take_open(
        &mut self,
        replica: &mut dyn Replica,
        message: Message,
    ) -> Result<(), Ending> {
        let Phase::Open(peer) = &self.phase else {
            return Err(out_of_place());
        };
        let who = &peer.certificate;
        match message {
            Message::Digests(digests) => {
                let compared = self.changes.on_digests(replica, who, &digests)?;
                if compared.equal {
                    self.settle.peer_sent = true;
                    self.settle.said_sent = true;
                }
                self.compared(compared);
            }
            Message::Table(table) => {
                self.settle.saw_weighty();
                let compared = self.changes.on_table(replica, who, &table)?;
                self.compared(compared);
            }
            Message::Declined(declined) => {
                if !self.changes.on_declined(declined.job) {
                    return Err(out_of_place());
                }
                self.events.push_back(Event::Declined {
                    job: declined.job,
                    by_peer: true,
                });
            }
            Message::Batch(part) => {
                self.settle.saw_weighty();
                if let Some(took) = self.changes.on_batch(replica, who, &peer.signed, part)? {
                    self.took(took);
                }
            }
            Message::Ack(ack) => {
                let (job, changes) = self.changes.on_ack(replica, who, &ack)?;
                self.progress.changes_kept_by_peer += changes as u64;
                self.events.push_back(Event::PeerKept { job, changes });
            }
            Message::Done(done) => {
                self.settle.peer_sent = true;
                self.settle.peer_done = done.settled.then_some(done.seen);
            }
            Message::Want(want) => {
                self.settle.peer_done = None;
                self.settle.told = false;
                let lacks = self
                    .give
                    .on_want(replica, &want, self.changes.is_open(want.job))?;
                self.control.extend(lacks.map(Message::Lacks));
            }
            Message::Lacks(lacks) => {
                self.pull.on_lacks(&lacks)?;
                self.count_due();
            }
            Message::Files(files) => {
                self.settle.saw_weighty();
                self.take_files(replica, &files)?;
            }
            Message::Kept(kept) => {
                let peer = who.device;
                self.note_kept(replica, peer, &kept)?;
            }
            Message::Doubt(asked) => {
                self.settle.saw_weighty();
                let holds = Doubt::answer(replica, &asked)?;
                self.settle.sent_weighty();
                self.control.push_back(Message::Holds(holds));
            }
            Message::Holds(holds) => {
                self.settle.saw_weighty();
                let peer = who.device;
                self.doubt.on_answer(&holds)?;
                for hash in &holds.files {
                    replica.note_peer_holds_blob(peer, holds.kind, *hash)?;
                    self.events.push_back(Event::PeerKeptFile {
                        kind: holds.kind,
                        hash: *hash,
                    });
                }
            }
            _ => return Err(out_of_place()),
        }
        self.tell_settled();
        Ok(())
    }

    fn compared(&mut self, compared: Compared) {
        for frame in compared.frames {
            if matches!(frame, Message::Table(_)) {
                self.settle.sent_weighty();
            }
            self.control.push_back(frame);
        }
        for job in compared.opened {
            self.pull.refresh(job);
        }
        for job in compared.declined {
            self.events.push_back(Event::Declined {
                job,
                by_peer: false,
            });
        }
    }

    fn took(&mut self, took: Took) {
        let Took {
            ack,
            job,
            authors,
            new_changes,
        } = took;
        self.control.push_back(ack);
        self.progress.changes_taken += new_changes as u64;
        if new_changes > 0 {
            self.pull.refresh(job);
        }
        self.events.push_back(Event::Took {
            job,
            authors,
            new_changes,
        });
    }

    fn take_files(&mut self, replica: &mut dyn Replica, files: &Files) -> Result<(), Ending> {
        let (kept, taken) = self.pull.on_files(replica, files)?;
        self.control.push_back(Message::Kept(kept));
        for file in taken {
            let (kind, hash) = (file.kind, file.hash);
            if file.whole {
                match kind {
                    BlobKind::Thumbnail => self.progress.thumbnails_taken += 1,
                    BlobKind::Original => self.progress.originals_taken += 1,
                }
                self.events.push_back(Event::TookFile {
                    job: files.job,
                    kind,
                    hash,
                });
            } else {
                self.events.push_back(Event::FileRefused {
                    kind,
                    hash,
                    by_peer: false,
                });
            }
        }
        self.count_due();
        Ok(())
    }

    fn note_kept(
        &mut self,
        replica: &mut dyn Replica,
        peer: crate::job::DeviceId,
        kept: &Kept,
    ) -> Result<(), Ending> {
        let given = self.give.on_kept(kept)?;
        for (kind, hash) in given.whole {
            replica.note_peer_holds_blob(peer, kind, hash)?;
            match kind {
                BlobKind::Thumbnail => self.progress.thumbnails_sent += 1,
                BlobKind::Original => self.progress.originals_sent += 1,
            }
            self.events.push_back(Event::PeerKeptFile { kind, hash });
        }
        for (kind, hash) in given.refused {
            self.events.push_back(Event::FileRefused {
                kind,
                hash,
                by_peer: true,
            });
        }
        Ok(())
    }

    fn count_due(&mut self) {
        self.progress.thumbnails_due = self.pull.due(BlobKind::Thumbnail);
        self.progress.originals_due = self.pull.due(BlobKind::Original);
    }

    /// The next thing to say: answers, then changes, then wishes, then files, then that all is done.
    pub(super) fn next_message(
        &mut self,
        replica: &mut dyn Replica,
    ) -> Result<Option<Message>, Ending> {
        if let Some(message) = self.control.pop_front() {
            return Ok(Some(message));
        }
        let Phase::Open(peer) = &self.phase else {
            return Ok(None);
        };
        if let Some(message) = self.changes.offer_news(replica, &peer.certificate)? {
            self.settle.sent_weighty();
            return Ok(Some(message));
        }
        let (me, them) = (self.handshake.me().device, peer.certificate.device);
        if let Some((part, changes)) = self.changes.next_part(replica, me, them)? {
            self.progress.changes_sent += changes as u64;
            self.settle.sent_weighty();
            return Ok(Some(Message::Batch(part)));
        }
        if self.settle.peer_sent
            && let Some(want) = self
                .pull
                .next_want(replica, |job| self.changes.is_open(job))?
        {
            self.settle.said_done = None;
            self.settle.told = false;
            self.count_due();
            return Ok(Some(Message::Want(want)));
        }
        let seen = self.settle.weighty_seen;
        let all_sent = self.changes.all_sent();
        let done = all_sent && self.settle.peer_sent && self.pull.is_idle();
        if all_sent && !(done && self.give.is_idle()) && !self.settle.said_sent {
            self.settle.said_sent = true;
            return Ok(Some(Message::Done(Done {
                settled: false,
                seen,
            })));
        }
        let (files, unreadable) = self.give.next_files(replica)?;
        for (kind, hash) in unreadable {
            self.control.push_back(Message::Lacks(Lacks {
                kind,
                files: vec![hash],
            }));
            self.events.push_back(Event::FileUnreadable { kind, hash });
        }
        if let Some(files) = files {
            self.settle.sent_weighty();
            return Ok(Some(Message::Files(files)));
        }
        if let Some(message) = self.control.pop_front() {
            return Ok(Some(message));
        }
        if done && self.give.is_idle() && !self.doubt.is_idle() {
            let jobs = self.changes.open_jobs();
            if let Some(page) = self.doubt.next_page(replica, them, &jobs)? {
                self.settle.sent_weighty();
                return Ok(Some(Message::Doubt(page)));
            }
            if !self.doubt.is_idle() {
                return Ok(None);
            }
        }
        if done && self.give.is_idle() && self.settle.said_done != Some(seen) {
            self.settle.said_sent = true;
            self.settle.said_done = Some(seen);
            return Ok(Some(Message::Done(Done {
                settled: true,
                seen,
            })));
        }
        self.tell_settled();
        Ok(self.control.pop_front())
    }

    fn tell_settled(&mut self) {
        let Phase::Open(peer) = &self.phase else {
            return;
        };
        let stay = self.config.live && peer.live;
        if self.settle.told || !self.settle.is_settled() {
            return;
        }
        self.settle.told = true;
        self.events.push_back(Event::Settled);
        if !stay {
            self.end(Ending::new(Reason::Finished, ""));
        }
    }
}

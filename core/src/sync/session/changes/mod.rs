//! Changes: compare by author and number. What is lacking goes and comes in [`batches`].

mod batches;

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use serde_bytes::ByteArray;

use super::out_of_place;
use crate::document::{Author, Refusal, Table};
use crate::job::{Certificate, DeviceId, JobId};
use crate::limits;
use crate::sorted::Keyed;
use crate::sync::Replica;
use crate::sync::event::Ending;
use crate::sync::message::{BatchPart, Declined, Digests, Message, TableOf};
use crate::sync::table::{from_wire, raise, table_digest, to_wire};

/// What both sides know of each other's changes.
pub(super) struct Changes {
    scope: Option<BTreeSet<JobId>>,
    peer_scope: Option<BTreeSet<JobId>>,
    said: Option<Said>,
    compared: bool,
    jobs: BTreeMap<JobId, State>,
    /// Jobs whose table the peer still owes.
    awaiting: BTreeSet<JobId>,
    /// Jobs in which the peer may lack something.
    dirty: BTreeSet<JobId>,
    /// Jobs with news that the session does not know yet.
    news: BTreeSet<JobId>,
    certificates_sent: BTreeSet<DeviceId>,
    parts: VecDeque<BatchPart>,
    in_flight: VecDeque<Sent>,
    partial: Option<(JobId, Vec<u8>)>,
}

/// The digests that this side has sent, and the tables behind them.
struct Said {
    cut: bool,
    tables: BTreeMap<JobId, Table>,
}

struct Sent {
    job: JobId,
    changes: usize,
    bytes: usize,
    reach: Table,
}

#[derive(Default)]
struct State {
    /// What the peer is known to hold or to be about to: its table, what it sent, what was sent.
    view: Option<Table>,
    table_sent: bool,
    declined: bool,
}

/// What a batch brought.
pub(super) struct Took {
    pub(super) ack: Message,
    pub(super) job: JobId,
    pub(super) authors: Vec<Author>,
    pub(super) new_changes: usize,
}

/// What came of comparing: frames to send, jobs that now can be spoken of, jobs left out.
#[derive(Default)]
pub(super) struct Compared {
    pub(super) frames: Vec<Message>,
    pub(super) opened: Vec<JobId>,
    pub(super) declined: Vec<JobId>,
    /// No table follows: both sides hold the same.
    pub(super) equal: bool,
}

impl Changes {
    pub(super) fn new(scope: Option<BTreeSet<JobId>>) -> Self {
        Self {
            scope,
            peer_scope: None,
            said: None,
            compared: false,
            jobs: BTreeMap::new(),
            awaiting: BTreeSet::new(),
            dirty: BTreeSet::new(),
            news: BTreeSet::new(),
            certificates_sent: BTreeSet::new(),
            parts: VecDeque::new(),
            in_flight: VecDeque::new(),
            partial: None,
        }
    }

    /// The digests of the jobs that both sides want to speak of, and how many were left out.
    pub(super) fn open(
        &mut self,
        replica: &mut dyn Replica,
        peer: &Certificate,
        only: Option<BTreeSet<JobId>>,
    ) -> Result<(Digests, usize), Refusal> {
        self.peer_scope = only;
        let listed: BTreeSet<JobId> = replica.jobs(peer)?.into_iter().keyed();
        let mut listed: Vec<JobId> = listed
            .into_iter()
            .filter(|job| self.in_scope(*job))
            .collect();
        let left_out = listed.len().saturating_sub(limits::SESSION_JOBS);
        listed.drain(..left_out);
        let mut tables = BTreeMap::new();
        for job in listed {
            tables.insert(job, replica.table(job)?);
        }
        let jobs = tables
            .iter()
            .map(|(job, table)| (*job, ByteArray::new(table_digest(table))))
            .collect();
        let cut = left_out > 0;
        self.said = Some(Said { cut, tables });
        Ok((Digests { cut, jobs }, left_out))
    }

    fn in_scope(&self, job: JobId) -> bool {
        let within =
            |scope: &Option<BTreeSet<JobId>>| scope.as_ref().is_none_or(|s| s.contains(&job));
        within(&self.scope) && within(&self.peer_scope)
    }

    pub(super) fn on_digests(
        &mut self,
        replica: &mut dyn Replica,
        peer: &Certificate,
        digests: &Digests,
    ) -> Result<Compared, Ending> {
        if digests.jobs.len() > limits::SESSION_JOBS {
            return Err(Refusal::Limit("a session takes fewer jobs".into()).into());
        }
        if !digests.jobs.is_sorted_by(|a, b| a.0 < b.0) {
            return Err(Refusal::Malformed("jobs are out of order".into()).into());
        }
        let said = self.said.take().ok_or_else(out_of_place)?;
        self.compared = true;
        let nothing = table_digest(&Table::new());
        let theirs: BTreeMap<JobId, [u8; 16]> = digests
            .jobs
            .iter()
            .map(|(job, digest)| (*job, digest.into_array()))
            .keyed();
        let union: BTreeSet<JobId> = said.tables.keys().chain(theirs.keys()).copied().keyed();
        let mut out = Compared {
            equal: true,
            ..Compared::default()
        };
        for job in union {
            let known_to_both = (!said.cut || said.tables.contains_key(&job))
                && (!digests.cut || theirs.contains_key(&job));
            if !self.in_scope(job) || !known_to_both {
                continue;
            }
            let mine = said.tables.get(&job);
            let my_digest = mine.map_or(nothing, table_digest);
            if my_digest == theirs.get(&job).copied().unwrap_or(nothing) {
                let table = mine.cloned().unwrap_or_default();
                replica.note_peer_holds(peer.device, job, &table)?;
                // News since the digest was made is found by asking once more.
                let view = Some(table);
                self.jobs.insert(
                    job,
                    State {
                        view,
                        ..State::default()
                    },
                );
                self.dirty.insert(job);
                out.opened.push(job);
            } else {
                out.equal = false;
                self.offer(replica, peer, job, &mut out)?;
            }
        }
        for job in std::mem::take(&mut self.news) {
            self.wake(job);
        }
        Ok(out)
    }

    /// Sends this side's table of a job, or a word that it is left out.
    fn offer(
        &mut self,
        replica: &mut dyn Replica,
        peer: &Certificate,
        job: JobId,
        out: &mut Compared,
    ) -> Result<(), Ending> {
        let permitted = replica.may_exchange(peer, job)?;
        let state = self.jobs.entry(job).or_default();
        if permitted {
            state.table_sent = true;
            self.awaiting.insert(job);
            let held = to_wire(&replica.table(job)?);
            out.frames.push(Message::Table(TableOf { job, held }));
        } else {
            state.declined = true;
            out.frames.push(Message::Declined(Declined { job }));
            out.declined.push(job);
        }
        Ok(())
    }

    pub(super) fn on_table(
        &mut self,
        replica: &mut dyn Replica,
        peer: &Certificate,
        table: &TableOf,
    ) -> Result<Compared, Ending> {
        let job = table.job;
        let theirs = from_wire(&table.held)?;
        if !self.compared || !self.in_scope(job) {
            return Err(out_of_place());
        }
        let mut out = Compared::default();
        if !self.jobs.contains_key(&job) {
            if self.jobs.len() >= limits::SESSION_JOBS {
                return Err(Refusal::Limit("a session takes fewer jobs".into()).into());
            }
            self.offer(replica, peer, job, &mut out)?;
        }
        let state = self.jobs.entry(job).or_default();
        if state.declined {
            return Ok(out);
        }
        if state.view.is_some() || !state.table_sent {
            return Err(out_of_place());
        }
        raise(&mut replica.table(job)?, &theirs)?;
        replica.note_peer_holds(peer.device, job, &theirs)?;
        state.view = Some(theirs);
        self.awaiting.remove(&job);
        self.dirty.insert(job);
        out.opened.push(job);
        Ok(out)
    }

    /// The peer leaves a job out. `false` where it had no say in it.
    pub(super) fn on_declined(&mut self, job: JobId) -> bool {
        match self.jobs.get_mut(&job) {
            Some(state) if state.table_sent && state.view.is_none() && !state.declined => {
                state.declined = true;
                self.awaiting.remove(&job);
                true
            }
            Some(state) => state.declined,
            None => false,
        }
    }

    pub(super) fn wake(&mut self, job: JobId) {
        if !self.compared {
            self.news.insert(job);
        } else if self.jobs.contains_key(&job) {
            self.dirty.insert(job);
        } else if self.in_scope(job) {
            self.news.insert(job);
        }
    }

    /// Offers jobs that came to be while the session was open.
    pub(super) fn offer_news(
        &mut self,
        replica: &mut dyn Replica,
        peer: &Certificate,
    ) -> Result<Option<Message>, Ending> {
        while self.compared
            && let Some(job) = self.news.pop_first()
        {
            if self.jobs.contains_key(&job) {
                self.dirty.insert(job);
                continue;
            }
            if self.jobs.len() >= limits::SESSION_JOBS
                || !replica.jobs(peer)?.contains(&job)
                || !replica.may_exchange(peer, job)?
            {
                continue;
            }
            let mut out = Compared::default();
            self.offer(replica, peer, job, &mut out)?;
            return Ok(out.frames.pop());
        }
        Ok(None)
    }

    /// The jobs that are exchanged in this session.
    pub(super) fn open_jobs(&self) -> Vec<JobId> {
        self.jobs
            .keys()
            .copied()
            .filter(|job| self.is_open(*job))
            .collect()
    }

    /// Whether a job is exchanged in this session.
    pub(super) fn is_open(&self, job: JobId) -> bool {
        self.jobs
            .get(&job)
            .is_some_and(|state| state.view.is_some() && !state.declined)
    }

    /// Whether everything that the peer is known to lack was sent.
    pub(super) fn all_sent(&self) -> bool {
        self.compared
            && self.news.is_empty()
            && self.parts.is_empty()
            && self.awaiting.is_empty()
            && self.dirty.is_empty()
    }
}

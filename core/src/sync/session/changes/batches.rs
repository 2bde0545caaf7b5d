//! Batches of changes: send what the peer lacks, keep what it sends, hear what it keeps.

use std::collections::BTreeSet;

use super::{Changes, Sent, Took};
use crate::document::{Accepted, Author, Held, Refusal};
use crate::job::{Certificate, DeviceId, JobId, SignedCertificate};
use crate::limits;
use crate::sorted::Keyed;
use crate::sync::Replica;
use crate::sync::batch::{cut, pack_batch, parts, unpack_batch};
use crate::sync::event::{Ending, Reason};
use crate::sync::message::{BatchPart, Message, TableOf};
use crate::sync::session::out_of_place;
use crate::sync::table::{advance, from_wire, raise, table_of, to_wire};

impl Changes {
    /// The next frame of changes that the peer lacks, and how many changes it completes.
    pub(in crate::sync::session) fn next_part(
        &mut self,
        replica: &mut dyn Replica,
        me: DeviceId,
        peer: DeviceId,
    ) -> Result<Option<(BatchPart, usize)>, Ending> {
        let ahead: usize = self.in_flight.iter().map(|sent| sent.bytes).sum();
        let room =
            self.in_flight.len() < limits::BATCH_WINDOW && ahead < limits::BATCH_WINDOW_BYTES;
        if self.parts.is_empty() && room {
            self.fill(replica, me, peer)?;
        }
        let Some(part) = self.parts.pop_front() else {
            return Ok(None);
        };
        let changes = if part.more {
            0
        } else {
            self.in_flight.back().map_or(0, |sent| sent.changes)
        };
        Ok(Some((part, changes)))
    }

    fn fill(
        &mut self,
        replica: &mut dyn Replica,
        me: DeviceId,
        peer: DeviceId,
    ) -> Result<(), Ending> {
        while let Some(job) = self.dirty.first().copied() {
            let state = self.jobs.get_mut(&job).filter(|state| !state.declined);
            let Some(view) = state.and_then(|state| state.view.as_mut()) else {
                // Its table will mark it again.
                self.dirty.remove(&job);
                continue;
            };
            let mut rows = replica.lacking(job, view, limits::BATCH_TARGET_BYTES)?;
            if rows.is_empty() {
                self.dirty.remove(&job);
                continue;
            }
            let count = cut(&rows);
            if count == 0 {
                return Err(Refusal::Unsigned("changes here cannot be vouched for".into()).into());
            }
            rows.truncate(count);
            advance(view, &rows)?;
            let authors: BTreeSet<DeviceId> = rows.iter().map(|row| row.author.device).keyed();
            let unknown: Vec<DeviceId> = authors
                .into_iter()
                .filter(|device| {
                    *device != me && *device != peer && self.certificates_sent.insert(*device)
                })
                .collect();
            let certificates = if unknown.is_empty() {
                Vec::new()
            } else {
                replica.certificates(&unknown)?
            };
            let sent = Sent {
                job,
                changes: rows.len(),
                bytes: rows.iter().map(|row| row.bytes.len()).sum(),
                reach: table_of(&rows),
            };
            let bytes = pack_batch(rows, certificates)?;
            self.parts.extend(parts(job, &bytes));
            self.in_flight.push_back(sent);
            return Ok(());
        }
        Ok(())
    }

    pub(in crate::sync::session) fn on_batch(
        &mut self,
        replica: &mut dyn Replica,
        peer: &Certificate,
        signed: &SignedCertificate,
        part: BatchPart,
    ) -> Result<Option<Took>, Ending> {
        let job = part.job;
        let view = self.jobs.get_mut(&job).filter(|state| !state.declined);
        let view = view
            .and_then(|state| state.view.as_mut())
            .ok_or_else(out_of_place)?;
        let (begun, mut bytes) = self.partial.take().unwrap_or((job, Vec::new()));
        if begun != job {
            return Err(out_of_place());
        }
        bytes.extend_from_slice(&part.bytes);
        if bytes.len() > limits::BATCH_BYTES {
            return Err(Refusal::Limit("a batch is too large".into()).into());
        }
        if part.more {
            self.partial = Some((job, bytes));
            return Ok(None);
        }
        let batch = unpack_batch(&bytes)?;
        let reach = table_of(&batch.rows);
        let mut certificates = batch.certificates;
        certificates.push(signed.clone());
        let Accepted { held, new_changes } =
            replica.accept(peer, job, batch.rows, &certificates)?;
        raise(view, &reach)?;
        replica.note_peer_holds(peer.device, job, &reach)?;
        let authors = reach.into_keys().collect();
        let ack = Message::Ack(TableOf {
            job,
            held: to_wire(&held),
        });
        Ok(Some(Took {
            ack,
            job,
            authors,
            new_changes,
        }))
    }

    /// The peer holds a batch durably: its job and how many changes that are.
    pub(in crate::sync::session) fn on_ack(
        &mut self,
        replica: &mut dyn Replica,
        peer: &Certificate,
        ack: &TableOf,
    ) -> Result<(JobId, usize), Ending> {
        let held = from_wire(&ack.held)?;
        let sent = self
            .in_flight
            .pop_front()
            .filter(|sent| sent.job == ack.job);
        let sent = sent.filter(|_| self.parts.is_empty() || !self.in_flight.is_empty());
        let sent = sent.ok_or_else(out_of_place)?;
        let reached = |(author, held_here): (&Author, &Held)| {
            held.get(author)
                .is_some_and(|theirs| theirs.number >= held_here.number)
        };
        if !sent.reach.iter().all(reached) {
            return Err(Ending::new(
                Reason::Protocol,
                "an acknowledgement says less than was sent",
            ));
        }
        if let Some(view) = self
            .jobs
            .get_mut(&sent.job)
            .and_then(|state| state.view.as_mut())
        {
            raise(view, &held)?;
        }
        replica.note_peer_holds(peer.device, sent.job, &held)?;
        Ok((sent.job, sent.changes))
    }
}

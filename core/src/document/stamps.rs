//! Who wrote an operation and when: from the signed changes, not from fields.

use std::collections::BTreeMap;

use automerge::{Automerge, Change, ChangeHash, ObjId};

use super::{Author, Held, Table};
use crate::job::{DeviceId, Millis, Stamp};

/// Times of all changes by author, and how far each author is held.
#[derive(Clone, Debug, Default)]
pub(super) struct Stamps {
    by_author: BTreeMap<Vec<u8>, AuthorChanges>,
    changes: u64,
}

#[derive(Clone, Debug, Default)]
struct AuthorChanges {
    /// Last operation of each change and its time, in order.
    spans: Vec<(u64, Millis)>,
    number: u64,
    hash: [u8; 32],
}

impl Stamps {
    pub(super) fn of(doc: &Automerge) -> Self {
        let mut stamps = Self::default();
        for meta in doc.get_changes_meta(&[]) {
            stamps.push(
                meta.actor.to_bytes(),
                meta.seq,
                meta.max_op,
                meta.timestamp,
                meta.hash,
            );
        }
        stamps
    }

    pub(super) fn add(&mut self, change: &Change) {
        self.push(
            change.actor_id().to_bytes(),
            change.seq(),
            change.max_op(),
            change.timestamp(),
            change.hash(),
        );
    }

    fn push(&mut self, actor: &[u8], number: u64, max_op: u64, time: Millis, hash: ChangeHash) {
        if !self.by_author.contains_key(actor) {
            self.by_author
                .insert(actor.to_vec(), AuthorChanges::default());
        }
        if let Some(changes) = self.by_author.get_mut(actor) {
            changes.spans.push((max_op, time));
            if number > changes.number {
                changes.number = number;
                changes.hash = hash.0;
            }
            self.changes += 1;
        }
    }

    /// The stamp of an object or value.
    pub(super) fn stamp(&self, op: &ObjId) -> Stamp {
        let ObjId::Id(counter, actor, _) = op else {
            return Stamp {
                device: DeviceId::GENESIS,
                at: 0,
            };
        };
        let actor = actor.to_bytes();
        let device = Author::from_bytes(actor).map_or(DeviceId::GENESIS, |author| author.device);
        let at = self.by_author.get(actor).map_or(0, |changes| {
            let i = changes
                .spans
                .partition_point(|(max_op, _)| max_op < counter);
            changes.spans.get(i).map_or(0, |(_, time)| *time)
        });
        Stamp { device, at }
    }

    /// How far each author is held, genesis left out.
    pub(super) fn table(&self) -> Table {
        let mut table = Table::new();
        for (actor, changes) in &self.by_author {
            let Some(author) = Author::from_bytes(actor) else {
                continue;
            };
            if author == Author::GENESIS {
                continue;
            }
            table.insert(
                author,
                Held {
                    number: changes.number,
                    short_hash: short(&changes.hash),
                },
            );
        }
        table
    }

    pub(super) fn number_of(&self, author: Author) -> u64 {
        self.by_author
            .get(author.to_bytes().as_slice())
            .map_or(0, |changes| changes.number)
    }

    pub(super) fn changes(&self) -> u64 {
        self.changes
    }
}

pub(super) fn short(hash: &[u8; 32]) -> [u8; 8] {
    let mut short = [0; 8];
    short.copy_from_slice(&hash[..8]);
    short
}

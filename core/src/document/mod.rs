//! The CRDT: a person's actions in, plain structs out, conflicts shown.
//!
//! One action is one change, signed by the device that made it. Nothing is deleted: a record is
//! struck with a reason. Who did what and when is read from the signed changes themselves.

mod action;
mod apply;
mod gate;
mod genesis;
mod history;
mod hydrate;
mod office;
mod rows;
mod scope_change;
mod shape;
mod stamps;
#[cfg(test)]
mod tests;

use std::panic::{AssertUnwindSafe, catch_unwind};

use automerge::{ActorId, Automerge, Change, LoadOptions, VerificationMode};
use ed25519_dalek::SigningKey;

pub use action::*;
pub use gate::*;
pub use genesis::SCHEMA;
pub use history::*;
pub use office::{OFFICE_KINDS, may_write};
pub use rows::*;

use crate::contain::contained;
use crate::job::{CrewMember, DeviceId, Job, Millis, RecordRef};
use hydrate::Collections;
use stamps::Stamps;

/// A document that cannot be opened.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum DocumentError {
    /// The bytes are not a document, or are damaged.
    #[error("the document cannot be read: {0}")]
    Unreadable(String),
    /// The document does not start from the change that every document starts from.
    #[error("the document does not start as every chalkwalk document does")]
    OtherRoot,
}

/// What one action did.
#[derive(Clone, Debug)]
pub struct Applied {
    /// The change, to be made durable before it is acknowledged.
    pub row: ChangeRow,
    /// The record it touched; `None` for joining.
    pub touched: Option<RecordRef>,
}

/// One job's document with its hydrated structs, kept in step.
#[derive(Clone, Debug)]
pub struct Document {
    doc: Automerge,
    collections: Collections,
    stamps: Stamps,
    job: Job,
    unproven: usize,
}

impl Document {
    /// A document with the genesis change alone.
    pub fn new() -> Result<Self, DocumentError> {
        let doc = genesis::genesis().map_err(unreadable)?;
        Ok(Self::around(doc))
    }

    /// Opens a saved document. The bytes come from this device's own disk, under a checksum of
    /// the journal's; bytes of a peer go through the gate instead.
    pub fn load(saved: &[u8]) -> Result<Self, DocumentError> {
        let options = LoadOptions::new().verification_mode(VerificationMode::DontCheck);
        let loaded = contained(|| Automerge::load_with_options(saved, options).map(Self::around));
        let document = loaded.map_err(|_| contradicts())?.map_err(unreadable)?;
        if document.holds(&genesis::HASH) {
            Ok(document)
        } else {
            Err(DocumentError::OtherRoot)
        }
    }

    /// Adds changes that this device holds already: those of its journal behind a snapshot.
    /// They are applied in one batch, without the gate. After an error the document is of no use.
    pub fn replay(&mut self, rows: &[ChangeRow]) -> Result<(), DocumentError> {
        if rows.is_empty() {
            return Ok(());
        }
        let mut changes = Vec::with_capacity(rows.len());
        for row in rows {
            changes.push(Change::from_bytes(row.bytes.clone()).map_err(unreadable)?);
        }
        let mut doc = std::mem::replace(&mut self.doc, Automerge::new());
        let applied = contained(move || {
            doc.apply_changes(changes)?;
            Ok::<_, automerge::AutomergeError>(Self::around(doc))
        });
        *self = applied.map_err(|_| contradicts())?.map_err(unreadable)?;
        Ok(())
    }

    fn around(doc: Automerge) -> Self {
        let collections = Collections::of(&doc);
        let stamps = Stamps::of(&doc);
        let job = hydrate::hydrate(&doc, &collections, &stamps);
        Self {
            doc,
            collections,
            stamps,
            job,
            unproven: 0,
        }
    }

    /// Reads the whole job anew from the document, as opening it does. For benches.
    #[cfg(feature = "testing")]
    pub fn read_again(&self) -> Job {
        hydrate::hydrate(&self.doc, &self.collections, &self.stamps)
    }

    /// The job as plain structs.
    pub fn job(&self) -> &Job {
        &self.job
    }

    /// The heads: equal on two devices exactly when they hold the same changes.
    pub fn heads(&self) -> Vec<[u8; 32]> {
        self.doc
            .get_heads()
            .into_iter()
            .map(|hash| hash.0)
            .collect()
    }

    /// How far each author is held.
    pub fn table(&self) -> Table {
        self.stamps.table()
    }

    /// Count of all changes, the genesis change included.
    pub fn changes(&self) -> u64 {
        self.stamps.changes()
    }

    /// The whole document as one value, without compression (the journal compresses it with what
    /// it stores beside it).
    pub fn save(&self) -> Vec<u8> {
        self.doc.save_nocompress()
    }

    /// The whole document as other readers of the format expect it.
    pub fn export(&self) -> Vec<u8> {
        self.doc.save()
    }

    /// Whether the document shows this device's person.
    pub fn has_member(&self, device: DeviceId) -> bool {
        self.job.crew.contains_key(&device)
    }

    /// Says who records with a device. It is the device's first change.
    pub fn join(
        &mut self,
        author: Author,
        key: &SigningKey,
        member: &CrewMember,
        now: Millis,
    ) -> Result<Applied, ActionError> {
        self.guarded(author, key, |document| {
            apply::write_member(&mut document.doc, author.device, member, now)?;
            hydrate::read_root(&document.doc, &document.collections, &mut document.job);
            Ok(true)
        })
        .and_then(|row| {
            let row = row.ok_or_else(|| ActionError::Document("nothing was written".to_owned()))?;
            Ok(Applied { row, touched: None })
        })
    }

    /// Applies one action as one change. `None`: it changes nothing, and no change was made.
    pub fn apply(
        &mut self,
        author: Author,
        key: &SigningKey,
        action: &Action,
        now: Millis,
    ) -> Result<Option<Applied>, ActionError> {
        apply::check(&self.job, action)?;
        let row = self.guarded(author, key, |document| {
            let (doc, collections) = (&mut document.doc, &document.collections);
            apply::write(doc, collections, action, author.device, now)
        })?;
        let Some(row) = row else { return Ok(None) };
        let touched = action.target();
        let (doc, collections) = (&self.doc, &self.collections);
        hydrate::rehydrate(doc, collections, &self.stamps, &mut self.job, &touched);
        if matches!(action, Action::Begin { .. }) {
            hydrate::read_root(&self.doc, &self.collections, &mut self.job);
        }
        Ok(Some(Applied {
            row,
            touched: Some(touched),
        }))
    }

    /// Runs a write as this author, takes the change it made and signs it.
    fn guarded(
        &mut self,
        author: Author,
        key: &SigningKey,
        write: impl FnOnce(&mut Self) -> Result<bool, ActionError>,
    ) -> Result<Option<ChangeRow>, ActionError> {
        let actor = author.to_bytes();
        if self.doc.get_actor().to_bytes() != actor {
            self.doc.set_actor(ActorId::from(actor.as_slice()));
        }
        // Not `contained`: the document itself is half changed then. Where panics do not unwind,
        // whoever called lets go of the whole notebook.
        let wrote = catch_unwind(AssertUnwindSafe(|| write(self))).map_err(|_| {
            ActionError::Document("the document failed; open it again".to_owned())
        })??;
        if !wrote {
            return Ok(None);
        }
        let change = self
            .doc
            .get_last_local_change()
            .ok_or_else(|| ActionError::Document("the change is not to be found".to_owned()))?;
        self.stamps.add(&change);
        Ok(Some(ChangeRow {
            author,
            number: change.seq(),
            hash: change.hash().0,
            bytes: change.raw_bytes().to_vec(),
            signature: Some(sign_change(key, &change.hash().0)),
        }))
    }

    /// Changes as rows, all but the genesis change, without signatures.
    pub fn rows(&self) -> Vec<ChangeRow> {
        self.doc
            .get_changes(&[])
            .into_iter()
            .filter_map(|change| {
                let author = Author::from_bytes(change.actor_id().to_bytes())?;
                (author != Author::GENESIS).then(|| ChangeRow {
                    author,
                    number: change.seq(),
                    hash: change.hash().0,
                    bytes: change.raw_bytes().to_vec(),
                    signature: None,
                })
            })
            .collect()
    }

    /// Reads again what changes touched.
    fn catch_up_on(&mut self, touched: &[RecordRef]) {
        let (doc, collections) = (&self.doc, &self.collections);
        for at in touched {
            hydrate::rehydrate(doc, collections, &self.stamps, &mut self.job, at);
        }
        hydrate::read_root(doc, collections, &mut self.job);
    }
}

fn unreadable(error: impl std::fmt::Display) -> DocumentError {
    DocumentError::Unreadable(error.to_string())
}

fn contradicts() -> DocumentError {
    DocumentError::Unreadable("its parts contradict each other".to_owned())
}

impl Document {
    /// Of rows in causal order, those whose ground is here or among them, and the count of the
    /// rest: they wait until what they build on is there again.
    pub fn split_by_fit(&self, rows: Vec<ChangeRow>) -> (Vec<ChangeRow>, usize) {
        let total = rows.len();
        let mut coming = std::collections::BTreeSet::new();
        let mut fit = Vec::with_capacity(total);
        for row in rows {
            let Ok(change) = Change::from_bytes(row.bytes.clone()) else {
                continue;
            };
            let grounded = change
                .deps()
                .iter()
                .all(|dep| coming.contains(&dep.0) || self.holds(&dep.0));
            if grounded {
                coming.insert(row.hash);
                fit.push(row);
            }
        }
        let waiting = total - fit.len();
        (fit, waiting)
    }
}

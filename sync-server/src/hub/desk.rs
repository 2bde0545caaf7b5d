//! Documents that are open: a few, the longest unused leave first, and all that nobody works at.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use chalkwalk_core::document::{Document, DocumentError, Refusal, Table};
use chalkwalk_core::job::JobId;
use chalkwalk_core::limits;

use super::Hub;
use crate::store::{Records, Snapshot, StoreError};

/// One job's document. Whoever works on it holds its lock, so that batches of one job are judged
/// one after another.
pub(super) type Desk = Arc<Mutex<Option<Document>>>;

/// The open documents.
#[derive(Default)]
pub(super) struct Desks(Mutex<Shelf>);

#[derive(Default)]
struct Shelf {
    open: BTreeMap<JobId, Open>,
    clock: u64,
}

/// An open document, its turn among those that were used, and when it last was.
struct Open {
    turn: u64,
    at: Instant,
    desk: Desk,
}

impl Desks {
    /// The desk of a job.
    pub(super) fn of(&self, job: JobId) -> Desk {
        let mut shelf = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        shelf.clock += 1;
        let now = shelf.clock;
        let open = shelf.open.entry(job).or_insert_with(|| Open {
            turn: now,
            at: Instant::now(),
            desk: Desk::default(),
        });
        (open.turn, open.at) = (now, Instant::now());
        let desk = Arc::clone(&open.desk);
        while shelf.open.len() > limits::OPEN_DOCUMENTS {
            // A desk that somebody works at is shared, and stays.
            let idle = shelf
                .open
                .iter()
                .filter(|(_, open)| Arc::strong_count(&open.desk) == 1)
                .min_by_key(|(_, open)| open.turn)
                .map(|(job, _)| *job);
            let Some(idle) = idle else { break };
            shelf.open.remove(&idle);
        }
        desk
    }

    /// Closes what nobody has worked at for so long.
    fn close_idle(&self, idle: Duration) {
        let mut shelf = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        shelf
            .open
            .retain(|_, open| Arc::strong_count(&open.desk) > 1 || open.at.elapsed() < idle);
    }

    /// How many are open.
    #[cfg(test)]
    pub(super) fn len(&self) -> usize {
        self.0.lock().unwrap().open.len()
    }
}

impl Hub {
    /// Closes documents that nobody has worked at for so long: they are read again when needed.
    pub(crate) fn close_idle(&self, idle: Duration) {
        self.0.desks.close_idle(idle);
        self.0.reads.close_idle(idle);
    }

    /// Takes the document off its desk, loaded and caught up with what is stored: another node may
    /// have written. Whoever takes it lays it back; where they fail, it is loaded anew.
    pub(super) async fn take_document(
        &self,
        desk: &mut Option<Document>,
        job: JobId,
    ) -> Result<Document, Refusal> {
        let document = match desk.take() {
            Some(document) => document,
            None => load(self.records(), job).await?,
        };
        catch_up(self.records(), job, document).await
    }

    /// Writes a snapshot where the last one is far behind; `before` is how many changes there were
    /// when that was asked last.
    pub(super) async fn maybe_snapshot(
        &self,
        job: JobId,
        document: &Document,
        before: u64,
    ) -> Result<(), StoreError> {
        let after = document.changes();
        if before / limits::SNAPSHOT_EVERY == after / limits::SNAPSHOT_EVERY {
            return Ok(());
        }
        let snapshot = Snapshot {
            table: document.table(),
            heads: document.heads(),
            bytes: document.export(),
            made_at: self.now(),
        };
        self.records().put_snapshot(job, &snapshot).await
    }
}

/// A document from its snapshot. One that does not read is passed over: the changes are the truth.
async fn load(records: &dyn Records, job: JobId) -> Result<Document, Refusal> {
    if let Some(snapshot) = records.snapshot(job).await? {
        match Document::load(&snapshot.bytes) {
            Ok(document) if document.heads() == snapshot.heads => return Ok(document),
            _ => tracing::warn!(%job, "a snapshot does not read: the changes are read instead"),
        }
    }
    Document::new().map_err(unreadable)
}

async fn catch_up(
    records: &dyn Records,
    job: JobId,
    mut document: Document,
) -> Result<Document, Refusal> {
    let stored = records.table(job).await?;
    while !covers(&document.table(), &stored) {
        let rows = records
            .lacking(job, &document.table(), limits::BATCH_BYTES)
            .await?;
        if rows.is_empty() {
            break;
        }
        document.replay(&rows).map_err(unreadable)?;
    }
    Ok(document)
}

/// Whether a document holds all that is stored.
fn covers(document: &Table, stored: &Table) -> bool {
    stored.iter().all(|(author, held)| {
        document
            .get(author)
            .is_some_and(|here| here.number >= held.number)
    })
}

fn unreadable(error: DocumentError) -> Refusal {
    Refusal::Storage(error.to_string())
}

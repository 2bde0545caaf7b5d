//! Jobs as they were read last, so that a page need not copy a whole job to show a part of it.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use chalkwalk_core::document::Table;
use chalkwalk_core::job::{Job, JobId};
use chalkwalk_core::limits;

/// The jobs read last, each with what it was read from.
#[derive(Default)]
pub(super) struct Reads(Mutex<Shelf>);

#[derive(Default)]
struct Shelf {
    read: BTreeMap<JobId, Read>,
    clock: u64,
}

struct Read {
    table: Table,
    job: Arc<Job>,
    used: u64,
    at: Instant,
}

impl Reads {
    /// The job, where nothing was added since it was read.
    pub(super) fn of(&self, job: JobId, stored: &Table) -> Option<Arc<Job>> {
        let mut shelf = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        shelf.clock += 1;
        let now = shelf.clock;
        let read = shelf.read.get_mut(&job)?;
        if read.table != *stored {
            return None;
        }
        (read.used, read.at) = (now, Instant::now());
        Some(Arc::clone(&read.job))
    }

    /// Keeps a job in place of what was read of it before. As many are kept as documents are open:
    /// the longest unused leave.
    pub(super) fn keep(&self, id: JobId, table: Table, job: &Arc<Job>) {
        let mut shelf = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        shelf.clock += 1;
        let read = Read {
            table,
            job: Arc::clone(job),
            used: shelf.clock,
            at: Instant::now(),
        };
        shelf.read.insert(id, read);
        while shelf.read.len() > limits::OPEN_DOCUMENTS {
            let oldest = shelf.read.iter().min_by_key(|(_, read)| read.used);
            let Some(oldest) = oldest.map(|(id, _)| *id) else {
                break;
            };
            shelf.read.remove(&oldest);
        }
    }

    /// Lets go of what nobody has read for so long.
    pub(super) fn close_idle(&self, idle: Duration) {
        let mut shelf = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        shelf.read.retain(|_, read| read.at.elapsed() < idle);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chalkwalk_core::document::{Author, Held};
    use chalkwalk_core::job::DeviceId;

    fn table(number: u64) -> Table {
        let author = Author {
            device: DeviceId::from_bytes([1; 16]),
            nonce: [1; 8],
        };
        let held = Held {
            number,
            short_hash: [0; 8],
        };
        Table::from([(author, held)])
    }

    fn job(n: u8) -> (JobId, Arc<Job>) {
        let document = chalkwalk_core::document::Document::new().unwrap();
        (JobId::from_bytes([n; 16]), Arc::new(document.job().clone()))
    }

    #[test]
    fn a_read_counts_until_something_is_added() {
        let reads = Reads::default();
        let (id, read) = job(1);
        reads.keep(id, table(4), &read);
        assert!(Arc::ptr_eq(&reads.of(id, &table(4)).unwrap(), &read));
        assert!(reads.of(id, &table(5)).is_none());
        assert!(reads.of(job(2).0, &table(4)).is_none());
    }

    #[test]
    fn what_nobody_reads_leaves() {
        let reads = Reads::default();
        let (id, read) = job(1);
        reads.keep(id, table(4), &read);
        reads.close_idle(Duration::from_secs(60));
        assert!(reads.of(id, &table(4)).is_some());
        reads.close_idle(Duration::ZERO);
        assert!(reads.of(id, &table(4)).is_none());
    }

    #[test]
    fn the_longest_unused_leave() {
        let reads = Reads::default();
        let most = u8::try_from(limits::OPEN_DOCUMENTS).unwrap();
        for n in 0..most {
            reads.keep(job(n).0, table(1), &job(n).1);
        }
        reads.of(job(0).0, &table(1)).unwrap();
        reads.keep(job(most).0, table(1), &job(most).1);
        assert!(reads.of(job(0).0, &table(1)).is_some());
        assert!(reads.of(job(1).0, &table(1)).is_none());
    }
}

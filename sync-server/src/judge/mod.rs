//! Where a batch of a peer is judged first: here, or in processes of their own that a batch may
//! bring down without harm.
//!
//! Nothing here knows of storage or sessions. What a worker finds good is still applied under the
//! gate's limits by whoever asked.

mod case;
mod pool;
mod spent;
mod wire;
mod worker;

use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use chalkwalk_core::document::{Admitted, Document, Refusal};

pub(crate) use case::{Case, Place};
pub use worker::run as run_worker;

use crate::limits;
use pool::Pool;
use spent::Spent;

/// Where batches are judged.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Judging {
    /// In the server itself.
    #[default]
    Here,
    /// In workers.
    Workers(WorkerConfig),
}

/// How workers are run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WorkerConfig {
    /// The `chalkwalk` program.
    pub program: PathBuf,
    /// Bytes that a worker may take beyond what the program takes at its start.
    pub memory: u64,
    /// How long one batch may take.
    pub time: Duration,
}

impl WorkerConfig {
    /// This program as its own worker, with the usual limits. `None` where the system does not
    /// say which program runs, or knows no limit on memory.
    pub fn of_this_program() -> Option<Self> {
        // The file itself may have been replaced by a newer one meanwhile; this name still leads
        // to the program that runs.
        let itself = PathBuf::from("/proc/self/exe");
        let program = if itself.exists() {
            itself
        } else {
            std::env::current_exe().ok()?
        };
        cfg!(unix).then(|| Self::of(program))
    }

    /// A program as worker, with the usual limits.
    pub fn of(program: PathBuf) -> Self {
        Self {
            program,
            memory: limits::WORKER_MEMORY,
            time: Duration::from_millis(limits::WORKER_MS),
        }
    }
}

/// Judges batches. Clones are the same one.
#[derive(Clone, Debug, Default)]
pub struct Judge(Arc<Inner>);

#[derive(Debug, Default)]
struct Inner {
    pool: Option<Pool>,
    spent: Spent,
}

/// What a worker said of a batch.
#[derive(Debug, PartialEq, Eq)]
enum Finding {
    /// It may be applied.
    Good,
    /// It is refused.
    Refused(Refusal),
    /// The worker did not live through it, or took too long.
    Fell(String),
    /// No worker could be had, or none can hold the job.
    Unable(String),
}

impl Judge {
    /// A judge. Starts one worker, to see that it can be done; blocks until it answers.
    ///
    /// # Errors
    /// Why no worker could be started.
    pub fn start(judging: &Judging) -> Result<Self, String> {
        match judging {
            Judging::Here => Ok(Self::default()),
            Judging::Workers(config) => Ok(Self(Arc::new(Inner {
                pool: Some(Pool::start(config.clone())?),
                spent: Spent::default(),
            }))),
        }
    }

    /// Whether batches are judged in workers.
    pub fn has_workers(&self) -> bool {
        self.0.pool.is_some()
    }

    /// Processor time that judging has taken since the start, without that of workers. Zero on a
    /// system that does not tell.
    pub fn spent(&self) -> Duration {
        self.0.spent.total()
    }

    /// Judges a batch: in a worker where there are any, and only then here. What a worker found
    /// good need not be proven to read back once more. Blocks.
    ///
    /// # Errors
    /// The document as it was, and the refusal.
    pub(crate) fn judge(
        &self,
        place: Place,
        document: Document,
        case: &Case<'_>,
    ) -> Result<Admitted, (Box<Document>, Refusal)> {
        self.0.spent.on(|| {
            let worker = self.0.pool.as_ref();
            let refusal = match worker.map(|pool| pool.judge(place, &document, case)) {
                None => return case.judge(document, true),
                Some(Finding::Good) => return case.judge(document, false),
                Some(Finding::Refused(refusal)) => refusal,
                Some(Finding::Fell(reason)) => Refusal::Limit(reason),
                Some(Finding::Unable(reason)) => Refusal::Storage(reason),
            };
            Err((Box::new(document), refusal))
        })
    }
}

#[cfg(test)]
mod tests;

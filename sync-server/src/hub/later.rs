//! What follows from new changes and may be made anew at any time: a job's line in the list, the
//! photos it names, a snapshot. A server writes it a moment after it has acknowledged the changes,
//! once for all that came meanwhile; whoever needs it sooner brings it up to date first.

use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use chalkwalk_core::document::{Document, Refusal};
use chalkwalk_core::job::JobId;
use tokio::runtime::Handle;
use tokio::sync::Notify;

use super::Hub;
use crate::limits;
use crate::store::here::wait_for;

/// Jobs whose changes are followed up later, with the count of changes before the first of them.
#[derive(Default)]
pub(super) struct Later {
    on: bool,
    jobs: Mutex<BTreeMap<JobId, u64>>,
    bell: Notify,
}

impl Hub {
    /// The same, with what follows from changes left to [`Hub::follow_up`]. To be called before the
    /// hub is shared: later on it changes nothing.
    pub(crate) fn with_follow_up(mut self) -> Self {
        if let Some(inner) = std::sync::Arc::get_mut(&mut self.0) {
            inner.later.on = true;
        }
        self
    }

    /// Sees to what follows from new changes: now, or later where somebody does. A failure loses
    /// nothing.
    pub(super) async fn after_append(&self, job: JobId, document: &Document, new: usize) {
        let before = document.changes().saturating_sub(new as u64);
        let later = &self.0.later;
        if later.on {
            let mut jobs = later.jobs.lock().unwrap_or_else(PoisonError::into_inner);
            jobs.entry(job).or_insert(before);
            later.bell.notify_one();
        } else {
            self.bring_up(job, document, before).await;
        }
    }

    /// Waits until something is to be followed up, and a moment longer for more of it.
    pub(crate) async fn something_to_follow(&self) {
        self.0.later.bell.notified().await;
        tokio::time::sleep(Duration::from_millis(limits::FOLLOW_PAUSE_MS)).await;
    }

    /// Does what was left for later.
    pub(crate) async fn follow_up(&self) {
        let due = {
            let jobs = &self.0.later.jobs;
            std::mem::take(&mut *jobs.lock().unwrap_or_else(PoisonError::into_inner))
        };
        for (job, before) in due {
            let (hub, runtime) = (self.clone(), Handle::current());
            let work = move || {
                let desk = hub.0.desks.of(job);
                let mut desk = desk.lock().unwrap_or_else(PoisonError::into_inner);
                wait_for(&runtime, async {
                    let document = hub.take_document(&mut desk, job).await?;
                    hub.bring_up(job, &document, before).await;
                    *desk = Some(document);
                    Ok::<_, Refusal>(())
                })
            };
            match tokio::task::spawn_blocking(work).await {
                Ok(Ok(())) => {}
                Ok(Err(refusal)) => tracing::warn!(%job, %refusal, "a job could not be read"),
                Err(error) => tracing::error!(%job, %error, "a job could not be followed up"),
            }
        }
    }

    async fn bring_up(&self, job: JobId, document: &Document, before: u64) {
        if let Err(error) = self.describe(job, document).await {
            tracing::warn!(%job, %error, "the list line of a job could not be written");
        }
        if let Err(error) = self.maybe_snapshot(job, document, before).await {
            tracing::warn!(%job, error = error.chain(), "a snapshot could not be written");
        }
    }
}

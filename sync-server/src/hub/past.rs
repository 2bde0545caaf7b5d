//! What was done to a job, read from its signed changes.

use std::sync::PoisonError;

use chalkwalk_core::document::{Deed, Refusal};
use chalkwalk_core::job::JobId;

use super::Hub;
use crate::store::here::wait_for;

impl Hub {
    /// Everything that was done to a job, in causal order and otherwise by time; empty where
    /// nothing is held of it. It reads every change, which takes a moment for a large job.
    pub async fn history(&self, job: JobId) -> Result<Vec<Deed>, Refusal> {
        if self.records().job(job).await?.is_none() {
            return Ok(Vec::new());
        }
        let desk = self.0.desks.of(job);
        let hub = self.clone();
        let runtime = tokio::runtime::Handle::current();
        let work = move || {
            let mut desk = desk.lock().unwrap_or_else(PoisonError::into_inner);
            let document = wait_for(&runtime, hub.take_document(&mut desk, job))?;
            let deeds = document.history();
            *desk = Some(document);
            Ok(deeds)
        };
        let done = tokio::task::spawn_blocking(work).await;
        done.map_err(|error| Refusal::Storage(error.to_string()))?
    }
}

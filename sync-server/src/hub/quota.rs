//! What one company may keep: jobs, and bytes of photos. Past it the server says so in plain
//! words and takes nothing; what it holds stays.

use std::collections::BTreeSet;
use std::sync::atomic::{AtomicU64, Ordering};

use chalkwalk_core::document::Refusal;
use chalkwalk_core::job::JobId;
use tokio::sync::OnceCell;

use super::Hub;
use crate::store::StoreError;

/// What one company may keep. Nothing is limited by default.
#[derive(Debug, Default)]
pub struct Quota {
    /// Most jobs.
    pub jobs: Option<u64>,
    /// Most bytes of photo files.
    pub bytes: Option<u64>,
    held: OnceCell<AtomicU64>,
}

impl Quota {
    /// At most so many jobs and bytes.
    pub fn new(jobs: Option<u64>, bytes: Option<u64>) -> Self {
        Self {
            jobs,
            bytes,
            held: OnceCell::new(),
        }
    }
}

impl Hub {
    /// Sees that a job is here already or that there is room for one more.
    pub(super) async fn room_for_job(&self, job: JobId) -> Result<(), Refusal> {
        let Some(most) = self.0.quota.jobs else {
            return Ok(());
        };
        if self.records().job(job).await?.is_some() {
            return Ok(());
        }
        if (self.records().jobs().await?.len() as u64) < most {
            return Ok(());
        }
        Err(Refusal::Limit(format!(
            "this company's {most} jobs at the office: ask your office to make room"
        )))
    }

    /// Sees that there is room for a file of this size.
    pub(super) async fn room_for_bytes(&self, size: u64) -> Result<(), Refusal> {
        let Some(most) = self.0.quota.bytes else {
            return Ok(());
        };
        let held = self.bytes_held().await?;
        if held.saturating_add(size) <= most {
            return Ok(());
        }
        Err(Refusal::Limit(format!(
            "this company's {most} bytes of photos at the office: ask your office to make room"
        )))
    }

    /// Adds a file that is whole now.
    pub(super) fn count_bytes(&self, size: u64) {
        if let Some(held) = self.0.quota.held.get() {
            held.fetch_add(size, Ordering::Relaxed);
        }
    }

    /// Bytes of the whole files of all jobs, each file once. Counted when first asked, then kept
    /// up; what another node adds meanwhile is seen after a restart.
    pub(crate) async fn bytes_held(&self) -> Result<u64, StoreError> {
        let count = || async {
            let mut seen = BTreeSet::new();
            let mut bytes = 0u64;
            for status in self.records().jobs().await? {
                for file in self.records().blobs(status.job).await? {
                    if seen.insert((file.kind, file.hash)) {
                        bytes = bytes.saturating_add(file.size);
                    }
                }
            }
            Ok::<_, StoreError>(AtomicU64::new(bytes))
        };
        let held = self.0.quota.held.get_or_try_init(count).await?;
        Ok(held.load(Ordering::Relaxed))
    }
}

//! What one company may keep at all nodes together: jobs, and bytes of photos. Past it the server says so in plain
//! words and takes nothing; what it holds stays.

use chalkwalk_core::document::Refusal;
use chalkwalk_core::job::JobId;

use super::Hub;
use crate::limits;
use crate::store::{BlobEntry, BlobKey, Room};

/// What one company may keep. Nothing is limited by default.
#[derive(Clone, Copy, Debug, Default)]
pub struct Quota {
    /// Most jobs.
    pub jobs: Option<u64>,
    /// Most bytes of photo files.
    pub bytes: Option<u64>,
}

impl Quota {
    /// At most so many jobs and bytes.
    pub fn new(jobs: Option<u64>, bytes: Option<u64>) -> Self {
        Self { jobs, bytes }
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
        if self.records().count_jobs().await? < most {
            return Ok(());
        }
        Err(Refusal::Limit(format!(
            "this company's {most} jobs at the office: ask your office to make room"
        )))
    }

    /// Sees that there is room for a file, and sets it aside until the file is whole: uploads that
    /// are under way at once, at whatever node, do not go past the quota together.
    pub(super) async fn room_for_file(&self, key: BlobKey, size: u64) -> Result<(), Refusal> {
        let Some(most) = self.0.quota.bytes else {
            return Ok(());
        };
        let now = self.now();
        let room = Room {
            file: BlobEntry {
                kind: key.kind,
                hash: key.hash,
                size,
            },
            now,
            ends: now.saturating_add(limits::ASIDE_MS),
        };
        if self.records().set_aside(&room, most).await? {
            return Ok(());
        }
        Err(Refusal::Limit(format!(
            "this company's {most} bytes of photos at the office: ask your office to make room"
        )))
    }
}

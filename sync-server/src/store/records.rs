//! Changes, and all that is written about them.

use std::collections::BTreeSet;

use async_trait::async_trait;
use chalkwalk_core::document::{ChangeRow, Table};
use chalkwalk_core::job::{DeviceId, JobId, Millis, PhotoHash, SignedCertificate};

use super::{
    Appended, AuditEntry, BlobEntry, BlobKey, Code, Company, Device, Enrolled, Feed, JobStatus,
    PeerHolds, PhotoEntry, Room, Snapshot, StoreError, Summary,
};

/// Changes, and all that is written about them. What a call confirms is durable when it returns,
/// except where it says otherwise.
///
/// Several nodes may share one store: changes are only ever added, and adding them twice is
/// harmless. Nothing here judges a change; the hub does, before it calls.
#[async_trait]
pub trait Records: Send + Sync + 'static {
    /// The company; `None` before the first start.
    async fn company(&self) -> Result<Option<Company>, StoreError>;

    /// Writes the company down, unless one is there. Answers with the one that is there.
    async fn found(&self, company: &Company) -> Result<Company, StoreError>;

    /// A device.
    async fn device(&self, id: DeviceId) -> Result<Option<Device>, StoreError>;

    /// Every device, by id.
    async fn devices(&self) -> Result<Vec<Device>, StoreError>;

    /// The certificates of these devices, as far as they are known, in the order asked.
    async fn certificates(&self, ids: &[DeviceId]) -> Result<Vec<SignedCertificate>, StoreError>;

    /// Shuts a device out, or lets it in again. False where the device is not known.
    async fn set_revoked(&self, id: DeviceId, at: Option<Millis>) -> Result<bool, StoreError>;

    /// Keeps a new code.
    async fn put_code(&self, code: &Code) -> Result<(), StoreError>;

    /// A code that may still be used, or was used; `None` where there is no such code.
    async fn code(&self, hash: [u8; 32]) -> Result<Option<Code>, StoreError>;

    /// Uses a code up and makes the device known, both or neither.
    async fn enrol(
        &self,
        code_hash: [u8; 32],
        device: &Device,
        now: Millis,
    ) -> Result<Enrolled, StoreError>;

    /// Every job that has a change, by id.
    async fn jobs(&self) -> Result<Vec<JobStatus>, StoreError>;

    /// The ids of every job that has a change, in order: nothing else is read.
    async fn job_ids(&self) -> Result<Vec<JobId>, StoreError>;

    /// How many jobs have a change.
    async fn count_jobs(&self) -> Result<u64, StoreError>;

    /// The jobs that a device has written to.
    async fn jobs_written_by(&self, device: DeviceId) -> Result<BTreeSet<JobId>, StoreError>;

    /// Whether a device has written to a job.
    async fn has_written(&self, device: DeviceId, job: JobId) -> Result<bool, StoreError>;

    /// How one job stands; `None` for an unknown one.
    async fn job(&self, job: JobId) -> Result<Option<JobStatus>, StoreError>;

    /// What is held of a job; empty for an unknown one.
    async fn table(&self, job: JobId) -> Result<Table, StoreError>;

    /// Adds changes of one job, and makes the devices of new authors known, all or nothing.
    ///
    /// A change that is here already is skipped; a signature that was lacking is added to it. The
    /// order of the rows is the causal order in which [`Records::lacking`] gives them back.
    ///
    /// # Errors
    /// [`StoreError::Forked`] where another change stands at the same author and number,
    /// [`StoreError::Gap`] where an author's number does not follow the last one,
    /// [`StoreError::Contradiction`] where a change or key stands under two names,
    /// [`StoreError::Limit`] past the changes or authors that one job may have.
    async fn append(
        &self,
        job: JobId,
        rows: &[ChangeRow],
        devices: &[Device],
        now: Millis,
    ) -> Result<Appended, StoreError>;

    /// Changes that somebody with this table lacks, in causal order and ending where the last
    /// change of each author in the answer is signed. At most `max_bytes` of them, or the
    /// shortest such run where that is longer. Empty when nothing is lacking.
    ///
    /// # Errors
    /// [`StoreError::Forked`] where the table names a change that differs from the one here.
    async fn lacking(
        &self,
        job: JobId,
        table: &Table,
        max_bytes: usize,
    ) -> Result<Vec<ChangeRow>, StoreError>;

    /// The last snapshot of a job.
    async fn snapshot(&self, job: JobId) -> Result<Option<Snapshot>, StoreError>;

    /// Keeps a snapshot in place of the one before. It can be made again, and is not confirmed as
    /// durable.
    async fn put_snapshot(&self, job: JobId, snapshot: &Snapshot) -> Result<(), StoreError>;

    /// Writes down what a job names and says, in place of what was written before. The photos
    /// stand in the order in which they are wanted, each hash once: a second entry is dropped.
    /// A description of fewer changes than the one that stands is passed over: another node has
    /// read more of the job. It can be made again, and is not confirmed as durable.
    async fn describe(
        &self,
        job: JobId,
        summary: &Summary,
        photos: &[PhotoEntry],
    ) -> Result<(), StoreError>;

    /// The photos a job names, in the order they are wanted.
    async fn photos(&self, job: JobId) -> Result<Vec<PhotoEntry>, StoreError>;

    /// One photo of a job.
    async fn photo(&self, job: JobId, hash: PhotoHash) -> Result<Option<PhotoEntry>, StoreError>;

    /// Writes down that a file is whole. The first word stands.
    async fn complete(&self, blob: &BlobEntry, now: Millis) -> Result<(), StoreError>;

    /// Bytes of all whole files.
    async fn bytes_held(&self) -> Result<u64, StoreError>;

    /// Sets room aside for a file on its way in, unless the bytes of all whole files, the room set
    /// aside for others and this one come to more than `most` bytes: then `false`, and nothing is
    /// changed. Of two at once, at whatever node, the second sees the first. The room is free again
    /// once the file is whole or `ends` is over; asking again for the same file sets `ends` anew.
    async fn set_aside(&self, room: &Room, most: u64) -> Result<bool, StoreError>;

    /// A file, where it is whole.
    async fn blob(&self, key: BlobKey) -> Result<Option<BlobEntry>, StoreError>;

    /// Of the photos a job names, the files that are whole.
    async fn blobs(&self, job: JobId) -> Result<Vec<BlobEntry>, StoreError>;

    /// Adds to what a device said that it holds of a job. It says so again when it comes next, and
    /// this is not confirmed as durable.
    async fn note_peer(&self, job: JobId, holds: &PeerHolds) -> Result<(), StoreError>;

    /// What devices said that they hold of a job, by device.
    async fn peers(&self, job: JobId) -> Result<Vec<PeerHolds>, StoreError>;

    /// Adds to the audit.
    async fn note(&self, entry: &AuditEntry) -> Result<(), StoreError>;

    /// The newest entries of the audit, newest first.
    async fn audit(&self, max: usize) -> Result<Vec<AuditEntry>, StoreError>;

    /// Confirms that the store answers and takes writes.
    async fn ping(&self) -> Result<(), StoreError>;

    /// What other nodes write from now on; `None` where no other node can share this store.
    async fn feed(&self) -> Result<Option<Box<dyn Feed>>, StoreError> {
        Ok(None)
    }
}

//! The notebook as one side of a session, locked call by call: the crew goes on recording while
//! an exchange runs.

use std::sync::Arc;

use chalkwalk_core::document::{Accepted, ChangeRow, Refusal, Table};
use chalkwalk_core::job::{
    BlobKind, BlobProgress, Certificate, DeviceId, JobId, PhotoHash, SignedCertificate,
};
use chalkwalk_core::notebook::Notebook as Core;
use chalkwalk_core::sync::Replica;

use crate::inner::Inner;

pub(crate) struct Shared(pub(crate) Arc<Inner>);

impl Shared {
    fn with<T: Send>(
        &self,
        work: impl FnOnce(&mut Core) -> Result<T, Refusal> + Send,
    ) -> Result<T, Refusal> {
        self.0
            .with(|core| Ok(work(core)))
            .unwrap_or_else(|error| Err(Refusal::Storage(error.to_string())))
    }
}

impl Replica for Shared {
    fn jobs(&mut self, peer: &Certificate) -> Result<Vec<JobId>, Refusal> {
        self.with(|core| Replica::jobs(core, peer))
    }

    fn may_exchange(&mut self, peer: &Certificate, job: JobId) -> Result<bool, Refusal> {
        self.with(|core| core.may_exchange(peer, job))
    }

    fn table(&mut self, job: JobId) -> Result<Table, Refusal> {
        self.with(|core| core.table(job))
    }

    fn lacking(
        &mut self,
        job: JobId,
        peer: &Table,
        max_bytes: usize,
    ) -> Result<Vec<ChangeRow>, Refusal> {
        self.with(|core| core.lacking(job, peer, max_bytes))
    }

    fn certificates(&mut self, devices: &[DeviceId]) -> Result<Vec<SignedCertificate>, Refusal> {
        self.with(|core| core.certificates(devices))
    }

    fn accept(
        &mut self,
        peer: &Certificate,
        job: JobId,
        batch: Vec<ChangeRow>,
        certificates: &[SignedCertificate],
    ) -> Result<Accepted, Refusal> {
        self.with(|core| core.accept(peer, job, batch, certificates))
    }

    fn wanted(&mut self, job: JobId, kind: BlobKind) -> Result<Vec<(PhotoHash, u64)>, Refusal> {
        self.with(|core| core.wanted(job, kind))
    }

    fn blob_size(&mut self, kind: BlobKind, hash: PhotoHash) -> Result<Option<u64>, Refusal> {
        self.with(|core| core.blob_size(kind, hash))
    }

    fn read_blob(
        &mut self,
        kind: BlobKind,
        hash: PhotoHash,
        offset: u64,
        max: usize,
    ) -> Result<Vec<u8>, Refusal> {
        self.with(|core| core.read_blob(kind, hash, offset, max))
    }

    fn write_blob(
        &mut self,
        job: JobId,
        kind: BlobKind,
        hash: PhotoHash,
        size: u64,
        offset: u64,
        bytes: &[u8],
    ) -> Result<BlobProgress, Refusal> {
        self.with(|core| core.write_blob(job, kind, hash, size, offset, bytes))
    }

    fn note_peer_holds(&mut self, peer: DeviceId, job: JobId, held: &Table) -> Result<(), Refusal> {
        self.with(|core| core.note_peer_holds(peer, job, held))
    }

    fn unconfirmed(
        &mut self,
        peer: DeviceId,
        jobs: &[JobId],
    ) -> Result<Vec<(BlobKind, PhotoHash)>, Refusal> {
        self.with(|core| core.unconfirmed(peer, jobs))
    }

    fn note_peer_holds_blob(
        &mut self,
        peer: DeviceId,
        kind: BlobKind,
        hash: PhotoHash,
    ) -> Result<(), Refusal> {
        self.with(|core| core.note_peer_holds_blob(peer, kind, hash))
    }
}

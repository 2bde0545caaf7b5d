//! What a session needs of the place where changes and photos are kept.

use crate::document::{Accepted, ChangeRow, Refusal, Table};
use crate::job::{
    BlobKind, BlobProgress, Certificate, DeviceId, JobId, PhotoHash, SignedCertificate,
};

/// The place where changes and photos are kept: a device's notebook or the office's storage.
///
/// Whatever these calls confirm is durable when they return: a session acknowledges it to the
/// peer at once.
pub trait Replica {
    /// The jobs that this replica holds and would show to the peer.
    fn jobs(&mut self, peer: &Certificate) -> Result<Vec<JobId>, Refusal>;

    /// Whether the peer may send changes of a job, held here or new.
    fn may_exchange(&mut self, peer: &Certificate, job: JobId) -> Result<bool, Refusal>;

    /// What is held of a job; empty for an unknown one.
    fn table(&mut self, job: JobId) -> Result<Table, Refusal>;

    /// Changes that a peer with this table lacks, in causal order (an author's changes by number,
    /// each after those it builds on), starting at most `max_bytes` of them. Only whole prefixes
    /// that the receiver can check are given: the last change of each author in the answer is
    /// signed. Empty when nothing is lacking. Where the table names a change that stands here with
    /// another hash, the answer is [`Refusal::Forked`].
    fn lacking(
        &mut self,
        job: JobId,
        peer: &Table,
        max_bytes: usize,
    ) -> Result<Vec<ChangeRow>, Refusal>;

    /// The certificates of these devices, as far as they are known.
    fn certificates(&mut self, devices: &[DeviceId]) -> Result<Vec<SignedCertificate>, Refusal>;

    /// Judges a batch, and keeps it durably or refuses it whole.
    fn accept(
        &mut self,
        peer: &Certificate,
        job: JobId,
        batch: Vec<ChangeRow>,
        certificates: &[SignedCertificate],
    ) -> Result<Accepted, Refusal>;

    /// Files of a job that are not complete here, in the order they are wanted (walk order), with
    /// what is held of each.
    fn wanted(&mut self, job: JobId, kind: BlobKind) -> Result<Vec<(PhotoHash, u64)>, Refusal>;

    /// The size of a complete file; `None` where it is not complete here.
    fn blob_size(&mut self, kind: BlobKind, hash: PhotoHash) -> Result<Option<u64>, Refusal>;

    /// Bytes of a complete file.
    fn read_blob(
        &mut self,
        kind: BlobKind,
        hash: PhotoHash,
        offset: u64,
        max: usize,
    ) -> Result<Vec<u8>, Refusal>;

    /// Appends bytes of a wanted file. Bytes that are already held are skipped, a gap is refused.
    /// When the file has `size` bytes its hash is checked (for an original) before it counts.
    fn write_blob(
        &mut self,
        job: JobId,
        kind: BlobKind,
        hash: PhotoHash,
        size: u64,
        offset: u64,
        bytes: &[u8],
    ) -> Result<BlobProgress, Refusal>;

    /// The peer said that it holds these changes durably.
    fn note_peer_holds(&mut self, peer: DeviceId, job: JobId, held: &Table) -> Result<(), Refusal>;

    /// Complete files of these jobs that the peer never said it holds: an acknowledgement may have
    /// been lost with its link. The session asks for each once. Nothing by default.
    fn unconfirmed(
        &mut self,
        peer: DeviceId,
        jobs: &[JobId],
    ) -> Result<Vec<(BlobKind, PhotoHash)>, Refusal> {
        let _ = (peer, jobs);
        Ok(Vec::new())
    }

    /// The peer said that it holds this file whole and durably.
    fn note_peer_holds_blob(
        &mut self,
        peer: DeviceId,
        kind: BlobKind,
        hash: PhotoHash,
    ) -> Result<(), Refusal>;
}

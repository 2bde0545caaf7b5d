//! What must become durable before anybody is told.

use chalkwalk_core::document::{ChangeRow, Table};
use chalkwalk_core::job::{BlobKind, DeviceId, JobId, PhotoHash, SignedCertificate};

/// One thing for the page to write.
#[derive(Clone, Debug)]
pub(crate) enum Staged {
    /// A change.
    Row(JobId, ChangeRow),
    /// A piece of an original, to be appended and flushed.
    Piece(PhotoHash, u64, Vec<u8>),
    /// An original that is whole and whose hash was checked.
    Original(JobId, PhotoHash, u64),
    /// A small picture, whole.
    Thumbnail(PhotoHash, Vec<u8>),
    /// A device's certificate.
    Certificate(DeviceId, SignedCertificate),
    /// What another device holds of a job.
    PeerHolds(DeviceId, JobId, Table),
    /// A file that another device holds whole.
    PeerHoldsFile(DeviceId, BlobKind, PhotoHash),
    /// A device that was met, and whether it is the office.
    Peer(DeviceId, String, bool),
}

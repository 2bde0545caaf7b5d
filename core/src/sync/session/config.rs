//! What a shell says to begin a session.

use std::collections::BTreeSet;

use ed25519_dalek::{SigningKey, VerifyingKey};

use crate::job::{JobId, SealError, SignedCertificate};
use crate::limits;
use crate::sync::handshake::Handshake;

/// Everything a session is told at its start.
pub struct SessionConfig {
    /// This device's certificate.
    pub certificate: SignedCertificate,
    /// This device's key.
    pub key: SigningKey,
    /// The office's key, as pinned at enrolment.
    pub office: VerifyingKey,
    /// Thirty-two random bytes that nobody can foretell, fresh for each session.
    pub nonce: [u8; 32],
    /// This side opened the link. Exactly one of the two did.
    pub initiator: bool,
    /// The jobs to speak of; `None` for all.
    pub jobs: Option<BTreeSet<JobId>>,
    /// Thumbnails are wanted here.
    pub thumbnails: bool,
    /// Originals are wanted here.
    pub originals: bool,
    /// The session stays open once all is exchanged. It does so only if both sides say so.
    pub live: bool,
}

/// Why a session could not begin.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum SessionError {
    /// The own certificate does not stand.
    #[error("this device's certificate does not match its key and office: enrol it again")]
    Certificate(#[source] SealError),
    /// More jobs are named than one session takes.
    #[error("{0} jobs are named, a session takes {limit}", limit = limits::SESSION_JOBS)]
    TooManyJobs(usize),
}

/// What one side wants of a session.
pub(super) struct Wishes {
    pub(super) jobs: Option<BTreeSet<JobId>>,
    pub(super) thumbnails: bool,
    pub(super) originals: bool,
    pub(super) live: bool,
}

impl SessionConfig {
    pub(super) fn divide(self) -> Result<(Handshake, Wishes), SessionError> {
        if let Some(jobs) = &self.jobs
            && jobs.len() > limits::SESSION_JOBS
        {
            return Err(SessionError::TooManyJobs(jobs.len()));
        }
        let handshake = Handshake::new(
            self.certificate,
            self.key,
            self.office,
            self.nonce,
            self.initiator,
            self.live,
        )
        .map_err(SessionError::Certificate)?;
        let wishes = Wishes {
            jobs: self.jobs,
            thumbnails: self.thumbnails,
            originals: self.originals,
            live: self.live,
        };
        Ok((handshake, wishes))
    }
}

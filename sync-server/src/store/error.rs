//! Why storage did not do what it was asked.

use std::error::Error;

use chalkwalk_core::document::Refusal;
use chalkwalk_core::job::DeviceId;

/// Why storage did not do what it was asked. Nothing was changed.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    /// The same author and number with another hash: a copied device.
    #[error("device {device} has written change {number} twice")]
    Forked {
        /// The device.
        device: DeviceId,
        /// The number that stands twice.
        number: u64,
    },
    /// An author's numbers would have a gap.
    #[error("changes are missing that these build on")]
    Gap,
    /// One change under two names, or one device with two keys.
    #[error("contradicts what is stored: {0}")]
    Contradiction(&'static str),
    /// More than a limit allows.
    #[error("over the limit: {0}")]
    Limit(&'static str),
    /// The data was written by a newer version.
    #[error(
        "the data was written by a newer version (layout {found}, this one reads up to {known}): \
         start that version instead"
    )]
    Newer {
        /// The layout found.
        found: u32,
        /// The newest layout this version reads.
        known: u32,
    },
    /// Storage is set up in a way in which it cannot be used; the words say what to change.
    #[error("{0}")]
    Setting(String),
    /// An office was only partly moved in.
    #[error(
        "an office was only partly moved into this database: run the same `chalkwalk move` again"
    )]
    Unfinished,
    /// What was stored cannot be read back.
    #[error("what was stored cannot be read: {0}")]
    Corrupt(&'static str),
    /// The disk, the database or the bucket did not answer.
    #[error("storage is not available")]
    Unavailable(#[source] Box<dyn Error + Send + Sync>),
}

impl StoreError {
    /// Storage that did not answer, with its own word for it.
    pub(crate) fn unavailable(cause: impl Into<Box<dyn Error + Send + Sync>>) -> Self {
        Self::Unavailable(cause.into())
    }

    /// Whether the disk has no room left.
    pub fn is_full(&self) -> bool {
        let Self::Unavailable(cause) = self else {
            return false;
        };
        let mut next: Option<&(dyn Error + 'static)> = Some(&**cause);
        while let Some(error) = next {
            let full = error.downcast_ref::<std::io::Error>().is_some_and(|error| {
                matches!(
                    error.kind(),
                    std::io::ErrorKind::StorageFull | std::io::ErrorKind::QuotaExceeded
                )
            });
            let database_full = error
                .downcast_ref::<rusqlite::Error>()
                .and_then(rusqlite::Error::sqlite_error)
                .is_some_and(|error| {
                    // The index of the write-ahead log that finds no room says no more than this.
                    error.code == rusqlite::ErrorCode::DiskFull
                        || error.extended_code == rusqlite::ffi::SQLITE_IOERR_SHMSIZE
                });
            if full || database_full {
                return true;
            }
            next = error.source();
        }
        false
    }

    /// The error and all its causes in one line, for the log.
    pub fn chain(&self) -> String {
        let mut line = self.to_string();
        let mut next = self.source();
        while let Some(cause) = next {
            line.push_str(": ");
            line.push_str(&cause.to_string());
            next = cause.source();
        }
        line
    }
}

impl From<rusqlite::Error> for StoreError {
    fn from(error: rusqlite::Error) -> Self {
        Self::unavailable(error)
    }
}

impl From<object_store::Error> for StoreError {
    fn from(error: object_store::Error) -> Self {
        Self::unavailable(error)
    }
}

impl From<std::io::Error> for StoreError {
    fn from(error: std::io::Error) -> Self {
        Self::unavailable(error)
    }
}

impl From<tokio::task::JoinError> for StoreError {
    fn from(error: tokio::task::JoinError) -> Self {
        Self::unavailable(error)
    }
}

/// What the peer is told: no path, no cause.
impl From<StoreError> for Refusal {
    fn from(error: StoreError) -> Self {
        match error {
            StoreError::Forked { device, number } => Refusal::Forked { device, number },
            StoreError::Gap => Refusal::Gap,
            StoreError::Contradiction(what) => Refusal::Malformed(what.to_owned()),
            StoreError::Limit(what) => Refusal::Limit(what.to_owned()),
            other if other.is_full() => Refusal::Storage(
                "the office's disk is full: nothing was lost, and the device keeps what it has"
                    .to_owned(),
            ),
            other => Refusal::Storage(other.to_string()),
        }
    }
}

//! The one failure that shells see: few kinds, stable, with words for a person.

use chalkwalk_core::document::{ActionError, Refusal};
use chalkwalk_core::journal::JournalError;
use chalkwalk_core::notebook::NotebookError;
use chalkwalk_core::packet::PacketError;
use chalkwalk_core::photo::PhotoError;
use chalkwalk_core::sync::SessionError;
use chalkwalk_core::sync::bundle::BundleError;
use chalkwalk_link::client::EnrolFailure;
use chalkwalk_link::transport::LinkError;

/// Why something was not done. Nothing recorded before is lost by it. Its message can be shown to a
/// person and says what to do; the kind is for the app, and new kinds do not come without a new
/// major version.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error, uniffi::Error)]
#[uniffi(flat_error)]
pub enum ChalkwalkError {
    /// What was handed in does not fit: another value is needed.
    #[error("{words}")]
    Input {
        /// For a person.
        words: String,
    },
    /// What was named is not there.
    #[error("{words}")]
    NotFound {
        /// For a person.
        words: String,
    },
    /// The notebook is open elsewhere, or was shut.
    #[error("{words}")]
    NotOpen {
        /// For a person.
        words: String,
    },
    /// The device must be enrolled with an office first.
    #[error("{words}")]
    NotEnrolled {
        /// For a person.
        words: String,
    },
    /// The office or the other device refused, or this is the office's to do.
    #[error("{words}")]
    Refused {
        /// For a person.
        words: String,
    },
    /// The network or the other side did not answer. Trying again later helps.
    #[error("{words}")]
    Network {
        /// For a person.
        words: String,
    },
    /// The app stopped it.
    #[error("{words}")]
    Stopped {
        /// For a person.
        words: String,
    },
    /// The storage is full: free some space and do it again.
    #[error("{words}")]
    DiskFull {
        /// For a person.
        words: String,
    },
    /// The storage failed in another way.
    #[error("{words}")]
    Storage {
        /// For a person.
        words: String,
    },
    /// A mistake in this library. The notebook was opened again from the disk and can be used.
    #[error("{words}")]
    Internal {
        /// For a person.
        words: String,
    },
}

/// What calls give.
pub type Answer<T> = Result<T, ChalkwalkError>;

impl ChalkwalkError {
    pub(crate) fn input(words: impl ToString) -> Self {
        let words = words.to_string();
        Self::Input { words }
    }

    pub(crate) fn refused(words: impl ToString) -> Self {
        let words = words.to_string();
        Self::Refused { words }
    }

    pub(crate) fn storage(words: impl ToString) -> Self {
        let words = words.to_string();
        Self::Storage { words }
    }

    pub(crate) fn file(path: &str, error: &std::io::Error) -> Self {
        Self::of_file(format!("{path} cannot be used: {error}"), error)
    }

    fn of_file(words: String, error: &std::io::Error) -> Self {
        match error.kind() {
            std::io::ErrorKind::NotFound => Self::NotFound { words },
            std::io::ErrorKind::StorageFull | std::io::ErrorKind::QuotaExceeded => Self::DiskFull {
                words: "the storage is full: free some space and do it again".to_owned(),
            },
            _ => Self::Storage { words },
        }
    }

    fn of_refusal(words: String, refusal: &Refusal) -> Self {
        match refusal {
            Refusal::Storage(_) => Self::of_storage(words),
            _ => Self::Refused { words },
        }
    }

    /// Storage failed below a session or bundle, which pass its words on: those of a full disk are
    /// known.
    pub(crate) fn of_storage(words: String) -> Self {
        let full = [
            JournalError::DiskFull.to_string(),
            PhotoError::Full.to_string(),
        ];
        if full.iter().any(|full| words.contains(full)) {
            Self::DiskFull { words }
        } else {
            Self::Storage { words }
        }
    }
}

impl From<NotebookError> for ChalkwalkError {
    fn from(error: NotebookError) -> Self {
        let words = error.to_string();
        match error {
            NotebookError::Missing(_)
            | NotebookError::NoSuchJob(_)
            | NotebookError::NoSuchStatement(..) => Self::NotFound { words },
            NotebookError::InUse(_) => Self::NotOpen { words },
            NotebookError::Exists(_) => Self::Input { words },
            NotebookError::OfficeOnly(_) | NotebookError::Enrolment(_) => Self::Refused { words },
            NotebookError::NotEnrolled => Self::NotEnrolled { words },
            NotebookError::Action(ActionError::NoSuchRecord(_)) => Self::NotFound { words },
            NotebookError::Action(_) => Self::Input { words },
            NotebookError::Journal(JournalError::DiskFull) => Self::DiskFull { words },
            NotebookError::Photo(error) => error.into(),
            NotebookError::Packet(error) => error.into(),
            NotebookError::Bundle(error) => error.into(),
            _ => Self::Storage { words },
        }
    }
}

impl From<PhotoError> for ChalkwalkError {
    fn from(error: PhotoError) -> Self {
        let words = error.to_string();
        match error {
            PhotoError::Full => Self::DiskFull { words },
            PhotoError::Storage(_) => Self::Storage { words },
            PhotoError::NotHere => Self::NotFound { words },
            _ => Self::Input { words },
        }
    }
}

impl From<PacketError> for ChalkwalkError {
    fn from(error: PacketError) -> Self {
        let words = error.to_string();
        match error {
            PacketError::Exists(_) => Self::Input { words },
            PacketError::Stopped => Self::Stopped { words },
            PacketError::File { cause, .. } => Self::of_file(words, &cause),
            _ => Self::Storage { words },
        }
    }
}

impl From<BundleError> for ChalkwalkError {
    fn from(error: BundleError) -> Self {
        let words = error.to_string();
        match error {
            BundleError::Io(cause) => Self::of_file(words, &cause),
            BundleError::Replica(refusal) | BundleError::Stopped { refusal, .. } => {
                Self::of_refusal(words, &refusal)
            }
            BundleError::Stranger => Self::Refused { words },
            _ => Self::Input { words },
        }
    }
}

impl From<SessionError> for ChalkwalkError {
    fn from(error: SessionError) -> Self {
        Self::refused(error)
    }
}

impl From<LinkError> for ChalkwalkError {
    fn from(error: LinkError) -> Self {
        if let LinkError::NotBelieved { address, cause } = error {
            let words = format!(
                "the server at {address} is not the office's: {cause}. Check the address, or ask \
                 the office whether it has an authority of its own"
            );
            return Self::Refused { words };
        }
        let words = error.to_string();
        match error {
            LinkError::Address(_) => Self::Input { words },
            LinkError::Stopped => Self::Stopped { words },
            LinkError::Session(_) => Self::Refused { words },
            _ => Self::Network { words },
        }
    }
}

impl From<EnrolFailure> for ChalkwalkError {
    fn from(failure: EnrolFailure) -> Self {
        match failure {
            EnrolFailure::Link(error) => error.into(),
            other => Self::refused(other),
        }
    }
}

//! Carrying an office from one storage to another: moved, backed up, restored. What was carried
//! is read again where it arrived, and compared, before anybody is told that it is there.

mod backup;
mod check;
mod files;
mod manifest;
mod moving;
mod people;
mod restore;

use std::path::PathBuf;

use serde::Serialize;

pub use backup::backup;
pub use moving::move_to;
pub use restore::restore;

use crate::ServerError;
use crate::store::StoreError;

/// What was carried, and found in order.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, serde::Deserialize)]
pub struct Carried {
    /// Jobs with at least one change.
    pub jobs: u64,
    /// Changes, each read again: its hash, its author's numbers without gaps, its signature.
    pub changes: u64,
    /// Devices that are known.
    pub devices: u64,
    /// Originals, each read again and hashed.
    pub originals: u64,
    /// Thumbnails, each read again and compared.
    pub thumbnails: u64,
    /// Bytes of all files.
    pub file_bytes: u64,
    /// Files that were there already from a run that was cut short.
    pub files_there: u64,
    /// Whether the office's private keys are among it.
    pub keys: bool,
    /// Whether the accounts are among it: people, shared links, who sees which job, what people
    /// did.
    pub accounts: bool,
    /// People, those who were shut out too.
    pub people: u64,
    /// Shared links, those that no longer count too.
    pub shared_links: u64,
    /// What people saw and did.
    pub deeds: u64,
}

impl Carried {
    fn add(&mut self, other: &Self) {
        self.jobs += other.jobs;
        self.changes += other.changes;
        self.devices += other.devices;
        self.originals += other.originals;
        self.thumbnails += other.thumbnails;
        self.file_bytes += other.file_bytes;
        self.files_there += other.files_there;
        self.keys |= other.keys;
        self.accounts |= other.accounts;
        self.people += other.people;
        self.shared_links += other.shared_links;
        self.deeds += other.deeds;
    }
}

/// Why an office could not be carried. Where it was taken from is as it was.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum CarryError {
    /// Storage, on either side.
    #[error("{}", .0.chain())]
    Store(#[from] StoreError),
    /// The folder, or a server that still runs on it.
    #[error(transparent)]
    Server(#[from] ServerError),
    /// A file on this machine.
    #[error("{path}: {cause}")]
    File {
        /// Which.
        path: PathBuf,
        /// What the system says.
        cause: std::io::Error,
    },
    /// What is to be carried is damaged or not complete.
    #[error("not carried, because it is not in order: {0}")]
    NotInOrder(String),
    /// What arrived differs from what was sent.
    #[error("what arrived is not what was sent: {0}; run the same command again")]
    Differs(String),
    /// The place to write to is taken.
    #[error("{path} {words}")]
    Taken {
        /// Which.
        path: PathBuf,
        /// What to do.
        words: &'static str,
    },
    /// There is nothing to carry.
    #[error("{path} {words}")]
    Nothing {
        /// Where it was looked for.
        path: PathBuf,
        /// What was looked for.
        words: &'static str,
    },
}

impl From<std::io::Error> for CarryError {
    fn from(cause: std::io::Error) -> Self {
        let path = PathBuf::from("a file");
        Self::File { path, cause }
    }
}

impl From<tokio::task::JoinError> for CarryError {
    fn from(error: tokio::task::JoinError) -> Self {
        Self::Store(error.into())
    }
}

/// How far the work is: called with what is done and what there is to do, and in what.
pub type Progress<'a> = &'a (dyn Fn(&'static str, u64, u64) + Send + Sync);

fn named(path: &std::path::Path) -> impl Fn(std::io::Error) -> CarryError + '_ {
    move |cause| CarryError::File {
        path: path.to_owned(),
        cause,
    }
}

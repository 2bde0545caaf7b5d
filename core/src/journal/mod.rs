//! SQLite on the device: an action is durable before it is acknowledged.
//!
//! The change rows are the truth and are never deleted. Snapshots and read models beside them
//! only make opening quick; a damaged one is thrown away and made again. The journal knows
//! nothing of peers' trust or of pictures.

mod cache;
mod model;
mod peers;
mod rows;
mod schema;
#[cfg(test)]
mod tests;

use std::path::Path;

use rusqlite::{Connection, OptionalExtension};

pub use crate::document::SignedPrefix;
pub use cache::{Opened, table_digest};
pub use peers::PeerHolds;

use crate::job::JobId;

/// Why the journal cannot do what was asked. Nothing acknowledged is lost by it.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum JournalError {
    /// The database was written by a newer version.
    #[error(
        "this notebook was written by a newer version (layout {found}, known {known}): update first"
    )]
    Newer {
        /// Layout of the file.
        found: u32,
        /// Newest layout this version knows.
        known: u32,
    },
    /// The file is not a journal, or its first page is damaged.
    #[error(
        "the notebook's file is not readable as a journal: keep it, and restore a copy beside it"
    )]
    NotAJournal,
    /// The disk is full. What was recorded before is safe.
    #[error("the disk is full: free some space and record this again; everything before is safe")]
    DiskFull,
    /// Anything else that the database reports.
    #[error("the notebook's database failed: {0}")]
    Database(String),
    /// What is stored could not be encoded or decoded.
    #[error("a stored value cannot be read: {0}")]
    Value(String),
}

impl From<rusqlite::Error> for JournalError {
    fn from(error: rusqlite::Error) -> Self {
        use rusqlite::ErrorCode as Code;
        let extended = error.sqlite_error().map(|error| error.extended_code);
        match error.sqlite_error_code() {
            Some(Code::DiskFull) => JournalError::DiskFull,
            // The index of the write-ahead log finds no room: the system says no more than that.
            _ if extended == Some(rusqlite::ffi::SQLITE_IOERR_SHMSIZE) => JournalError::DiskFull,
            Some(Code::NotADatabase) => JournalError::NotAJournal,
            _ => JournalError::Database(error.to_string()),
        }
    }
}

/// Damage that was found and worked around. What can be read was read.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Trouble {
    /// A change row is damaged; changes that build on it wait for a peer that holds it.
    DamagedChange {
        /// The job.
        job: JobId,
        /// The row.
        row: i64,
    },
    /// Rows from here on cannot be read.
    UnreadableRows {
        /// The job.
        job: JobId,
        /// What the database says.
        reason: String,
    },
    /// The snapshot was damaged and the document was rebuilt from its changes.
    SnapshotRebuilt {
        /// The job.
        job: JobId,
    },
    /// Changes that build on damaged ones; they are kept, and count once those are there again.
    Waiting {
        /// The job.
        job: JobId,
        /// How many.
        changes: usize,
    },
}

impl std::fmt::Display for Trouble {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Trouble::DamagedChange { job, row } => write!(
                f,
                "job {job}: change row {row} is damaged; sync with the other phone or the office to get it back"
            ),
            Trouble::UnreadableRows { job, reason } => {
                write!(
                    f,
                    "job {job}: later changes cannot be read from the disk ({reason})"
                )
            }
            Trouble::SnapshotRebuilt { job } => {
                write!(
                    f,
                    "job {job}: the snapshot was damaged and was rebuilt from the changes"
                )
            }
            Trouble::Waiting { job, changes } => {
                write!(f, "job {job}: {changes} changes wait for a damaged one")
            }
        }
    }
}

/// The open database of one notebook.
#[derive(Debug)]
pub struct Journal {
    db: Connection,
}

impl Journal {
    /// Opens or creates the database file, and brings an older layout up to date.
    pub fn open(path: &Path) -> Result<Self, JournalError> {
        let db = Connection::open(path)?;
        // More than there are: one that falls out is prepared anew each time.
        db.set_prepared_statement_cache_capacity(64);
        db.pragma_update(None, "journal_mode", "WAL")?;
        // FULL: a commit returns after the write-ahead log is on the disk.
        db.pragma_update(None, "synchronous", "FULL")?;
        db.pragma_update(None, "foreign_keys", "ON")?;
        db.busy_timeout(std::time::Duration::from_secs(10))?;
        let mut journal = Self { db };
        schema::migrate(&mut journal.db)?;
        Ok(journal)
    }

    /// A value of the notebook itself, such as its identity.
    pub fn setting(&self, name: &str) -> Result<Option<Vec<u8>>, JournalError> {
        let mut query = self
            .db
            .prepare_cached("SELECT value FROM settings WHERE name = ?1")?;
        Ok(query.query_row([name], |row| row.get(0)).optional()?)
    }

    /// Stores a value of the notebook itself, durably.
    pub fn set_setting(&self, name: &str, value: &[u8]) -> Result<(), JournalError> {
        self.db.execute(
            "INSERT INTO settings (name, value) VALUES (?1, ?2)
             ON CONFLICT (name) DO UPDATE SET value = excluded.value",
            rusqlite::params![name, value],
        )?;
        Ok(())
    }

    /// The jobs that have changes here, oldest first.
    pub fn jobs(&self) -> Result<Vec<JobId>, JournalError> {
        let mut query = self.db.prepare_cached("SELECT id FROM jobs ORDER BY id")?;
        let ids = query.query_map([], |row| row.get::<_, [u8; 16]>(0))?;
        ids.map(|id| Ok(JobId::from_bytes(id?))).collect()
    }

    /// Lets the database grow no further, as on a full disk, or as it likes again. For tests.
    #[cfg(feature = "testing")]
    pub fn fill_disk(&self, full: bool) -> Result<(), JournalError> {
        // One page is less than there is: SQLite then takes the present size as the limit.
        let pages: u32 = if full { 1 } else { u32::MAX - 1 };
        self.db
            .query_row(&format!("PRAGMA max_page_count = {pages}"), [], |_| Ok(()))?;
        Ok(())
    }

    /// Takes back what a transaction began and did not commit, where it was stopped in the middle.
    pub fn roll_back(&self) {
        // There is mostly none.
        let _ = self.db.execute_batch("ROLLBACK");
    }

    /// Begins to store a value and does not end it. For tests.
    #[cfg(feature = "testing")]
    pub fn half_a_setting(&self, name: &str) -> Result<(), JournalError> {
        self.db.execute_batch("BEGIN IMMEDIATE")?;
        self.set_setting(name, b"half")
    }

    /// Moves the write-ahead log into the database file. Called when a notebook closes.
    pub fn checkpoint(&self) -> Result<(), JournalError> {
        self.db
            .query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))?;
        Ok(())
    }
}

/// Eight bytes that tell whether stored bytes are as they were written.
fn checksum(parts: &[&[u8]]) -> [u8; 8] {
    let mut hasher = blake3::Hasher::new();
    for part in parts {
        hasher.update(&(part.len() as u64).to_le_bytes());
        hasher.update(part);
    }
    let mut sum = [0; 8];
    sum.copy_from_slice(&hasher.finalize().as_bytes()[..8]);
    sum
}

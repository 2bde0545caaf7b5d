//! Snapshots and read models: they make opening quick and can always be made again.

use rusqlite::{OptionalExtension, params};

use super::rows::ReadRows;
use super::{Journal, JournalError, Trouble, checksum, model};
use crate::document::{Document, DocumentError, Table};
use crate::job::{Job, JobId};
use crate::limits;

/// A document as it was opened, and the damage that was worked around.
#[derive(Debug)]
pub struct Opened {
    /// The document with all changes that can be read.
    pub document: Document,
    /// Changes since the snapshot.
    pub tail: u64,
    /// What was found damaged.
    pub troubles: Vec<Trouble>,
}

/// One digest of a table: equal for two replicas exactly when they hold the same changes.
pub fn table_digest(table: &Table) -> [u8; 16] {
    let mut hasher = blake3::Hasher::new();
    for (author, held) in table {
        hasher.update(&author.to_bytes());
        hasher.update(&held.number.to_le_bytes());
        hasher.update(&held.short_hash);
    }
    let mut digest = [0; 16];
    digest.copy_from_slice(&hasher.finalize().as_bytes()[..16]);
    digest
}

/// How hard snapshots are compressed: beyond 6 the gain is small and a phone feels it.
const LEVEL: i32 = 6;

impl Journal {
    /// Opens a job's document from snapshot and rows.
    pub fn open_document(&self, job: JobId) -> Result<Opened, JournalError> {
        let mut troubles = Vec::new();
        let (mut document, upto) = match self.snapshot(job)? {
            Some((saved, upto)) => match Document::load(&saved) {
                Ok(document) => (document, upto),
                Err(_) => {
                    troubles.push(Trouble::SnapshotRebuilt { job });
                    (new_document()?, 0)
                }
            },
            None => {
                if self.has_snapshot(job)? {
                    troubles.push(Trouble::SnapshotRebuilt { job });
                }
                (new_document()?, 0)
            }
        };
        let ReadRows {
            rows,
            last: _,
            troubles: damaged,
        } = self.read_rows(job, upto)?;
        let tail = rows.len() as u64;
        if damaged.is_empty() {
            document.replay(&rows).map_err(value)?;
        } else {
            troubles.extend(damaged);
            let (fit, waiting) = document.split_by_fit(rows);
            document.replay(&fit).map_err(value)?;
            if waiting > 0 {
                troubles.push(Trouble::Waiting {
                    job,
                    changes: waiting,
                });
            }
        }
        Ok(Opened {
            document,
            tail,
            troubles,
        })
    }

    /// Writes snapshot and read model of a document that holds every row of the job.
    pub fn save_snapshot(&self, job: JobId, document: &Document) -> Result<(), JournalError> {
        let upto = self.last_row(job)?;
        let data = pack(&document.save())?;
        let sum = checksum(&[job.as_bytes(), &upto.to_le_bytes(), &data]);
        self.db.execute(
            "INSERT INTO snapshots (job, upto, data, checksum) VALUES (?1, ?2, ?3, ?4)
             ON CONFLICT (job) DO UPDATE SET
                upto = excluded.upto, data = excluded.data, checksum = excluded.checksum",
            params![job.as_bytes(), upto, data, sum],
        )?;
        self.save_model(job, document)
    }

    /// Writes the read model alone.
    pub fn save_model(&self, job: JobId, document: &Document) -> Result<(), JournalError> {
        let packed =
            model::write(document.job()).map_err(|error| JournalError::Value(error.to_string()))?;
        let data = pack(&packed)?;
        let digest = table_digest(&document.table());
        let sum = checksum(&[job.as_bytes(), &digest, &data]);
        self.db.execute(
            "INSERT INTO models (job, digest, data, checksum) VALUES (?1, ?2, ?3, ?4)
             ON CONFLICT (job) DO UPDATE SET
                digest = excluded.digest, data = excluded.data, checksum = excluded.checksum",
            params![job.as_bytes(), digest, data, sum],
        )?;
        Ok(())
    }

    /// The read model, where it is of exactly the changes held. A damaged or older one is `None`.
    pub fn cached_model(&self, job: JobId) -> Result<Option<Job>, JournalError> {
        let mut query = self
            .db
            .prepare_cached("SELECT digest, data, checksum FROM models WHERE job = ?1")?;
        let found: Option<(Vec<u8>, Vec<u8>, Vec<u8>)> = query
            .query_row([job.as_bytes()], |row| {
                Ok((row.get(0)?, row.get(1)?, row.get(2)?))
            })
            .optional()?;
        let Some((digest, data, sum)) = found else {
            return Ok(None);
        };
        let current = table_digest(&self.table(job)?);
        let good =
            digest == current && checksum(&[job.as_bytes(), &digest, &data]) == sum.as_slice();
        if !good {
            return Ok(None);
        }
        Ok(unpack(&data).and_then(|bytes| model::read(&bytes)))
    }

    /// Bytes that the snapshot takes on disk; 0 where there is none.
    pub fn snapshot_size(&self, job: JobId) -> Result<usize, JournalError> {
        let mut query = self
            .db
            .prepare_cached("SELECT length(data) FROM snapshots WHERE job = ?1")?;
        let size: Option<i64> = query
            .query_row([job.as_bytes()], |row| row.get(0))
            .optional()?;
        Ok(size
            .and_then(|size| usize::try_from(size).ok())
            .unwrap_or(0))
    }

    fn snapshot(&self, job: JobId) -> Result<Option<(Vec<u8>, i64)>, JournalError> {
        let mut query = self
            .db
            .prepare_cached("SELECT upto, data, checksum FROM snapshots WHERE job = ?1")?;
        let found: Option<(i64, Vec<u8>, Vec<u8>)> = query
            .query_row([job.as_bytes()], |row| {
                Ok((row.get(0)?, row.get(1)?, row.get(2)?))
            })
            .optional()?;
        Ok(found.and_then(|(upto, data, sum)| {
            let good = checksum(&[job.as_bytes(), &upto.to_le_bytes(), &data]) == sum.as_slice();
            if good {
                Some((unpack(&data)?, upto))
            } else {
                None
            }
        }))
    }

    fn has_snapshot(&self, job: JobId) -> Result<bool, JournalError> {
        let mut query = self
            .db
            .prepare_cached("SELECT 1 FROM snapshots WHERE job = ?1")?;
        Ok(query.exists([job.as_bytes()])?)
    }
}

fn new_document() -> Result<Document, JournalError> {
    Document::new().map_err(value)
}

fn value(error: DocumentError) -> JournalError {
    JournalError::Value(error.to_string())
}

fn pack(bytes: &[u8]) -> Result<Vec<u8>, JournalError> {
    zstd::bulk::compress(bytes, LEVEL).map_err(|error| JournalError::Value(error.to_string()))
}

fn unpack(data: &[u8]) -> Option<Vec<u8>> {
    let size = zstd::zstd_safe::get_frame_content_size(data).ok()??;
    let size = usize::try_from(size)
        .ok()
        .filter(|size| *size <= limits::SNAPSHOT_BYTES)?;
    zstd::bulk::decompress(data, size).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_snapshot_that_inflates_past_its_limit_is_not_inflated() {
        let zeros = vec![0; limits::SNAPSHOT_BYTES + 1];
        let packed = |bytes: &[u8]| zstd::bulk::compress(bytes, 1).unwrap();
        assert_eq!(unpack(&packed(&zeros)), None);
        let most = unpack(&packed(&zeros[1..])).unwrap();
        assert_eq!(most.len(), limits::SNAPSHOT_BYTES);
        // One that does not say how much it is.
        assert_eq!(unpack(b"no frame"), None);
    }
}

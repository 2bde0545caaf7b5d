//! Change rows: appended, read in order, never altered.

use std::collections::BTreeMap;

use rusqlite::{OptionalExtension, params};

use super::{Journal, JournalError, Trouble, checksum};
use crate::document::{Author, ChangeRow, Held, Refusal, SignedPrefix, Table, short_hash};
use crate::job::JobId;

/// Rows as they were read, and what could not be.
pub(super) struct ReadRows {
    pub(super) rows: Vec<ChangeRow>,
    pub(super) last: i64,
    pub(super) troubles: Vec<Trouble>,
}

impl Journal {
    /// Appends changes of one job, all or none. They are durable when this returns.
    ///
    /// A change that is held already is passed over; another change with the same author and
    /// number is refused.
    pub fn append(&mut self, job: JobId, rows: &[ChangeRow]) -> Result<(), JournalError> {
        let tx = self.db.transaction()?;
        {
            tx.prepare_cached("INSERT OR IGNORE INTO jobs (id) VALUES (?1)")?
                .execute([job.as_bytes()])?;
            let mut insert = tx.prepare_cached(
                "INSERT OR IGNORE INTO changes (job, author, number, hash, bytes, signature, checksum)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
            )?;
            for row in rows {
                let author = row.author.to_bytes();
                let number = i64::try_from(row.number).unwrap_or(i64::MAX);
                insert.execute(params![
                    job.as_bytes(),
                    author,
                    number,
                    row.hash,
                    row.bytes,
                    row.signature,
                    row_checksum(job, row)
                ])?;
            }
        }
        tx.commit()?;
        Ok(())
    }

    /// How far each author is held.
    pub fn table(&self, job: JobId) -> Result<Table, JournalError> {
        let mut query = self.db.prepare_cached(
            "SELECT author, max(number), hash FROM changes WHERE job = ?1 GROUP BY author",
        )?;
        let mut rows = query.query([job.as_bytes()])?;
        let mut table = Table::new();
        while let Some(row) = rows.next()? {
            let author: Vec<u8> = row.get(0)?;
            let hash: [u8; 32] = row.get(2)?;
            let Some(author) = Author::from_bytes(&author) else {
                continue;
            };
            let number: i64 = row.get(1)?;
            let number = u64::try_from(number).unwrap_or(0);
            table.insert(
                author,
                Held {
                    number,
                    short_hash: short_hash(&hash),
                },
            );
        }
        Ok(table)
    }

    /// The hash of one change.
    pub fn hash_of(
        &self,
        job: JobId,
        author: Author,
        number: u64,
    ) -> Result<Option<[u8; 32]>, JournalError> {
        let number = i64::try_from(number).unwrap_or(i64::MAX);
        let mut query = self.db.prepare_cached(
            "SELECT hash FROM changes WHERE job = ?1 AND author = ?2 AND number = ?3",
        )?;
        let params = params![job.as_bytes(), author.to_bytes(), number];
        Ok(query.query_row(params, |row| row.get(0)).optional()?)
    }

    /// Changes that a peer with this table lacks, in causal order, at most about `max_bytes`,
    /// cut where the last change of each author bears a signature.
    pub fn lacking(
        &self,
        job: JobId,
        peer: &Table,
        max_bytes: usize,
    ) -> Result<Vec<ChangeRow>, JournalError> {
        let mut query = self.db.prepare_cached(
            "SELECT row, author, number, hash, bytes, signature, checksum
             FROM changes WHERE job = ?1 ORDER BY row",
        )?;
        let mut found = query.query([job.as_bytes()])?;
        let mut batch = SignedPrefix::new(max_bytes);
        while let Some(stored) = found.next()? {
            let author: Vec<u8> = stored.get(1)?;
            let number: i64 = stored.get(2)?;
            let held = Author::from_bytes(&author).and_then(|a| peer.get(&a));
            if held.is_some_and(|held| held.number >= u64::try_from(number).unwrap_or(0)) {
                continue;
            }
            match read_row(job, stored)? {
                Some(row) => {
                    if batch.push(row) {
                        break;
                    }
                }
                // What builds on a damaged change cannot be judged by the peer.
                None => break,
            }
        }
        Ok(batch.finish())
    }

    /// All rows of a job behind a row number. Damage is reported and passed over.
    pub(super) fn read_rows(&self, job: JobId, after: i64) -> Result<ReadRows, JournalError> {
        let mut read = ReadRows {
            rows: Vec::new(),
            last: after,
            troubles: Vec::new(),
        };
        let mut query = self.db.prepare_cached(
            "SELECT row, author, number, hash, bytes, signature, checksum
             FROM changes WHERE job = ?1 AND row > ?2 ORDER BY row",
        )?;
        let mut rows = query.query(params![job.as_bytes(), after])?;
        loop {
            match rows.next() {
                Ok(Some(stored)) => {
                    read.last = stored.get(0)?;
                    match read_row(job, stored)? {
                        Some(row) => read.rows.push(row),
                        None => {
                            let row = read.last;
                            read.troubles.push(Trouble::DamagedChange { job, row });
                        }
                    }
                }
                Ok(None) => break,
                Err(error) => {
                    let reason = error.to_string();
                    read.troubles.push(Trouble::UnreadableRows { job, reason });
                    break;
                }
            }
        }
        Ok(read)
    }

    /// The last row number of a job; 0 where it has none.
    pub(super) fn last_row(&self, job: JobId) -> Result<i64, JournalError> {
        let mut query = self
            .db
            .prepare_cached("SELECT coalesce(max(row), 0) FROM changes WHERE job = ?1")?;
        Ok(query.query_row([job.as_bytes()], |row| row.get(0))?)
    }

    /// Signatures that are kept, by change hash: for the custody report.
    pub fn signatures(&self, job: JobId) -> Result<BTreeMap<[u8; 32], [u8; 64]>, JournalError> {
        let mut query = self.db.prepare_cached(
            "SELECT hash, signature FROM changes WHERE job = ?1 AND signature IS NOT NULL",
        )?;
        let rows = query.query_map([job.as_bytes()], |row| Ok((row.get(0)?, row.get(1)?)))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}

fn row_checksum(job: JobId, row: &ChangeRow) -> [u8; 8] {
    let signature: &[u8] = row.signature.as_ref().map_or(&[], |s| s.as_slice());
    checksum(&[
        job.as_bytes(),
        &row.author.to_bytes(),
        &row.number.to_le_bytes(),
        &row.hash,
        &row.bytes,
        signature,
    ])
}

/// Reads a row; `None` where it is not as it was written.
fn read_row(job: JobId, stored: &rusqlite::Row<'_>) -> Result<Option<ChangeRow>, JournalError> {
    let author: Vec<u8> = stored.get(1)?;
    let number: i64 = stored.get(2)?;
    let sum: Vec<u8> = stored.get(6)?;
    let hash: Vec<u8> = stored.get(3)?;
    let signature: Option<Vec<u8>> = stored.get(5)?;
    let parts = (|| {
        let signature = match signature {
            Some(bytes) => Some(<[u8; 64]>::try_from(bytes).ok()?),
            None => None,
        };
        let number = u64::try_from(number).ok()?;
        Some((
            Author::from_bytes(&author)?,
            number,
            <[u8; 32]>::try_from(hash).ok()?,
            signature,
        ))
    })();
    let Some((author, number, hash, signature)) = parts else {
        return Ok(None);
    };
    let row = ChangeRow {
        author,
        number,
        hash,
        bytes: stored.get(4)?,
        signature,
    };
    Ok((row_checksum(job, &row) == sum.as_slice()).then_some(row))
}

impl From<JournalError> for Refusal {
    fn from(error: JournalError) -> Self {
        Refusal::Storage(error.to_string())
    }
}

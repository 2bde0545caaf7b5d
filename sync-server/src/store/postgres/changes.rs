//! Adding changes. Whoever adds to a job holds its lock, so nodes take turns at one job and never
//! at two; the unique keys of the table would refuse what the lock let through.

use std::collections::{BTreeMap, BTreeSet};

use chalkwalk_core::document::{Author, ChangeRow, Held, Table};
use chalkwalk_core::job::{JobId, Millis};
use chalkwalk_core::limits;
use tokio_postgres::types::Type;

use super::people;
use super::pool::Lease;
use super::row::{author, bytes, count, number};
use crate::store::encoding::{fixed, signed};
use crate::store::{Appended, Device, StoreError};

pub(super) async fn table(db: &Lease, job: JobId) -> Result<Table, StoreError> {
    let mut table = Table::new();
    for row in db
        .all(
            "SELECT author, number, hash FROM @author WHERE job = $1",
            &[(&job.as_bytes().as_slice(), Type::BYTEA)],
        )
        .await?
    {
        let hash: [u8; 32] = bytes(&row, 2)?;
        let held = Held {
            number: count(&row, 1)?,
            short_hash: fixed(&hash[..8])?,
        };
        table.insert(author(&row, 0)?, held);
    }
    Ok(table)
}

/// Adds a batch; the second value is the number of the news of it.
pub(super) async fn append(
    db: &Lease,
    job: JobId,
    rows: &[ChangeRow],
    devices: &[Device],
    now: Millis,
) -> Result<(Appended, Option<i64>), StoreError> {
    db.begin_locked(db.lock_of(&[b"job", job.as_bytes()]))
        .await?;
    match judge(db, job, rows, devices).await {
        Ok(plan) => write(db, job, &plan, now).await,
        Err(error) => db.roll_back(error).await,
    }
}

/// What a batch comes to.
struct Plan<'a> {
    held: u64,
    new: Vec<&'a ChangeRow>,
    /// Signatures that were lacking, by hash.
    signatures: Vec<&'a ChangeRow>,
}

async fn judge<'a>(
    db: &Lease,
    job: JobId,
    rows: &'a [ChangeRow],
    devices: &[Device],
) -> Result<Plan<'a>, StoreError> {
    let known = people::know(db, devices);
    let (known, stored) = tokio::join!(known, Stored::read(db, job, rows));
    known?;
    stored?.plan(rows)
}

/// What stands of a job, as far as a batch touches it.
struct Stored {
    held: u64,
    authors: u64,
    last: BTreeMap<Author, u64>,
    at: BTreeMap<(Author, u64), [u8; 32]>,
    hashes: BTreeSet<[u8; 32]>,
}

impl Stored {
    async fn read(db: &Lease, job: JobId, rows: &[ChangeRow]) -> Result<Self, StoreError> {
        let job = job.as_bytes().as_slice();
        let named: BTreeSet<[u8; 24]> = rows.iter().map(|row| row.author.to_bytes()).collect();
        let named: Vec<&[u8]> = named.iter().map(<[u8; 24]>::as_slice).collect();
        let authors: Vec<[u8; 24]> = rows.iter().map(|row| row.author.to_bytes()).collect();
        let authors: Vec<&[u8]> = authors.iter().map(<[u8; 24]>::as_slice).collect();
        let numbers: Vec<i64> = rows
            .iter()
            .map(|row| signed(row.number))
            .collect::<Result<_, _>>()?;
        let hashes: Vec<&[u8]> = rows.iter().map(|row| row.hash.as_slice()).collect();

        let with = [(&job as _, Type::BYTEA)];
        let totals = db.one(
            "SELECT coalesce((SELECT changes FROM @job WHERE id = $1), 0),
                (SELECT count(*) FROM @author WHERE job = $1)",
            &with,
        );
        let with = [(&job as _, Type::BYTEA), (&named as _, Type::BYTEA_ARRAY)];
        let last = db.all(
            "SELECT author, number FROM @author WHERE job = $1 AND author = ANY($2)",
            &with,
        );
        let with = [
            (&job as _, Type::BYTEA),
            (&authors as _, Type::BYTEA_ARRAY),
            (&numbers as _, Type::INT8_ARRAY),
        ];
        let at = db.all(
            "SELECT c.author, c.number, c.hash FROM unnest($2, $3) AS t (author, number)
             JOIN @change c ON c.job = $1 AND c.author = t.author AND c.number = t.number",
            &with,
        );
        let with = [(&job as _, Type::BYTEA), (&hashes as _, Type::BYTEA_ARRAY)];
        let known = db.all(
            "SELECT hash FROM @change WHERE job = $1 AND hash = ANY($2)",
            &with,
        );
        let (totals, last, at, known) = tokio::join!(totals, last, at, known);
        let totals = totals?;
        let mut stored = Self {
            held: count(&totals, 0)?,
            authors: count(&totals, 1)?,
            last: BTreeMap::new(),
            at: BTreeMap::new(),
            hashes: BTreeSet::new(),
        };
        for row in last? {
            stored.last.insert(author(&row, 0)?, count(&row, 1)?);
        }
        for row in at? {
            let name = (author(&row, 0)?, count(&row, 1)?);
            stored.at.insert(name, bytes(&row, 2)?);
        }
        for row in known? {
            stored.hashes.insert(bytes(&row, 0)?);
        }
        Ok(stored)
    }

    /// Goes through a batch in its order: the first row that may not be added refuses it whole.
    fn plan(mut self, rows: &[ChangeRow]) -> Result<Plan<'_>, StoreError> {
        let mut plan = Plan {
            held: self.held,
            new: Vec::new(),
            signatures: Vec::new(),
        };
        for row in rows {
            let last = self.last.get(&row.author).copied().unwrap_or(0);
            let name = (row.author, row.number);
            if row.number <= last {
                if self.at.get(&name) != Some(&row.hash) {
                    return Err(StoreError::Forked {
                        device: row.author.device,
                        number: row.number,
                    });
                }
                if row.signature.is_some() {
                    plan.signatures.push(row);
                }
                continue;
            }
            if row.number != last + 1 {
                return Err(StoreError::Gap);
            }
            if last == 0 && self.authors >= limits::JOB_AUTHORS as u64 {
                return Err(StoreError::Limit("authors of one job"));
            }
            if self.held + plan.new.len() as u64 >= limits::JOB_CHANGES {
                return Err(StoreError::Limit("changes of one job"));
            }
            if !self.hashes.insert(row.hash) {
                return Err(StoreError::Contradiction("one change under two numbers"));
            }
            self.authors += u64::from(last == 0);
            self.last.insert(row.author, row.number);
            self.at.insert(name, row.hash);
            plan.new.push(row);
        }
        Ok(plan)
    }
}

/// Writes and commits in one go. Where a statement fails, the commit after it rolls back.
async fn write(
    db: &Lease,
    job: JobId,
    plan: &Plan<'_>,
    now: Millis,
) -> Result<(Appended, Option<i64>), StoreError> {
    let new_changes = plan.new.len();
    let appended = Appended { new_changes };
    let id = job.as_bytes().as_slice();
    let with = [(&id as _, Type::BYTEA)];
    let told = async {
        if new_changes == 0 {
            return Ok(None);
        }
        let (rows, authors, job_row, news) = tokio::join!(
            insert(db, job, plan),
            last_of_authors(db, job, plan),
            count_up(db, job, plan, now),
            db.one("INSERT INTO @news (job) VALUES ($1) RETURNING seq", &with)
        );
        rows?;
        authors?;
        job_row?;
        number(&news?, 0).map(Some)
    };
    // They are sent in the order in which they stand here, and the answers waited for together.
    let (told, signed, committed) = tokio::join!(told, sign(db, job, plan), db.commit());
    let told = told?;
    signed?;
    committed?;
    Ok((appended, told))
}

async fn sign(db: &Lease, job: JobId, plan: &Plan<'_>) -> Result<(), StoreError> {
    if plan.signatures.is_empty() {
        return Ok(());
    }
    let hashes: Vec<&[u8]> = plan
        .signatures
        .iter()
        .map(|row| row.hash.as_slice())
        .collect();
    let signatures: Vec<Option<&[u8]>> = plan
        .signatures
        .iter()
        .map(|row| row.signature.as_ref().map(<[u8; 64]>::as_slice))
        .collect();
    // A change of this very batch may be named again with its signature: it is there by now.
    db.change(
        "UPDATE @change c SET signature = t.signature FROM unnest($2, $3) AS t (hash, signature)
         WHERE c.job = $1 AND c.hash = t.hash AND c.signature IS NULL",
        &[
            (&job.as_bytes().as_slice(), Type::BYTEA),
            (&hashes, Type::BYTEA_ARRAY),
            (&signatures, Type::BYTEA_ARRAY),
        ],
    )
    .await
    .map(drop)
}

async fn insert(db: &Lease, job: JobId, plan: &Plan<'_>) -> Result<(), StoreError> {
    let job = job.as_bytes().as_slice();
    let first = signed(plan.held)?;
    let places: Vec<i64> = (first..).take(plan.new.len()).collect();
    let authors: Vec<[u8; 24]> = plan.new.iter().map(|row| row.author.to_bytes()).collect();
    let authors: Vec<&[u8]> = authors.iter().map(<[u8; 24]>::as_slice).collect();
    let numbers: Vec<i64> = plan
        .new
        .iter()
        .map(|row| signed(row.number))
        .collect::<Result<_, _>>()?;
    let hashes: Vec<&[u8]> = plan.new.iter().map(|row| row.hash.as_slice()).collect();
    let signatures: Vec<Option<&[u8]>> = plan
        .new
        .iter()
        .map(|row| row.signature.as_ref().map(<[u8; 64]>::as_slice))
        .collect();
    let contents: Vec<&[u8]> = plan.new.iter().map(|row| row.bytes.as_slice()).collect();
    db.change(
        "INSERT INTO @change (job, place, author, number, hash, signature, bytes)
         SELECT $1, * FROM unnest($2, $3, $4, $5, $6, $7)",
        &[
            (&job, Type::BYTEA),
            (&places, Type::INT8_ARRAY),
            (&authors, Type::BYTEA_ARRAY),
            (&numbers, Type::INT8_ARRAY),
            (&hashes, Type::BYTEA_ARRAY),
            (&signatures, Type::BYTEA_ARRAY),
            (&contents, Type::BYTEA_ARRAY),
        ],
    )
    .await
    .map(drop)
}

async fn last_of_authors(db: &Lease, job: JobId, plan: &Plan<'_>) -> Result<(), StoreError> {
    let last: BTreeMap<[u8; 24], &ChangeRow> = plan
        .new
        .iter()
        .map(|row| (row.author.to_bytes(), *row))
        .collect();
    let authors: Vec<&[u8]> = last.keys().map(<[u8; 24]>::as_slice).collect();
    let numbers: Vec<i64> = last
        .values()
        .map(|row| signed(row.number))
        .collect::<Result<_, _>>()?;
    let hashes: Vec<&[u8]> = last.values().map(|row| row.hash.as_slice()).collect();
    db.change(
        "INSERT INTO @author (job, author, number, hash)
         SELECT $1, * FROM unnest($2, $3, $4)
         ON CONFLICT (job, author) DO UPDATE SET number = excluded.number, hash = excluded.hash",
        &[
            (&job.as_bytes().as_slice(), Type::BYTEA),
            (&authors, Type::BYTEA_ARRAY),
            (&numbers, Type::INT8_ARRAY),
            (&hashes, Type::BYTEA_ARRAY),
        ],
    )
    .await
    .map(drop)
}

async fn count_up(db: &Lease, job: JobId, plan: &Plan<'_>, now: Millis) -> Result<(), StoreError> {
    let changes = signed(plan.held + plan.new.len() as u64)?;
    db.change(
        "INSERT INTO @job (id, changes, first_news, last_news) VALUES ($1, $2, $3, $3)
         ON CONFLICT (id) DO UPDATE SET changes = excluded.changes, last_news = excluded.last_news",
        &[
            (&job.as_bytes().as_slice(), Type::BYTEA),
            (&changes, Type::INT8),
            (&now, Type::INT8),
        ],
    )
    .await
    .map(drop)
}

//! Changes, snapshots and what devices said they hold.

use std::collections::BTreeMap;

use chalkwalk_core::document::{Author, ChangeRow, Held, Table};
use chalkwalk_core::job::{DeviceId, JobId, Millis};
use chalkwalk_core::journal::SignedPrefix;
use chalkwalk_core::limits;
use rusqlite::{Connection, OptionalExtension, Row, params};

use super::encoding::{
    author, bytes, bytes_or_none, count, fixed, signed, table_from_bytes, table_to_bytes,
};
use crate::store::{Appended, PeerHolds, Snapshot, StoreError};

pub(super) fn table(tx: &Connection, job: JobId) -> Result<Table, StoreError> {
    let mut query = tx.prepare_cached("SELECT author, number, hash FROM author WHERE job = ?1")?;
    let mut rows = query.query([job.as_bytes()])?;
    let mut table = Table::new();
    while let Some(row) = rows.next()? {
        let hash: [u8; 32] = bytes(row, 2)?;
        let held = Held {
            number: count(row, 1)?,
            short_hash: fixed(&hash[..8])?,
        };
        table.insert(author(row, 0)?, held);
    }
    Ok(table)
}

pub(super) fn append(
    tx: &Connection,
    job: JobId,
    rows: &[ChangeRow],
    now: Millis,
) -> Result<Appended, StoreError> {
    let mut last = table(tx, job)?;
    let mut held: u64 = tx
        .query_row(
            "SELECT changes FROM job WHERE id = ?1",
            [job.as_bytes()],
            |row| row.get(0),
        )
        .optional()?
        .map_or(Ok(0), |count: i64| {
            u64::try_from(count).map_err(|_| StoreError::Corrupt("a count below zero"))
        })?;
    let before = held;
    let mut moved: BTreeMap<Author, &ChangeRow> = BTreeMap::new();
    for row in rows {
        let number = last.get(&row.author).map_or(0, |held| held.number);
        if row.number <= number {
            again(tx, job, row)?;
            continue;
        }
        if row.number != number + 1 {
            return Err(StoreError::Gap);
        }
        if number == 0 && last.len() >= limits::JOB_AUTHORS {
            return Err(StoreError::Limit("authors of one job"));
        }
        if held >= limits::JOB_CHANGES {
            return Err(StoreError::Limit("changes of one job"));
        }
        add(tx, job, row)?;
        moved.insert(row.author, row);
        let short_hash = fixed(&row.hash[..8])?;
        last.insert(
            row.author,
            Held {
                number: row.number,
                short_hash,
            },
        );
        held += 1;
    }
    for (author, last) in moved {
        tx.prepare_cached(
            "INSERT INTO author (job, author, number, hash) VALUES (?1, ?2, ?3, ?4)
             ON CONFLICT DO UPDATE SET number = excluded.number, hash = excluded.hash",
        )?
        .execute(params![
            job.as_bytes(),
            author.to_bytes(),
            signed(last.number)?,
            last.hash
        ])?;
    }
    if held > before {
        tx.prepare_cached(
            "INSERT INTO job (id, changes, first_news, last_news) VALUES (?1, ?2, ?3, ?3)
             ON CONFLICT DO UPDATE SET changes = excluded.changes, last_news = excluded.last_news",
        )?
        .execute(params![job.as_bytes(), signed(held)?, now])?;
    }
    let new_changes = usize::try_from(held - before).unwrap_or(usize::MAX);
    Ok(Appended { new_changes })
}

/// A change whose author and number are held: it must be the same one, and may bring a signature.
fn again(tx: &Connection, job: JobId, row: &ChangeRow) -> Result<(), StoreError> {
    let name = params![job.as_bytes(), row.author.to_bytes(), signed(row.number)?];
    let held: Option<Vec<u8>> = tx
        .prepare_cached("SELECT hash FROM change WHERE job = ?1 AND author = ?2 AND number = ?3")?
        .query_row(name, |found| found.get(0))
        .optional()?;
    if held.as_deref() != Some(row.hash.as_slice()) {
        return Err(StoreError::Forked {
            device: row.author.device,
            number: row.number,
        });
    }
    if let Some(signature) = row.signature {
        tx.prepare_cached(
            "UPDATE change SET signature = ?3 WHERE job = ?1 AND hash = ?2 AND signature IS NULL",
        )?
        .execute(params![job.as_bytes(), row.hash, signature])?;
    }
    Ok(())
}

/// Adds a change that follows its author's last one; it is then known to stand nowhere else by
/// its number, and the file itself knows hashes but once.
fn add(tx: &Connection, job: JobId, row: &ChangeRow) -> Result<(), StoreError> {
    let added = tx
        .prepare_cached(
            "INSERT INTO change (job, author, number, hash, signature, bytes)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
        )?
        .execute(params![
            job.as_bytes(),
            row.author.to_bytes(),
            signed(row.number)?,
            row.hash,
            row.signature,
            row.bytes
        ]);
    match added {
        Ok(_) => Ok(()),
        Err(error) if is_held_twice(&error) => {
            Err(StoreError::Contradiction("one change under two numbers"))
        }
        Err(error) => Err(error.into()),
    }
}

fn is_held_twice(error: &rusqlite::Error) -> bool {
    error
        .sqlite_error()
        .is_some_and(|error| error.extended_code == rusqlite::ffi::SQLITE_CONSTRAINT_UNIQUE)
}

pub(super) fn lacking(
    tx: &Connection,
    job: JobId,
    theirs: &Table,
    max_bytes: usize,
) -> Result<Vec<ChangeRow>, StoreError> {
    let mut run = SignedPrefix::new(max_bytes);
    let Some(first) = first_lacking(tx, job, theirs)? else {
        return Ok(run.finish());
    };
    let mut query = tx.prepare_cached(
        "SELECT author, number, hash, signature, bytes FROM change
         WHERE job = ?1 AND seq >= ?2 ORDER BY seq",
    )?;
    let mut rows = query.query(params![job.as_bytes(), first])?;
    while let Some(row) = rows.next()? {
        let author = author(row, 0)?;
        let number = count(row, 1)?;
        if number > theirs.get(&author).map_or(0, |held| held.number)
            && run.push(change(row, author, number)?)
        {
            break;
        }
    }
    Ok(run.finish())
}

/// The place of the first change that somebody with this table lacks.
fn first_lacking(tx: &Connection, job: JobId, theirs: &Table) -> Result<Option<i64>, StoreError> {
    let mut query = tx.prepare_cached(
        "SELECT seq, hash FROM change WHERE job = ?1 AND author = ?2 AND number = ?3",
    )?;
    let mut first: Option<i64> = None;
    for (author, ours) in table(tx, job)? {
        let held = theirs.get(&author).map_or(0, |held| held.number);
        let mut at = |number: u64| -> Result<Option<(i64, [u8; 32])>, StoreError> {
            let name = params![job.as_bytes(), author.to_bytes(), signed(number)?];
            let mut rows = query.query(name)?;
            match rows.next()? {
                Some(row) => Ok(Some((row.get(0)?, bytes(row, 1)?))),
                None => Ok(None),
            }
        };
        if let Some(theirs) = theirs.get(&author)
            && let Some((_, hash)) = at(theirs.number)?
            && hash[..8] != theirs.short_hash
        {
            return Err(StoreError::Forked {
                device: author.device,
                number: theirs.number,
            });
        }
        if held < ours.number
            && let Some((seq, _)) = at(held + 1)?
        {
            first = Some(first.map_or(seq, |first| first.min(seq)));
        }
    }
    Ok(first)
}

fn change(row: &Row<'_>, author: Author, number: u64) -> Result<ChangeRow, StoreError> {
    Ok(ChangeRow {
        author,
        number,
        hash: bytes(row, 2)?,
        signature: bytes_or_none(row, 3)?,
        bytes: row.get(4)?,
    })
}

pub(super) fn snapshot(tx: &Connection, job: JobId) -> Result<Option<Snapshot>, StoreError> {
    let mut query =
        tx.prepare_cached("SELECT held, heads, bytes, made_at FROM snapshot WHERE job = ?1")?;
    let mut rows = query.query([job.as_bytes()])?;
    let Some(row) = rows.next()? else {
        return Ok(None);
    };
    let held: Vec<u8> = row.get(0)?;
    let heads: Vec<u8> = row.get(1)?;
    Ok(Some(Snapshot {
        table: table_from_bytes(&held)?,
        heads: heads.chunks(32).map(fixed).collect::<Result<_, _>>()?,
        bytes: row.get(2)?,
        made_at: row.get(3)?,
    }))
}

pub(super) fn put_snapshot(
    tx: &Connection,
    job: JobId,
    snapshot: &Snapshot,
) -> Result<(), StoreError> {
    tx.prepare_cached(
        "INSERT OR REPLACE INTO snapshot (job, held, heads, bytes, made_at)
         VALUES (?1, ?2, ?3, ?4, ?5)",
    )?
    .execute(params![
        job.as_bytes(),
        table_to_bytes(&snapshot.table),
        snapshot.heads.concat(),
        snapshot.bytes,
        snapshot.made_at
    ])?;
    Ok(())
}

pub(super) fn note_peer(tx: &Connection, job: JobId, holds: &PeerHolds) -> Result<(), StoreError> {
    let known = peers(tx, job)?
        .into_iter()
        .find(|known| known.device == holds.device);
    let mut known = known.unwrap_or_else(|| holds.clone());
    known.add(holds);
    tx.prepare_cached(
        "INSERT OR REPLACE INTO peer (job, device, held, at) VALUES (?1, ?2, ?3, ?4)",
    )?
    .execute(params![
        job.as_bytes(),
        known.device.as_bytes(),
        table_to_bytes(&known.table),
        known.at
    ])?;
    Ok(())
}

pub(super) fn peers(tx: &Connection, job: JobId) -> Result<Vec<PeerHolds>, StoreError> {
    let mut query =
        tx.prepare_cached("SELECT device, held, at FROM peer WHERE job = ?1 ORDER BY device")?;
    let mut rows = query.query([job.as_bytes()])?;
    let mut peers = Vec::new();
    while let Some(row) = rows.next()? {
        let held: Vec<u8> = row.get(1)?;
        peers.push(PeerHolds {
            device: DeviceId::from_bytes(bytes(row, 0)?),
            table: table_from_bytes(&held)?,
            at: row.get(2)?,
        });
    }
    Ok(peers)
}

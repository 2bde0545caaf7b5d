//! How jobs stand, the photos they name, and which files are whole.

use std::collections::BTreeSet;

use chalkwalk_core::job::{BlobKind, DeviceId, JobId, Millis, PhotoHash, PhotoRole};
use chrono::NaiveDate;
use rusqlite::{Connection, Row, params};

use super::encoding::{authors_of, bytes, count, kind, signed};
use crate::store::{BlobEntry, BlobKey, Crew, JobStatus, PhotoEntry, Room, StoreError, Summary};

const STATUS: &str = "
SELECT job.id, changes, first_news, last_news, title, date_of_loss, findings, summary.photos, read_at,
    owner, questions, crew,
    (SELECT count(*) FROM photo WHERE photo.job = job.id),
    (SELECT count(*) FROM photo JOIN blob USING (hash)
        WHERE photo.job = job.id AND kind = 'thumbnail'),
    (SELECT count(*) FROM photo JOIN blob USING (hash)
        WHERE photo.job = job.id AND kind = 'original')
FROM job LEFT JOIN summary ON summary.job = job.id
WHERE ?1 IS NULL OR job.id = ?1
ORDER BY job.id";

/// One job or all.
pub(super) fn jobs(tx: &Connection, only: Option<JobId>) -> Result<Vec<JobStatus>, StoreError> {
    let mut query = tx.prepare_cached(STATUS)?;
    let mut rows = query.query([only.as_ref().map(JobId::as_bytes)])?;
    let mut jobs = Vec::new();
    while let Some(row) = rows.next()? {
        jobs.push(JobStatus {
            job: JobId::from_bytes(bytes(row, 0)?),
            changes: count(row, 1)?,
            first_news: row.get(2)?,
            last_news: row.get(3)?,
            summary: summary(row)?,
            photos: count(row, 12)?,
            thumbnails: count(row, 13)?,
            originals: count(row, 14)?,
        });
    }
    Ok(jobs)
}

pub(super) fn job_ids(tx: &Connection) -> Result<Vec<JobId>, StoreError> {
    let mut query = tx.prepare_cached("SELECT id FROM job ORDER BY id")?;
    let mut rows = query.query([])?;
    let mut jobs = Vec::new();
    while let Some(row) = rows.next()? {
        jobs.push(JobId::from_bytes(bytes(row, 0)?));
    }
    Ok(jobs)
}

pub(super) fn count_jobs(tx: &Connection) -> Result<u64, StoreError> {
    let mut query = tx.prepare_cached("SELECT count(*) FROM job")?;
    let mut rows = query.query([])?;
    rows.next()?.map_or(Ok(0), |row| count(row, 0))
}

pub(super) fn jobs_written_by(
    tx: &Connection,
    device: DeviceId,
) -> Result<BTreeSet<JobId>, StoreError> {
    let (from, to) = authors_of(device);
    let mut query =
        tx.prepare_cached("SELECT DISTINCT job FROM author WHERE author BETWEEN ?1 AND ?2")?;
    let mut rows = query.query([from, to])?;
    let mut jobs = BTreeSet::new();
    while let Some(row) = rows.next()? {
        jobs.insert(JobId::from_bytes(bytes(row, 0)?));
    }
    Ok(jobs)
}

pub(super) fn has_written(
    tx: &Connection,
    device: DeviceId,
    job: JobId,
) -> Result<bool, StoreError> {
    let (from, to) = authors_of(device);
    let mut query = tx.prepare_cached(
        "SELECT 1 FROM author WHERE job = ?1 AND author BETWEEN ?2 AND ?3 LIMIT 1",
    )?;
    Ok(query.exists(params![job.as_bytes(), from, to])?)
}

fn summary(row: &Row<'_>) -> Result<Option<Summary>, StoreError> {
    let Some(title) = row.get::<_, Option<String>>(4)? else {
        return Ok(None);
    };
    let date: Option<String> = row.get(5)?;
    Ok(Some(Summary {
        title,
        owner: row.get(9)?,
        date_of_loss: date.and_then(|date| date.parse::<NaiveDate>().ok()),
        findings: row.get(6)?,
        photos: row.get(7)?,
        questions: row.get(10)?,
        crew: Crew::of_number(row.get(11)?),
        changes: count(row, 8)?,
    }))
}

pub(super) fn describe(
    tx: &Connection,
    job: JobId,
    summary: &Summary,
    entries: &[PhotoEntry],
) -> Result<(), StoreError> {
    let stands = tx
        .prepare_cached(
            "INSERT INTO summary AS s (job, title, date_of_loss, findings, photos, read_at,
                owner, questions, crew)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)
             ON CONFLICT DO UPDATE SET title = excluded.title,
                date_of_loss = excluded.date_of_loss, findings = excluded.findings,
                photos = excluded.photos, read_at = excluded.read_at, owner = excluded.owner,
                questions = excluded.questions, crew = excluded.crew
             WHERE s.read_at <= excluded.read_at",
        )?
        .execute(params![
            job.as_bytes(),
            summary.title,
            summary.date_of_loss.map(|date| date.to_string()),
            summary.findings,
            summary.photos,
            signed(summary.changes)?,
            summary.owner,
            summary.questions,
            summary.crew.number()
        ])?;
    if stands == 0 {
        return Ok(());
    }
    if photos(tx, job)? == entries {
        return Ok(());
    }
    tx.execute("DELETE FROM photo WHERE job = ?1", [job.as_bytes()])?;
    let mut insert = tx.prepare_cached(
        "INSERT OR IGNORE INTO photo (job, hash, ordinal, size, role) VALUES (?1, ?2, ?3, ?4, ?5)",
    )?;
    for (ordinal, photo) in entries.iter().enumerate() {
        insert.execute(params![
            job.as_bytes(),
            photo.hash.as_bytes(),
            signed(ordinal as u64)?,
            signed(photo.size)?,
            photo.role.map(PhotoRole::code)
        ])?;
    }
    Ok(())
}

pub(super) fn photos(tx: &Connection, job: JobId) -> Result<Vec<PhotoEntry>, StoreError> {
    let mut query =
        tx.prepare_cached("SELECT hash, size, role FROM photo WHERE job = ?1 ORDER BY ordinal")?;
    let mut rows = query.query([job.as_bytes()])?;
    let mut photos = Vec::new();
    while let Some(row) = rows.next()? {
        photos.push(entry(row)?);
    }
    Ok(photos)
}

pub(super) fn photo(
    tx: &Connection,
    job: JobId,
    hash: PhotoHash,
) -> Result<Option<PhotoEntry>, StoreError> {
    let mut query =
        tx.prepare_cached("SELECT hash, size, role FROM photo WHERE job = ?1 AND hash = ?2")?;
    let mut rows = query.query(params![job.as_bytes(), hash.as_bytes()])?;
    rows.next()?.map(entry).transpose()
}

fn entry(row: &Row<'_>) -> Result<PhotoEntry, StoreError> {
    let role: Option<String> = row.get(2)?;
    Ok(PhotoEntry {
        hash: PhotoHash::from_bytes(bytes(row, 0)?),
        size: count(row, 1)?,
        role: role.and_then(|role| PhotoRole::from_code(&role)),
    })
}

pub(super) fn complete(tx: &Connection, blob: &BlobEntry, now: Millis) -> Result<(), StoreError> {
    tx.prepare_cached(
        "INSERT OR IGNORE INTO blob (kind, hash, size, complete_at) VALUES (?1, ?2, ?3, ?4)",
    )?
    .execute(params![
        kind(blob.kind),
        blob.hash.as_bytes(),
        signed(blob.size)?,
        now
    ])?;
    Ok(())
}

pub(super) fn bytes_held(tx: &Connection) -> Result<u64, StoreError> {
    let mut query = tx.prepare_cached("SELECT coalesce(sum(bytes), 0) FROM held")?;
    let mut rows = query.query([])?;
    rows.next()?.map_or(Ok(0), |row| count(row, 0))
}

pub(super) fn set_aside(tx: &Connection, room: &Room, most: u64) -> Result<bool, StoreError> {
    tx.execute("DELETE FROM aside WHERE ends <= ?1", [room.now])?;
    let name = (kind(room.file.kind), room.file.hash.as_bytes());
    let mut query = tx.prepare_cached(
        "SELECT coalesce(sum(size), 0) FROM aside WHERE (kind, hash) <> (?1, ?2)",
    )?;
    let mut rows = query.query(params![name.0, name.1])?;
    let aside = rows.next()?.map_or(Ok(0), |row| count(row, 0))?;
    let held = bytes_held(tx)?;
    if held.saturating_add(aside).saturating_add(room.file.size) > most {
        return Ok(false);
    }
    tx.execute(
        "INSERT INTO aside (kind, hash, size, ends) VALUES (?1, ?2, ?3, ?4)
         ON CONFLICT DO UPDATE SET size = excluded.size, ends = excluded.ends",
        params![name.0, name.1, signed(room.file.size)?, room.ends],
    )?;
    Ok(true)
}

pub(super) fn blob(tx: &Connection, key: BlobKey) -> Result<Option<BlobEntry>, StoreError> {
    let mut query = tx.prepare_cached("SELECT size FROM blob WHERE kind = ?1 AND hash = ?2")?;
    let mut rows = query.query(params![kind(key.kind), key.hash.as_bytes()])?;
    let Some(row) = rows.next()? else {
        return Ok(None);
    };
    Ok(Some(BlobEntry {
        kind: key.kind,
        hash: key.hash,
        size: count(row, 0)?,
    }))
}

pub(super) fn blobs(tx: &Connection, job: JobId) -> Result<Vec<BlobEntry>, StoreError> {
    let mut found = Vec::new();
    for photo in photos(tx, job)? {
        for kind in [BlobKind::Thumbnail, BlobKind::Original] {
            let hash = photo.hash;
            found.extend(blob(tx, BlobKey { kind, hash })?);
        }
    }
    Ok(found)
}

//! How jobs stand, the photos they name, and which files are whole.

use std::collections::{BTreeMap, BTreeSet};

use chalkwalk_core::job::{DeviceId, JobId, Millis, PhotoHash, PhotoRole};
use chrono::NaiveDate;
use tokio_postgres::Row;
use tokio_postgres::types::Type;

use super::pool::Lease;
use super::row::{bytes, count, number, number_or_none, text, text_or_none};
use crate::store::encoding::{authors_of, kind, kind_of, signed, unsigned};
use crate::store::{BlobEntry, BlobKey, Crew, JobStatus, PhotoEntry, Room, StoreError, Summary};

const STATUS: &str = "
SELECT job.id, job.changes, first_news, last_news, title, date_of_loss, findings, s.photos, read_at,
    owner, questions, crew,
    coalesce(f.named, 0), coalesce(f.thumbnails, 0), coalesce(f.originals, 0)
FROM @job job LEFT JOIN @summary s ON s.job = job.id
LEFT JOIN (
    SELECT p.job, count(*) AS named, count(t.hash) AS thumbnails, count(o.hash) AS originals
    FROM @photo p
    LEFT JOIN @blob t ON t.hash = p.hash AND t.kind = 'thumbnail'
    LEFT JOIN @blob o ON o.hash = p.hash AND o.kind = 'original'
    WHERE $1::bytea IS NULL OR p.job = $1
    GROUP BY p.job
) f ON f.job = job.id
WHERE $1 IS NULL OR job.id = $1
ORDER BY job.id";

/// One job or all.
pub(super) async fn jobs(db: &Lease, only: Option<JobId>) -> Result<Vec<JobStatus>, StoreError> {
    let only = only.as_ref().map(|job| job.as_bytes().as_slice());
    let rows = db.all(STATUS, &[(&only, Type::BYTEA)]).await?;
    rows.iter()
        .map(|row| {
            Ok(JobStatus {
                job: JobId::from_bytes(bytes(row, 0)?),
                changes: count(row, 1)?,
                first_news: number(row, 2)?,
                last_news: number(row, 3)?,
                summary: summary(row)?,
                photos: count(row, 12)?,
                thumbnails: count(row, 13)?,
                originals: count(row, 14)?,
            })
        })
        .collect()
}

pub(super) async fn job_ids(db: &Lease) -> Result<Vec<JobId>, StoreError> {
    let rows = db.all("SELECT id FROM @job ORDER BY id", &[]).await?;
    rows.iter()
        .map(|row| Ok(JobId::from_bytes(bytes(row, 0)?)))
        .collect()
}

pub(super) async fn count_jobs(db: &Lease) -> Result<u64, StoreError> {
    count(&db.one("SELECT count(*) FROM @job", &[]).await?, 0)
}

pub(super) async fn jobs_written_by(
    db: &Lease,
    device: DeviceId,
) -> Result<BTreeSet<JobId>, StoreError> {
    let (from, to) = authors_of(device);
    let rows = db
        .all(
            "SELECT DISTINCT job FROM @author WHERE author BETWEEN $1 AND $2",
            &[
                (&from.as_slice(), Type::BYTEA),
                (&to.as_slice(), Type::BYTEA),
            ],
        )
        .await?;
    rows.iter()
        .map(|row| Ok(JobId::from_bytes(bytes(row, 0)?)))
        .collect()
}

pub(super) async fn has_written(
    db: &Lease,
    device: DeviceId,
    job: JobId,
) -> Result<bool, StoreError> {
    let (from, to) = authors_of(device);
    let row = db
        .maybe(
            "SELECT 1 FROM @author WHERE job = $1 AND author BETWEEN $2 AND $3 LIMIT 1",
            &[
                (&job.as_bytes().as_slice(), Type::BYTEA),
                (&from.as_slice(), Type::BYTEA),
                (&to.as_slice(), Type::BYTEA),
            ],
        )
        .await?;
    Ok(row.is_some())
}

fn summary(row: &Row) -> Result<Option<Summary>, StoreError> {
    let Some(title) = text_or_none(row, 4)? else {
        return Ok(None);
    };
    let small = |column| -> Result<u32, StoreError> {
        let value = number_or_none(row, column)?.unwrap_or(0);
        u32::try_from(value).map_err(|_| StoreError::Corrupt("a count past its bounds"))
    };
    Ok(Some(Summary {
        title,
        owner: text_or_none(row, 9)?,
        date_of_loss: text_or_none(row, 5)?.and_then(|date| date.parse::<NaiveDate>().ok()),
        findings: small(6)?,
        photos: small(7)?,
        questions: small(10)?,
        crew: Crew::of_number(number_or_none(row, 11)?.unwrap_or(0)),
        changes: unsigned(number_or_none(row, 8)?.unwrap_or(0))?,
    }))
}

/// A description of fewer changes than the one that stands is passed over: another node has read
/// more of the job.
pub(super) async fn describe(
    db: &Lease,
    job: JobId,
    summary: &Summary,
    entries: &[PhotoEntry],
) -> Result<(), StoreError> {
    db.begin_lightly().await?;
    let done = describe_within(db, job, summary, entries).await;
    db.end(done).await
}

async fn describe_within(
    db: &Lease,
    job: JobId,
    summary: &Summary,
    entries: &[PhotoEntry],
) -> Result<(), StoreError> {
    let id = job.as_bytes().as_slice();
    let date = summary.date_of_loss.map(|date| date.to_string());
    let stands = db
        .change(
            "INSERT INTO @summary AS s (job, title, date_of_loss, findings, photos, read_at,
                owner, questions, crew)
             VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)
             ON CONFLICT (job) DO UPDATE SET title = excluded.title,
                date_of_loss = excluded.date_of_loss, findings = excluded.findings,
                photos = excluded.photos, read_at = excluded.read_at, owner = excluded.owner,
                questions = excluded.questions, crew = excluded.crew
             WHERE s.read_at <= excluded.read_at",
            &[
                (&id, Type::BYTEA),
                (&summary.title, Type::TEXT),
                (&date, Type::TEXT),
                (&i64::from(summary.findings), Type::INT8),
                (&i64::from(summary.photos), Type::INT8),
                (&signed(summary.changes)?, Type::INT8),
                (&summary.owner, Type::TEXT),
                (&i64::from(summary.questions), Type::INT8),
                (&summary.crew.number(), Type::INT8),
            ],
        )
        .await?;
    if stands == 0 {
        return Ok(());
    }
    let mut seen = BTreeSet::new();
    let wanted: Vec<&PhotoEntry> = entries
        .iter()
        .filter(|photo| seen.insert(photo.hash))
        .collect();
    let held = placed(db, id).await?;
    let gone: Vec<&[u8]> = held
        .keys()
        .filter(|hash| !seen.contains(hash))
        .map(|hash| hash.as_bytes().as_slice())
        .collect();
    if !gone.is_empty() {
        db.change(
            "DELETE FROM @photo WHERE job = $1 AND hash = ANY($2)",
            &[(&id, Type::BYTEA), (&gone, Type::BYTEA_ARRAY)],
        )
        .await?;
    }
    let moved: Vec<(u64, &PhotoEntry)> = (0..)
        .zip(wanted)
        .filter(|(turn, photo)| {
            held.get(&photo.hash)
                .is_none_or(|(at, held)| at != turn || held != *photo)
        })
        .collect();
    place(db, id, &moved).await
}

/// The photos of a job with their turns.
async fn placed(
    db: &Lease,
    job: &[u8],
) -> Result<BTreeMap<PhotoHash, (u64, PhotoEntry)>, StoreError> {
    let rows = db
        .all(
            "SELECT hash, size, role, ordinal FROM @photo WHERE job = $1",
            &[(&job, Type::BYTEA)],
        )
        .await?;
    rows.iter()
        .map(|row| {
            let photo = entry(row)?;
            Ok((photo.hash, (count(row, 3)?, photo)))
        })
        .collect()
}

async fn place(db: &Lease, job: &[u8], moved: &[(u64, &PhotoEntry)]) -> Result<(), StoreError> {
    if moved.is_empty() {
        return Ok(());
    }
    let hashes: Vec<&[u8]> = moved
        .iter()
        .map(|(_, photo)| photo.hash.as_bytes().as_slice())
        .collect();
    let turns: Vec<i64> = moved
        .iter()
        .map(|(turn, _)| signed(*turn))
        .collect::<Result<_, _>>()?;
    let sizes: Vec<i64> = moved
        .iter()
        .map(|(_, photo)| signed(photo.size))
        .collect::<Result<_, _>>()?;
    let roles: Vec<Option<&str>> = moved
        .iter()
        .map(|(_, photo)| photo.role.map(PhotoRole::code))
        .collect();
    db.change(
        "INSERT INTO @photo (job, hash, ordinal, size, role)
         SELECT $1, * FROM unnest($2, $3, $4, $5)
         ON CONFLICT (job, hash) DO UPDATE SET ordinal = excluded.ordinal,
            size = excluded.size, role = excluded.role",
        &[
            (&job, Type::BYTEA),
            (&hashes, Type::BYTEA_ARRAY),
            (&turns, Type::INT8_ARRAY),
            (&sizes, Type::INT8_ARRAY),
            (&roles, Type::TEXT_ARRAY),
        ],
    )
    .await
    .map(drop)
}

pub(super) async fn photos(db: &Lease, job: JobId) -> Result<Vec<PhotoEntry>, StoreError> {
    let rows = db
        .all(
            "SELECT hash, size, role FROM @photo WHERE job = $1 ORDER BY ordinal",
            &[(&job.as_bytes().as_slice(), Type::BYTEA)],
        )
        .await?;
    rows.iter().map(entry).collect()
}

pub(super) async fn photo(
    db: &Lease,
    job: JobId,
    hash: PhotoHash,
) -> Result<Option<PhotoEntry>, StoreError> {
    let row = db
        .maybe(
            "SELECT hash, size, role FROM @photo WHERE job = $1 AND hash = $2",
            &[
                (&job.as_bytes().as_slice(), Type::BYTEA),
                (&hash.as_bytes().as_slice(), Type::BYTEA),
            ],
        )
        .await?;
    row.as_ref().map(entry).transpose()
}

fn entry(row: &Row) -> Result<PhotoEntry, StoreError> {
    Ok(PhotoEntry {
        hash: PhotoHash::from_bytes(bytes(row, 0)?),
        size: count(row, 1)?,
        role: text_or_none(row, 2)?.and_then(|role| PhotoRole::from_code(&role)),
    })
}

/// Writes down that a file is whole, and tells the nodes of every job that names it. The value is
/// the numbers of that news.
pub(super) async fn complete(
    db: &Lease,
    blob: &BlobEntry,
    now: Millis,
) -> Result<Vec<i64>, StoreError> {
    let rows = db
        .all(
            "WITH added AS (
                INSERT INTO @blob (kind, hash, size, complete_at) VALUES ($1, $2, $3, $4)
                ON CONFLICT DO NOTHING RETURNING hash)
             INSERT INTO @news (job) SELECT p.job FROM added JOIN @photo p USING (hash)
             RETURNING seq",
            &[
                (&kind(blob.kind), Type::TEXT),
                (&blob.hash.as_bytes().as_slice(), Type::BYTEA),
                (&signed(blob.size)?, Type::INT8),
                (&now, Type::INT8),
            ],
        )
        .await?;
    rows.iter().map(|row| number(row, 0)).collect()
}

pub(super) async fn bytes_held(db: &Lease) -> Result<u64, StoreError> {
    let row = db
        .one("SELECT coalesce(sum(bytes), 0)::int8 FROM @held", &[])
        .await?;
    count(&row, 0)
}

/// Under one lock of the office, so that all nodes together keep to the quota.
pub(super) async fn set_aside(db: &Lease, room: &Room, most: u64) -> Result<bool, StoreError> {
    db.begin_locked(db.lock_of(&[b"aside"])).await?;
    let done = set_aside_within(db, room, most).await;
    db.end(done).await
}

async fn set_aside_within(db: &Lease, room: &Room, most: u64) -> Result<bool, StoreError> {
    db.change(
        "DELETE FROM @aside WHERE ends <= $1",
        &[(&room.now, Type::INT8)],
    )
    .await?;
    let added = db
        .change(
            "INSERT INTO @aside AS a (kind, hash, size, ends)
             SELECT $1, $2, $3, $4 WHERE $3
                + (SELECT coalesce(sum(bytes), 0) FROM @held)
                + (SELECT coalesce(sum(size), 0) FROM @aside WHERE (kind, hash) <> ($1, $2)) <= $5
             ON CONFLICT (kind, hash) DO UPDATE SET size = excluded.size, ends = excluded.ends",
            &[
                (&kind(room.file.kind), Type::TEXT),
                (&room.file.hash.as_bytes().as_slice(), Type::BYTEA),
                (&signed(room.file.size)?, Type::INT8),
                (&room.ends, Type::INT8),
                (&signed(most.min(i64::MAX as u64))?, Type::INT8),
            ],
        )
        .await?;
    Ok(added > 0)
}

pub(super) async fn blob(db: &Lease, key: BlobKey) -> Result<Option<BlobEntry>, StoreError> {
    let row = db
        .maybe(
            "SELECT size FROM @blob WHERE kind = $1 AND hash = $2",
            &[
                (&kind(key.kind), Type::TEXT),
                (&key.hash.as_bytes().as_slice(), Type::BYTEA),
            ],
        )
        .await?;
    let Some(row) = row else { return Ok(None) };
    Ok(Some(BlobEntry {
        kind: key.kind,
        hash: key.hash,
        size: count(&row, 0)?,
    }))
}

pub(super) async fn blobs(db: &Lease, job: JobId) -> Result<Vec<BlobEntry>, StoreError> {
    let rows = db
        .all(
            "SELECT b.kind, b.hash, b.size FROM @photo p JOIN @blob b ON b.hash = p.hash
             WHERE p.job = $1 ORDER BY p.ordinal, b.kind DESC",
            &[(&job.as_bytes().as_slice(), Type::BYTEA)],
        )
        .await?;
    rows.iter()
        .map(|row| {
            Ok(BlobEntry {
                kind: kind_of(&text(row, 0)?)?,
                hash: PhotoHash::from_bytes(bytes(row, 1)?),
                size: count(row, 2)?,
            })
        })
        .collect()
}

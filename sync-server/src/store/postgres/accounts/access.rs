//! Shared links, who sees which job, and what people did.

use std::collections::{BTreeMap, BTreeSet};

use chalkwalk_core::job::{DeviceId, JobId, Millis};
use tokio_postgres::Row;
use tokio_postgres::types::Type;

use super::super::error::read;
use super::super::pool::{Lease, Param};
use super::super::row::{bytes, bytes_or_none, count, number, number_or_none, text};
use crate::limits;
use crate::store::accounts::words::{who, who_columns};
use crate::store::encoding::{fixed, signed};
use crate::store::{
    Access, Actor, Deed, DeedKind, DeedsOf, Mark, Marked, PersonId, Share, ShareId, StoreError,
};

const SHARE: &str = "SELECT id, hash, job, note, made_by, made_at, expires_at, withdrawn_at \
                     FROM @share";

fn read_share(row: &Row) -> Result<Share, StoreError> {
    Ok(Share {
        id: ShareId(bytes(row, 0)?),
        hash: bytes(row, 1)?,
        job: JobId::from_bytes(bytes(row, 2)?),
        note: text(row, 3)?,
        made_by: PersonId(bytes(row, 4)?),
        made_at: number(row, 5)?,
        expires_at: number(row, 6)?,
        withdrawn_at: number_or_none(row, 7)?,
    })
}

pub(super) async fn put_share(db: &Lease, share: &Share) -> Result<(), StoreError> {
    db.begin_locked(db.lock_of(&[b"share", share.job.as_bytes()]))
        .await?;
    let done = put_share_within(db, share).await;
    db.end(done).await
}

async fn put_share_within(db: &Lease, share: &Share) -> Result<(), StoreError> {
    let job = share.job.as_bytes().as_slice();
    let known = db
        .one(
            "SELECT count(*) FROM @share WHERE job = $1",
            &[(&job, Type::BYTEA)],
        )
        .await?;
    if count(&known, 0)? >= limits::SHARES as u64 {
        return Err(StoreError::Limit("shared links of one job"));
    }
    db.change(
        "INSERT INTO @share (id, hash, job, note, made_by, made_at, expires_at, withdrawn_at)
         VALUES ($1, $2, $3, $4, $5, $6, $7, $8)",
        &[
            (&share.id.0.as_slice(), Type::BYTEA),
            (&share.hash.as_slice(), Type::BYTEA),
            (&job, Type::BYTEA),
            (&share.note, Type::TEXT),
            (&share.made_by.0.as_slice(), Type::BYTEA),
            (&share.made_at, Type::INT8),
            (&share.expires_at, Type::INT8),
            (&share.withdrawn_at, Type::INT8),
        ],
    )
    .await
    .map(drop)
}

pub(super) async fn share(db: &Lease, hash: &[u8; 32]) -> Result<Option<Share>, StoreError> {
    let row = db
        .maybe(
            &format!("{SHARE} WHERE hash = $1"),
            &[(&hash.as_slice(), Type::BYTEA)],
        )
        .await?;
    row.as_ref().map(read_share).transpose()
}

pub(super) async fn shares(db: &Lease, job: JobId) -> Result<Vec<Share>, StoreError> {
    let rows = db
        .all(
            &format!("{SHARE} WHERE job = $1 ORDER BY seq"),
            &[(&job.as_bytes().as_slice(), Type::BYTEA)],
        )
        .await?;
    rows.iter().map(read_share).collect()
}

pub(super) async fn withdraw_share(
    db: &Lease,
    job: JobId,
    id: ShareId,
    at: Millis,
) -> Result<bool, StoreError> {
    let changed = db
        .change(
            "UPDATE @share SET withdrawn_at = coalesce(withdrawn_at, $3) WHERE job = $1 AND id = $2",
            &[
                (&job.as_bytes().as_slice(), Type::BYTEA),
                (&id.0.as_slice(), Type::BYTEA),
                (&at, Type::INT8),
            ],
        )
        .await?;
    Ok(changed > 0)
}

pub(super) async fn of(db: &Lease, job: JobId) -> Result<Access, StoreError> {
    let row = db
        .one(
            "SELECT (SELECT at FROM @closed WHERE job = $1),
                ARRAY(SELECT device FROM @assigned WHERE job = $1)",
            &[(&job.as_bytes().as_slice(), Type::BYTEA)],
        )
        .await?;
    let marked = db
        .maybe(
            &format!("{MARK} WHERE job = $1"),
            &[(&job.as_bytes().as_slice(), Type::BYTEA)],
        )
        .await?;
    let devices: Vec<&[u8]> = row.try_get(1).map_err(read)?;
    let device = |id: &&[u8]| fixed(id).map(DeviceId::from_bytes);
    Ok(Access {
        closed_at: number_or_none(&row, 0)?,
        devices: devices.iter().map(device).collect::<Result<_, _>>()?,
        marked: marked.as_ref().map(read_mark).transpose()?,
    })
}

pub(super) async fn all(db: &Lease) -> Result<BTreeMap<JobId, Access>, StoreError> {
    let rows = db
        .all(
            "SELECT job, at, NULL::bytea FROM @closed
             UNION ALL SELECT job, NULL, device FROM @assigned",
            &[],
        )
        .await?;
    let mut all: BTreeMap<JobId, Access> = BTreeMap::new();
    for row in &rows {
        let access = all.entry(JobId::from_bytes(bytes(row, 0)?)).or_default();
        access.closed_at = access.closed_at.or(number_or_none(row, 1)?);
        let device = bytes_or_none(row, 2)?;
        access.devices.extend(device.map(DeviceId::from_bytes));
    }
    for row in &db.all(MARK, &[]).await? {
        let job = JobId::from_bytes(bytes(row, 3)?);
        all.entry(job).or_default().marked = Some(read_mark(row)?);
    }
    Ok(all)
}

const MARK: &str = "SELECT mark, person, at, job FROM @mark";

fn read_mark(row: &Row) -> Result<Marked, StoreError> {
    let mark = Mark::from_code(&text(row, 0)?);
    Ok(Marked {
        mark: mark.ok_or(StoreError::Corrupt("a mark of a newer version"))?,
        by: PersonId(bytes(row, 1)?),
        at: number(row, 2)?,
    })
}

pub(super) async fn set_mark(
    db: &Lease,
    job: JobId,
    marked: Option<Marked>,
) -> Result<(), StoreError> {
    let Some(marked) = marked else {
        let gone = db
            .change(
                "DELETE FROM @mark WHERE job = $1",
                &[(&job.as_bytes().as_slice(), Type::BYTEA)],
            )
            .await;
        return gone.map(drop);
    };
    db.change(
        "INSERT INTO @mark (job, mark, person, at) VALUES ($1, $2, $3, $4)
         ON CONFLICT (job) DO UPDATE SET mark = excluded.mark, person = excluded.person,
            at = excluded.at",
        &[
            (&job.as_bytes().as_slice(), Type::BYTEA),
            (&marked.mark.code(), Type::TEXT),
            (&marked.by.0.as_slice(), Type::BYTEA),
            (&marked.at, Type::INT8),
        ],
    )
    .await
    .map(drop)
}

pub(super) async fn hidden(db: &Lease, device: DeviceId) -> Result<BTreeSet<JobId>, StoreError> {
    let rows = db
        .all(
            "SELECT job FROM @closed UNION SELECT job FROM @assigned
             EXCEPT SELECT job FROM @assigned WHERE device = $1",
            &[(&device.as_bytes().as_slice(), Type::BYTEA)],
        )
        .await?;
    rows.iter()
        .map(|row| Ok(JobId::from_bytes(bytes(row, 0)?)))
        .collect()
}

/// Only what the device sees is read: the jobs of its own by their indexes, and the open ones.
pub(super) async fn jobs_seen(db: &Lease, device: DeviceId) -> Result<Vec<JobId>, StoreError> {
    let (from, to) = crate::store::encoding::authors_of(device);
    let rows = db
        .all(
            "SELECT id FROM @job j WHERE NOT EXISTS (SELECT 1 FROM @closed c WHERE c.job = j.id)
                AND NOT EXISTS (SELECT 1 FROM @assigned a WHERE a.job = j.id)
             UNION SELECT a.job FROM @assigned a JOIN @job j ON j.id = a.job WHERE a.device = $1
             UNION SELECT job FROM @author WHERE author BETWEEN $2 AND $3
             ORDER BY 1",
            &[
                (&device.as_bytes().as_slice(), Type::BYTEA),
                (&from.as_slice(), Type::BYTEA),
                (&to.as_slice(), Type::BYTEA),
            ],
        )
        .await?;
    rows.iter()
        .map(|row| Ok(JobId::from_bytes(bytes(row, 0)?)))
        .collect()
}

pub(super) async fn assign(
    db: &Lease,
    job: JobId,
    device: DeviceId,
    to: bool,
) -> Result<(), StoreError> {
    let statement = if to {
        // News to every node, whose sessions may have the device.
        "WITH added AS (INSERT INTO @assigned (job, device) VALUES ($1, $2)
                        ON CONFLICT DO NOTHING RETURNING job)
         INSERT INTO @news (job) SELECT job FROM added"
    } else {
        "DELETE FROM @assigned WHERE job = $1 AND device = $2"
    };
    let with = [
        (&job.as_bytes().as_slice() as _, Type::BYTEA),
        (&device.as_bytes().as_slice() as _, Type::BYTEA),
    ];
    db.change(statement, &with).await.map(drop)
}

pub(super) async fn set_closed(
    db: &Lease,
    job: JobId,
    at: Option<Millis>,
) -> Result<(), StoreError> {
    let id = job.as_bytes().as_slice();
    match at {
        Some(at) => db
            .change(
                "INSERT INTO @closed (job, at) VALUES ($1, $2)
                 ON CONFLICT (job) DO UPDATE SET at = excluded.at",
                &[(&id, Type::BYTEA), (&at, Type::INT8)],
            )
            .await
            .map(drop),
        None => db
            .change("DELETE FROM @closed WHERE job = $1", &[(&id, Type::BYTEA)])
            .await
            .map(drop),
    }
}

pub(super) async fn note(db: &Lease, deed: &Deed) -> Result<(), StoreError> {
    let (word, id) = who_columns(deed.who);
    let id = id.as_ref().map(<[u8; 16]>::as_slice);
    let job = deed.job.as_ref().map(|job| job.as_bytes().as_slice());
    db.change(
        "INSERT INTO @deed (at, who, who_id, what, job, about) VALUES ($1, $2, $3, $4, $5, $6)",
        &[
            (&deed.at, Type::INT8),
            (&word, Type::TEXT),
            (&id, Type::BYTEA),
            (&deed.what.code(), Type::TEXT),
            (&job, Type::BYTEA),
            (&deed.about, Type::TEXT),
        ],
    )
    .await
    .map(drop)
}

pub(super) async fn deeds(
    db: &Lease,
    of: DeedsOf,
    before: Option<u64>,
    max: usize,
) -> Result<Vec<(u64, Deed)>, StoreError> {
    let before = before.map(signed).transpose()?.unwrap_or(i64::MAX);
    let max = i64::try_from(max).unwrap_or(i64::MAX);
    let person = of.who.map(|who| who_columns(Actor::Person(who)));
    let word = person.as_ref().map(|(word, _)| *word);
    let id = person
        .as_ref()
        .and_then(|(_, id)| id.as_ref())
        .map(<[u8; 16]>::as_slice);
    let what = of.what.map(DeedKind::code);
    let job = of.job.as_ref().map(|job| job.as_bytes().as_slice());
    // Only what narrows stands in the statement, so that an index serves it.
    let mut narrowed: Vec<(&str, Param<'_>)> = Vec::new();
    if of.who.is_some() {
        narrowed.push(("who_id", (&id, Type::BYTEA)));
        narrowed.push(("who", (&word, Type::TEXT)));
    }
    if of.what.is_some() {
        narrowed.push(("what", (&what, Type::TEXT)));
    }
    if of.job.is_some() {
        narrowed.push(("job", (&job, Type::BYTEA)));
    }
    let mut given: Vec<Param<'_>> = vec![(&before, Type::INT8), (&max, Type::INT8)];
    let mut query =
        "SELECT seq, at, who, who_id, what, job, about FROM @deed WHERE seq < $1".to_owned();
    for (column, value) in narrowed {
        given.push(value);
        query.push_str(&format!(" AND {column} = ${}", given.len()));
    }
    query.push_str(" ORDER BY seq DESC LIMIT $2");
    let rows = db.all(&query, &given).await?;
    let read = |row: &Row| {
        let deed = Deed {
            at: number(row, 1)?,
            who: who(&text(row, 2)?, bytes_or_none(row, 3)?)?,
            what: DeedKind::from_code(&text(row, 4)?)
                .ok_or(StoreError::Corrupt("an audit word of a newer version"))?,
            job: bytes_or_none(row, 5)?.map(JobId::from_bytes),
            about: text(row, 6)?,
        };
        Ok((count(row, 0)?, deed))
    };
    rows.iter().map(read).collect()
}

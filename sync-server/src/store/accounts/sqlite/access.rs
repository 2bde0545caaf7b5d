//! Shared links, who sees which job, and what people did.

use std::collections::{BTreeMap, BTreeSet};

use chalkwalk_core::job::{DeviceId, JobId, Millis};
use rusqlite::{OptionalExtension, Row, ToSql, Transaction, params};

use super::super::words::{who, who_columns};
use super::super::{
    Access, Actor, Deed, DeedKind, DeedsOf, Mark, Marked, PersonId, Share, ShareId,
};
use crate::limits;
use crate::store::StoreError;
use crate::store::sqlite::encoding::{bytes, bytes_or_none, count};

const SHARE: &str = "SELECT id, hash, job, note, made_by, made_at, expires_at, withdrawn_at \
                     FROM share";

fn read_share(row: &Row<'_>) -> Result<Share, StoreError> {
    Ok(Share {
        id: ShareId(bytes(row, 0)?),
        hash: bytes(row, 1)?,
        job: JobId::from_bytes(bytes(row, 2)?),
        note: row.get(3)?,
        made_by: PersonId(bytes(row, 4)?),
        made_at: row.get(5)?,
        expires_at: row.get(6)?,
        withdrawn_at: row.get(7)?,
    })
}

pub(super) fn put_share(tx: &Transaction<'_>, share: &Share) -> Result<(), StoreError> {
    if shares(tx, share.job)?.len() >= limits::SHARES {
        return Err(StoreError::Limit("shared links of one job"));
    }
    tx.execute(
        "INSERT INTO share (id, hash, job, note, made_by, made_at, expires_at, withdrawn_at)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
        params![
            share.id.0,
            share.hash,
            share.job.as_bytes(),
            share.note,
            share.made_by.0,
            share.made_at,
            share.expires_at,
            share.withdrawn_at
        ],
    )?;
    Ok(())
}

pub(super) fn share(tx: &Transaction<'_>, hash: &[u8; 32]) -> Result<Option<Share>, StoreError> {
    let mut query = tx.prepare_cached(&format!("{SHARE} WHERE hash = ?1"))?;
    let mut rows = query.query([hash])?;
    rows.next()?.map(read_share).transpose()
}

/// Reads every shared link; the value is how many there are.
pub(super) fn count_shares(tx: &Transaction<'_>) -> Result<u64, StoreError> {
    let mut query = tx.prepare_cached(SHARE)?;
    let mut rows = query.query([])?;
    let mut count = 0;
    while let Some(row) = rows.next()? {
        read_share(row)?;
        count += 1;
    }
    Ok(count)
}

pub(super) fn shares(tx: &Transaction<'_>, job: JobId) -> Result<Vec<Share>, StoreError> {
    let mut query = tx.prepare_cached(&format!("{SHARE} WHERE job = ?1 ORDER BY seq"))?;
    let mut rows = query.query([job.as_bytes()])?;
    let mut shares = Vec::new();
    while let Some(row) = rows.next()? {
        shares.push(read_share(row)?);
    }
    Ok(shares)
}

pub(super) fn withdraw_share(
    tx: &Transaction<'_>,
    job: JobId,
    id: ShareId,
    at: Millis,
) -> Result<bool, StoreError> {
    let changed = tx.execute(
        "UPDATE share SET withdrawn_at = coalesce(withdrawn_at, ?3) WHERE job = ?1 AND id = ?2",
        params![job.as_bytes(), id.0, at],
    )?;
    Ok(changed > 0)
}

pub(super) fn of(tx: &Transaction<'_>, job: JobId) -> Result<Access, StoreError> {
    let closed_at = tx
        .prepare_cached("SELECT at FROM closed WHERE job = ?1")?
        .query_row([job.as_bytes()], |row| row.get(0))
        .optional()?;
    let mut access = Access {
        closed_at,
        ..Access::default()
    };
    let mut query = tx.prepare_cached(&format!("{MARK} WHERE job = ?1"))?;
    let mut rows = query.query([job.as_bytes()])?;
    access.marked = rows.next()?.map(read_mark).transpose()?;
    let mut query = tx.prepare_cached("SELECT device FROM assigned WHERE job = ?1")?;
    let mut rows = query.query([job.as_bytes()])?;
    while let Some(row) = rows.next()? {
        access.devices.insert(DeviceId::from_bytes(bytes(row, 0)?));
    }
    Ok(access)
}

pub(super) fn all(tx: &Transaction<'_>) -> Result<BTreeMap<JobId, Access>, StoreError> {
    let mut all: BTreeMap<JobId, Access> = BTreeMap::new();
    let mut query = tx.prepare_cached("SELECT job, at FROM closed")?;
    let mut rows = query.query([])?;
    while let Some(row) = rows.next()? {
        let job = JobId::from_bytes(bytes(row, 0)?);
        all.entry(job).or_default().closed_at = Some(row.get(1)?);
    }
    let mut query = tx.prepare_cached(MARK)?;
    let mut rows = query.query([])?;
    while let Some(row) = rows.next()? {
        let job = JobId::from_bytes(bytes(row, 3)?);
        all.entry(job).or_default().marked = Some(read_mark(row)?);
    }
    let mut query = tx.prepare_cached("SELECT job, device FROM assigned")?;
    let mut rows = query.query([])?;
    while let Some(row) = rows.next()? {
        let job = JobId::from_bytes(bytes(row, 0)?);
        let device = DeviceId::from_bytes(bytes(row, 1)?);
        all.entry(job).or_default().devices.insert(device);
    }
    Ok(all)
}

/// Jobs that are closed or assigned to others alone.
pub(super) fn hidden(
    tx: &Transaction<'_>,
    device: DeviceId,
) -> Result<BTreeSet<JobId>, StoreError> {
    let mut query = tx.prepare_cached(
        "SELECT job FROM (SELECT job FROM closed UNION SELECT job FROM assigned)
         EXCEPT SELECT job FROM assigned WHERE device = ?1",
    )?;
    let mut rows = query.query([device.as_bytes()])?;
    let mut hidden = BTreeSet::new();
    while let Some(row) = rows.next()? {
        hidden.insert(JobId::from_bytes(bytes(row, 0)?));
    }
    Ok(hidden)
}

const MARK: &str = "SELECT mark, person, at, job FROM mark";

fn read_mark(row: &Row<'_>) -> Result<Marked, StoreError> {
    let word: String = row.get(0)?;
    Ok(Marked {
        mark: Mark::from_code(&word).ok_or(StoreError::Corrupt("a mark of a newer version"))?,
        by: PersonId(bytes(row, 1)?),
        at: row.get(2)?,
    })
}

pub(super) fn set_mark(
    tx: &Transaction<'_>,
    job: JobId,
    marked: Option<Marked>,
) -> Result<(), StoreError> {
    match marked {
        Some(marked) => tx.execute(
            "INSERT INTO mark (job, mark, person, at) VALUES (?1, ?2, ?3, ?4)
             ON CONFLICT DO UPDATE SET mark = excluded.mark, person = excluded.person,
                at = excluded.at",
            params![job.as_bytes(), marked.mark.code(), marked.by.0, marked.at],
        )?,
        None => tx.execute("DELETE FROM mark WHERE job = ?1", [job.as_bytes()])?,
    };
    Ok(())
}

pub(super) fn assign(
    tx: &Transaction<'_>,
    job: JobId,
    device: DeviceId,
    to: bool,
) -> Result<(), StoreError> {
    let statement = if to {
        "INSERT INTO assigned (job, device) VALUES (?1, ?2) ON CONFLICT DO NOTHING"
    } else {
        "DELETE FROM assigned WHERE job = ?1 AND device = ?2"
    };
    tx.execute(statement, params![job.as_bytes(), device.as_bytes()])?;
    Ok(())
}

pub(super) fn set_closed(
    tx: &Transaction<'_>,
    job: JobId,
    at: Option<Millis>,
) -> Result<(), StoreError> {
    match at {
        Some(at) => tx.execute(
            "INSERT INTO closed (job, at) VALUES (?1, ?2)
             ON CONFLICT DO UPDATE SET at = excluded.at",
            params![job.as_bytes(), at],
        )?,
        None => tx.execute("DELETE FROM closed WHERE job = ?1", [job.as_bytes()])?,
    };
    Ok(())
}

pub(super) fn note(tx: &Transaction<'_>, deed: &Deed) -> Result<(), StoreError> {
    let (word, id) = who_columns(deed.who);
    tx.execute(
        "INSERT INTO deed (at, who, who_id, what, job, about) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
        params![
            deed.at,
            word,
            id,
            deed.what.code(),
            deed.job.as_ref().map(JobId::as_bytes),
            deed.about
        ],
    )?;
    Ok(())
}

pub(super) fn deeds(
    tx: &Transaction<'_>,
    of: DeedsOf,
    before: Option<u64>,
    max: usize,
) -> Result<Vec<(u64, Deed)>, StoreError> {
    // Only what narrows stands in the statement, so that an index serves it.
    let by = of.who.map_or("", |_| " AND who_id = ?3 AND who = ?4");
    let kind = of.what.map_or("", |_| " AND what = ?5");
    let about = of.job.map_or("", |_| " AND job = ?6");
    let mut query = tx.prepare_cached(&format!(
        "SELECT seq, at, who, who_id, what, job, about FROM deed
         WHERE seq < ?1{by}{kind}{about} ORDER BY seq DESC LIMIT ?2"
    ))?;
    let before = before
        .and_then(|before| i64::try_from(before).ok())
        .unwrap_or(i64::MAX);
    let (word, id) = of
        .who
        .map_or(("", None), |who| who_columns(Actor::Person(who)));
    let named: [(usize, &dyn ToSql); 6] = [
        (1, &before),
        (2, &i64::try_from(max).unwrap_or(i64::MAX)),
        (3, &id),
        (4, &word),
        (5, &of.what.map(DeedKind::code)),
        (6, &of.job.as_ref().map(JobId::as_bytes)),
    ];
    // A number that the statement does not name is not bound.
    for (number, value) in named.into_iter().take(query.parameter_count()) {
        query.raw_bind_parameter(number, value)?;
    }
    let mut rows = query.raw_query();
    let mut deeds = Vec::new();
    while let Some(row) = rows.next()? {
        let (word, what): (String, String) = (row.get(2)?, row.get(4)?);
        let deed = Deed {
            at: row.get(1)?,
            who: who(&word, bytes_or_none(row, 3)?)?,
            what: DeedKind::from_code(&what)
                .ok_or(StoreError::Corrupt("an audit word of a newer version"))?,
            job: bytes_or_none(row, 5)?.map(JobId::from_bytes),
            about: row.get(6)?,
        };
        deeds.push((count(row, 0)?, deed));
    }
    Ok(deeds)
}

//! Snapshots, and what devices said they hold.

use chalkwalk_core::job::{DeviceId, JobId};
use tokio_postgres::Row;
use tokio_postgres::types::Type;

use super::pool::Lease;
use super::row::{bytes, many_bytes, number};
use crate::store::encoding::{fixed, table_from_bytes, table_to_bytes};
use crate::store::{PeerHolds, Snapshot, StoreError};

pub(super) async fn snapshot(db: &Lease, job: JobId) -> Result<Option<Snapshot>, StoreError> {
    let row = db
        .maybe(
            "SELECT held, heads, bytes, made_at FROM @snapshot WHERE job = $1",
            &[(&job.as_bytes().as_slice(), Type::BYTEA)],
        )
        .await?;
    let Some(row) = row else { return Ok(None) };
    let heads = many_bytes(&row, 1)?;
    Ok(Some(Snapshot {
        table: table_from_bytes(&many_bytes(&row, 0)?)?,
        heads: heads.chunks(32).map(fixed).collect::<Result<_, _>>()?,
        bytes: many_bytes(&row, 2)?,
        made_at: number(&row, 3)?,
    }))
}

pub(super) async fn put_snapshot(
    db: &Lease,
    job: JobId,
    snapshot: &Snapshot,
) -> Result<(), StoreError> {
    db.begin_lightly().await?;
    let put = db
        .change(
            "INSERT INTO @snapshot (job, held, heads, bytes, made_at) VALUES ($1, $2, $3, $4, $5)
         ON CONFLICT (job) DO UPDATE SET held = excluded.held, heads = excluded.heads,
            bytes = excluded.bytes, made_at = excluded.made_at",
            &[
                (&job.as_bytes().as_slice(), Type::BYTEA),
                (&table_to_bytes(&snapshot.table), Type::BYTEA),
                (&snapshot.heads.concat(), Type::BYTEA),
                (&snapshot.bytes, Type::BYTEA),
                (&snapshot.made_at, Type::INT8),
            ],
        )
        .await;
    db.end(put.map(drop)).await
}

pub(super) async fn note_peer(db: &Lease, job: JobId, holds: &PeerHolds) -> Result<(), StoreError> {
    let name: [&[u8]; 3] = [b"peer", job.as_bytes(), holds.device.as_bytes()];
    db.begin_locked(db.lock_of(&name)).await?;
    let done = note_peer_within(db, job, holds).await;
    db.end(done).await
}

async fn note_peer_within(db: &Lease, job: JobId, holds: &PeerHolds) -> Result<(), StoreError> {
    let id = job.as_bytes().as_slice();
    let device = holds.device.as_bytes().as_slice();
    let row = db
        .maybe(
            "SELECT device, held, at FROM @peer WHERE job = $1 AND device = $2",
            &[(&id, Type::BYTEA), (&device, Type::BYTEA)],
        )
        .await?;
    let mut known = match row {
        Some(row) => read_peer(&row)?,
        None => holds.clone(),
    };
    known.add(holds);
    db.change(
        "INSERT INTO @peer (job, device, held, at) VALUES ($1, $2, $3, $4)
         ON CONFLICT (job, device) DO UPDATE SET held = excluded.held, at = excluded.at",
        &[
            (&id, Type::BYTEA),
            (&device, Type::BYTEA),
            (&table_to_bytes(&known.table), Type::BYTEA),
            (&known.at, Type::INT8),
        ],
    )
    .await
    .map(drop)
}

pub(super) async fn peers(db: &Lease, job: JobId) -> Result<Vec<PeerHolds>, StoreError> {
    let rows = db
        .all(
            "SELECT device, held, at FROM @peer WHERE job = $1 ORDER BY device",
            &[(&job.as_bytes().as_slice(), Type::BYTEA)],
        )
        .await?;
    rows.iter().map(read_peer).collect()
}

fn read_peer(row: &Row) -> Result<PeerHolds, StoreError> {
    Ok(PeerHolds {
        device: DeviceId::from_bytes(bytes(row, 0)?),
        table: table_from_bytes(&many_bytes(row, 1)?)?,
        at: number(row, 2)?,
    })
}

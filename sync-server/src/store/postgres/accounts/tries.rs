//! Wrong tries at all nodes together, and challenges that were answered at any.

use chalkwalk_core::job::Millis;
use tokio_postgres::types::Type;

use super::super::pool::Lease;
use super::super::row::count as unsigned;
use crate::store::{StoreError, Window};

pub(super) async fn counted(db: &Lease, key: &[u8; 32], now: Millis) -> Result<u64, StoreError> {
    let row = db
        .maybe(
            "SELECT count FROM @tries WHERE key = $1 AND ends > $2",
            &[(&key.as_slice(), Type::BYTEA), (&now, Type::INT8)],
        )
        .await?;
    row.map_or(Ok(0), |row| unsigned(&row, 0))
}

/// One statement, and the row's own lock: of tries at once, each sees those before it.
pub(super) async fn count(
    db: &Lease,
    key: &[u8; 32],
    window: Window,
    by: i64,
) -> Result<u64, StoreError> {
    let row = db
        .one(
            "INSERT INTO @tries AS t (key, ends, count) VALUES ($1, $2, greatest($3, 0))
             ON CONFLICT (key) DO UPDATE SET
                ends = CASE WHEN t.ends > $4 THEN t.ends ELSE excluded.ends END,
                count = CASE WHEN t.ends > $4 THEN greatest(t.count + $3, 0)
                    ELSE excluded.count END
             RETURNING count",
            &[
                (&key.as_slice(), Type::BYTEA),
                (&window.ends(), Type::INT8),
                (&by, Type::INT8),
                (&window.now, Type::INT8),
            ],
        )
        .await?;
    let count = unsigned(&row, 0)?;
    // Few at a time, passing over what others write: it only tidies up.
    db.change(
        "DELETE FROM @tries WHERE key IN (SELECT key FROM @tries WHERE ends <= $1
            LIMIT 100 FOR UPDATE SKIP LOCKED)",
        &[(&window.now, Type::INT8)],
    )
    .await?;
    Ok(count)
}

pub(super) async fn answer(
    db: &Lease,
    nonce: &[u8; 16],
    ends: Millis,
    now: Millis,
) -> Result<bool, StoreError> {
    let added = db
        .change(
            "INSERT INTO @answered (nonce, ends) VALUES ($1, $2) ON CONFLICT DO NOTHING",
            &[(&nonce.as_slice(), Type::BYTEA), (&ends, Type::INT8)],
        )
        .await?;
    db.change(
        "DELETE FROM @answered WHERE nonce IN (SELECT nonce FROM @answered WHERE ends <= $1
            LIMIT 100 FOR UPDATE SKIP LOCKED)",
        &[(&now, Type::INT8)],
    )
    .await?;
    Ok(added > 0)
}

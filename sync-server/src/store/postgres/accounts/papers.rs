//! Papers of the office, the same at every node.

use tokio_postgres::types::Type;

use super::super::error::read as unread;
use super::super::pool::Lease;
use super::super::row::count;
use crate::limits;
use crate::store::{StoreError, paper_mark};

pub(super) async fn read(db: &Lease, name: &str) -> Result<Option<Vec<u8>>, StoreError> {
    let sql = "SELECT bytes FROM @paper WHERE name = $1";
    let row = db.maybe(sql, &[(&name, Type::TEXT)]).await?;
    row.map(|row| row.try_get(0).map_err(unread)).transpose()
}

/// One statement each way: of two at once, one finds that the other was first.
pub(super) async fn replace(
    db: &Lease,
    name: &str,
    was: &str,
    bytes: &[u8],
) -> Result<bool, StoreError> {
    let now = paper_mark(Some(bytes));
    if !was.is_empty() {
        let changed = db
            .change(
                "UPDATE @paper SET mark = $2, bytes = $3 WHERE name = $1 AND mark = $4",
                &[
                    (&name, Type::TEXT),
                    (&now, Type::TEXT),
                    (&bytes, Type::BYTEA),
                    (&was, Type::TEXT),
                ],
            )
            .await?;
        return Ok(changed == 1);
    }
    let most = i64::try_from(limits::PAPERS).unwrap_or(i64::MAX);
    let added = db
        .change(
            "INSERT INTO @paper (name, mark, bytes)
             SELECT $1, $2, $3 WHERE (SELECT count(*) FROM @paper) < $4
             ON CONFLICT DO NOTHING",
            &[
                (&name, Type::TEXT),
                (&now, Type::TEXT),
                (&bytes, Type::BYTEA),
                (&most, Type::INT8),
            ],
        )
        .await?;
    if added == 1 {
        return Ok(true);
    }
    match read(db, name).await? {
        Some(_) => Ok(false),
        None => Err(StoreError::Limit("papers of the office")),
    }
}

pub(super) async fn held(db: &Lease) -> Result<(u64, u64), StoreError> {
    let sql = "SELECT count(*), coalesce(sum(length(bytes)), 0)::int8 FROM @paper";
    let row = db.one(sql, &[]).await?;
    Ok((count(&row, 0)?, count(&row, 1)?))
}

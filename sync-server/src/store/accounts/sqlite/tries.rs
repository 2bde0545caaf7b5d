//! Wrong tries, and challenges that were answered.

use chalkwalk_core::job::Millis;
use rusqlite::{OptionalExtension, Transaction, params};

use super::super::Window;
use crate::store::StoreError;

pub(super) fn counted(
    tx: &Transaction<'_>,
    key: &[u8; 32],
    now: Millis,
) -> Result<u64, StoreError> {
    let found: Option<i64> = tx
        .prepare_cached("SELECT count FROM tries WHERE key = ?1 AND ends > ?2")?
        .query_row(params![key, now], |row| row.get(0))
        .optional()?;
    Ok(found.and_then(|n| u64::try_from(n).ok()).unwrap_or(0))
}

pub(super) fn count(
    tx: &Transaction<'_>,
    key: &[u8; 32],
    window: Window,
    by: i64,
) -> Result<u64, StoreError> {
    tx.prepare_cached("DELETE FROM tries WHERE ends <= ?1")?
        .execute([window.now])?;
    let count: i64 = tx
        .prepare_cached(
            "INSERT INTO tries (key, ends, count) VALUES (?1, ?2, max(?3, 0))
             ON CONFLICT (key) DO UPDATE SET count = max(count + ?3, 0) RETURNING count",
        )?
        .query_row(params![key, window.ends(), by], |row| row.get(0))?;
    Ok(u64::try_from(count).unwrap_or(0))
}

pub(super) fn answer(
    tx: &Transaction<'_>,
    nonce: &[u8; 16],
    ends: Millis,
    now: Millis,
) -> Result<bool, StoreError> {
    tx.prepare_cached("DELETE FROM answered WHERE ends <= ?1")?
        .execute([now])?;
    let added = tx
        .prepare_cached("INSERT OR IGNORE INTO answered (nonce, ends) VALUES (?1, ?2)")?
        .execute(params![nonce, ends])?;
    Ok(added > 0)
}

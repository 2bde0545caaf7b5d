//! How ids and tables stand in columns.

use chalkwalk_core::document::{Author, Held, Table};
use chalkwalk_core::job::{BlobKind, Role};
use rusqlite::Row;

use crate::store::StoreError;

/// A column of exactly `N` bytes.
pub(in crate::store) fn bytes<const N: usize>(
    row: &Row<'_>,
    column: usize,
) -> Result<[u8; N], StoreError> {
    fixed(row.get_ref(column)?.as_blob().unwrap_or_default())
}

/// A column of exactly `N` bytes or nothing.
pub(in crate::store) fn bytes_or_none<const N: usize>(
    row: &Row<'_>,
    column: usize,
) -> Result<Option<[u8; N]>, StoreError> {
    let value = row.get_ref(column)?;
    match value.as_blob_or_null() {
        Ok(None) => Ok(None),
        Ok(Some(value)) => fixed(value).map(Some),
        Err(_) => Err(StoreError::Corrupt("a column of another type")),
    }
}

pub(super) fn fixed<const N: usize>(value: &[u8]) -> Result<[u8; N], StoreError> {
    value
        .try_into()
        .map_err(|_| StoreError::Corrupt("a column of the wrong length"))
}

/// A count, as SQLite's whole numbers are signed.
pub(in crate::store) fn count(row: &Row<'_>, column: usize) -> Result<u64, StoreError> {
    let value: i64 = row.get(column)?;
    u64::try_from(value).map_err(|_| StoreError::Corrupt("a count below zero"))
}

pub(super) fn signed(value: u64) -> Result<i64, StoreError> {
    i64::try_from(value).map_err(|_| StoreError::Limit("a number past what the database holds"))
}

pub(super) fn author(row: &Row<'_>, column: usize) -> Result<Author, StoreError> {
    let bytes: [u8; 24] = bytes(row, column)?;
    Author::from_bytes(&bytes).ok_or(StoreError::Corrupt("an author"))
}

pub(in crate::store) fn role(code: &str) -> Result<Role, StoreError> {
    Role::from_code(code).ok_or(StoreError::Corrupt("a role of a newer version"))
}

pub(super) const fn kind(kind: BlobKind) -> &'static str {
    match kind {
        BlobKind::Thumbnail => "thumbnail",
        BlobKind::Original => "original",
    }
}

const HELD_BYTES: usize = 24 + 8 + 8;

/// A table as bytes: author, number, short hash, each of fixed length.
pub(super) fn table_to_bytes(table: &Table) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(table.len() * HELD_BYTES);
    for (author, held) in table {
        bytes.extend_from_slice(&author.to_bytes());
        bytes.extend_from_slice(&held.number.to_be_bytes());
        bytes.extend_from_slice(&held.short_hash);
    }
    bytes
}

pub(super) fn table_from_bytes(bytes: &[u8]) -> Result<Table, StoreError> {
    let mut table = Table::new();
    for held in bytes.chunks(HELD_BYTES) {
        let held: [u8; HELD_BYTES] = fixed(held)?;
        let author = Author::from_bytes(&held[..24]).ok_or(StoreError::Corrupt("an author"))?;
        table.insert(
            author,
            Held {
                number: u64::from_be_bytes(fixed(&held[24..32])?),
                short_hash: fixed(&held[32..])?,
            },
        );
    }
    Ok(table)
}

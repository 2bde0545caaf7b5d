//! How ids stand in SQLite's columns.

use chalkwalk_core::document::Author;
use rusqlite::Row;

use crate::store::StoreError;
pub(in crate::store) use crate::store::encoding::role;
use crate::store::encoding::{author_of, unsigned};
pub(super) use crate::store::encoding::{
    authors_of, fixed, kind, signed, table_from_bytes, table_to_bytes,
};

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

/// A count, as SQLite's whole numbers are signed.
pub(in crate::store) fn count(row: &Row<'_>, column: usize) -> Result<u64, StoreError> {
    unsigned(row.get(column)?)
}

pub(super) fn author(row: &Row<'_>, column: usize) -> Result<Author, StoreError> {
    let bytes: [u8; 24] = bytes(row, column)?;
    author_of(&bytes)
}

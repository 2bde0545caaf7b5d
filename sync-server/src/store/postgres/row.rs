//! Reading columns.

use chalkwalk_core::document::Author;
use tokio_postgres::Row;

use super::error::read;
use crate::store::StoreError;
use crate::store::encoding::{author_of, fixed, unsigned};

/// A column of exactly `N` bytes.
pub(super) fn bytes<const N: usize>(row: &Row, column: usize) -> Result<[u8; N], StoreError> {
    fixed(row.try_get::<_, &[u8]>(column).map_err(read)?)
}

/// A column of exactly `N` bytes or nothing.
pub(super) fn bytes_or_none<const N: usize>(
    row: &Row,
    column: usize,
) -> Result<Option<[u8; N]>, StoreError> {
    let value: Option<&[u8]> = row.try_get(column).map_err(read)?;
    value.map(fixed).transpose()
}

pub(super) fn many_bytes(row: &Row, column: usize) -> Result<Vec<u8>, StoreError> {
    row.try_get(column).map_err(read)
}

pub(super) fn number(row: &Row, column: usize) -> Result<i64, StoreError> {
    row.try_get(column).map_err(read)
}

pub(super) fn number_or_none(row: &Row, column: usize) -> Result<Option<i64>, StoreError> {
    row.try_get(column).map_err(read)
}

pub(super) fn count(row: &Row, column: usize) -> Result<u64, StoreError> {
    unsigned(number(row, column)?)
}

pub(super) fn text(row: &Row, column: usize) -> Result<String, StoreError> {
    row.try_get(column).map_err(read)
}

pub(super) fn text_or_none(row: &Row, column: usize) -> Result<Option<String>, StoreError> {
    row.try_get(column).map_err(read)
}

pub(super) fn author(row: &Row, column: usize) -> Result<Author, StoreError> {
    let bytes: [u8; 24] = bytes(row, column)?;
    author_of(&bytes)
}

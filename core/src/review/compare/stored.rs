//! Another's scope as it is kept in the job: its mapping and what was read from the file.

use serde::{Deserialize, Serialize};
use serde_bytes::ByteBuf;

use super::columns::{Columns, MappingError};
use super::rows::{SkippedRow, TheirRow, TheirScope, read_rows};
use super::table::{BrokenRow, ReadError, read_table};
use crate::job::{Job, OtherScope, RecordRef, hex};
use crate::limits::{TABLE_BYTES, TEXT_BYTES};

/// Why a file could not be taken in.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum TakeInError {
    /// The file.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// The mapping of its columns.
    #[error(transparent)]
    Mapping(#[from] MappingError),
    /// Too much for one record.
    #[error("what was read takes {0} bytes, more than {1}: export the scope of this house alone")]
    TooMuch(usize, usize),
    /// A record that does not hold what this version writes.
    #[error("the kept scope cannot be read: take its file in again")]
    Kept,
}

/// A file that was read, ready to be shown and kept.
#[derive(Clone, Debug, PartialEq)]
pub struct TakenIn {
    /// How the file was read, in words.
    pub read_as: String,
    /// Which column means what.
    pub columns: Columns,
    /// The earlier scope whose mapping was taken, where one was.
    pub mapping_from: Option<RecordRef>,
    /// What was read.
    pub scope: TheirScope,
    /// The record to keep.
    pub record: OtherScope,
}

/// A file and what a person says of it.
#[derive(Clone, Copy, Debug, Default)]
pub struct TheirFile<'a> {
    /// Whose scope it is, in words.
    pub name: &'a str,
    /// The file's name.
    pub file_name: &'a str,
    /// Its bytes.
    pub bytes: &'a [u8],
    /// The sheet to read, for a spreadsheet.
    pub sheet: Option<&'a str>,
    /// A mapping of columns as JSON; see [`Columns::with_mapping`].
    pub mapping: Option<&'a str>,
}

/// Reads a file: its table, its columns (those of an earlier file with the same head where the job
/// has one, else guessed, then what a person says), its rows.
///
/// # Errors
/// Where the file or the mapping cannot be used, or the rows are too many for one record.
pub fn take_in(job: &Job, file: &TheirFile<'_>) -> Result<TakenIn, TakeInError> {
    let table = read_table(file.bytes, file.sheet)?;
    let (mapping_from, mut columns) = match Columns::earlier(&table, job) {
        Some((at, columns)) => (Some(at), columns),
        None => (None, Columns::guess(&table)),
    };
    if let Some(mapping) = file.mapping {
        columns = columns.with_mapping(&table, mapping)?;
    }
    let scope = read_rows(&table, &columns)?;
    let record = to_record(file, &columns, &scope)?;
    Ok(TakenIn {
        read_as: table.read_as,
        columns,
        mapping_from,
        scope,
        record,
    })
}

/// What is kept of the rows. A later layout gets a new version.
#[derive(Serialize, Deserialize)]
struct Kept {
    version: u32,
    rows: Vec<TheirRow>,
    skipped: Vec<SkippedRow>,
    broken: Vec<(u32, String)>,
}

const VERSION: u32 = 1;

fn to_record(
    file: &TheirFile<'_>,
    columns: &Columns,
    scope: &TheirScope,
) -> Result<OtherScope, TakeInError> {
    let kept = Kept {
        version: VERSION,
        rows: scope.rows.clone(),
        skipped: scope.skipped.clone(),
        broken: scope
            .broken
            .iter()
            .map(|row| (row.line, row.reason.clone()))
            .collect(),
    };
    let rows = rmp_serde::to_vec(&kept).map_err(|_| TakeInError::Kept)?;
    if rows.len() > TABLE_BYTES {
        return Err(TakeInError::TooMuch(rows.len(), TABLE_BYTES));
    }
    let columns = serde_json::to_string(columns).map_err(|_| TakeInError::Kept)?;
    if columns.len() > TEXT_BYTES {
        return Err(TakeInError::TooMuch(columns.len(), TEXT_BYTES));
    }
    let named = |text: &str| (!text.is_empty()).then(|| text.to_owned());
    Ok(OtherScope {
        name: named(file.name),
        file_name: named(file.file_name),
        file_hash: Some(hex(blake3::hash(file.bytes).as_bytes())),
        columns: Some(columns),
        rows: Some(ByteBuf::from(rows)),
    })
}

/// Reads back what a record keeps.
///
/// # Errors
/// Where the record lacks it or holds another layout.
pub fn kept(record: &OtherScope) -> Result<(Columns, TheirScope), TakeInError> {
    let columns = record.columns.as_deref().ok_or(TakeInError::Kept)?;
    let columns: Columns = serde_json::from_str(columns).map_err(|_| TakeInError::Kept)?;
    let rows = record.rows.as_ref().ok_or(TakeInError::Kept)?;
    if rows.len() > TABLE_BYTES {
        return Err(TakeInError::TooMuch(rows.len(), TABLE_BYTES));
    }
    let kept: Kept = rmp_serde::from_slice(rows).map_err(|_| TakeInError::Kept)?;
    if kept.version != VERSION || !kept.rows.iter().all(TheirRow::within_limits) {
        return Err(TakeInError::Kept);
    }
    // A row is known by its number, so that no two have the same.
    if !kept.rows.is_sorted_by(|one, next| one.row < next.row) {
        return Err(TakeInError::Kept);
    }
    let broken = kept
        .broken
        .into_iter()
        .map(|(line, reason)| BrokenRow { line, reason })
        .collect();
    let scope = TheirScope {
        rows: kept.rows,
        skipped: kept.skipped,
        broken,
    };
    Ok((columns, scope))
}

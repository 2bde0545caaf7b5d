//! A file that somebody else wrote, as rows of text cells: CSV with any delimiter, or a
//! spreadsheet. What the cells mean is decided elsewhere.

mod amount;
mod delimiter;
#[cfg(feature = "xlsx")]
mod sheet;
mod text;

#[cfg(test)]
mod tests;

use serde::Serialize;

use crate::limits::*;

pub use amount::{Amount, AmountStyle, amount};
#[cfg(feature = "xlsx")]
pub(crate) use sheet::refuse_bomb;

/// The cells of a file.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Table {
    /// Rows with at least one filled cell, in the file's order.
    pub rows: Vec<TableRow>,
    /// Rows that could not be read, by line.
    pub broken: Vec<BrokenRow>,
    /// How the file was read, in words: its encoding and delimiter, or its sheet.
    pub read_as: String,
    /// Names of the sheets; empty for a text file.
    pub sheets: Vec<String>,
}

/// One row.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct TableRow {
    /// Line of the file where it begins, or row of the sheet; from 1.
    pub line: u32,
    /// Its cells without the empty ones at the end.
    pub cells: Vec<String>,
}

/// A row that was skipped because it could not be read.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BrokenRow {
    /// Line of the file, or row of the sheet; from 1.
    pub line: u32,
    /// Why, in a plain sentence.
    pub reason: String,
}

/// Why a file could not be read at all; the text says what to do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ReadError {
    /// Nothing in it.
    #[error("the file is empty: export the scope again as CSV or XLSX")]
    Empty,
    /// More than a limit allows.
    #[error(
        "the file has {what}, more than {limit}: export the scope alone, without other sheets or estimates"
    )]
    TooLarge {
        /// What there is too much of, with its amount where it is known.
        what: &'static str,
        /// The limit, with its unit.
        limit: String,
    },
    /// Another kind of file.
    #[error("the file is {0}: export the scope as CSV or XLSX")]
    OtherKind(&'static str),
    /// A spreadsheet that does not hold together.
    #[error(
        "the spreadsheet cannot be read ({0}): open it, save it again as XLSX, or export it as CSV"
    )]
    Spreadsheet(String),
    /// No sheet of that name.
    #[error("there is no sheet \"{asked}\": its sheets are {there}")]
    NoSheet {
        /// The name that was asked for.
        asked: String,
        /// The names that there are.
        there: String,
    },
}

/// Reads a file. The kind is told by its first bytes, never by its name. Of a spreadsheet the
/// named sheet is read, or without a name the first whose head names an item.
///
/// # Errors
/// Where the file is of another kind, damaged, or past a limit of [`crate::limits`]. A single bad
/// row is no error: it is listed in [`Table::broken`].
pub fn read_table(bytes: &[u8], sheet: Option<&str>) -> Result<Table, ReadError> {
    if bytes.is_empty() {
        return Err(ReadError::Empty);
    }
    if bytes.len() > SCOPE_FILE_BYTES {
        return Err(too_large("many bytes", SCOPE_FILE_BYTES, "bytes"));
    }
    if let Some(kind) = other_kind(bytes) {
        return Err(ReadError::OtherKind(kind));
    }
    let table = if bytes.starts_with(b"PK\x03\x04") {
        spreadsheet(bytes, sheet)?
    } else {
        text::read_text(bytes)?
    };
    if table.rows.is_empty() && table.broken.is_empty() {
        return Err(ReadError::Empty);
    }
    Ok(table)
}

#[cfg(feature = "xlsx")]
fn spreadsheet(bytes: &[u8], named: Option<&str>) -> Result<Table, ReadError> {
    sheet::read_sheet(bytes, named)
}

#[cfg(not(feature = "xlsx"))]
fn spreadsheet(_: &[u8], _: Option<&str>) -> Result<Table, ReadError> {
    Err(ReadError::OtherKind(
        "a spreadsheet, which this build does not read",
    ))
}

/// Kinds that people send instead of a table, by their first bytes.
fn other_kind(bytes: &[u8]) -> Option<&'static str> {
    const KINDS: &[(&[u8], &str)] = &[
        (b"%PDF", "a PDF"),
        (
            b"\xD0\xCF\x11\xE0",
            "an old spreadsheet (XLS) or another office file",
        ),
        (b"{\\rtf", "a text document (RTF)"),
        (b"\xFF\xD8\xFF", "a picture"),
        (b"\x89PNG", "a picture"),
        (b"\x1F\x8B", "a compressed file"),
        (b"<!DOCTYPE", "a web page"),
        (b"<html", "a web page"),
        (b"<?xml", "an XML file"),
    ];
    KINDS
        .iter()
        .find(|(magic, _)| bytes.starts_with(magic))
        .map(|(_, kind)| *kind)
}

fn too_large(what: &'static str, limit: impl std::fmt::Display, unit: &str) -> ReadError {
    ReadError::TooLarge {
        what,
        limit: format!("{limit} {unit}"),
    }
}

/// Takes in rows one by one and keeps the limits that both kinds of file share.
#[derive(Default)]
struct Intake {
    table: Table,
    cells: usize,
}

impl Intake {
    fn row(&mut self, line: u32, mut cells: Vec<String>) -> Result<(), ReadError> {
        while cells.last().is_some_and(|cell| cell.trim().is_empty()) {
            cells.pop();
        }
        if cells.is_empty() {
            return Ok(());
        }
        if self.table.rows.len() + self.table.broken.len() >= SCOPE_ROWS {
            return Err(too_large("many rows", SCOPE_ROWS, "rows"));
        }
        if cells.len() > SCOPE_COLUMNS {
            let reason = format!(
                "the row has {} cells, more than {SCOPE_COLUMNS}",
                cells.len()
            );
            self.broken(line, reason);
            return Ok(());
        }
        if let Some(at) = cells.iter().position(|cell| cell.len() > SCOPE_CELL_BYTES) {
            let column = at + 1;
            let reason = format!("cell {column} has more than {SCOPE_CELL_BYTES} bytes of text");
            self.broken(line, reason);
            return Ok(());
        }
        self.cells += cells.iter().filter(|cell| !cell.is_empty()).count();
        if self.cells > SCOPE_CELLS {
            return Err(too_large("many cells", SCOPE_CELLS, "filled cells"));
        }
        self.table.rows.push(TableRow { line, cells });
        Ok(())
    }

    fn broken(&mut self, line: u32, reason: String) {
        self.table.broken.push(BrokenRow { line, reason });
    }
}

//! Spreadsheets in the XLSX format (ISO/IEC 29500), cell by cell, with nothing inflated past the
//! limits. Formulas give the value that was saved with them.

use std::collections::BTreeMap;
use std::io::{Cursor, Read};

use calamine::{DataRef, Reader, Xlsx};

use super::{Intake, ReadError, Table, too_large};
use crate::limits::*;
use crate::review::compare::columns::head_words;
use crate::sorted::Sorted;

/// Reads one sheet.
pub(super) fn read_sheet(bytes: &[u8], named: Option<&str>) -> Result<Table, ReadError> {
    refuse_bomb(bytes)?;
    let mut book: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).map_err(damaged)?;
    let sheets = book.sheet_names();
    if sheets.len() > SCOPE_SHEETS {
        return Err(too_large("many sheets", SCOPE_SHEETS, "sheets"));
    }
    let chosen = match named {
        Some(name) => sheets.iter().find(|sheet| sheet.as_str() == name),
        None => first_with_a_head(&mut book, &sheets)?,
    };
    let Some(chosen) = chosen.cloned() else {
        return Err(ReadError::NoSheet {
            asked: named.unwrap_or_default().chars().take(64).collect(),
            there: sheets.join(", "),
        });
    };
    let mut table = cells_of(&mut book, &chosen, usize::MAX)?;
    table.read_as = format!("spreadsheet, sheet \"{chosen}\"");
    table.sheets = sheets;
    Ok(table)
}

/// Inflates every part once into nothing and counts: a declared size proves nothing.
pub(crate) fn refuse_bomb(bytes: &[u8]) -> Result<(), ReadError> {
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).map_err(damaged)?;
    if archive.len() > SCOPE_PARTS {
        return Err(too_large("many parts", SCOPE_PARTS, "parts"));
    }
    let mut left = SCOPE_INFLATED_BYTES;
    for index in 0..archive.len() {
        let part = archive.by_index(index).map_err(damaged)?;
        let read = std::io::copy(&mut part.take(left + 1), &mut std::io::sink());
        left = left
            .checked_sub(read.map_err(damaged)?)
            .ok_or_else(|| too_large("many bytes once inflated", SCOPE_INFLATED_BYTES, "bytes"))?;
    }
    Ok(())
}

/// The first sheet whose beginning names the most columns, two at least; else the first.
fn first_with_a_head<'a>(
    book: &mut Xlsx<Cursor<&[u8]>>,
    sheets: &'a [String],
) -> Result<Option<&'a String>, ReadError> {
    let mut best = (0, sheets.first());
    for sheet in sheets {
        // A sheet that holds a chart has no cells; it cannot be the scope.
        let Ok(top) = cells_of(book, sheet, SCOPE_HEAD_ROWS) else {
            continue;
        };
        let named = top.rows.iter().map(|row| {
            let cells: Vec<&str> = row.cells.iter().map(String::as_str).collect();
            head_words(&cells)
        });
        let named = named.max().unwrap_or(0);
        if named > best.0 && named > 1 {
            best = (named, Some(sheet));
        }
    }
    Ok(best.1)
}

/// The cells of one sheet, at most so many filled rows of it.
fn cells_of(book: &mut Xlsx<Cursor<&[u8]>>, sheet: &str, rows: usize) -> Result<Table, ReadError> {
    let mut intake = Intake::default();
    let mut cells = book.worksheet_cells_reader(sheet).map_err(damaged)?;
    let mut row: BTreeMap<u32, String> = BTreeMap::new();
    let mut line = 0;
    while let Some(cell) = cells.next_cell().map_err(damaged)? {
        let (down, right) = cell.get_position();
        let begins_row = down.saturating_add(1) != line;
        if begins_row {
            take_row(&mut intake, line, std::mem::take(&mut row))?;
            if intake.table.rows.len() >= rows {
                return Ok(intake.table);
            }
            line = down.saturating_add(1);
        }
        let text = text_of(cell.get_value());
        if !text.is_empty() {
            row.insert(right, text);
        }
        if row.len() > SCOPE_CELLS {
            return Err(too_large("many cells", SCOPE_CELLS, "filled cells"));
        }
    }
    take_row(&mut intake, line, row)?;
    intake.table.rows.order_by_key(|row| row.line);
    Ok(intake.table)
}

fn take_row(
    intake: &mut Intake,
    line: u32,
    filled: BTreeMap<u32, String>,
) -> Result<(), ReadError> {
    let Some((last, _)) = filled.last_key_value() else {
        return Ok(());
    };
    let width = *last as usize + 1;
    if width > SCOPE_COLUMNS {
        let reason = format!("a cell stands in column {width}, past column {SCOPE_COLUMNS}");
        intake.broken(line, reason);
        return Ok(());
    }
    let mut cells = vec![String::new(); width];
    for (at, text) in filled {
        if let Some(cell) = cells.get_mut(at as usize) {
            *cell = text;
        }
    }
    intake.row(line, cells)
}

/// A cell as text. A number is written as short as it reads back, a date as its day number.
fn text_of(value: &DataRef<'_>) -> String {
    match value {
        DataRef::Int(number) => number.to_string(),
        DataRef::Float(number) => number.to_string(),
        DataRef::String(text) | DataRef::DateTimeIso(text) | DataRef::DurationIso(text) => {
            text.clone()
        }
        DataRef::SharedString(text) => (*text).to_owned(),
        DataRef::Bool(yes) => yes.to_string(),
        DataRef::DateTime(day) => day.as_f64().to_string(),
        DataRef::Error(error) => error.to_string(),
        DataRef::Empty => String::new(),
    }
}

fn damaged(error: impl std::fmt::Display) -> ReadError {
    ReadError::Spreadsheet(error.to_string().chars().take(120).collect())
}

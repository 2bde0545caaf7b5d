//! A spreadsheet against the report, cell by cell.

use std::collections::BTreeMap;
use std::io::Cursor;
use std::path::Path;

use calamine::{Data, DataRef, Reader, Xlsx};
use serde_json::{Map, Value};

use super::super::bag::Sums;
use super::Report;
use super::reports::{HAIR, cell, rows};
use super::structure::printable;
use crate::limits;
use crate::review::compare::table::refuse_bomb;

const FILE: &str = "data/report.xlsx";
/// More columns than any table has.
const COLUMNS: u32 = 64;

pub(super) fn check(
    folder: &Path,
    said: &Map<String, Value>,
    report: &mut Report,
    sums: &BTreeMap<String, Sums>,
) {
    let Some(sum) = sums.get(FILE) else {
        return;
    };
    // An altered spreadsheet is named already and is not opened.
    if sum.size > limits::PACKET_TEXT_BYTES || report.failures.iter().any(|f| f.file == FILE) {
        return;
    }
    let Ok(bytes) = std::fs::read(folder.join(FILE)) else {
        return report.fail(FILE, "cannot be read");
    };
    let book = refuse_bomb(&bytes)
        .ok()
        .and_then(|()| Xlsx::new(Cursor::new(&*bytes)).ok());
    let Some(mut book) = book else {
        return report.fail(FILE, "is not a spreadsheet");
    };
    for sheet in book.sheet_names() {
        let key = sheet.to_lowercase().replace(' ', "_");
        let Some(rows) = rows(said, &key) else {
            continue;
        };
        match cells_of(&mut book, &sheet, rows.len()) {
            None => report.fail(FILE, format!("sheet {} cannot be read", printable(&sheet))),
            Some(cells) => {
                if let Some(reason) = differs(&cells, &rows) {
                    report.fail(FILE, format!("sheet {}, {reason}", printable(&sheet)));
                }
            }
        }
    }
}

type Cells = BTreeMap<(u32, u32), Data>;

/// The cells of the names, the heads and so many rows; nothing that lies further out.
fn cells_of(book: &mut Xlsx<Cursor<&[u8]>>, sheet: &str, rows: usize) -> Option<Cells> {
    let mut reader = book.worksheet_cells_reader(sheet).ok()?;
    let mut cells = Cells::new();
    while let Some(cell) = reader.next_cell().ok()? {
        let (row, column) = cell.get_position();
        if column < COLUMNS && (row as usize) < rows + 2 {
            let value = match cell.get_value() {
                DataRef::SharedString(text) => Data::String((*text).to_owned()),
                other => other.clone().into(),
            };
            cells.insert((row, column), value);
        }
    }
    Some(cells)
}

/// The first cell that says otherwise than the report. The names of the columns stand in a row of
/// their own that is hidden, above the heads for people.
fn differs(cells: &Cells, rows: &[&Map<String, Value>]) -> Option<String> {
    for (index, row) in (2u32..).zip(rows) {
        for column in 0..COLUMNS {
            let Some(key) = cells.get(&(0, column)) else {
                break;
            };
            let (key, value) = (key.to_string(), row.get(&key.to_string()));
            let is = cells.get(&(index, column)).unwrap_or(&Data::Empty);
            let same = match (value, is) {
                (Some(Value::Number(number)), Data::Float(is)) => number
                    .as_f64()
                    .is_some_and(|n| (n - is).abs() <= HAIR * n.abs().max(1.0)),
                // Days and moments are numbers in a spreadsheet; their text stands in CSV.
                (Some(Value::String(_)), Data::DateTime(_)) => true,
                (value, is) => cell(value) == is.to_string(),
            };
            if !same {
                return Some(format!(
                    "row {}, {}: says \"{}\", the report says \"{}\"",
                    index - 1,
                    printable(&key),
                    printable(&is.to_string()),
                    printable(&cell(value))
                ));
            }
        }
    }
    None
}

//! A table as CSV: RFC 4180, and safe to open in a spreadsheet.

use super::table::{Cell, Table};
use crate::packet::PacketError;
use crate::review::harmless;

/// The table with its column names in the first row. Words that a spreadsheet would run as a
/// formula are kept as text; numbers stand as they are.
pub(in crate::packet) fn to_csv(table: &Table) -> Result<Vec<u8>, PacketError> {
    let failed = |_| PacketError::Format("a CSV file");
    let mut csv = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    csv.write_record(table.columns.iter().map(|column| column.key))
        .map_err(failed)?;
    for row in &table.rows {
        csv.write_record(row.iter().map(cell_text))
            .map_err(failed)?;
    }
    csv.into_inner()
        .map_err(|_| PacketError::Format("a CSV file"))
}

/// What CSV holds of a cell.
fn cell_text(cell: &Cell) -> String {
    match cell {
        Cell::Text(_) | Cell::List(_) => harmless(&cell.words()),
        _ => cell.words(),
    }
}

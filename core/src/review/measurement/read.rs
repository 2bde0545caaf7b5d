//! Reading a report's file into rows.

use crate::sorted::Sorted;

use std::collections::BTreeSet;

use serde::Serialize;

use super::cells::{area, edge_kind, is_total, length, pitch};
use super::columns::{Column, ColumnUse, Columns, Mapping};
use super::rows::within;
use super::table::{TableRow, table};
use super::{MeasurementError, ReportRow};

/// A row that was left out.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BrokenRow {
    /// Its line in the file, from 1; in JSON its number among the rows.
    pub line: u32,
    /// Why.
    pub why: String,
}

/// What was read from a file.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReadReport {
    /// Which column was taken for what.
    pub columns: Vec<ColumnUse>,
    /// The heads of all columns.
    pub heads: Vec<String>,
    /// The rows, in the file's order.
    pub rows: Vec<ReportRow>,
    /// The rows that were left out.
    pub broken: Vec<BrokenRow>,
}

/// Reads a report from CSV (comma, semicolon or tab) or JSON. Columns that `named` does not name
/// are guessed from their heads.
///
/// # Errors
/// Where the file as a whole cannot be read: too large, no text, broken JSON, no rows, no column of
/// use, a named column that is not there. Rows that cannot be read are in
/// [`ReadReport::broken`].
pub fn read_report(bytes: &[u8], named: &Columns) -> Result<ReadReport, MeasurementError> {
    within(bytes.len())?;
    let text = std::str::from_utf8(bytes).map_err(|_| MeasurementError::NotText)?;
    let table = table(text)?;
    let mapping = Mapping::of(&table.columns, named)?;
    let mut rows = Vec::new();
    let mut broken = table.broken;
    let mut names = BTreeSet::new();
    for row in &table.rows {
        let read = row_of(row, &table.columns, &mapping);
        match read {
            Ok(ReportRow::Slope { line, name, .. }) if !names.insert(name.clone()) => {
                let why = format!("the slope \"{name}\" stands in the file twice");
                broken.push(BrokenRow { line, why });
            }
            Ok(row) => rows.push(row),
            Err(why) => broken.push(BrokenRow {
                line: row.line,
                why,
            }),
        }
    }
    broken.order_by_key(|row| row.line);
    Ok(ReadReport {
        columns: mapping.uses,
        heads: table.columns,
        rows,
        broken,
    })
}

fn row_of(row: &TableRow, heads: &[String], mapping: &Mapping) -> Result<ReportRow, String> {
    let cell = |column| row.cell(mapping.at(column));
    let head = |column| {
        let at = mapping.at(column).and_then(|at| heads.get(at));
        at.map_or("", String::as_str)
    };
    let (what, name) = (cell(Column::What), cell(Column::Name));
    let group = row.group.as_deref();
    if [what, name].into_iter().flatten().any(is_total) {
        return Err("it is a total, which is worked out from the rows".to_owned());
    }
    let named_edge = [what, name, group]
        .into_iter()
        .flatten()
        .find_map(edge_kind);
    let area_cell = cell(Column::Area);
    let length_cell = cell(Column::Length);
    // A slope may be called "hip end": a row with an area is a slope, whatever its name.
    if let (Some(kind), Some(text), None) = (named_edge, length_cell, area_cell) {
        return Ok(ReportRow::Edge {
            line: row.line,
            kind,
            name: name.map(str::to_owned),
            length: length(text, head(Column::Length))?,
        });
    }
    let pitch_cell = cell(Column::Pitch);
    if area_cell.is_none() && pitch_cell.is_none() {
        return Err(match (length_cell, what.or(name)) {
            (Some(_), Some(what)) => format!("\"{what}\" is no kind of edge that is known here"),
            (Some(_), None) => "it has a length and does not say of what".to_owned(),
            _ => "it has no area, pitch or length".to_owned(),
        });
    }
    let Some(name) = name.or(what) else {
        return Err("it does not say which slope it is".to_owned());
    };
    let area = area_cell.map(|text| area(text, head(Column::Area)));
    let pitch = pitch_cell.map(|text| pitch(text, head(Column::Pitch)));
    Ok(ReportRow::Slope {
        line: row.line,
        name: name.to_owned(),
        area: area.transpose()?,
        pitch: pitch.transpose()?,
    })
}

//! A file as a head and rows of text, from CSV or JSON.

use serde_json::Value;

use super::MeasurementError;
use super::read::BrokenRow;
use crate::limits;

/// A table of text.
#[derive(Default)]
pub(super) struct Table {
    pub(super) columns: Vec<String>,
    pub(super) rows: Vec<TableRow>,
    pub(super) broken: Vec<BrokenRow>,
}

/// One row.
pub(super) struct TableRow {
    /// Line in the file, or number among the JSON rows, from 1.
    pub(super) line: u32,
    /// The name of the JSON list it stood in.
    pub(super) group: Option<String>,
    /// A cell for each column; empty where there is none.
    pub(super) cells: Vec<String>,
}

pub(super) fn table(text: &str) -> Result<Table, MeasurementError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let table = if text.trim_start().starts_with(['{', '[']) {
        from_json(text)?
    } else {
        from_csv(text)
    };
    if table.columns.len() > limits::TABLE_COLUMNS {
        let most = limits::TABLE_COLUMNS;
        return Err(MeasurementError::TooWide { most });
    }
    if table.rows.is_empty() && table.broken.is_empty() {
        return Err(MeasurementError::Empty);
    }
    Ok(table)
}

fn from_csv(text: &str) -> Table {
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter(text))
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let mut table = Table::default();
    for record in reader.records() {
        // The text is UTF-8 and rows may differ in length, so that no error is left.
        let Ok(record) = record else { continue };
        let line = record.position().map_or(0, csv::Position::line);
        let line = u32::try_from(line).unwrap_or(u32::MAX);
        let cells: Vec<String> = record.iter().map(str::to_owned).collect();
        if cells.iter().all(String::is_empty) {
            continue;
        }
        if table.columns.is_empty() {
            table.columns = cells;
        } else if cells.len() > table.columns.len() {
            let why = format!(
                "it has {} cells, the head has {}: is a comma missing its quotes?",
                cells.len(),
                table.columns.len()
            );
            table.broken.push(BrokenRow { line, why });
        } else {
            table.push(line, None, cells);
        }
    }
    table
}

/// The mark that stands most often in the first line with text.
fn delimiter(text: &str) -> u8 {
    let head = text.lines().find(|line| !line.trim().is_empty());
    let head = head.unwrap_or_default();
    let count = |mark: u8| head.bytes().filter(|byte| *byte == mark).count();
    let mut best = b',';
    for mark in [b';', b'\t'] {
        if count(mark) > count(best) {
            best = mark;
        }
    }
    best
}

fn from_json(text: &str) -> Result<Table, MeasurementError> {
    let value: Value =
        serde_json::from_str(text).map_err(|error| MeasurementError::NotJson(error.to_string()))?;
    let mut table = Table::default();
    let mut number = 0;
    collect(&value, None, &mut number, &mut table);
    Ok(table)
}

/// Every object in a list is a row; the list's name goes with it.
fn collect(value: &Value, group: Option<&str>, number: &mut u32, table: &mut Table) {
    match value {
        Value::Array(items) => {
            for item in items {
                // One past the limit is enough to refuse the table.
                if table.columns.len() > limits::TABLE_COLUMNS {
                    return;
                }
                let Value::Object(fields) = item else {
                    *number = number.saturating_add(1);
                    let why = "it is no object with named values".to_owned();
                    table.broken.push(BrokenRow { line: *number, why });
                    continue;
                };
                *number = number.saturating_add(1);
                let mut cells = vec![String::new(); table.columns.len()];
                for (key, value) in fields.iter().take(limits::TABLE_COLUMNS + 1) {
                    let at = match table.columns.iter().position(|column| column == key) {
                        Some(at) => at,
                        None => {
                            table.columns.push(key.clone());
                            cells.push(String::new());
                            table.columns.len() - 1
                        }
                    };
                    if let Some(cell) = cells.get_mut(at) {
                        *cell = text_of(value);
                    }
                }
                table.push(*number, group.map(str::to_owned), cells);
            }
        }
        Value::Object(fields) => {
            for (key, value) in fields {
                if matches!(value, Value::Array(_) | Value::Object(_)) {
                    collect(value, Some(key), number, table);
                }
            }
        }
        _ => {}
    }
}

fn text_of(value: &Value) -> String {
    match value {
        Value::String(text) => text.trim().to_owned(),
        Value::Number(number) => number.to_string(),
        Value::Bool(yes) => yes.to_string(),
        _ => String::new(),
    }
}

impl Table {
    fn push(&mut self, line: u32, group: Option<String>, cells: Vec<String>) {
        self.rows.push(TableRow { line, group, cells });
    }
}

impl TableRow {
    /// The text of a column; `None` where there is none.
    pub(super) fn cell(&self, column: Option<usize>) -> Option<&str> {
        let text = self.cells.get(column?)?.as_str();
        (!text.is_empty()).then_some(text)
    }
}

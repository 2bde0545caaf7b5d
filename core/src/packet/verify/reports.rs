//! That the reports say what the data says: tables against the report, the report's photos against
//! the files, spreadsheets against both, the words of the archive against its document.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use serde_json::{Map, Value};

use super::super::bag::Sums;
use super::super::report::SCHEMA;
use super::Report;
use super::structure::{printable, text};
use crate::review::harmless;
use crate::sorted::Keyed;

const REPORT: &str = "data/report.json";
const SCHEMA_FILE: &str = "data/report.schema.json";

pub(super) fn check(folder: &Path, report: &mut Report, sums: &BTreeMap<String, Sums>) {
    if !sums.contains_key(REPORT) {
        report.fail(REPORT, "is missing");
        return;
    }
    let said = text(folder, REPORT).ok();
    let said = said.and_then(|text| serde_json::from_str::<Map<String, Value>>(&text).ok());
    let Some(said) = said else {
        report.fail(REPORT, "is not a report");
        return;
    };
    if text(folder, SCHEMA_FILE).is_ok_and(|text| text != SCHEMA) {
        let note = "The schema in the packet is not that of this program's version.";
        report.notes.push(note.to_owned());
    }
    for name in sums.keys() {
        let table = name
            .strip_prefix("data/")
            .and_then(|n| n.strip_suffix(".csv"));
        if let Some(table) = table {
            check_csv(folder, name, &table.replace('-', "_"), &said, report);
        }
    }
    check_photos(&said, report, sums);
    super::rework::check(folder, &said, report, sums);
    #[cfg(feature = "xlsx")]
    super::workbook::check(folder, &said, report, sums);
}

/// The rows of a table as the report has them.
pub(super) fn rows<'a>(
    said: &'a Map<String, Value>,
    table: &str,
) -> Option<Vec<&'a Map<String, Value>>> {
    said.get(table)?
        .as_array()?
        .iter()
        .map(Value::as_object)
        .collect()
}

/// What a table holds of a value of the report.
pub(super) fn cell(value: Option<&Value>) -> String {
    match value {
        None | Some(Value::Null) => String::new(),
        Some(Value::String(text)) => text.clone(),
        Some(Value::Bool(flag)) => if *flag { "yes" } else { "no" }.to_owned(),
        Some(Value::Number(number)) => match (number.as_u64(), number.as_f64()) {
            (Some(count), _) => count.to_string(),
            (None, Some(number)) => number.to_string(),
            (None, None) => number.to_string(),
        },
        Some(Value::Array(list)) => {
            let list: Vec<String> = list.iter().map(|one| cell(Some(one))).collect();
            list.join("; ")
        }
        Some(Value::Object(_)) => "?".to_owned(),
    }
}

fn check_csv(
    folder: &Path,
    name: &str,
    table: &str,
    said: &Map<String, Value>,
    report: &mut Report,
) {
    let Some(rows) = rows(said, table) else {
        return report.fail(name, "is a table that the report does not have");
    };
    let Ok(text) = text(folder, name) else {
        return report.fail(name, "cannot be read as text within the limit");
    };
    let mut reader = csv::ReaderBuilder::new().from_reader(text.as_bytes());
    let Ok(heads) = reader.headers().cloned() else {
        return report.fail(name, "is not a table");
    };
    let mut count = 0;
    for (index, record) in reader.records().enumerate() {
        let (Ok(record), Some(row)) = (record, rows.get(index)) else {
            return report.fail(
                name,
                format!("row {}: the report has no such row", index + 1),
            );
        };
        for (head, is) in heads.iter().zip(&record) {
            let value = row.get(head);
            let plain = cell(value);
            let words = matches!(value, Some(Value::String(_) | Value::Array(_)));
            let should = if words { harmless(&plain) } else { plain };
            if is != should && !same_number(value, is) {
                let reason = format!(
                    "row {}, {}: says \"{}\", the report says \"{}\"",
                    index + 1,
                    printable(head),
                    printable(is),
                    printable(&should)
                );
                return report.fail(name, reason);
            }
        }
        count = index + 1;
    }
    if count != rows.len() {
        report.fail(
            name,
            format!("has {count} rows, the report has {}", rows.len()),
        );
    }
}

/// What reading and writing in two formats may do to a number.
pub(super) const HAIR: f64 = 1e-9;

/// The cell holds the number, however either was written.
fn same_number(value: Option<&Value>, cell: &str) -> bool {
    let number = value.and_then(Value::as_f64);
    let is = cell.parse::<f64>().ok();
    number
        .zip(is)
        .is_some_and(|(number, is)| (number - is).abs() <= HAIR * number.abs())
}

/// Each photo that the report names is there, and each that is there is in the report.
fn check_photos(said: &Map<String, Value>, report: &mut Report, sums: &BTreeMap<String, Sums>) {
    let Some(photos) = rows(said, "photos") else {
        return report.fail(REPORT, "has no list of photos");
    };
    let files = photos
        .iter()
        .filter_map(|photo| photo.get("file")?.as_str());
    let named: BTreeSet<String> = files.map(|file| format!("data/{file}")).keyed();
    for file in &named {
        if !sums.contains_key(file) {
            report.fail(
                &printable(file),
                format!("is missing, although {REPORT} names it"),
            );
        }
    }
    for file in sums.keys().filter(|name| name.starts_with("data/photos/")) {
        if !named.contains(file) {
            report.fail(file, format!("was added: {REPORT} does not name it"));
        }
    }
}

//! Rows of the daily reports of the Storm Prediction Center:
//! `Time,Size,Location,County,State,Lat,Lon,Comments`, with `Speed` or `F_Scale` in place of
//! `Size`.

use chrono::NaiveDate;
use csv::ByteRecord;

use super::parts::{cell, hail, joined, number, position, quoted, wind, words};
use super::read::Row;
use super::{Measured, Report, ReportKind, Wind, WindKind, WindUnit, clock};

/// Columns before the comments.
const COLUMNS: usize = 7;

/// Which kind of report a head announces; `None` where the row is no head.
pub(super) fn head(row: &ByteRecord) -> Option<ReportKind> {
    if !cell(row, 0).eq_ignore_ascii_case("time") {
        return None;
    }
    let kinds = [
        ("size", ReportKind::Hail),
        ("speed", ReportKind::Wind),
        ("f_scale", ReportKind::Tornado),
    ];
    let second = cell(row, 1).to_ascii_lowercase();
    let kind = kinds.iter().find(|(name, _)| *name == second)?.1;
    let rest = ["location", "county", "state", "lat", "lon"];
    let named = |(i, name): (usize, &&str)| cell(row, i + 2).eq_ignore_ascii_case(name);
    rest.iter().enumerate().all(named).then_some(kind)
}

/// Reads one row of a section; a report is added to `reports`.
pub(super) fn row(
    row: &ByteRecord,
    kind: ReportKind,
    day: NaiveDate,
    unit: WindUnit,
    line: u64,
    reports: &mut Vec<Report>,
) -> Result<Row, String> {
    if row.len() < COLUMNS {
        return Err(format!(
            "{} columns where at least {COLUMNS} belong",
            row.len()
        ));
    }
    let at = clock::daily(day, cell(row, 0))?;
    let strength = cell(row, 1);
    let mut report = Report {
        kind,
        at,
        position: position(cell(row, 5), cell(row, 6))?
            .ok_or_else(|| "there is no latitude and longitude".to_owned())?,
        hail_in: None,
        wind: None,
        scale: String::new(),
        place: joined(
            [2, 3, 4].map(|index| row.get(index).unwrap_or_default()),
            ", ",
        ),
        remarks: comments(row),
        line,
    };
    match kind {
        ReportKind::Hail => report.hail_in = size(strength)?,
        ReportKind::Wind => {
            let speed = number(strength, "speed")?.map(wind).transpose()?;
            report.wind = speed.map(|speed| Wind {
                speed,
                unit,
                unit_assumed: true,
                measured: Measured::NotStated,
                of: WindKind::NotStated,
            });
        }
        ReportKind::Tornado if strength.eq_ignore_ascii_case("UNK") => {}
        ReportKind::Tornado => report.scale = strength.chars().take(8).collect(),
    }
    reports.push(report);
    Ok(Row::Report)
}

/// Hundredths of an inch.
fn size(text: &str) -> Result<Option<f64>, String> {
    if text.contains('.') {
        let text = quoted(text);
        return Err(format!("the size {text} is not in hundredths of an inch"));
    }
    let hundredths = number(text, "size")?;
    hundredths.map(|count| hail(count / 100.0)).transpose()
}

/// The comments; a comma in them makes further cells, as the file quotes nothing.
fn comments(row: &ByteRecord) -> String {
    let cells: Vec<&[u8]> = row.iter().skip(COLUMNS).collect();
    let text = words(&cells.join(&b","[..]));
    let inner = text
        .strip_prefix('"')
        .and_then(|rest| rest.strip_suffix('"'));
    inner.map_or(text.clone(), |inner| inner.replace("\"\"", "\""))
}

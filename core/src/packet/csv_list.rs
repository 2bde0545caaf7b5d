//! `findings.csv`: RFC 4180, and safe to open in a spreadsheet.

use std::collections::BTreeMap;

use super::photos::PlacedPhoto;
use super::when::utc;
use super::{PacketError, Selection};
use crate::job::*;
use crate::review::{FindingsList, PlaceGroup, harmless};

const COLUMNS: &[&str] = &[
    "kind",
    "number",
    "place",
    "side",
    "component",
    "storey",
    "from_left",
    "unit",
    "height",
    "state",
    "condition",
    "cause",
    "reason",
    "hits",
    "units",
    "units_total",
    "length",
    "area",
    "material",
    "finish",
    "severity",
    "text",
    "unsettled",
    "photos",
    "recorded_by",
    "recorded_at",
];
const OFFICE_COLUMNS: &[&str] = &["audience", "struck"];

/// Findings and counted parts, a row each, in walk order.
pub(super) fn findings_csv(
    list: &FindingsList,
    selection: &Selection<'_>,
    photos: &BTreeMap<&RecordId, &PlacedPhoto<'_>>,
) -> Result<Vec<u8>, PacketError> {
    let office = selection.for_office();
    let mut csv = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    let failed = |_| PacketError::Format("findings.csv");
    let header = COLUMNS
        .iter()
        .chain(OFFICE_COLUMNS.iter().filter(|_| office));
    csv.write_record(header).map_err(failed)?;
    for group in &list.groups {
        for row in finding_rows(group, photos).chain(part_rows(group)) {
            let shown = if office { row.len() } else { COLUMNS.len() };
            let cells = row.iter().take(shown).map(|cell| harmless(cell));
            csv.write_record(cells).map_err(failed)?;
        }
    }
    csv.into_inner()
        .map_err(|_| PacketError::Format("findings.csv"))
}

fn finding_rows<'a>(
    group: &'a PlaceGroup,
    photos: &'a BTreeMap<&RecordId, &PlacedPhoto<'_>>,
) -> impl Iterator<Item = Vec<String>> + 'a {
    group.findings.iter().map(|row| {
        let finding = &row.finding;
        let files: Vec<&str> = row
            .photos
            .iter()
            .filter_map(|id| photos.get(id)?.file.as_deref())
            .collect();
        vec![
            "finding".to_owned(),
            row.number.to_string(),
            group.name.clone(),
            words(&group.side),
            words(&finding.component),
            words(&finding.storey),
            words(&finding.from_left),
            words(&finding.unit_name),
            words(&finding.height),
            row.state.label().to_owned(),
            words(&finding.condition),
            words(&finding.cause),
            words(&finding.cause_reason),
            words(&row.hits),
            words(&finding.units),
            words(&finding.units_total),
            words(&finding.extent_length),
            words(&finding.extent_area),
            words(&finding.material),
            words(&finding.finish),
            words(&finding.severity),
            words(&finding.text),
            row.unsettled.join(" "),
            files.join(" "),
            row.recorded_by.clone(),
            utc(row.recorded_at),
            if row.office_only {
                "office only"
            } else {
                "shared"
            }
            .to_owned(),
            row.struck.clone().unwrap_or_default(),
        ]
    })
}

fn part_rows(group: &PlaceGroup) -> impl Iterator<Item = Vec<String>> + '_ {
    group.parts.iter().map(|row| {
        let part = &row.part;
        let mut cells = vec![String::new(); COLUMNS.len() + OFFICE_COLUMNS.len()];
        let mut put = |column: &str, text: String| {
            let all = COLUMNS.iter().chain(OFFICE_COLUMNS);
            if let Some((cell, _)) = cells.iter_mut().zip(all).find(|(_, name)| **name == column) {
                *cell = text;
            }
        };
        put("kind", "part".to_owned());
        put("place", group.name.clone());
        put("side", words(&group.side));
        put("component", words(&part.component));
        put("condition", words(&part.condition));
        put("units_total", words(&part.count));
        put("length", words(&part.length));
        put("material", words(&part.material));
        put("finish", words(&part.finish));
        put("text", words(&part.details));
        put("audience", "shared".to_owned());
        put("struck", row.struck.clone().unwrap_or_default());
        cells
    })
}

fn words<T: FieldValue>(value: &Option<T>) -> String {
    value.as_ref().map(FieldValue::in_words).unwrap_or_default()
}

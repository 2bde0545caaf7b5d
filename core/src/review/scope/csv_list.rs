//! A scope as CSV: RFC 4180, and safe to open in a spreadsheet.

use super::{Basis, Scope, ScopeLine};
use crate::job::{Job, RecordRef};
use crate::review::{Reader, harmless};

const COLUMNS: &[&str] = &[
    "key",
    "place",
    "item",
    "work",
    "quantity",
    "unit",
    "how",
    "basis",
    "section",
    "edition",
    "requirement",
    "findings",
    "records",
    "photos",
    "unsure",
    "change",
    "reason",
    "changed_by",
];
const OFFICE_COLUMNS: &[&str] = &["audience"];

/// The scope could not be written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the scope could not be written as CSV")]
pub struct ScopeCsvError;

impl Scope {
    /// The lines as CSV, a row each. For the office also those that were left out, marked.
    pub fn to_csv(&self, job: &Job, reader: Reader) -> Result<Vec<u8>, ScopeCsvError> {
        let office = reader == Reader::Office;
        let scope = self.clone().for_reader(reader);
        let mut csv = csv::WriterBuilder::new()
            .terminator(csv::Terminator::CRLF)
            .from_writer(Vec::new());
        let head = COLUMNS
            .iter()
            .chain(OFFICE_COLUMNS.iter().filter(|_| office));
        csv.write_record(head).map_err(|_| ScopeCsvError)?;
        for line in scope.lines.iter().chain(&scope.left_out) {
            let mut cells = cells(job, line);
            if office {
                cells.push(line.audience.label().to_owned());
            }
            csv.write_record(cells.iter().map(|cell| harmless(cell)))
                .map_err(|_| ScopeCsvError)?;
        }
        csv.into_inner().map_err(|_| ScopeCsvError)
    }
}

fn cells(job: &Job, line: &ScopeLine) -> Vec<String> {
    let (basis, section, edition, words) = match &line.basis {
        Basis::ExistingCondition => ("existing condition", "", "", ""),
        Basis::Requirement {
            section,
            edition,
            words,
        } => (
            "requirement",
            section.as_str(),
            edition.as_str(),
            words.as_str(),
        ),
        Basis::Estimator => ("added by the estimator", "", "", ""),
    };
    let change = line.change.as_ref();
    vec![
        line.key.to_string(),
        line.place_words.clone(),
        line.item_words.clone(),
        line.action.label().to_owned(),
        line.quantity
            .map(|quantity| quantity.digits())
            .unwrap_or_default(),
        line.unit()
            .map(|unit| unit.label().to_owned())
            .unwrap_or_default(),
        line.how.clone(),
        basis.to_owned(),
        section.to_owned(),
        edition.to_owned(),
        words.to_owned(),
        joined(&line.findings),
        joined(&line.records),
        line.photos
            .iter()
            .map(ToString::to_string)
            .collect::<Vec<_>>()
            .join(" "),
        line.unsure.join("; "),
        change
            .map(|change| change.kind.label().to_owned())
            .unwrap_or_default(),
        change
            .map(|change| change.reason.clone())
            .unwrap_or_default(),
        change
            .map(|change| job.who(change.by.device))
            .unwrap_or_default(),
    ]
}

fn joined(records: &[RecordRef]) -> String {
    let records: Vec<String> = records.iter().map(ToString::to_string).collect();
    records.join(" ")
}

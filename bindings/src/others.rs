//! What others say of the house: somebody else's scope, and a bought measurement report.

use std::collections::BTreeMap;
use std::path::Path;

use chalkwalk_core::drawing::planned_roof;
use chalkwalk_core::job::{EdgeKind, Job, JobId, Kind, MeasurementReport, Place, RecordId};
use chalkwalk_core::job::{RecordRef, hex};
use chalkwalk_core::notebook::NotebookError;
use chalkwalk_core::review::compare::{self, Outcome, TheirFile};
use chalkwalk_core::review::measurement::{self, Columns, ReportRow, Verdict};
use chalkwalk_core::review::scope::{ScopeInputs, scope};

use crate::inner::guarded;
use crate::review::reader;
use crate::views::count;
use crate::{Answer, Bytes, ChalkwalkError, Notebook, Receipt};

/// How one thing of two scopes stands.
#[uniffi::remote(Enum)]
pub enum Outcome {
    /// Both state the same, within the tolerance.
    Same,
    /// Ours has it and no row of theirs was matched to it.
    Missing,
    /// Theirs states less than ours.
    Short,
    /// Theirs states more than ours.
    Over,
    /// Theirs has it and ours does not.
    Extra,
    /// The same item and quantity in another size or kind.
    OtherKind,
    /// Matched, but the quantities cannot be held side by side: other units, or one not stated.
    UnitMismatch,
    /// It is not clear what stands for what: left to a person.
    NotMatched,
}

/// How two figures stand to one another.
#[uniffi::remote(Enum)]
pub enum Verdict {
    /// They differ by more than measuring does.
    Differs,
    /// They agree within what measuring does.
    Agrees,
    /// One of the two is missing.
    NotCompared,
}

/// One difference between two scopes.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct Difference {
    /// Its number, from 1.
    pub number: u32,
    /// What came of the comparison.
    pub outcome: Outcome,
    /// Where, in words.
    pub place: String,
    /// What, in words.
    pub item: String,
    /// What theirs states.
    pub theirs: String,
    /// What ours states.
    pub ours: String,
    /// By how much they differ, in words.
    pub difference: String,
    /// The whole in plain sentences, with what was observed, measured and counted.
    pub reason: String,
    /// Photos that show it, in walk order.
    pub photos: Vec<RecordId>,
    /// Sections of codes, each to be confirmed with the local authority.
    pub sections: Vec<String>,
    /// What is still unsure on our side, a sentence each.
    pub unsure: Vec<String>,
}

/// Our scope beside somebody else's.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct ScopeComparison {
    /// What the list is and is not: to be shown above it.
    pub about: String,
    /// How the file was read, in words; empty for a scope that is kept in the job.
    pub read_as: Option<String>,
    /// Rows of theirs that were read.
    pub rows: u32,
    /// Things that are the same on both sides.
    pub same: u32,
    /// The differences, in walk order.
    pub differences: Vec<Difference>,
    /// What a person should look at: how columns were taken, rows that could not be read.
    pub notes: Vec<String>,
    /// The differences as a list for a spreadsheet (CSV, UTF-8).
    pub csv: Vec<u8>,
}

/// One slope of a measurement report against the record.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct SlopeCheck {
    /// The slope of the record; empty where the report's name fits none.
    pub place: Option<Place>,
    /// Its name.
    pub name: String,
    /// The pitches.
    pub pitch: Verdict,
    /// The areas.
    pub area: Verdict,
    /// What the pitch alone does to the report's area, square feet; positive where more is needed.
    pub difference_sq_ft: Option<f64>,
    /// All of it in words.
    pub sentence: String,
}

/// All edges of one kind of a measurement report against the record.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct EdgeCheck {
    /// What kind of edge.
    pub kind: EdgeKind,
    /// Against the recorded edges.
    pub against_record: Verdict,
    /// Against the plan.
    pub against_plan: Verdict,
    /// All of it in words.
    pub sentence: String,
}

/// A measurement report against gauge, tape and plan.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct MeasurementCheck {
    /// Slope by slope.
    pub slopes: Vec<SlopeCheck>,
    /// Kind by kind of edge.
    pub edges: Vec<EdgeCheck>,
    /// The totals in words.
    pub sentence: String,
    /// Rows of the file that were left out, and why.
    pub left_out: Vec<String>,
}

#[uniffi::export]
impl Notebook {
    /// Compares the job's scope with somebody else's in a CSV or XLSX file, with whatever columns
    /// it has. Nothing is kept: that is the office's to do. `columns` is JSON that says which
    /// column means what, where the guess is wrong.
    #[uniffi::method(default(sheet = None, columns = None))]
    pub fn compare_with_file(
        &self,
        job: JobId,
        path: String,
        name: String,
        for_office: bool,
        sheet: Option<String>,
        columns: Option<String>,
    ) -> Answer<ScopeComparison> {
        let bytes = read(&path)?;
        self.inner.with(|core| {
            let job = core.job(job)?;
            let file = TheirFile {
                name: &name,
                file_name: &file_name(&path),
                bytes: &bytes,
                sheet: sheet.as_deref(),
                mapping: columns.as_deref(),
            };
            let taken = compare::take_in(job, &file).map_err(ChalkwalkError::input)?;
            let mut compared = comparison(job, &taken.scope, None, for_office);
            compared.notes.extend(taken.columns.notes);
            compared.read_as = Some(taken.read_as);
            Ok(compared)
        })
    }

    /// Compares the job's scope with one that the office keeps in the job (kind `OtherScope`), as
    /// the office's people matched the two.
    pub fn compare_with_kept(
        &self,
        job: JobId,
        other: RecordId,
        for_office: bool,
    ) -> Answer<ScopeComparison> {
        self.inner.with(|core| {
            let job = core.job(job)?;
            let at = RecordRef::new(Kind::OtherScope, other);
            let kept = job.records.other_scopes.get(&at.id);
            let record = kept.ok_or_else(|| missing(&at))?;
            let (columns, theirs) =
                compare::kept(&record.fields).map_err(ChalkwalkError::storage)?;
            let mut compared = comparison(job, &theirs, Some(&at), for_office);
            compared.notes.extend(columns.notes);
            Ok(compared)
        })
    }

    /// Checks a bought measurement report (CSV or JSON with whatever columns it has) against what
    /// the crew measured and against the plan. Nothing is kept.
    pub fn check_measurement_file(&self, job: JobId, path: String) -> Answer<MeasurementCheck> {
        let report = measured(&read(&path)?)?;
        let broken = report.broken.iter();
        let left_out = broken.map(|row| format!("line {}: {}", row.line, row.why));
        self.checked(job, &report.rows, left_out.collect())
    }

    /// Keeps the figures of a bought measurement report in the job. The same file is kept once.
    pub fn keep_measurement_file(&self, job: JobId, path: String) -> Answer<Receipt> {
        let bytes = read(&path)?;
        let report = measured(&bytes)?;
        let rows = measurement::encode_rows(&report.rows).map_err(ChalkwalkError::input)?;
        let record = MeasurementReport {
            name: Some(file_name(&path)),
            file_hash: Some(hex(blake3::hash(&bytes).as_bytes())),
            rows: Some(Bytes::from(rows)),
            ..MeasurementReport::default()
        };
        self.inner.record(job, |core| {
            let known = core.job(job)?.records.measurement_reports.iter();
            let mut same =
                known.filter(|(_, kept)| kept.stands() && kept.file_hash == record.file_hash);
            if let Some((id, _)) = same.next() {
                let record = RecordRef::new(Kind::MeasurementReport, id.clone());
                let change = None;
                return Ok(Receipt { record, change });
            }
            let record = core.add(job, record)?;
            let change = None;
            Ok(Receipt { record, change })
        })
    }

    /// Checks a measurement report that is kept in the job (kind `MeasurementReport`).
    pub fn check_measurement(&self, job: JobId, report: RecordId) -> Answer<MeasurementCheck> {
        let rows = self.inner.with(|core| {
            let at = RecordRef::new(Kind::MeasurementReport, report);
            let kept = core.job(job)?.records.measurement_reports.get(&at.id);
            let record = kept.ok_or_else(|| missing(&at))?;
            measurement::report_rows(&record.fields).map_err(ChalkwalkError::storage)
        })?;
        self.checked(job, &rows, Vec::new())
    }
}

impl Notebook {
    fn checked(
        &self,
        job: JobId,
        rows: &[ReportRow],
        left_out: Vec<String>,
    ) -> Answer<MeasurementCheck> {
        self.inner.with(|core| {
            let job = core.job(job)?;
            let planned = planned_roof(job).map_err(ChalkwalkError::input)?;
            let solved = planned.as_ref().map(|planned| &planned.solved);
            let check = measurement::measurement_check(job, rows, &BTreeMap::new(), solved);
            let slopes = check.slopes.into_iter().map(|slope| SlopeCheck {
                place: slope.place,
                name: slope.name,
                pitch: slope.pitch,
                area: slope.area,
                difference_sq_ft: slope.difference_sq_ft,
                sentence: slope.sentence,
            });
            let edges = check.edges.into_iter().map(|edge| EdgeCheck {
                kind: edge.kind,
                against_record: edge.against_record,
                against_plan: edge.against_plan,
                sentence: edge.sentence,
            });
            Ok(MeasurementCheck {
                slopes: slopes.collect(),
                edges: edges.collect(),
                sentence: check.sentence,
                left_out,
            })
        })
    }
}

fn comparison(
    job: &Job,
    theirs: &compare::TheirScope,
    kept: Option<&RecordRef>,
    for_office: bool,
) -> ScopeComparison {
    let ours = scope(job, &ScopeInputs::default());
    let options = compare::Options {
        reader: reader(for_office),
        ..compare::Options::default()
    };
    let compared = compare::compare(job, &ours, theirs, kept, &options);
    let list = compare::disputes(&compared);
    let csv = compare::disputes_csv(&list);
    let broken = compared.broken.iter();
    let mut notes = compared.notes.clone();
    notes.extend(broken.map(|row| format!("line {} was left out: {}", row.line, row.reason)));
    let differences = list.disputes.into_iter().map(|one| Difference {
        number: one.number,
        outcome: one.outcome,
        place: one.place,
        item: one.item,
        theirs: one.theirs,
        ours: one.ours,
        difference: one.difference,
        reason: one.reason,
        photos: one.photos,
        sections: one
            .requirements
            .iter()
            .map(|section| {
                let (name, edition) = (&section.section, &section.edition);
                format!("{name} ({edition}): {}; {}", section.words, section.confirm)
            })
            .collect(),
        unsure: one.unsure,
    });
    ScopeComparison {
        about: list.about.to_owned(),
        read_as: None,
        rows: count(theirs.rows.len()),
        same: compared.counts.get(&Outcome::Same).copied().unwrap_or(0),
        differences: differences.collect(),
        notes,
        csv,
    }
}

fn missing(at: &RecordRef) -> ChalkwalkError {
    NotebookError::Action(chalkwalk_core::document::ActionError::NoSuchRecord(
        at.clone(),
    ))
    .into()
}

/// A bought report, whatever its columns are.
fn measured(bytes: &[u8]) -> Answer<measurement::ReadReport> {
    guarded(|| measurement::read_report(bytes, &Columns::new()).map_err(ChalkwalkError::input))
}

fn read(path: &str) -> Answer<Vec<u8>> {
    std::fs::read(path).map_err(|error| ChalkwalkError::file(path, &error))
}

fn file_name(path: &str) -> String {
    let name = Path::new(path).file_name().unwrap_or_default();
    name.to_string_lossy().into_owned()
}

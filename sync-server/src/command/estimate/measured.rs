//! A bought measurement report against the record and the plan.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::{Path, PathBuf};

use chalkwalk_core::drawing::planned_roof;
use chalkwalk_core::job::{JobId, MeasurementReport};
use chalkwalk_core::review::measurement::{self, Columns};
use clap::Args;
use serde_bytes::ByteBuf;
use serde_json::json;

use super::super::jobs::{close, open};
use super::super::output::{Failure, Output};
use super::super::reckon::read_bytes;

#[derive(Debug, Args)]
pub(in crate::command) struct MeasuredArgs {
    /// The job.
    job: JobId,
    /// The bought report's figures: CSV or JSON with whatever columns it has.
    file: PathBuf,
    /// Keep the figures in the job.
    #[arg(long)]
    keep: bool,
}

pub(in crate::command) fn measured(
    dir: &Path,
    args: &MeasuredArgs,
    out: Output,
) -> Result<(), Failure> {
    let bytes = read_bytes(&args.file)?;
    let report = measurement::read_report(&bytes, &Columns::new())?;
    let mut notebook = open(dir)?;
    if args.keep {
        let record = MeasurementReport {
            name: args
                .file
                .file_name()
                .map(|name| name.to_string_lossy().into_owned()),
            file_hash: Some(blake3::hash(&bytes).to_hex().to_string()),
            rows: Some(ByteBuf::from(measurement::encode_rows(&report.rows)?)),
            ..MeasurementReport::default()
        };
        notebook.add(args.job, record)?;
    }
    let job = notebook.job(args.job)?.clone();
    close(notebook)?;
    let planned = planned_roof(&job)?;
    let solved = planned.as_ref().map(|planned| &planned.solved);
    let check = measurement::measurement_check(&job, &report.rows, &BTreeMap::new(), solved);
    out.give(&json!({ "read": report, "check": check }), || {
        let mut words = String::new();
        for slope in &check.slopes {
            let _ = writeln!(words, "{}", slope.sentence);
        }
        for edge in &check.edges {
            let _ = writeln!(words, "{}", edge.sentence);
        }
        for row in &report.broken {
            let _ = writeln!(words, "line {} was left out: {}", row.line, row.why);
        }
        words + &check.sentence
    })
}

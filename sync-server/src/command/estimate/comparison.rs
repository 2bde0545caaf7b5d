//! The scope beside somebody else's.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::{Path, PathBuf};

use chalkwalk_core::job::{Job, JobId, OtherScope, RecordRef};
use chalkwalk_core::review::compare::{self, Outcome};
use chalkwalk_core::review::scope::{Priced, scope};
use clap::Args;
use serde_json::json;

use super::super::jobs::{close, open};
use super::super::output::{Failure, Output};
use super::super::reckon::{read_bytes, write_file};

use super::*;

#[derive(Debug, Args)]
pub(in crate::command) struct CompareArgs {
    #[command(flatten)]
    wishes: ScopeWishes,
    /// Their scope: CSV or XLSX, with whatever columns it has.
    file: PathBuf,
    /// Whose it is.
    #[arg(long, default_value = "the insurer")]
    name: String,
    /// The sheet, for a spreadsheet with several.
    #[arg(long)]
    sheet: Option<String>,
    /// File that says which column means what, as JSON; without it they are guessed and shown.
    #[arg(long)]
    columns: Option<PathBuf>,
    /// Keep their scope in the job, with its columns for the next one.
    #[arg(long)]
    keep: bool,
    /// Write the list of disputes as CSV here.
    #[arg(long)]
    csv: Option<PathBuf>,
}

pub(in crate::command) fn give_comparison(
    dir: &Path,
    args: &CompareArgs,
    out: Output,
) -> Result<(), Failure> {
    let mut notebook = open(dir)?;
    let job = notebook.job(args.wishes.job)?.clone();
    let mapping = match &args.columns {
        Some(file) => Some(super::super::reckon::read_text(file)?),
        None => None,
    };
    let bytes = read_bytes(&args.file)?;
    let file_name = args.file.file_name().unwrap_or_default().to_string_lossy();
    let taken = compare::take_in(
        &job,
        &compare::TheirFile {
            name: &args.name,
            file_name: &file_name,
            bytes: &bytes,
            sheet: args.sheet.as_deref(),
            mapping: mapping.as_deref(),
        },
    )?;
    let kept = match args.keep {
        true => Some(keep(
            &mut notebook,
            args.wishes.job,
            &job,
            taken.record.clone(),
        )?),
        false => None,
    };
    let job = notebook.job(args.wishes.job)?.clone();
    close(notebook)?;
    let scope = scope(&job, &inputs(&args.wishes)?);
    let prices = match &args.wishes.prices {
        Some(file) => Some(unit_prices(&scope.priced(&price_list(file)?))),
        None => None,
    };
    let options = compare::Options {
        prices: prices.as_ref(),
        ..compare::Options::default()
    };
    let comparison = compare::compare(&job, &scope, &taken.scope, kept.as_ref(), &options);
    let list = compare::disputes(&comparison);
    if let Some(file) = &args.csv {
        write_file(file, &compare::disputes_csv(&list))?;
    }
    let value = json!({
        "read_as": taken.read_as, "columns": taken.columns, "columns_from": taken.mapping_from,
        "kept": kept, "comparison": comparison, "disputes": list,
    });
    out.give(&value, || {
        let mut words = format!("{}\n", taken.read_as);
        let counts: Vec<String> = Outcome::ALL
            .iter()
            .filter_map(|outcome| Some((outcome, comparison.counts.get(outcome)?)))
            .map(|(outcome, count)| format!("{count} {}", outcome.label()))
            .collect();
        let _ = writeln!(words, "{}", counts.join(", "));
        for dispute in &list.disputes {
            let _ = writeln!(
                words,
                "{:>3}. {}: {} ({})",
                dispute.number,
                dispute.place,
                dispute.item,
                dispute.outcome.label()
            );
            let _ = writeln!(words, "     {}", dispute.reason);
        }
        let _ = write!(words, "{}", list.about);
        words
    })
}

/// Keeps another's scope; the same file is kept once.
fn keep(
    notebook: &mut chalkwalk_core::notebook::Notebook,
    id: JobId,
    job: &Job,
    record: OtherScope,
) -> Result<RecordRef, Failure> {
    let known = job.records.other_scopes.iter().find(|(_, other)| {
        other.stands() && other.file_hash == record.file_hash && other.columns == record.columns
    });
    match known {
        Some((at, _)) => Ok(RecordRef::new(
            chalkwalk_core::job::Kind::OtherScope,
            at.clone(),
        )),
        None => Ok(notebook.add(id, record)?),
    }
}

fn unit_prices(
    priced: &Priced,
) -> BTreeMap<chalkwalk_core::review::scope::LineKey, rust_decimal::Decimal> {
    let lines = priced.lines.iter();
    lines
        .map(|line| (line.key.clone(), line.unit_price))
        .collect()
}

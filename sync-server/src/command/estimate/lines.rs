//! The scope, and an estimator's changes to it.

use std::fmt::Write;
use std::path::{Path, PathBuf};

use chalkwalk_core::job::{JobId, RecordRef, ScopeChange, ScopeChangeKind, Unit};
use chalkwalk_core::review::Reader;
use chalkwalk_core::review::scope::{Basis, Priced, Scope, ScopeLine, scope};
use clap::Args;
use serde_json::json;

use super::super::jobs::{close, open};
use super::super::output::{Failure, Output};
use super::super::reckon::write_file;

use super::*;

#[derive(Debug, Args)]
pub(in crate::command) struct ScopeArgs {
    #[command(flatten)]
    wishes: ScopeWishes,
    /// Write the lines as CSV here.
    #[arg(long)]
    csv: Option<PathBuf>,
    /// Leave out what is for the office only.
    #[arg(long)]
    shared: bool,
}

pub(in crate::command) fn give_scope(
    dir: &Path,
    args: &ScopeArgs,
    out: Output,
) -> Result<(), Failure> {
    let job = job_of(dir, args.wishes.job)?;
    let reader = if args.shared {
        Reader::Anyone
    } else {
        Reader::Office
    };
    let scope = scope(&job, &inputs(&args.wishes)?).for_reader(reader);
    if let Some(file) = &args.csv {
        write_file(file, &scope.to_csv(&job, reader)?)?;
    }
    let priced = match &args.wishes.prices {
        Some(file) => Some(scope.priced(&price_list(file)?)),
        None => None,
    };
    out.give(&json!({ "scope": scope, "money": priced }), || {
        scope_words(&scope) + &priced.as_ref().map(money_words).unwrap_or_default()
    })
}

/// The lines of a scope, place by place.
pub(in crate::command) fn scope_words(scope: &Scope) -> String {
    let mut words = String::new();
    let mut place = None;
    for line in &scope.lines {
        if place != Some(&line.place_words) {
            let _ = writeln!(words, "{}", line.place_words);
            place = Some(&line.place_words);
        }
        let _ = writeln!(words, "  {}", line_words(line));
        for unsure in &line.unsure {
            let _ = writeln!(words, "      unsure: {unsure}");
        }
        if let Some(change) = &line.change {
            let _ = writeln!(words, "      {}: {}", change.kind.label(), change.reason);
        }
    }
    for line in &scope.left_out {
        let why = line
            .change
            .as_ref()
            .map_or("", |change| change.reason.as_str());
        let _ = writeln!(words, "left out: {} ({why})", line_words(line));
    }
    for held in &scope.withheld {
        let _ = writeln!(words, "no line: {}", held.words);
    }
    for orphan in &scope.orphaned {
        let _ = writeln!(words, "a change without its line: {}", orphan.words);
    }
    words
}

fn line_words(line: &ScopeLine) -> String {
    let quantity = match line.quantity {
        Some(quantity) => format!("{} {}", quantity.digits(), quantity.unit().label()),
        None => format!("? {}", line.unit().map_or("", Unit::label)),
    };
    let photos = line.photos.len();
    let code = match &line.basis {
        Basis::Requirement { section, .. } => format!(" [{section}]"),
        Basis::ExistingCondition | Basis::Estimator => String::new(),
    };
    format!(
        "{:<10} {}: {}{code}, {photos} {}",
        quantity,
        line.item_words,
        line.action.label(),
        if photos == 1 { "photo" } else { "photos" }
    )
}

fn money_words(priced: &Priced) -> String {
    let mut words = format!(
        "Money at your own prices: {} found, {} asked by codes, {} added; {} in all.\n",
        priced.existing, priced.required, priced.added, priced.total
    );
    for line in &priced.unpriced {
        let _ = writeln!(words, "  no price: {} ({})", line.words, line.reason);
    }
    words
}

#[derive(Debug, Args)]
pub(in crate::command) struct AdjustArgs {
    /// The job.
    job: JobId,
    /// The key of the line, as `scope --json` names it; for an added line any new word.
    line: String,
    /// Why; it stands beside the line.
    #[arg(long)]
    reason: String,
    /// The new quantity.
    #[arg(long)]
    quantity: Option<f64>,
    /// Its unit.
    #[arg(long, value_parser = unit)]
    unit: Option<Unit>,
    /// Leave the line out.
    #[arg(long, conflicts_with_all = ["quantity", "item"])]
    leave_out: bool,
    /// Add a line: the item in trade words.
    #[arg(long)]
    item: Option<String>,
    /// Where the added line lies, such as elevation/front.
    #[arg(long, requires = "item")]
    place: Option<RecordRef>,
}

fn unit(text: &str) -> Result<Unit, String> {
    Unit::from_code(&text.to_uppercase()).ok_or_else(|| "units are EA, LF, SF and SQ".to_owned())
}

pub(in crate::command) fn adjust(
    dir: &Path,
    args: &AdjustArgs,
    out: Output,
) -> Result<(), Failure> {
    let kind = match (&args.item, args.leave_out) {
        (Some(_), _) => ScopeChangeKind::Added,
        (None, true) => ScopeChangeKind::LeftOut,
        (None, false) => ScopeChangeKind::Amended,
    };
    let change = ScopeChange {
        line: Some(args.line.clone()),
        kind: Some(kind),
        place: args.place.clone(),
        item: args.item.clone(),
        quantity: args.quantity,
        unit: args.unit,
        reason: Some(args.reason.clone()),
        ..ScopeChange::default()
    };
    let mut notebook = open(dir)?;
    let at = notebook.add(args.job, change)?;
    close(notebook)?;
    out.give(&json!({ "record": at }), || {
        format!("The line is {}; the change is {at}.", kind.label())
    })
}

//! What the record of a job means: scope, comparison, code, measures, sheets, hits, sun, storms.

mod comparison;
mod lines;
mod measured;
mod sheets;
mod sky;

pub(in crate::command) use comparison::*;
pub(in crate::command) use lines::*;
pub(in crate::command) use measured::*;
pub(in crate::command) use sheets::*;
pub(in crate::command) use sky::*;

use std::path::{Path, PathBuf};

use chalkwalk_core::job::{Job, JobId};
use chalkwalk_core::review::scope::{PriceColumns, PriceList, ScopeInputs, read_price_list};
use clap::Args;

use super::jobs::{close, open, read_json};
use super::output::Failure;
use super::reckon::read_bytes;

#[derive(Debug, Args)]
pub(in crate::command) struct ScopeWishes {
    /// The job.
    pub(in crate::command) job: JobId,
    /// Waste for cutting, percent of the slopes' areas; there is no default.
    #[arg(long)]
    pub(in crate::command) waste: Option<f64>,
    /// File with all of an estimator's inputs, as JSON.
    #[arg(long)]
    pub(in crate::command) inputs: Option<PathBuf>,
    /// A price list of your own: CSV with columns item, unit, price.
    #[arg(long)]
    pub(in crate::command) prices: Option<PathBuf>,
}

/// The inputs of a scope as they were asked for.
pub(in crate::command) fn inputs(wishes: &ScopeWishes) -> Result<ScopeInputs, Failure> {
    let mut inputs = match &wishes.inputs {
        Some(file) => read_json::<ScopeInputs>(file)?,
        None => ScopeInputs::default(),
    };
    inputs.waste_percent = wishes.waste.or(inputs.waste_percent);
    Ok(inputs)
}

fn price_list(file: &Path) -> Result<PriceList, Failure> {
    let columns = PriceColumns {
        item: "item".to_owned(),
        unit: "unit".to_owned(),
        price: "price".to_owned(),
        action: None,
    };
    Ok(read_price_list(&read_bytes(file)?, &columns)?)
}

fn job_of(dir: &Path, job: JobId) -> Result<Job, Failure> {
    let mut notebook = open(dir)?;
    let hydrated = notebook.job(job)?.clone();
    close(notebook)?;
    Ok(hydrated)
}

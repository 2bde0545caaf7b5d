//! The scope as it stands: the record, what an estimator set, and the company's price list.

use std::sync::Arc;

use axum::response::Response;
use chalkwalk_core::document::Refusal;
use chalkwalk_core::job::{Job, JobId, Millis};
use chalkwalk_core::review::scope::{
    PriceColumns, PriceList, Priced, Scope, ScopeInputs, read_price_list, scope,
};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::super::at_job::AtJob;
use super::super::memo::Worked;
use super::super::{store_unwell, unwell};
use crate::papers::{Paper, Papers, mark};
use crate::serve::Shared;
use crate::store::StoreError;

/// Who set something at the pages, and when.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub(in crate::serve) struct SetBy {
    /// The person's name.
    pub(in crate::serve) by: String,
    /// When.
    pub(in crate::serve) at: Millis,
}

/// What an estimator set for a scope.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub(in crate::serve) struct SetInputs {
    /// Who and when; `None` where nobody set anything.
    pub(in crate::serve) set: Option<SetBy>,
    /// What.
    pub(in crate::serve) inputs: ScopeInputs,
}

/// What stands above a kept price list.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(in crate::serve) struct PriceHead {
    /// Who and when.
    pub(in crate::serve) set: SetBy,
    /// The file's name.
    pub(in crate::serve) file: String,
    /// Its columns.
    pub(in crate::serve) columns: PriceColumns,
}

/// The company's price list.
#[derive(Clone, Debug)]
pub(in crate::serve) struct Prices {
    /// Where it came from.
    pub(in crate::serve) head: PriceHead,
    /// Its rows.
    pub(in crate::serve) list: PriceList,
}

/// A scope with what it was made from.
#[derive(Clone, Debug)]
pub(in crate::serve) struct Reckoned {
    /// What an estimator set.
    pub(in crate::serve) set: SetInputs,
    /// The mark of it, for who sets it anew.
    pub(in crate::serve) mark: String,
    /// The price list, where the company has one.
    pub(in crate::serve) prices: Option<Prices>,
    /// The scope.
    pub(in crate::serve) scope: Arc<Scope>,
    /// Its money, where there are prices.
    pub(in crate::serve) priced: Option<Priced>,
}

impl Reckoned {
    /// The scope of a job.
    ///
    /// # Errors
    /// The whole answer where it cannot be made.
    pub(in crate::serve) async fn of(at: &AtJob) -> Result<Self, Response> {
        let (papers, worked, id) = (at.shared.papers.clone(), at.worked(), at.id);
        let read = async {
            Ok((
                papers.read(Paper::Inputs(id)).await?,
                papers.read(Paper::Prices).await?,
            ))
        };
        let (inputs, prices) = read
            .await
            .map_err(|error| store_unwell(&at.shared, &error))?;
        let work = move || {
            let (set, mark) = read_inputs(inputs)?;
            let prices = read_prices(prices)?;
            let scope = scope_with(&worked, &set.inputs, &mark);
            let priced = prices.as_ref().map(|prices| scope.priced(&prices.list));
            Ok::<_, StoreError>(Self {
                set,
                mark,
                prices,
                scope,
                priced,
            })
        };
        aside(&at.shared, work)
            .await?
            .map_err(|error| store_unwell(&at.shared, &error))
    }

    /// The code and edition in force, as far as anybody said.
    pub(in crate::serve) fn edition<'a>(&'a self, job: &'a Job) -> Option<&'a str> {
        let recorded = || job.property()?.code_edition.as_deref();
        self.set.inputs.code_edition.as_deref().or_else(recorded)
    }
}

/// The scope of a reading of a job with what an estimator set, whose mark is given.
pub(in crate::serve) fn scope_with(
    worked: &Worked,
    inputs: &ScopeInputs,
    mark: &str,
) -> Arc<Scope> {
    worked.once(mark, |job| scope(job, inputs))
}

/// What an estimator set for the scope of a job, with its mark.
///
/// # Errors
/// Where it does not read.
pub(in crate::serve) async fn inputs_of(
    papers: &Papers,
    job: JobId,
) -> Result<(ScopeInputs, String), StoreError> {
    let (set, mark) = read_inputs(papers.read(Paper::Inputs(job)).await?)?;
    Ok((set.inputs, mark))
}

/// Works on a thread that may block.
///
/// # Errors
/// The whole answer where the work ended early.
pub(in crate::serve) async fn aside<T: Send + 'static>(
    shared: &Shared,
    work: impl FnOnce() -> T + Send + 'static,
) -> Result<T, Response> {
    let done = tokio::task::spawn_blocking(work).await;
    done.map_err(|error| unwell(shared, &Refusal::Storage(error.to_string())))
}

fn read_inputs(bytes: Option<Vec<u8>>) -> Result<(SetInputs, String), StoreError> {
    let mark = mark(bytes.as_deref());
    let set = match bytes {
        Some(bytes) => serde_json::from_slice(&bytes)
            .map_err(|_| StoreError::Corrupt("what was set for a scope"))?,
        None => SetInputs::default(),
    };
    Ok((set, mark))
}

fn read_prices(bytes: Option<Vec<u8>>) -> Result<Option<Prices>, StoreError> {
    let Some(bytes) = bytes else {
        return Ok(None);
    };
    prices_of(&bytes)
        .map(Some)
        .ok_or(StoreError::Corrupt("the price list"))
}

/// A kept list: one line that says where it came from, then the file.
pub(super) fn prices_of(bytes: &[u8]) -> Option<Prices> {
    let end = bytes.iter().position(|byte| *byte == b'\n')?;
    let head: PriceHead = serde_json::from_slice(bytes.get(..end)?).ok()?;
    let list = read_price_list(bytes.get(end + 1..)?, &head.columns).ok()?;
    Some(Prices { head, list })
}

/// Money with cents and commas between thousands: `12,345.60`.
pub(in crate::serve) fn money(amount: Decimal) -> String {
    let mut rounded = amount.round_dp(2);
    rounded.rescale(2);
    let text = rounded.abs().to_string();
    let (whole, cents) = text.split_once('.').unwrap_or((&text, "00"));
    let mut out = String::new();
    for (at, digit) in whole.chars().enumerate() {
        if at > 0 && (whole.len() - at).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    let sign = if rounded.is_sign_negative() && !rounded.is_zero() {
        "-"
    } else {
        ""
    };
    format!("{sign}{out}.{cents}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn money_has_cents_and_commas() {
        for (amount, shown) in [
            ("0", "0.00"),
            ("999.5", "999.50"),
            ("1000", "1,000.00"),
            ("-1234567.891", "-1,234,567.89"),
        ] {
            assert_eq!(money(amount.parse().unwrap()), shown);
        }
    }
}

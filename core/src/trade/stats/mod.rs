//! Exact statistics of counts: an interval for one count, a comparison of two or of many, each
//! with the area in which it was counted.
//!
//! A count of hits scatters as a Poisson count does: two squares side by side differ by chance.
//! Nothing here is drawn at random, so that the same counts always give the same figures. The
//! incomplete gamma and beta functions are those of the `statrs` crate; quantiles are found by
//! halving, which needs no more than that the functions rise.

mod compare;
mod many;
mod poisson;

use serde::Serialize;

use crate::limits;

pub use compare::{Comparison, compare_two};
pub(crate) use many::chi_square_p;
pub use many::{ManyCounts, Method, compare_many};
pub use poisson::garwood;

/// Why counts could not be reckoned with; the text says what to do.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum StatsError {
    /// The level is none.
    #[error("a confidence level lies from 0.5 to 0.9999: write 0.95 for 95 percent")]
    Level,
    /// The count is larger than [`limits::HITS_COUNTED`].
    #[error("a count of {0} is more than can be reckoned with ({max}): check the count", max = limits::HITS_COUNTED)]
    TooMany(u64),
    /// An exposure is not a positive number.
    #[error("the area or length in which something was counted must be more than zero and finite")]
    Exposure,
    /// Fewer than two counts.
    #[error("a comparison needs at least two counts")]
    TooFew,
    /// More counts than [`limits::PATTERN_SURFACES`].
    #[error("more than {max} counts are not compared at once: leave some out", max = limits::PATTERN_SURFACES)]
    TooManyCounts,
}

/// A confidence interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Interval {
    /// Lower end.
    pub low: f64,
    /// Upper end; `None` where there is none.
    pub high: Option<f64>,
}

/// A count and what it was counted in.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Count {
    /// What was counted, at most [`limits::HITS_COUNTED`].
    pub hits: u64,
    /// Area, length or number of like units, more than zero; one unit for all that are compared.
    pub exposure: f64,
}

/// A p value as people read it: "p 0.0135", "p below 0.0001".
pub fn p_words(p: f64) -> String {
    if p < 1e-4 {
        "p below 0.0001".to_owned()
    } else {
        format!("p {p:.4}")
    }
}

/// The probability that lies outside an interval of this level, both sides together.
fn outside(level: f64) -> Result<f64, StatsError> {
    if (0.5..=0.9999).contains(&level) {
        Ok(1.0 - level)
    } else {
        Err(StatsError::Level)
    }
}

fn checked(count: u64) -> Result<u64, StatsError> {
    if count <= limits::HITS_COUNTED {
        Ok(count)
    } else {
        Err(StatsError::TooMany(count))
    }
}

fn checked_counts(counts: &[Count]) -> Result<(), StatsError> {
    for count in counts {
        checked(count.hits)?;
        // The quotient of two exposures must stay a number too.
        if !(1e-9..=1e12).contains(&count.exposure) {
            return Err(StatsError::Exposure);
        }
    }
    Ok(())
}

/// Where a rising function crosses a value, to the last digits, between two ends.
fn crossing(mut low: f64, mut high: f64, value: f64, rising: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if rising(middle) < value {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

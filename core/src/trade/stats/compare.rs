//! The exact comparison of two counts.

use serde::Serialize;
use statrs::function::beta::checked_beta_reg;
use statrs::function::gamma::ln_gamma;

use super::{Count, Interval, StatsError, checked_counts, crossing, outside};

/// How two counts compare.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Comparison {
    /// Probability of counts that differ as much or more where the rates are the same.
    pub p: f64,
    /// Rate of the first over rate of the second; `None` where the second is zero.
    pub ratio: Option<f64>,
    /// The exact interval of that ratio; its upper end is `None` where the second is zero.
    pub interval: Interval,
}

/// Compares the rates of two counts exactly, given their sum (J. Przyborowski and H. Wilenski,
/// Biometrika 31, 1940, 313-323): the p value adds up every outcome no more likely than the one
/// seen, and the ratio's interval is that of C. Clopper and E. Pearson (Biometrika 26, 1934,
/// 404-413). Agrees with scipy to 1e-7. Two zeros say nothing: p is 1 and the ratio has no bounds.
pub fn compare_two(first: Count, second: Count, level: f64) -> Result<Comparison, StatsError> {
    let each = outside(level)? / 2.0;
    checked_counts(&[first, second])?;
    let share = first.exposure / (first.exposure + second.exposure);
    let split = Binomial {
        n: first.hits + second.hits,
        share,
    };
    let scale = second.exposure / first.exposure;
    let seen = first.hits;
    let low = if seen == 0 {
        0.0
    } else {
        let at = |share| split.with(share).at_least(seen);
        odds(crossing(0.0, 1.0, each, at)) * scale
    };
    let high = (second.hits > 0).then(|| {
        let at = |share| 1.0 - split.with(share).at_most(seen);
        odds(crossing(0.0, 1.0, 1.0 - each, at)) * scale
    });
    let ratio = (second.hits > 0).then(|| seen as f64 / second.hits as f64 * scale);
    Ok(Comparison {
        p: split.two_sided(seen),
        ratio,
        interval: Interval { low, high },
    })
}

fn odds(share: f64) -> f64 {
    share / (1.0 - share)
}

/// How a sum of hits falls on the first of two.
#[derive(Clone, Copy)]
struct Binomial {
    n: u64,
    share: f64,
}

impl Binomial {
    fn with(self, share: f64) -> Self {
        Self { share, ..self }
    }

    fn at_least(self, k: u64) -> f64 {
        if k == 0 {
            return 1.0;
        }
        let (n, k) = (self.n as f64, k as f64);
        checked_beta_reg(k, n - k + 1.0, self.share).unwrap_or(0.0)
    }

    fn at_most(self, k: u64) -> f64 {
        if k >= self.n {
            return 1.0;
        }
        let (n, k) = (self.n as f64, k as f64);
        checked_beta_reg(n - k, k + 1.0, 1.0 - self.share).unwrap_or(1.0)
    }

    fn ln_chance(self, k: u64) -> f64 {
        let (n, k) = (self.n as f64, k as f64);
        ln_gamma(n + 1.0) - ln_gamma(k + 1.0) - ln_gamma(n - k + 1.0)
            + k * self.share.ln()
            + (n - k) * (1.0 - self.share).ln()
    }

    /// All outcomes no more likely than `seen`, those that only rounding tells apart included.
    fn two_sided(self, seen: u64) -> f64 {
        const ROUNDING: f64 = 1e-7;
        let bound = self.ln_chance(seen) + ROUNDING;
        let mean = self.n as f64 * self.share;
        let mode = mean.round().clamp(0.0, self.n as f64) as u64;
        let p = if (seen as f64) < mean {
            let from = first_where(mode, self.n, |k| self.ln_chance(k) <= bound);
            let other = from.map_or(0.0, |from| self.at_least(from.max(seen + 1)));
            self.at_most(seen) + other
        } else {
            let back = first_where(0, mode, |steps| self.ln_chance(mode - steps) <= bound);
            let other = match back.map(|steps| mode - steps) {
                Some(to) if to < seen => self.at_most(to),
                Some(_) if seen > 0 => self.at_most(seen - 1),
                _ => 0.0,
            };
            self.at_least(seen) + other
        };
        p.min(1.0)
    }
}

/// The first number in a range for which a condition holds that, once true, stays true.
fn first_where(low: u64, high: u64, holds: impl Fn(u64) -> bool) -> Option<u64> {
    if low > high || !holds(high) {
        return None;
    }
    let (mut low, mut high) = (low, high);
    while low < high {
        let middle = low + (high - low) / 2;
        if holds(middle) {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    Some(low)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits;

    fn two(first: u64, second: u64) -> Comparison {
        let count = |hits| Count {
            hits,
            exposure: 100.0,
        };
        compare_two(count(first), count(second), 0.95).unwrap()
    }

    /// scipy 1.17, `binomtest`.
    #[test]
    fn equal_squares_compare_as_scipy_says() {
        for (first, second, p) in [
            (8, 8, 1.0),
            (10, 5, 0.301758),
            (12, 3, 0.035156),
            (6, 0, 0.03125),
            (8, 0, 0.007812),
        ] {
            assert!((two(first, second).p - p).abs() < 1e-6, "{first} {second}");
            assert!((two(second, first).p - p).abs() < 1e-6, "{second} {first}");
        }
        let ratio = two(12, 3).interval;
        assert!((ratio.low - 1.0795).abs() < 5e-5);
        assert!((ratio.high.unwrap() - 22.0883).abs() < 5e-5);
        assert_eq!(two(12, 3).ratio, Some(4.0));
    }

    #[test]
    fn nothing_counted_says_nothing() {
        let none = two(0, 0);
        assert_eq!((none.p, none.ratio), (1.0, None));
        assert_eq!((none.interval.low, none.interval.high), (0.0, None));
        assert_eq!(two(6, 0).interval.high, None);
    }

    #[test]
    fn what_cannot_be_compared_is_said() {
        let good = Count {
            hits: 3,
            exposure: 10.0,
        };
        for exposure in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e300] {
            let bad = Count { hits: 3, exposure };
            assert_eq!(compare_two(good, bad, 0.95), Err(StatsError::Exposure));
        }
        let hits = limits::HITS_COUNTED + 1;
        let bad = Count { hits, ..good };
        assert_eq!(compare_two(bad, good, 0.95), Err(StatsError::TooMany(hits)));
    }
}

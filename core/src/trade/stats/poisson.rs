//! The exact interval of one count.

use statrs::function::gamma::{checked_gamma_lr, checked_gamma_ur};

use super::{Interval, StatsError, checked, crossing, outside};

/// The exact interval for the mean of a Poisson count at a level from 0.5 to 0.9999 (F. Garwood,
/// Biometrika 28, 1936, 437-442): it covers the true mean at least that often. Divide both ends
/// by the area for hits per area. Agrees with scipy's gamma quantiles to 1e-8.
pub fn garwood(count: u64, level: f64) -> Result<Interval, StatsError> {
    let each = outside(level)? / 2.0;
    let n = checked(count)? as f64;
    let low = if count == 0 {
        0.0
    } else {
        crossing(0.0, n, each, |mean| at_least(n, mean))
    };
    // Never so far out that the mean exceeds n by twenty deviations and a bit, at 0.9999.
    let far = n + 20.0 * (n + 1.0).sqrt() + 20.0;
    let high = crossing(n, far, 1.0 - each, |mean| 1.0 - at_most(n, mean));
    Ok(Interval {
        low,
        high: Some(high),
    })
}

/// Probability of `n` or more at a mean.
fn at_least(n: f64, mean: f64) -> f64 {
    if mean <= 0.0 {
        return 0.0;
    }
    checked_gamma_lr(n, mean).unwrap_or(0.0)
}

/// Probability of `n` or fewer at a mean.
fn at_most(n: f64, mean: f64) -> f64 {
    if mean <= 0.0 {
        return 1.0;
    }
    checked_gamma_ur(n + 1.0, mean).unwrap_or(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits;

    /// Exact 95 % limits as scipy 1.17 gives them, which are those of Garwood's table.
    #[test]
    fn counts_have_the_intervals_of_the_table() {
        let table = [
            (0, 0.0, 3.6889),
            (1, 0.0253, 5.5716),
            (2, 0.2422, 7.2247),
            (3, 0.6187, 8.7673),
            (4, 1.0899, 10.2416),
            (5, 1.6235, 11.6683),
            (6, 2.2019, 13.0595),
            (8, 3.4538, 15.7632),
            (10, 4.7954, 18.3904),
            (12, 6.2006, 20.9616),
            (15, 8.3954, 24.7402),
            (20, 12.2165, 30.8884),
            (25, 16.1787, 36.9049),
        ];
        for (count, low, high) in table {
            let interval = garwood(count, 0.95).unwrap();
            assert!((interval.low - low).abs() < 6e-5, "{count}: {interval:?}");
            let upper = interval.high.unwrap();
            assert!((upper - high).abs() < 6e-5, "{count}: {interval:?}");
        }
    }

    #[test]
    fn what_cannot_be_reckoned_with_is_said() {
        for level in [0.0, 0.49, 1.0, -1.0, f64::NAN, f64::INFINITY, 95.0] {
            assert_eq!(garwood(3, level), Err(StatsError::Level), "{level}");
        }
        let most = limits::HITS_COUNTED;
        assert!(garwood(most, 0.95).is_ok());
        assert_eq!(garwood(most + 1, 0.95), Err(StatsError::TooMany(most + 1)));
    }

    #[test]
    fn a_higher_level_gives_a_wider_interval() {
        for count in [0, 1, 7, 300, limits::HITS_COUNTED] {
            let narrow = garwood(count, 0.8).unwrap();
            let wide = garwood(count, 0.9999).unwrap();
            assert!(wide.low <= narrow.low && wide.high > narrow.high, "{count}");
            assert!(narrow.low <= count as f64 && narrow.high > Some(count as f64));
        }
    }
}

//! Whether several counts can come from one rate.

use serde::Serialize;
use statrs::function::gamma::{checked_gamma_ur, ln_gamma};

use super::{Count, StatsError, checked_counts};
use crate::limits;

/// Which test gave the answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Method {
    /// Every outcome was gone through.
    ExactMultinomial,
    /// There were too many outcomes; the approximation is good where five or more are expected
    /// in each place.
    ChiSquare,
}

impl Method {
    /// The name that people read.
    pub const fn label(self) -> &'static str {
        match self {
            Method::ExactMultinomial => "exact multinomial test",
            Method::ChiSquare => "chi-square test",
        }
    }
}

/// How several counts compare.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ManyCounts {
    /// The test to go by.
    pub method: Method,
    /// Its p value: probability of counts as unlikely or more where all rates are the same.
    pub p: f64,
    /// Pearson's chi-square.
    pub chi_square: f64,
    /// Its degrees of freedom.
    pub degrees: usize,
    /// Its p value.
    pub chi_square_p: f64,
    /// The exact p value, where it could be had.
    pub exact_p: Option<f64>,
    /// The smallest count expected; below five the chi-square value is rough.
    pub least_expected: f64,
}

/// Compares up to [`limits::PATTERN_SURFACES`] counts: by an exact multinomial test, which adds up
/// every outcome no more likely than the one seen, as long as there are at most
/// [`limits::MULTINOMIAL_OUTCOMES`]; beyond that by Pearson's chi-square test. Nothing is drawn at
/// random. Agrees with scipy's chi-square and with an enumeration by scipy to 1e-9.
pub fn compare_many(counts: &[Count]) -> Result<ManyCounts, StatsError> {
    if counts.len() < 2 {
        return Err(StatsError::TooFew);
    }
    if counts.len() > limits::PATTERN_SURFACES {
        return Err(StatsError::TooManyCounts);
    }
    checked_counts(counts)?;
    let hits: u64 = counts.iter().map(|count| count.hits).sum();
    let whole: f64 = counts.iter().map(|count| count.exposure).sum();
    let expected = |count: &Count| hits as f64 * count.exposure / whole;
    let chi_square = if hits == 0 {
        0.0
    } else {
        let each = |count: &Count| (count.hits as f64 - expected(count)).powi(2) / expected(count);
        counts.iter().map(each).sum()
    };
    let degrees = counts.len() - 1;
    let chi_square_p = chi_square_p(chi_square, degrees);
    let exact_p = (outcomes(hits, counts.len()) <= limits::MULTINOMIAL_OUTCOMES)
        .then(|| exact(counts, hits, whole));
    Ok(ManyCounts {
        method: match exact_p {
            Some(_) => Method::ExactMultinomial,
            None => Method::ChiSquare,
        },
        p: exact_p.unwrap_or(chi_square_p),
        chi_square,
        degrees,
        chi_square_p,
        exact_p,
        least_expected: counts.iter().map(expected).fold(f64::INFINITY, f64::min),
    })
}

/// Probability that chi-square with so many degrees of freedom is at least this.
pub(crate) fn chi_square_p(chi_square: f64, degrees: usize) -> f64 {
    if chi_square.is_nan() || chi_square <= 0.0 || degrees == 0 {
        return 1.0;
    }
    if chi_square.is_infinite() {
        return 0.0;
    }
    checked_gamma_ur(degrees as f64 / 2.0, chi_square / 2.0).unwrap_or(0.0)
}

/// In how many ways so many hits can fall on so many places.
fn outcomes(hits: u64, places: usize) -> f64 {
    (1..places).fold(1.0, |ways, place| {
        ways * (hits as f64 + place as f64) / place as f64
    })
}

fn exact(counts: &[Count], hits: u64, whole: f64) -> f64 {
    let hits = usize::try_from(hits).unwrap_or(usize::MAX);
    let mut walk = Walk {
        ln_share: counts.iter().map(|c| (c.exposure / whole).ln()).collect(),
        ln_factorial: (0..=hits).map(|n| ln_gamma(n as f64 + 1.0)).collect(),
        bound: f64::INFINITY,
        sum: 0.0,
    };
    let whole_ways = walk.ln_factorial.last().copied().unwrap_or(0.0);
    let seen: f64 = counts
        .iter()
        .enumerate()
        .map(|(place, count)| walk.term(place, usize::try_from(count.hits).unwrap_or(0)))
        .sum();
    // Outcomes that only rounding tells apart from the one seen count as equally likely.
    walk.bound = whole_ways + seen + 1e-9;
    walk.step(0, hits, whole_ways);
    walk.sum.min(1.0)
}

/// A walk through all outcomes.
struct Walk {
    ln_share: Vec<f64>,
    ln_factorial: Vec<f64>,
    bound: f64,
    sum: f64,
}

impl Walk {
    fn term(&self, place: usize, hits: usize) -> f64 {
        let share = self.ln_share.get(place).copied().unwrap_or(0.0);
        let ways = self.ln_factorial.get(hits).copied().unwrap_or(0.0);
        hits as f64 * share - ways
    }

    /// Shares the hits that are left among this place and those after it.
    fn step(&mut self, place: usize, left: usize, ln_chance: f64) {
        // With no hits left the places that follow get none, in one way.
        if left == 0 || place + 1 >= self.ln_share.len() {
            let ln_chance = ln_chance + self.term(place, left);
            if ln_chance <= self.bound {
                self.sum += ln_chance.exp();
            }
            return;
        }
        for hits in 0..=left {
            let ln_chance = ln_chance + self.term(place, hits);
            self.step(place + 1, left - hits, ln_chance);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn squares(hits: &[u64]) -> Vec<Count> {
        let square = |hits: &u64| Count {
            hits: *hits,
            exposure: 100.0,
        };
        hits.iter().map(square).collect()
    }

    /// scipy 1.17: `chisquare`, and all outcomes added up with its `multinomial`.
    #[test]
    fn four_squares_compare_as_scipy_says() {
        for (hits, chi_square_p, exact_p) in [
            ([12, 9, 3, 2], 0.013998, 0.012494),
            ([8, 8, 7, 9], 0.969140, 0.994603),
            ([10, 2, 1, 0], 0.000236, 0.000530),
        ] {
            let found = compare_many(&squares(&hits)).unwrap();
            assert_eq!(found.method, Method::ExactMultinomial);
            assert!(
                (found.chi_square_p - chi_square_p).abs() < 1e-6,
                "{found:?}"
            );
            assert!((found.exact_p.unwrap() - exact_p).abs() < 1e-6, "{found:?}");
            assert_eq!(found.p, found.exact_p.unwrap());
        }
    }

    #[test]
    fn large_counts_are_left_to_chi_square() {
        // C(105 + 3, 3) = 204,156 outcomes are past the limit, C(104 + 3, 3) = 198,485 are not.
        let most = compare_many(&squares(&[26, 26, 26, 26])).unwrap();
        assert_eq!(most.method, Method::ExactMultinomial);
        let past = compare_many(&squares(&[27, 26, 26, 26])).unwrap();
        assert_eq!((past.method, past.exact_p), (Method::ChiSquare, None));
        assert_eq!(past.p, past.chi_square_p);
    }

    #[test]
    fn what_cannot_be_compared_is_said() {
        assert_eq!(compare_many(&squares(&[4])), Err(StatsError::TooFew));
        let most = vec![0; limits::PATTERN_SURFACES];
        assert_eq!(compare_many(&squares(&most)).unwrap().p, 1.0);
        let past = vec![0; limits::PATTERN_SURFACES + 1];
        assert_eq!(
            compare_many(&squares(&past)),
            Err(StatsError::TooManyCounts)
        );
    }
}

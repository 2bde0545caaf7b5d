//! The likelihood of the counts for one wind.

use std::collections::BTreeMap;

use super::Surface;

/// The least that the model expects of a surface in the lee, against level ground: gusts, rebound
/// and a miscounted mark leave a stray hit there, and one hit must not rule out a wind altogether
/// (common practice, no source).
pub const STRAY: f64 = 0.02;

/// A surface as the likelihood needs it.
struct Term {
    hits: f64,
    exposure: f64,
    level: f64,
    east: f64,
    north: f64,
    covering: usize,
}

/// The counts, ready for many winds.
pub(super) struct Counts {
    terms: Vec<Term>,
    /// Hits by covering.
    hits: Vec<f64>,
    /// Coverings on which anything was counted.
    pub(super) coverings_hit: usize,
    /// Surfaces of those coverings.
    pub(super) surfaces_hit: usize,
}

impl Counts {
    pub(super) fn new(surfaces: &[Surface]) -> Self {
        let mut numbers: BTreeMap<&str, usize> = BTreeMap::new();
        let mut hits: Vec<f64> = Vec::new();
        let mut terms = Vec::new();
        for surface in surfaces {
            let next = numbers.len();
            let covering = *numbers.entry(&surface.covering).or_insert(next);
            if covering == hits.len() {
                hits.push(0.0);
            }
            if let Some(sum) = hits.get_mut(covering) {
                *sum += surface.hits as f64;
            }
            let (sin_tilt, cos_tilt) = surface.facing.tilt.to_radians().sin_cos();
            let (sin_bearing, cos_bearing) = surface.facing.bearing.to_radians().sin_cos();
            terms.push(Term {
                hits: surface.hits as f64,
                exposure: surface.exposure,
                level: cos_tilt,
                east: sin_tilt * sin_bearing,
                north: sin_tilt * cos_bearing,
                covering,
            });
        }
        let coverings_hit = hits.iter().filter(|sum| **sum > 0.0).count();
        let on_hit = |term: &&Term| hits.get(term.covering).is_some_and(|sum| *sum > 0.0);
        let surfaces_hit = terms.iter().filter(on_hit).count();
        Self {
            terms,
            hits,
            coverings_hit,
            surfaces_hit,
        }
    }

    /// Hits against level ground for each surface, at least [`STRAY`].
    pub(super) fn against_level(&self, from: f64, ratio: f64) -> Vec<f64> {
        let (east, north) = wind(from, ratio);
        self.terms
            .iter()
            .map(|t| t.level_hits(east, north))
            .collect()
    }

    /// Hits expected on each surface, the rate of its covering being the one that fits best.
    pub(super) fn expected(&self, from: f64, ratio: f64) -> Vec<f64> {
        let (east, north) = wind(from, ratio);
        let mut sums = vec![0.0; self.hits.len()];
        for term in &self.terms {
            if let Some(sum) = sums.get_mut(term.covering) {
                *sum += term.exposure * term.level_hits(east, north);
            }
        }
        let rate = |covering: usize| {
            let hits = self.hits.get(covering).copied().unwrap_or(0.0);
            let sum = sums.get(covering).copied().unwrap_or(0.0);
            if sum > 0.0 { hits / sum } else { 0.0 }
        };
        self.terms
            .iter()
            .map(|term| rate(term.covering) * term.exposure * term.level_hits(east, north))
            .collect()
    }

    /// The log-likelihood with the rates of the coverings at their best, up to a constant: each
    /// covering's hits are shared out among its surfaces as a multinomial.
    pub(super) fn log_likelihood(&self, from: f64, ratio: f64) -> f64 {
        let (east, north) = wind(from, ratio);
        // Few coverings: a small stack array would do, but the order of sums must stay fixed.
        let mut sums = vec![0.0; self.hits.len()];
        let mut sum = 0.0;
        for term in &self.terms {
            let share = term.exposure * term.level_hits(east, north);
            if term.hits > 0.0 {
                sum += term.hits * share.ln();
            }
            if let Some(covering) = sums.get_mut(term.covering) {
                *covering += share;
            }
        }
        for (hits, covering) in self.hits.iter().zip(&sums) {
            if *hits > 0.0 {
                sum -= hits * covering.ln();
            }
        }
        sum
    }
}

fn wind(from: f64, ratio: f64) -> (f64, f64) {
    let (sin, cos) = from.to_radians().sin_cos();
    (ratio * sin, ratio * cos)
}

impl Term {
    fn level_hits(&self, east: f64, north: f64) -> f64 {
        (self.level + self.east * east + self.north * north).max(STRAY)
    }
}

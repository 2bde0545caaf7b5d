//! The best wind and how far around it the counts leave it open: a grid, then a refinement, both
//! without chance.

use super::likelihood::Counts;
use super::{Arc, Directions};
use crate::limits;
use crate::sorted::Sorted;

/// Directions of the grid, one for each whole degree.
const DIRECTIONS: usize = 360;
/// Steps of the ratio in the grid, evenly spaced.
const RATIOS: usize = 80;

/// The likelihood over all winds, laid out on the grid.
pub(super) struct Profile<'a> {
    counts: &'a Counts,
    /// Best log-likelihood for each whole degree, and the ratio where it lies.
    by_direction: Vec<(f64, f64)>,
    /// Best log-likelihood for each ratio of the grid, and the direction where it lies.
    by_ratio: Vec<(f64, f64)>,
    /// The best wind: direction, ratio and log-likelihood.
    pub(super) from: f64,
    pub(super) ratio: f64,
    pub(super) best: f64,
}

impl<'a> Profile<'a> {
    pub(super) fn new(counts: &'a Counts) -> Self {
        let by_direction: Vec<(f64, f64)> = (0..DIRECTIONS)
            .map(|degree| best_ratio(counts, degree as f64))
            .collect();
        let by_ratio: Vec<(f64, f64)> = (0..=RATIOS)
            .map(|step| best_direction(counts, ratio_of(step)))
            .collect();
        let whole = |degree: f64| {
            by_direction
                .get(degree as usize)
                .map_or(f64::NEG_INFINITY, |d| d.0)
        };
        let (_, degree) = highest((0..DIRECTIONS).map(|degree| degree as f64), whole);
        // Along the best ratio of each direction no ridge of the floor stands in the way.
        let along = |from: f64| best_ratio(counts, from).0;
        let (_, from) = peak(degree - 1.0, degree + 1.0, degree, along);
        let (best, ratio) = best_ratio(counts, from);
        let from = from.rem_euclid(360.0);
        Self {
            counts,
            by_direction,
            by_ratio,
            from,
            ratio,
            best,
        }
    }

    /// Directions whose best log-likelihood lies at most `drop` below the best of all.
    pub(super) fn directions(&self, drop: f64) -> Directions {
        let bound = self.best - drop;
        let open: Vec<bool> = self.by_direction.iter().map(|d| d.0 >= bound).collect();
        if open.iter().all(|open| *open) {
            return Directions::Any;
        }
        let mut arcs: Vec<Arc> = Vec::new();
        for degree in 0..DIRECTIONS {
            let before = (degree + DIRECTIONS - 1) % DIRECTIONS;
            let is = |at: usize| open.get(at).copied().unwrap_or(false);
            if is(degree) && !is(before) {
                let length = (1..DIRECTIONS).find(|n| !is((degree + n) % DIRECTIONS));
                let last = degree as f64 + length.unwrap_or(DIRECTIONS) as f64 - 1.0;
                arcs.push(Arc {
                    from: self.edge(degree as f64, degree as f64 - 1.0, bound),
                    to: self.edge(last, last + 1.0, bound),
                });
            }
        }
        if arcs.is_empty() || !arcs.iter().any(|arc| arc.holds(self.from)) {
            // Sharper than the grid: the best direction lies between two degrees that are out.
            arcs.push(Arc {
                from: self.edge(self.from, self.from.floor(), bound),
                to: self.edge(self.from, self.from.floor() + 1.0, bound),
            });
        }
        arcs.order_by_key(|arc| !arc.holds(self.from));
        Directions::Arcs(arcs)
    }

    /// Where the profile falls to a bound between a direction inside and one outside, to 1/1000
    /// degree, brought to 0 up to 360.
    fn edge(&self, inside: f64, outside: f64, bound: f64) -> f64 {
        let (mut inside, mut outside) = (inside, outside);
        while (inside - outside).abs() > 1e-3 {
            let middle = 0.5 * (inside + outside);
            if best_ratio(self.counts, middle).0 >= bound {
                inside = middle;
            } else {
                outside = middle;
            }
        }
        inside.rem_euclid(360.0)
    }

    /// Smallest and largest ratio whose best log-likelihood lies at most `drop` below the best of
    /// all; no largest one where the end of the grid is still open.
    pub(super) fn ratios(&self, drop: f64) -> (f64, Option<f64>) {
        let bound = self.best - drop;
        let open = |step: &usize| self.by_ratio.get(*step).is_some_and(|r| r.0 >= bound);
        let steps = 0..=RATIOS;
        // Where the best lies between two steps that are out, it is where the halving begins.
        let first = steps
            .clone()
            .find(open)
            .map_or(self.ratio, ratio_of)
            .min(self.ratio);
        let last = steps
            .rev()
            .find(open)
            .map_or(self.ratio, ratio_of)
            .max(self.ratio);
        let step = ratio_of(1);
        let low = if first <= 0.0 {
            0.0
        } else {
            self.end(first, (first - step).max(0.0), bound)
        };
        let high = (last < limits::PATTERN_RATIO)
            .then(|| self.end(last, (last + step).min(limits::PATTERN_RATIO), bound));
        (low, high)
    }

    fn end(&self, inside: f64, outside: f64, bound: f64) -> f64 {
        let (mut inside, mut outside) = (inside, outside);
        while (inside - outside).abs() > 1e-4 {
            let middle = 0.5 * (inside + outside);
            if best_direction(self.counts, middle).0 >= bound {
                inside = middle;
            } else {
                outside = middle;
            }
        }
        inside
    }
}

fn ratio_of(step: usize) -> f64 {
    limits::PATTERN_RATIO * step as f64 / RATIOS as f64
}

/// The best ratio for one direction and its log-likelihood.
fn best_ratio(counts: &Counts, from: f64) -> (f64, f64) {
    let value = |ratio: f64| counts.log_likelihood(from, ratio);
    let (_, near) = highest((0..=RATIOS).map(ratio_of), value);
    let (low, high) = (near - ratio_of(1), near + ratio_of(1));
    peak(low.max(0.0), high.min(limits::PATTERN_RATIO), near, value)
}

/// The best direction for one ratio and its log-likelihood.
fn best_direction(counts: &Counts, ratio: f64) -> (f64, f64) {
    let value = |from: f64| counts.log_likelihood(from, ratio);
    let (_, near) = highest((0..DIRECTIONS).map(|degree| degree as f64), value);
    peak(near - 1.0, near + 1.0, near, value)
}

/// The highest value of a function at some points, and where it is; the first of equals.
fn highest(points: impl Iterator<Item = f64>, value: impl Fn(f64) -> f64) -> (f64, f64) {
    points.fold((f64::NEG_INFINITY, 0.0), |best, point| {
        let here = value(point);
        if here > best.0 { (here, point) } else { best }
    })
}

/// The peak of a function on an interval by golden section, and where it lies; never below its
/// value at `known`.
fn peak(low: f64, high: f64, known: f64, value: impl Fn(f64) -> f64) -> (f64, f64) {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let (mut low, mut high) = (low, high);
    let mut left = high - GOLDEN * (high - low);
    let mut right = low + GOLDEN * (high - low);
    let (mut at_left, mut at_right) = (value(left), value(right));
    for _ in 0..36 {
        if at_left >= at_right {
            high = right;
            (right, at_right) = (left, at_left);
            left = high - GOLDEN * (high - low);
            at_left = value(left);
        } else {
            low = left;
            (left, at_left) = (right, at_right);
            right = low + GOLDEN * (high - low);
            at_right = value(right);
        }
    }
    let start = (value(known), known);
    [
        (at_left, left),
        (at_right, right),
        (value(low), low),
        (value(high), high),
    ]
    .into_iter()
    .fold(
        start,
        |best, found| if found.0 > best.0 { found } else { best },
    )
}

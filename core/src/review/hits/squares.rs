//! Test squares with exact intervals, and slopes against one another.

use std::collections::BTreeMap;

use serde::Serialize;

use super::super::view::{View, standing};
use super::LeftOut;
use crate::job::*;
use crate::limits;
use crate::trade::stats::{self, Comparison, Count, ManyCounts};

/// One test square.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SquareRow {
    /// Its record.
    pub id: RecordId,
    /// The slope, by name.
    pub slope: String,
    /// Its area, sq ft; `None` where width or height is not recorded.
    pub square_feet: Option<f64>,
    /// Hits counted; `None` where nobody counted.
    pub hits: Option<u32>,
    /// Hits for 100 sq ft.
    pub per_square: Option<f64>,
    /// Lower end of the exact interval for 100 sq ft.
    pub low: Option<f64>,
    /// Upper end.
    pub high: Option<f64>,
    /// Level of the interval.
    pub level: f64,
    /// How its spot was chosen.
    pub placement: Option<Placement>,
    /// What that means for the slope as a whole.
    pub bias: &'static str,
}

/// What the choice of a spot means for the slope as a whole (common practice, no source).
pub const fn placement_bias(placement: Option<Placement>) -> &'static str {
    match placement {
        Some(Placement::Worst) => {
            "chosen because it was the worst: the slope as a whole has fewer hits than this"
        }
        Some(Placement::Typical) => {
            "chosen as typical by eye: good for the slope as far as the eye is"
        }
        Some(Placement::Random) => "chosen at random: it stands for the slope within its interval",
        None => "nobody said how the spot was chosen: what it tells of the slope is open",
    }
}

pub(super) fn rows(view: &View<'_>, level: f64) -> Vec<SquareRow> {
    let row = |(at, square): (RecordRef, &Record<TestSquare>)| {
        let square_feet = square_feet(square);
        let hits = square.hits();
        let each = square_feet.map(|feet| 100.0 / feet);
        let interval = hits.and_then(|hits| stats::garwood(u64::from(hits), level).ok());
        let scaled = |value: Option<f64>| Some(value? * each?);
        SquareRow {
            id: at.id,
            slope: match &square.slope {
                Some(slope) => view.job.place_name(slope),
                None => "no slope named".to_owned(),
            },
            square_feet,
            hits,
            per_square: scaled(hits.map(f64::from)),
            low: scaled(interval.map(|interval| interval.low)),
            high: scaled(interval.and_then(|interval| interval.high)),
            level,
            placement: square.placement,
            bias: placement_bias(square.placement),
        }
    };
    standing(Kind::TestSquare, &view.job.records.test_squares)
        .map(row)
        .collect()
}

fn square_feet(square: &TestSquare) -> Option<f64> {
    let feet = square.width?.to_feet() * square.height?.to_feet();
    (square.width? > Length::default() && square.height? > Length::default()).then_some(feet)
}

/// All squares of one slope together.
pub(super) struct Pooled {
    pub(super) count: Count,
    pub(super) placement: Option<Placement>,
}

pub(super) fn by_slope(view: &View<'_>, left_out: &mut Vec<LeftOut>) -> BTreeMap<Place, Pooled> {
    let mut pooled: BTreeMap<Place, Pooled> = BTreeMap::new();
    for (_, square) in standing(Kind::TestSquare, &view.job.records.test_squares) {
        let name = match &square.slope {
            Some(slope) => view.job.place_name(slope),
            None => "a slope that is not named".to_owned(),
        };
        let mut out = |why: &str| {
            left_out.push(LeftOut {
                what: format!("test square on {name}"),
                why: why.to_owned(),
            });
        };
        let Some(slope) = square.slope.clone().filter(|at| stands(view.job, at)) else {
            out("its slope is not recorded: name the slope it lies on");
            continue;
        };
        let Some(hits) = square.hits() else {
            out("hits were not counted: count them, zero too");
            continue;
        };
        let Some(feet) = square_feet(square) else {
            out("its width or height is not recorded");
            continue;
        };
        if u64::from(hits) > limits::HITS_COUNTED {
            out("the count is too large to be true: check it");
            continue;
        }
        let one = Pooled {
            count: Count {
                hits: u64::from(hits),
                exposure: feet,
            },
            placement: square.placement,
        };
        match pooled.get_mut(&slope) {
            None => {
                pooled.insert(slope, one);
            }
            Some(sum) if sum.count.hits + one.count.hits > limits::HITS_COUNTED => {
                out("the counts of the slope are too large to be true: check them");
            }
            Some(sum) => sum.add(&one),
        }
    }
    pooled
}

impl Pooled {
    /// One worst spot makes the whole a worst one; kinds that differ leave the whole open.
    fn add(&mut self, other: &Pooled) {
        self.count.hits += other.count.hits;
        self.count.exposure += other.count.exposure;
        let worst = Some(Placement::Worst);
        if self.placement != other.placement {
            self.placement = if self.placement == worst || other.placement == worst {
                worst
            } else {
                None
            };
        }
    }
}

fn stands(job: &Job, slope: &Place) -> bool {
    let record = job.records.slopes.get(&slope.id);
    slope.kind == Kind::Slope && record.is_some_and(Record::stands)
}

/// Two slopes against one another.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SlopePair {
    /// One slope, by name.
    pub first: String,
    /// The other.
    pub second: String,
    /// How their hits per area compare.
    pub comparison: Comparison,
}

/// All slopes with test squares against one another.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SlopesCompared {
    /// The slopes with their pooled counts, hits and sq ft.
    pub slopes: Vec<(String, Count)>,
    /// All at once.
    pub overall: ManyCounts,
    /// Each against each; empty for more than [`limits::SLOPES_IN_PAIRS`] slopes.
    pub pairs: Vec<SlopePair>,
    /// The outcome in words.
    pub sentence: String,
}

pub(super) fn compare(
    job: &Job,
    pooled: &BTreeMap<Place, Pooled>,
    level: f64,
) -> Option<SlopesCompared> {
    let slopes: Vec<(String, Count)> = pooled
        .iter()
        .map(|(slope, pooled)| (job.place_name(slope), pooled.count))
        .collect();
    let counts: Vec<Count> = slopes.iter().map(|(_, count)| *count).collect();
    let overall = stats::compare_many(&counts).ok()?;
    let mut pairs = Vec::new();
    if slopes.len() <= limits::SLOPES_IN_PAIRS {
        for (index, (first, one)) in slopes.iter().enumerate() {
            for (second, other) in slopes.iter().skip(index + 1) {
                if let Ok(comparison) = stats::compare_two(*one, *other, level) {
                    pairs.push(SlopePair {
                        first: first.clone(),
                        second: second.clone(),
                        comparison,
                    });
                }
            }
        }
    }
    let worst = pooled
        .values()
        .filter(|pooled| pooled.placement == Some(Placement::Worst))
        .count();
    Some(SlopesCompared {
        sentence: sentence(&overall, pairs.len(), worst, level),
        slopes,
        overall,
        pairs,
    })
}

fn sentence(overall: &ManyCounts, pairs: usize, worst: usize, level: f64) -> String {
    let differ = if overall.p < 1.0 - level {
        "differ by more than chance explains"
    } else {
        "do not differ by more than chance explains"
    };
    let mut words = format!(
        "The slopes {differ} ({}, {}).",
        overall.method.label(),
        stats::p_words(overall.p)
    );
    if pairs > 1 {
        words.push_str(&format!(
            " Of {pairs} pairs some differ by chance alone: go by all slopes together first."
        ));
    }
    if worst > 0 {
        words.push_str(" Squares at worst spots compare the spots, not the slopes.");
    }
    words
}

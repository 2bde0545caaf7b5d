//! The pattern of hits: from which side, and with how much wind for its fall speed, hail must have
//! come to leave the counts that were made on walls and slopes.
//!
//! Model: hits on a surface are a Poisson count whose mean is the rate on level ground, times what
//! was looked at, times [`hits_against_level`](super::wind::hits_against_level). Surfaces of one
//! covering share a rate, which is never known and drops out: a dent in thin metal is seen sooner
//! than a bruise in a shingle. What is found is the wind direction and the ratio of wind to fall
//! speed of the greatest likelihood, by a grid and a refinement without chance.
//!
//! A pattern is a sign among others. Eaves, trees and neighbours shelter surfaces, gusts turn, and
//! a spot that was chosen because it was the worst tells more of the choice than of the storm.

mod fit;
mod likelihood;
mod profile;
mod speed;
mod warnings;
mod words;

use serde::Serialize;

use super::stats::StatsError;
use super::wind::{self, Facing};
use crate::job::Placement;
use crate::limits;

pub use fit::pattern;
pub use likelihood::STRAY;
pub use speed::{Stone, WindSpeed};
pub use warnings::{Stated, Warning, WarningKind};
pub use words::degrees;

/// One surface on which hits were counted.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Surface {
    /// What people call it.
    pub name: String,
    /// Which way it faces and how steep it is.
    pub facing: Facing,
    /// What was looked at: square feet, or for parts of one covering any measure they share, such
    /// as feet of gutter or number of screens.
    pub exposure: f64,
    /// The unit of that: "sq ft", "ft", "screens".
    pub unit: String,
    /// Surfaces of one covering mark alike and share a rate.
    pub covering: String,
    /// Hits counted.
    pub hits: u64,
    /// How the spot was chosen; `None` where the whole surface was looked at or nobody said.
    pub placement: Option<Placement>,
}

/// What the counts are held against, and how sure the intervals are to be.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Question {
    /// Level of all intervals, 0.5 to 0.9999.
    pub level: f64,
    /// Diameter of the stones, where it is known; without it no speed in mph is given.
    pub stone: Option<Stone>,
    /// What others say of the wind.
    pub stated: Vec<Stated>,
}

impl Default for Question {
    fn default() -> Self {
        Self {
            level: 0.95,
            stone: None,
            stated: Vec::new(),
        }
    }
}

/// An input that no pattern is worked out from; the text says what to do.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PatternError {
    /// A facing that is none.
    #[error("\"{0}\": the bearing must be a number and the tilt lie from 0 to 90 degrees")]
    Facing(String),
    /// Counts or level that cannot be reckoned with.
    #[error(transparent)]
    Counts(#[from] StatsError),
}

/// From where to where a direction may lie, clockwise; it may pass through north.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Arc {
    /// Where it begins, degrees clockwise from north.
    pub from: f64,
    /// Where it ends, clockwise from there; smaller than `from` where it passes through north.
    pub to: f64,
}

impl Arc {
    /// Degrees from its beginning to its end.
    pub fn width(self) -> f64 {
        (self.to - self.from).rem_euclid(360.0)
    }

    /// True where a bearing lies on it, ends included.
    pub fn holds(self, bearing: f64) -> bool {
        (bearing - self.from).rem_euclid(360.0) <= self.width()
    }
}

/// The directions that the counts leave open.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Directions {
    /// All: no direction can be told.
    Any,
    /// These, the one with the best fit first. There may be several that do not touch.
    Arcs(Vec<Arc>),
}

impl Directions {
    /// True where a bearing is left open.
    pub fn hold(&self, bearing: f64) -> bool {
        match self {
            Directions::Any => true,
            Directions::Arcs(arcs) => arcs.iter().any(|arc| arc.holds(bearing)),
        }
    }
}

/// The wind that fits best.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Fit {
    /// True bearing it comes from, degrees clockwise from north.
    pub from: f64,
    /// Directions at the stated level, by the profile of the likelihood. The interval may wrap
    /// through north, fall into parts, or be the whole circle.
    pub directions: Directions,
    /// Wind speed over fall speed, 0 to [`limits::PATTERN_RATIO`].
    pub ratio: f64,
    /// The smallest ratio at the stated level.
    pub ratio_low: f64,
    /// The largest ratio at the stated level; `None` where the counts set no upper bound.
    pub ratio_high: Option<f64>,
    /// Level of these intervals.
    pub level: f64,
    /// The same in mph, one for each fall-speed model; empty where no stone is known.
    pub speeds: Vec<WindSpeed>,
    /// How much the log-likelihood exceeds that of no wind.
    pub gain: f64,
    /// Probability of counts that speak as strongly for a wind where there was none.
    pub p_no_wind: f64,
    /// Deviance of the counts from the fit.
    pub deviance: f64,
    /// Degrees of freedom left; at 0 nothing can be said of how well the fit is.
    pub degrees: usize,
    /// Probability of counts that fit as badly or worse where the model holds; `None` with no
    /// degrees of freedom. Rough where few hits are expected.
    pub p_fit: Option<f64>,
    /// The log-likelihood, up to what the counts alone set.
    pub log_likelihood: f64,
}

/// One surface and what the fit expects of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Judged {
    /// The surface.
    pub surface: Surface,
    /// Hits for each unit of exposure, with its exact interval at the stated level.
    pub rate: f64,
    /// Lower end.
    pub rate_low: f64,
    /// Upper end.
    pub rate_high: f64,
    /// Hits that the fit expects; `None` without a fit.
    pub expected: Option<f64>,
    /// Hits per area over hits on level ground, by the fit; `None` without a fit.
    pub against_level: Option<f64>,
}

/// What the counts say of the wind.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Pattern {
    /// The surfaces in the order they were handed in.
    pub surfaces: Vec<Judged>,
    /// The wind that fits best; `None` where there is too little data.
    pub fit: Option<Fit>,
    /// Why there is no fit, in words.
    pub too_little: Option<String>,
    /// The outcome in a sentence or two.
    pub sentence: String,
    /// What speaks against trusting it.
    pub warnings: Vec<Warning>,
}

/// Too little data, in words; `None` where there is enough.
fn too_little(surfaces: &[Surface]) -> Option<String> {
    let hits: u64 = surfaces.iter().map(|surface| surface.hits).sum();
    let mut facings: Vec<f64> = Vec::new();
    for surface in telling(surfaces) {
        let far = |other: &f64| {
            let apart = wind::angle_between(*other, surface.facing.bearing);
            apart >= limits::PATTERN_FACING_APART
        };
        if facings.iter().all(far) {
            facings.push(surface.facing.bearing);
        }
    }
    if facings.len() < limits::PATTERN_FACINGS {
        return Some(format!(
            "surfaces of one covering face {} clearly different {}, at least {} are needed",
            facings.len(),
            if facings.len() == 1 { "way" } else { "ways" },
            limits::PATTERN_FACINGS
        ));
    }
    (hits < limits::PATTERN_HITS).then(|| {
        format!(
            "{hits} hits were counted in all, at least {} are needed",
            limits::PATTERN_HITS
        )
    })
}

/// Surfaces that tell of a direction: not level, and not alone with their covering.
fn telling(surfaces: &[Surface]) -> impl Iterator<Item = &Surface> {
    surfaces.iter().enumerate().filter_map(|(index, surface)| {
        let alike =
            |(other, o): (usize, &Surface)| other != index && o.covering == surface.covering;
        let in_company = surfaces.iter().enumerate().any(alike);
        (surface.facing.tilt >= 1.0 && in_company).then_some(surface)
    })
}

#[cfg(test)]
mod simulation;
#[cfg(test)]
mod tests;

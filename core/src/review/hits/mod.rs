//! The hits of a job: by side and slope, in test squares with exact intervals, slopes against one
//! another, and the wind that their pattern fits.
//!
//! Counted is what the crew counted as hail. Marks with another cause, and marks so low that garden
//! equipment is likelier, stay out of the pattern, and what stays out is listed with its reason.

mod gathered;
mod places;
mod slopes;
mod squares;
mod walls;

#[cfg(test)]
mod tests;

use serde::Serialize;

use super::Reader;
use super::view::View;
use crate::job::*;
use crate::sorted::Sorted;
use crate::trade::pattern::{self, Pattern, Question, Stated, Stone};

pub use places::{PartHits, PlaceHits};
pub use squares::{SlopePair, SlopesCompared, SquareRow, placement_bias};

/// What the job does not say and the reader may hand in.
#[derive(Clone, Debug, PartialEq)]
pub struct HitsInput {
    /// Who the result is for: for anyone, findings of the office alone are left out.
    pub reader: Reader,
    /// Level of all intervals, 0.5 to 0.9999; any other value counts as 0.95.
    pub level: f64,
    /// The stones; `None` takes the largest hail report of the job.
    pub stone: Option<Stone>,
    /// What others say of the wind, beside the wind reports of the job.
    pub stated: Vec<Stated>,
}

impl Default for HitsInput {
    fn default() -> Self {
        Self {
            reader: Reader::Anyone,
            level: 0.95,
            stone: None,
            stated: Vec::new(),
        }
    }
}

/// Something that could not be used, and why.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct LeftOut {
    /// What.
    pub what: String,
    /// Why, and what would mend it.
    pub why: String,
}

/// The hits of a job.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Hits {
    /// Places where hits were counted, in walk order; the four sides always.
    pub places: Vec<PlaceHits>,
    /// Every standing test square.
    pub squares: Vec<SquareRow>,
    /// Slopes against one another; `None` with fewer than two slopes counted.
    pub slopes: Option<SlopesCompared>,
    /// What the counts say of the wind; `None` where they cannot be reckoned with, see `left_out`.
    pub pattern: Option<Pattern>,
    /// What could not be used, and why.
    pub left_out: Vec<LeftOut>,
}

/// The hits of a job. Never fails: what cannot be used is listed.
pub fn hits(job: &Job, input: &HitsInput) -> Hits {
    let facts = super::Facts::default();
    let view = View::new(job, &facts);
    let level = if (0.5..=0.9999).contains(&input.level) {
        input.level
    } else {
        HitsInput::default().level
    };
    let mut left_out = Vec::new();
    let squares = squares::rows(&view, level);
    let pooled = squares::by_slope(&view, &mut left_out);
    let slopes = squares::compare(job, &pooled, level);
    let mut surfaces = slopes::surfaces(&view, &pooled, &mut left_out);
    surfaces.extend(walls::surfaces(&view, input.reader, &mut left_out));
    let question = question(job, input, level);
    let pattern = match pattern::pattern(&surfaces, &question) {
        Ok(pattern) => Some(pattern),
        Err(error) => {
            left_out.push(LeftOut {
                what: "pattern of hits".to_owned(),
                why: error.to_string(),
            });
            None
        }
    };
    left_out.order();
    left_out.dedup();
    Hits {
        places: places::places(&view, input.reader),
        squares,
        slopes,
        pattern,
        left_out,
    }
}

fn question(job: &Job, input: &HitsInput, level: f64) -> Question {
    let mut stated = input.stated.clone();
    stated.extend(gathered::gust(job));
    Question {
        level,
        stone: input.stone.clone().or_else(|| gathered::stone(job)),
        stated,
    }
}

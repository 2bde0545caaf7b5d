//! Why a plan cannot be worked out, and what to do. Corners and sides are counted from 1, as a
//! person does.

use crate::limits::{
    PLAN_BYTES, ROOF_EXTENT_FT, ROOF_OVERHANG_FT, ROOF_POINTS, ROOF_RISE_LEAST, ROOF_RISE_MOST,
};

/// A plan that cannot be worked out.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PlanError {
    /// The text is too long.
    #[error("the plan's text has {0} bytes, and at most {PLAN_BYTES} are read")]
    TooLong(usize),
    /// The text is not a plan.
    #[error(
        "the plan cannot be read: {0}. A plan is written {{\"points\": [[0,0],[40,0],[40,30],[0,30]], \"pitch\": 6}}"
    )]
    Unread(String),
    /// Fewer than three corners are left once repeated ones and those in line are taken out.
    #[error("an outline needs at least three corners that are not in one line; this one has {0}")]
    TooFew(usize),
    /// Too many corners.
    #[error(
        "the outline has {0} corners, and a roof is worked out for at most {ROOF_POINTS}: leave out small steps, or split the plan"
    )]
    TooMany(usize),
    /// The sides are not as many as the corners.
    #[error(
        "the plan has {corners} corners and {sides} sides: write one side for each corner, or none"
    )]
    Sides {
        /// Corners given.
        corners: usize,
        /// Sides given.
        sides: usize,
    },
    /// A corner is not a number or too far away.
    #[error("corner {0} is not a place: write feet, each less than {ROOF_EXTENT_FT} from zero")]
    Corner(usize),
    /// The house is too large.
    #[error(
        "the outline is {0:.0} ft across, and at most {ROOF_EXTENT_FT} ft are worked out: check that the corners are in feet"
    )]
    Extent(f64),
    /// The plan has a courtyard.
    #[error(
        "the outline has {0} holes: a roof round a courtyard cannot be worked out here. Split the plan into wings that do not go all the way round, and add them up"
    )]
    Holes(usize),
    /// Two sides cross or touch.
    #[error(
        "sides {0} and {1} of the outline cross or touch: list the corners in order round the house"
    )]
    Crossing(usize, usize),
    /// No pitch is known for a side that has an eave.
    #[error("side {0} has no pitch: give it one, or give one for the whole plan")]
    NoPitch(usize),
    /// A pitch is out of range.
    #[error(
        "side {side} has a pitch of {rise} in 12: write a rise from {ROOF_RISE_LEAST} to {ROOF_RISE_MOST}. A flatter roof has no ridges or hips to work out"
    )]
    Pitch {
        /// The side.
        side: usize,
        /// What was given.
        rise: f64,
    },
    /// An overhang is out of range.
    #[error("side {side} has an overhang of {feet} ft: write feet from 0 to {ROOF_OVERHANG_FT}")]
    Overhang {
        /// The side.
        side: usize,
        /// What was given.
        feet: f64,
    },
    /// The bearing of the plan is not a number of degrees.
    #[error("north is {0}: write the bearing of the plan's +y axis in degrees, from -360 to 360")]
    North(f64),
    /// Sides in one line that differ.
    #[error(
        "sides {0} and {1} are in one line but differ in form, pitch or overhang: make them alike, or put a corner between them, such as a gable that stands a little forward of the wall"
    )]
    InLine(usize, usize),
    /// The overhang closes a gap or swallows a side.
    #[error(
        "with its overhang the outline closes up at side {0}: make the overhang smaller there, or leave the notch out of the outline"
    )]
    OverhangCloses(usize),
    /// Nothing but gables.
    #[error("every side is a gable, so nothing rises: make at least one side a hip")]
    OnlyGables,
    /// The slopes never come together.
    #[error(
        "the slopes never close over the house: gables, or steep sides beside flat ones, leave a part that nothing rises over. Make one more side a hip, or bring the pitches closer"
    )]
    Open,
    /// The solver's own check failed: the planes do not fill the outline, or a corner is off its
    /// plane.
    #[error(
        "this outline could not be worked out to the solver's own check: simplify it, for instance by leaving out sides that are very short or nearly in line"
    )]
    Unsolved,
}

//! The roof: pitch and its factors, areas of slopes, and the plan solver, which works out every
//! plane and edge of a roof from the outline of the walls.
//!
//! # The solver's model
//! A slope rises from every side that is a hip; a side that is a gable is a vertical wall that goes
//! up as far as the roof. The slopes grow together as the outline shrinks upward (a weighted
//! straight skeleton). The eaves of a plan are level and all at one height, as a fascia that runs
//! round the house is; where pitches or overhangs differ, so do the heights of the plates.
//! Two slopes that come into one line and one plane above a wing are one plane; where they come
//! into one line at different pitches, an upright step parts them from there on.
//! Lengths are feet, areas square feet, pitches inches of rise in 12, heights feet above the eaves.
//!
//! What it does not do: courtyards, dormers and other roofs on the roof, slopes that change
//! pitch on the way up, eaves at different heights. A measured roof differs from a plan; the tape
//! and the gauge come first.
//!
//! # The JSON of a plan
//! ```json
//! {"points": [[0,0],[40,0],[40,30],[0,30]],
//!  "pitch": 6, "overhang": 1,
//!  "sides": [{}, {"form": "gable", "overhang": 0.5}, {"pitch": 8}, {"form": "gable"}],
//!  "north": 0}
//! ```
//! - `points`: the corners of the walls in order, either way round, feet. The last need not repeat
//!   the first. Repeated corners and corners in line are taken out. Required.
//! - `pitch`, `overhang`: for each side that gives none itself; `overhang` is 0 where left out.
//! - `sides`: none, or one for each corner, the first from the first corner to the second: `pitch`
//!   (rise in 12), `form` (`hip`, where left out, or `gable`), `overhang` (feet, square to the wall
//!   in plan).
//! - `north`: the bearing of the plan's +y axis, degrees clockwise from north; 0 where left out.
//! - `holes`: courtyards, which are refused with the reason.
//!
//! Any other key is refused, so that a misspelt one is not passed over.

mod error;
mod geometry;
mod outline;
mod pitch;
mod plan;
mod slope;
mod solved;
mod solver;

#[cfg(test)]
mod random_plans;
#[cfg(test)]
mod worked_cases;
#[cfg(test)]
mod wrong_plans;

pub use error::PlanError;
pub use pitch::{GaugePitch, GaugeReading, GaugeStep, PitchError, Rise};
pub use plan::{PlanSide, RoofPlan, SideForm};
pub use slope::{DimensionError, SQUARE_FT, SlopeArea, SlopeShape, Taken, squares};
pub use solved::{EdgeKind, EdgeTotal, Roof, RoofEdge, RoofPlane, Spot};
pub use solver::solve;

//! Works out the roof over an outline: a weighted straight skeleton.
//!
//! The outline is let shrink upward, each side at its own run for a foot of rise and gables not at
//! all. Its parts have nothing to do with each other once they are apart, so each is followed to its
//! end by itself, from one height where something happens to the next; all that happens at one
//! height is resolved together, which is the usual case on a house with square corners.
//! (O. Aichholzer and others, "A novel type of skeleton for polygons", 1995; T. Biedl and others,
//! "Weighted straight skeletons in the plane", 2015.)
//!
//! What comes out is checked before it is handed on: planes fill the outline, every corner lies on
//! its plane. Where the check fails, other closenesses are tried, and at last the plan is refused.

mod check;
mod edges;
mod meet;
mod planes;
mod wave;

use super::outline::{Line, Outline};
use super::{PlanError, Roof, RoofPlan, Spot};
use wave::{Trouble, Wave};

/// Shares of the extent within which places count as one, in the order they are tried.
const NEAR: [f64; 5] = [1e-9, 1e-8, 1e-7, 1e-10, 1e-6];

/// Works out the planes and edges of the roof over a plan. At most [`ROOF_POINTS`] sides; forty
/// take well under two milliseconds.
///
/// # Errors
/// Where the plan is not one house's outline, a figure is out of range, or the roof does not close;
/// the text says what to do.
///
/// [`ROOF_POINTS`]: crate::limits::ROOF_POINTS
pub fn solve(plan: &RoofPlan) -> Result<Roof, PlanError> {
    let outline = Outline::new(plan)?;
    let mut first = None;
    for share in NEAR {
        let near = share * outline.extent;
        match grow(&outline, near).and_then(|growth| planes::roof(&growth)) {
            Ok(roof) => return Ok(roof),
            Err(trouble) => {
                let better = first.is_none_or(|first| first == Trouble::Lost);
                if better {
                    first = Some(trouble);
                }
            }
        }
    }
    Err(match first {
        Some(Trouble::Open) => PlanError::Open,
        _ => PlanError::Unsolved,
    })
}

/// How the planes beside an arc fold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Fold {
    /// An outside corner.
    Out,
    /// An inside corner.
    In,
    /// A level line where two sides came together.
    Level,
}

/// A line between two nodes, and the lines whose planes lie on its left and right.
#[derive(Clone, Copy, Debug)]
struct Arc {
    from: usize,
    to: usize,
    left: usize,
    right: usize,
    fold: Fold,
}

/// All that the shrinking outline leaves behind.
struct Growth<'a> {
    outline: &'a Outline,
    /// The lines of the outline, and after them the upright steps that came about above it.
    lines: Vec<Line>,
    /// Places nearer than this are one, feet.
    near: f64,
    /// The corners of the outline, then what came about above it.
    nodes: Vec<Spot>,
    arcs: Vec<Arc>,
    /// Lines that became one: each points at an earlier one or at itself.
    parent: Vec<usize>,
}

impl Growth<'_> {
    /// The line that stands for a line and all that became one with it.
    fn root(&self, line: usize) -> usize {
        let mut line = line;
        while self.parent[line] != line {
            line = self.parent[line];
        }
        line
    }
}

fn grow(outline: &Outline, near: f64) -> Result<Growth<'_>, Trouble> {
    let corners = outline.corners.iter();
    let mut growth = Growth {
        outline,
        lines: outline.lines.clone(),
        near,
        nodes: corners.map(|at| [at[0], at[1], 0.0]).collect(),
        arcs: Vec::with_capacity(outline.lines.len() * 2),
        parent: (0..outline.lines.len()).collect(),
    };
    // Each step ends a line or parts the outline, so there are fewer than this, upright steps
    // included.
    let mut steps = 20 * outline.lines.len();
    let mut waves = vec![Wave::first(outline).ok_or(Trouble::Lost)?];
    while let Some(wave) = waves.pop() {
        let z = wave.next(&growth.lines, near).ok_or(Trouble::Open)?;
        waves.extend(meet::meet(&mut growth, &wave, z)?);
        steps = steps.checked_sub(1).ok_or(Trouble::Lost)?;
    }
    Ok(growth)
}

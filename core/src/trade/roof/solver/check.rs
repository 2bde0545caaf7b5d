//! The solver's own check: what does not hold is not handed on.

use super::super::geometry::{Flat, area, crossing, dot};
use super::super::solved::RoofPlane;
use super::Growth;
use super::wave::Trouble;

/// Planes have areas that add up to the outline's, do not cross themselves, and hold all their
/// corners; nothing lies below the eaves.
pub(super) fn planes_fill_the_outline(
    growth: &Growth<'_>,
    planes: &[RoofPlane],
) -> Result<(), Trouble> {
    let outline = growth.outline;
    let slack = 16.0 * growth.near;
    let good = planes.iter().all(|plane| holds(growth, plane, slack));
    let sum: f64 = planes.iter().map(|plane| plane.plan_area).sum();
    let whole = area(&outline.corners);
    if good && (sum - whole).abs() <= slack * outline.extent {
        Ok(())
    } else {
        Err(Trouble::Lost)
    }
}

fn holds(growth: &Growth<'_>, plane: &RoofPlane, slack: f64) -> bool {
    let flat: Vec<Flat> = plane.corners.iter().map(|c| [c[0], c[1]]).collect();
    let lines = &growth.outline.lines;
    let first = plane.sides.first();
    let line = first.and_then(|side| lines.iter().find(|line| line.sides.contains(side)));
    let Some(line) = line else {
        return false;
    };
    let on_plane = plane.corners.iter().zip(&flat).all(|(corner, at)| {
        let off = dot(line.inward, *at) - line.offset - line.run * corner[2];
        off.abs() <= slack && corner[2] >= -slack
    });
    on_plane && plane.plan_area > 0.0 && flat.len() >= 3 && crossing(&flat, 0.0).is_none()
}

//! The area of one slope from its dimensions, taken in plan or with the tape on the slope.

use serde::{Deserialize, Serialize};

use super::Rise;
use super::geometry::{area, crossing};
use crate::limits::{ROOF_EXTENT_FT, ROOF_POINTS};

/// Square feet in one roofing square.
pub const SQUARE_FT: f64 = 100.0;

/// Square feet as roofing squares of 100 square feet.
pub fn squares(square_feet: f64) -> f64 {
    square_feet / SQUARE_FT
}

/// The shape of a slope, dimensions in feet.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SlopeShape {
    /// An eave and what runs up from it.
    Rectangle {
        /// Length along the eave.
        width: f64,
        /// Length up from the eave.
        height: f64,
    },
    /// An eave and the height over it.
    Triangle {
        /// Length along the eave.
        base: f64,
        /// Height over it, square to the eave.
        height: f64,
    },
    /// An eave, the ridge along it, and the distance between them.
    Trapezoid {
        /// Length of the eave.
        eave: f64,
        /// Length of the ridge.
        ridge: f64,
        /// Distance between them, square to both.
        height: f64,
    },
    /// Any polygon that does not cross itself, its corners in order either way round.
    Polygon(
        /// The corners, feet.
        Vec<[f64; 2]>,
    ),
}

/// Where the dimensions were taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Taken {
    /// In plan, as from a drawing or from above.
    InPlan,
    /// On the slope itself.
    OnSlope,
}

/// The area of a slope, square feet.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SlopeArea {
    /// Seen from above.
    pub plan: f64,
    /// On the slope.
    pub slope: f64,
}

/// Dimensions that no slope has.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum DimensionError {
    /// A length is negative, not a number, or too large.
    #[error(
        "the {what} of {length} ft cannot be a slope's: write feet, from 0 to {ROOF_EXTENT_FT}"
    )]
    Length {
        /// Which one.
        what: &'static str,
        /// What was given.
        length: f64,
    },
    /// Too few or too many corners.
    #[error("a slope's outline has 3 to {ROOF_POINTS} corners, not {0}")]
    Corners(usize),
    /// Two sides of the outline cross.
    #[error("sides {0} and {1} of the slope's outline cross: list its corners in order round it")]
    Crossing(usize, usize),
}

impl SlopeShape {
    /// The area of the slope at a pitch.
    ///
    /// # Errors
    /// Where a dimension is negative, not a number or over [`ROOF_EXTENT_FT`], and where a
    /// polygon crosses itself.
    pub fn area(&self, pitch: Rise, taken: Taken) -> Result<SlopeArea, DimensionError> {
        let measured = self.measured()?;
        let factor = pitch.slope_factor();
        Ok(match taken {
            Taken::InPlan => SlopeArea {
                plan: measured,
                slope: measured * factor,
            },
            Taken::OnSlope => SlopeArea {
                plan: measured / factor,
                slope: measured,
            },
        })
    }

    fn measured(&self) -> Result<f64, DimensionError> {
        Ok(match self {
            Self::Rectangle { width, height } => {
                length("width", *width)? * length("height", *height)?
            }
            Self::Triangle { base, height } => {
                length("base", *base)? * length("height", *height)? / 2.0
            }
            Self::Trapezoid {
                eave,
                ridge,
                height,
            } => {
                (length("eave", *eave)? + length("ridge", *ridge)?) * length("height", *height)?
                    / 2.0
            }
            Self::Polygon(corners) => polygon(corners)?,
        })
    }
}

fn length(what: &'static str, length: f64) -> Result<f64, DimensionError> {
    if (0.0..=ROOF_EXTENT_FT).contains(&length) {
        Ok(length)
    } else {
        Err(DimensionError::Length { what, length })
    }
}

fn polygon(corners: &[[f64; 2]]) -> Result<f64, DimensionError> {
    if !(3..=ROOF_POINTS).contains(&corners.len()) {
        return Err(DimensionError::Corners(corners.len()));
    }
    for coordinate in corners.iter().flatten() {
        length("place of a corner", coordinate.abs())?;
    }
    match crossing(corners, 0.0) {
        Some((a, b)) => Err(DimensionError::Crossing(a + 1, b + 1)),
        None => Ok(area(corners).abs()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn six() -> Rise {
        Rise::in_twelve(6.0).unwrap()
    }

    // Plane geometry, worked by hand: a 40 x 30 ft hip roof at 6 in 12 is two triangles and two
    // trapezoids, 1200 sq ft in plan times sqrt(1.25) = 1341.641 sq ft = 13.416 squares; a gable
    // on the same plan is two rectangles of 40 x 15 ft in plan, with the same area.
    #[test]
    fn a_hip_and_a_gable_on_one_plan_have_the_same_area() {
        let hip_end = SlopeShape::Triangle {
            base: 30.0,
            height: 15.0,
        };
        let hip_side = SlopeShape::Trapezoid {
            eave: 40.0,
            ridge: 10.0,
            height: 15.0,
        };
        let gable_side = SlopeShape::Rectangle {
            width: 40.0,
            height: 15.0,
        };
        let in_plan = |shape: &SlopeShape| shape.area(six(), Taken::InPlan).unwrap();
        let hip = 2.0 * (in_plan(&hip_end).slope + in_plan(&hip_side).slope);
        assert!((hip - 1341.641).abs() < 5e-4, "{hip}");
        assert!((squares(hip) - 13.416).abs() < 5e-4);
        assert!((2.0 * in_plan(&gable_side).slope - hip).abs() < 1e-9);
        assert_eq!(in_plan(&hip_end).plan, 225.0);
    }

    #[test]
    fn the_tape_on_the_slope_gives_the_plan_back() {
        let corners = vec![
            [0.0, 0.0],
            [0.0, 20.0],
            [12.0, 20.0],
            [12.0, 8.0],
            [4.0, 0.0],
        ];
        let shape = SlopeShape::Polygon(corners);
        // 12 x 20 less a triangle of 8 x 8.
        let on_slope = shape.area(six(), Taken::OnSlope).unwrap();
        assert!((on_slope.slope - 208.0).abs() < 1e-9);
        assert!((on_slope.plan - 208.0 / 1.25_f64.sqrt()).abs() < 1e-9);
    }

    #[test]
    fn dimensions_that_no_slope_has_are_refused() {
        for wrong in [-1.0, f64::NAN, f64::INFINITY, ROOF_EXTENT_FT * 1.01] {
            let shape = SlopeShape::Rectangle {
                width: 10.0,
                height: wrong,
            };
            let error = shape.area(six(), Taken::InPlan).unwrap_err();
            assert!(error.to_string().contains("write feet"), "{error}");
        }
        let bow_tie = vec![[0.0, 0.0], [10.0, 10.0], [10.0, 0.0], [0.0, 10.0]];
        let error = SlopeShape::Polygon(bow_tie).area(six(), Taken::InPlan);
        assert_eq!(error, Err(DimensionError::Crossing(1, 3)));
        for count in [2, ROOF_POINTS + 1] {
            let corners = vec![[0.0, 0.0]; count];
            let error = SlopeShape::Polygon(corners).area(six(), Taken::InPlan);
            assert_eq!(error, Err(DimensionError::Corners(count)));
        }
    }
}

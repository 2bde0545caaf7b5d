//! What a roof is worked out from: the outline of the walls and what stands on each side.

use serde::{Deserialize, Serialize};

use super::PlanError;
use crate::limits::PLAN_BYTES;

/// The outline of a house and its sides. The module's page describes the JSON.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RoofPlan {
    /// Corners of the walls in order, either way round, feet.
    pub points: Vec<[f64; 2]>,
    /// Pitch of a side that gives none, inches of rise in 12.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pitch: Option<f64>,
    /// Overhang of a side that gives none, feet square to the wall in plan; 0 where left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub overhang: Option<f64>,
    /// Sides in order: the first runs from the first corner to the second. Empty, or one for each
    /// corner.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sides: Vec<PlanSide>,
    /// Bearing of the plan's +y axis, degrees clockwise from north.
    #[serde(default)]
    pub north: f64,
    /// Courtyards. A roof round one cannot be worked out; they are read so that it can be said.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub holes: Vec<Vec<[f64; 2]>>,
}

/// What stands on one side of the outline.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct PlanSide {
    /// Inches of rise in 12 of the slope that rises from this side; a gable has none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pitch: Option<f64>,
    /// Hip where left out.
    pub form: SideForm,
    /// Overhang, feet square to the wall in plan.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub overhang: Option<f64>,
}

/// What a side carries.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SideForm {
    /// An eave, with a slope that rises from it.
    #[default]
    Hip,
    /// A wall that goes up to the roof, with rakes along it.
    Gable,
}

impl RoofPlan {
    /// Reads the JSON of a plan.
    ///
    /// # Errors
    /// Where the text is longer than [`PLAN_BYTES`] or is not a plan; the text says where.
    pub fn read(json: &str) -> Result<Self, PlanError> {
        if json.len() > PLAN_BYTES {
            return Err(PlanError::TooLong(json.len()));
        }
        serde_json::from_str(json).map_err(|error| PlanError::Unread(error.to_string()))
    }
}

//! The ratio of wind to fall speed, turned into mph by a named fall-speed model.

use serde::Serialize;

use crate::trade::hail::{FallModel, fall};

/// The stones that made the hits.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Stone {
    /// Diameter, inches.
    pub inches: f64,
    /// Where that is known from, in words.
    pub source: String,
}

/// A wind speed by one fall-speed model.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct WindSpeed {
    /// The model.
    pub model: FallModel,
    /// Its fall speed, mph.
    pub fall_mph: f64,
    /// The wind, mph.
    pub mph: f64,
    /// Lower end at the level of the fit.
    pub low: f64,
    /// Upper end; `None` where the counts set none.
    pub high: Option<f64>,
}

/// The speeds by both models; none for a stone that no model covers.
pub(super) fn speeds(
    stone: Option<&Stone>,
    ratio: f64,
    low: f64,
    high: Option<f64>,
) -> Vec<WindSpeed> {
    let Some(stone) = stone else {
        return Vec::new();
    };
    let by = |model: &FallModel| {
        let fall_mph = fall(stone.inches, *model).ok()?.mph;
        Some(WindSpeed {
            model: *model,
            fall_mph,
            mph: ratio * fall_mph,
            low: low * fall_mph,
            high: high.map(|high| high * fall_mph),
        })
    };
    FallModel::ALL.iter().filter_map(by).collect()
}

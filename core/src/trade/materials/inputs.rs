//! What the quantities are worked out from.

use std::collections::{BTreeMap, BTreeSet};

use super::{CoverageKey, Entered};
use crate::job::{EdgeKind, ValleyLining};
use crate::limits;

/// A roof as far as it is known. Areas in square feet along the slope, lengths in feet, small
/// lengths in inches.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MaterialInputs {
    /// The slopes; empty where none is known.
    pub slopes: Vec<RoofArea>,
    /// The edges that are known.
    pub edges: Vec<RoofEdge>,
    /// Kinds of edge that this roof has none of. A kind that is neither here nor among the edges
    /// is not known.
    pub none_of: BTreeSet<EdgeKind>,
    /// The waste that the estimator states, for shingles and underlayment.
    pub waste: Option<Waste>,
    /// Coverages entered in place of the defaults.
    pub coverages: BTreeMap<CoverageKey, Entered>,
    /// The code and edition in force, as a person wrote it.
    pub code_edition: Option<String>,
    /// The local authority designates the area for an ice barrier.
    pub ice_barrier_designated: Option<bool>,
    /// Starter runs up the rakes as well.
    pub starter_at_rakes: Option<bool>,
    /// A gutter apron is wanted along the eaves.
    pub gutter_apron: Option<bool>,
    /// Six fasteners a shingle for high wind in place of four.
    pub high_wind: Option<bool>,
    /// How the valleys will be lined.
    pub valley_lining: Option<ValleyLining>,
    /// Exposure of the shingles, inches.
    pub exposure_in: Option<f64>,
    /// Pipe boots counted.
    pub pipe_boots: Option<u32>,
    /// Box vents counted.
    pub box_vents: Option<u32>,
    /// Turbine vents counted.
    pub turbine_vents: Option<u32>,
    /// Power vents counted.
    pub power_vents: Option<u32>,
    /// Ridge vent, feet.
    pub ridge_vent_ft: Option<f64>,
    /// Net free vent area that the code asks for, square inches, with the section that asks.
    pub vent_area_asked: Option<(f64, String)>,
}

/// One slope.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RoofArea {
    /// Its name.
    pub name: String,
    /// Area along the slope, square feet.
    pub area_sq_ft: Option<f64>,
    /// Rise in twelve.
    pub rise: Option<f64>,
    /// From the wall's outer face to the roof's lowest edge on the flat, inches.
    pub overhang_in: Option<f64>,
    /// Thickness of the outside wall, inches.
    pub wall_in: Option<f64>,
}

/// One edge.
#[derive(Clone, Debug, PartialEq)]
pub struct RoofEdge {
    /// What kind of edge.
    pub kind: EdgeKind,
    /// Its name.
    pub name: String,
    /// Its length, feet; for hips, valleys and sidewalls along the slope.
    pub length_ft: Option<f64>,
    /// The slope it belongs to, as a number in the list of slopes from 0.
    pub slope: Option<usize>,
}

/// A waste that somebody states.
#[derive(Clone, Debug, PartialEq)]
pub struct Waste {
    /// Its name, such as "hip roof, cut by hand".
    pub name: String,
    /// Percent on top of the measured area.
    pub percent: f64,
}

/// A number that cannot be what it says.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum MaterialError {
    /// Negative, no number, or beyond any roof.
    #[error("{what} is {value}: give a number from 0 to {most}, or leave it empty")]
    Measure {
        /// What it should be.
        what: String,
        /// What was given.
        value: f64,
        /// The largest that is taken.
        most: f64,
    },
    /// A coverage that covers nothing.
    #[error("{what} is {value}: give what one unit covers, above 0 and at most {most}")]
    Coverage {
        /// What it should be.
        what: &'static str,
        /// What was given.
        value: f64,
        /// The largest that is taken.
        most: f64,
    },
}

impl MaterialInputs {
    /// The area, pitch and edges of a slope by number.
    pub(super) fn slope(&self, index: Option<usize>) -> Option<&RoofArea> {
        self.slopes.get(index?)
    }

    pub(super) fn check(&self) -> Result<(), MaterialError> {
        let most = limits::ROOF_MEASURE;
        for slope in &self.slopes {
            let name = &slope.name;
            measure(&format!("the area of {name}"), slope.area_sq_ft, most)?;
            measure(&format!("the pitch of {name}"), slope.rise, 40.0)?;
            measure(&format!("the overhang of {name}"), slope.overhang_in, most)?;
            measure(&format!("the wall below {name}"), slope.wall_in, most)?;
        }
        for edge in &self.edges {
            measure(
                &format!("the length of {}", edge.name),
                edge.length_ft,
                most,
            )?;
        }
        measure("the length of the ridge vent", self.ridge_vent_ft, most)?;
        let asked = self.vent_area_asked.as_ref().map(|(area, _)| *area);
        measure("the vent area", asked, most * 144.0)?;
        if let Some(waste) = &self.waste {
            let what = format!("the waste \"{}\" in percent", waste.name);
            measure(&what, Some(waste.percent), limits::WASTE_PERCENT)?;
        }
        if let Some(exposure) = self.exposure_in {
            covers("the exposure in inches", exposure)?;
        }
        for (key, entered) in &self.coverages {
            covers(key.label(), entered.value)?;
        }
        let width = self.coverages.get(&CoverageKey::IceBarrierWidth);
        let lap = self.coverages.get(&CoverageKey::IceBarrierLap);
        let width = width.map_or(CoverageKey::IceBarrierWidth.default_value(), |e| e.value);
        let lap = lap.map_or(CoverageKey::IceBarrierLap.default_value(), |e| e.value);
        if lap >= width {
            return Err(MaterialError::Coverage {
                what: CoverageKey::IceBarrierLap.label(),
                value: lap,
                most: width,
            });
        }
        Ok(())
    }
}

fn measure(what: &str, value: Option<f64>, most: f64) -> Result<(), MaterialError> {
    match value {
        Some(value) if !(0.0..=most).contains(&value) => Err(MaterialError::Measure {
            what: what.to_owned(),
            value,
            most,
        }),
        _ => Ok(()),
    }
}

fn covers(what: &'static str, value: f64) -> Result<(), MaterialError> {
    let most = limits::ROOF_MEASURE;
    if value >= limits::LEAST_COVERAGE && value <= most {
        Ok(())
    } else {
        Err(MaterialError::Coverage { what, value, most })
    }
}

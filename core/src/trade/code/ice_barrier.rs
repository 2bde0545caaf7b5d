//! How far up a slope an ice barrier reaches.

use serde::Serialize;

use super::{CodeRule, Edition, Provision, provision};

/// What an edition asks of an ice barrier.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct IceRule {
    /// Inches beyond the inner side of the wall, on the flat.
    pub inside_wall_in: f64,
    /// Inches along the slope that steep slopes need at least, and the rise in twelve from which
    /// they do; `None` in editions without that clause.
    pub steep: Option<(f64, f64)>,
}

impl IceRule {
    /// What an edition asks.
    pub fn in_edition(edition: Edition) -> Option<Self> {
        provision(CodeRule::IceBarrier, edition).and_then(Self::of)
    }

    pub(super) fn of(provision: &Provision) -> Option<Self> {
        let least = provision.figure("least length on steep slopes");
        Some(Self {
            inside_wall_in: provision.figure("inside the wall line")?,
            steep: least.zip(provision.figure("steep from rise")),
        })
    }
}

/// The reach of an ice barrier.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct IceBarrier {
    /// From the roof's lowest edge to its end, on the flat, inches.
    pub on_the_flat_in: f64,
    /// The same along the slope, inches.
    pub from_wall_line_in: f64,
    /// What is asked along the slope, inches: the same, or the least length of steep slopes.
    pub along_slope_in: f64,
}

/// The reach of an ice barrier: (overhang + wall thickness + inches inside the wall) x slope
/// factor, the factor being sqrt(1 + (rise/12)^2) (plane geometry). Overhang and wall thickness in
/// inches, from 0; rise in twelve, from 0. `None` where one of them is negative or no number.
///
/// The wall line is taken as the outer face of the wall plus its thickness, the longer of the two
/// readings of "inside the exterior wall line".
pub fn ice_barrier(rule: IceRule, overhang_in: f64, wall_in: f64, rise: f64) -> Option<IceBarrier> {
    let good = |value: f64| value.is_finite() && value >= 0.0;
    if !good(overhang_in) || !good(wall_in) || !good(rise) {
        return None;
    }
    let on_the_flat_in = overhang_in + wall_in + rule.inside_wall_in;
    let from_wall_line_in = on_the_flat_in * (1.0 + (rise / 12.0).powi(2)).sqrt();
    let least = match rule.steep {
        Some((least, from_rise)) if rise >= from_rise => least,
        _ => 0.0,
    };
    let barrier = IceBarrier {
        on_the_flat_in,
        from_wall_line_in,
        along_slope_in: from_wall_line_in.max(least),
    };
    from_wall_line_in.is_finite().then_some(barrier)
}

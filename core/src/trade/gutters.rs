//! Gutters and downspouts: sizing help by named rules of thumb.
//!
//! Two rules are given beside each other because they disagree: a table that the trade uses, and
//! Manning's formula for a gutter that runs full. Neither is a design: the local plumbing code and
//! the maker's figures come first.

use std::f64::consts::PI;

use serde::Serialize;

use crate::job::{Area, Pitch};

/// Stands beside every size.
pub const SIZING_HELP: &str = "Sizing help only: the local plumbing code, the rainfall it sets \
and the maker's figures come first.";
/// Square feet on which one inch of rain an hour makes one gallon a minute: 60 minutes of 231
/// cubic inches over 144 square inches of one inch an hour.
pub const SQUARE_FEET_PER_GPM: f64 = 96.25;

/// An input that sizing cannot work with; the text says what to do.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum GutterError {
    /// The plan area is none.
    #[error("the plan area that drains to a gutter lies from 1 to 1,000,000 sq ft")]
    Area,
    /// The rainfall is none.
    #[error("rainfall lies from 0.1 to 30 inches an hour: take the figure the local code sets")]
    Rain,
    /// The slope of the gutter is none.
    #[error("the fall of a gutter lies from 1/100 to 12 inches a foot")]
    Fall,
    /// Manning's n is none.
    #[error("Manning's n lies from 0.005 to 0.1: smooth metal has about 0.012")]
    Roughness,
    /// The section is none.
    #[error("the widths and depth of a gutter lie from 0.5 to 48 inches")]
    Section,
}

/// What drains to one gutter.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Demand {
    /// Plan area, sq ft.
    pub plan_square_feet: f64,
    /// Factor for windblown rain on a pitched roof.
    pub pitch_factor: f64,
    /// Rain, inches an hour.
    pub inches_an_hour: f64,
    /// Plan area times pitch factor times rain, sq ft at 1 in an hour.
    pub adjusted_square_feet: f64,
    /// The same as a flow, US gallons a minute.
    pub gallons_a_minute: f64,
}

/// Factors by pitch: from which rise on, and the factor (home-improvement reference tables). A
/// pitch between two rows takes the larger factor.
const PITCH_FACTORS: &[(f64, f64)] = &[(3.0, 1.0), (5.0, 1.05), (8.0, 1.1), (11.0, 1.2)];
const STEEPEST_FACTOR: f64 = 1.3;

/// The factor for windblown rain on a pitched roof.
pub fn pitch_factor(pitch: Pitch) -> f64 {
    PITCH_FACTORS
        .iter()
        .find(|(up_to, _)| pitch.rise() <= *up_to)
        .map_or(STEEPEST_FACTOR, |(_, factor)| *factor)
}

/// What a plan area at a pitch sends down in a rain of so many inches an hour.
pub fn demand(plan: Area, pitch: Pitch, inches_an_hour: f64) -> Result<Demand, GutterError> {
    let plan_square_feet = plan.to_square_feet();
    if !(1.0..=1e6).contains(&plan_square_feet) {
        return Err(GutterError::Area);
    }
    if !(0.1..=30.0).contains(&inches_an_hour) {
        return Err(GutterError::Rain);
    }
    let pitch_factor = pitch_factor(pitch);
    let adjusted_square_feet = plan_square_feet * pitch_factor * inches_an_hour;
    Ok(Demand {
        plan_square_feet,
        pitch_factor,
        inches_an_hour,
        adjusted_square_feet,
        gallons_a_minute: adjusted_square_feet / SQUARE_FEET_PER_GPM,
    })
}

/// The form of a gutter.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Profile {
    /// Flat back and bottom, curved front.
    KStyle,
    /// Half a pipe.
    HalfRound,
}

impl Profile {
    /// The words that people read.
    pub const fn label(self) -> &'static str {
        match self {
            Profile::KStyle => "K-style",
            Profile::HalfRound => "half-round",
        }
    }
}

/// One row of the table of capacities.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TableRow {
    /// The form.
    pub profile: Profile,
    /// Width at the top, inches.
    pub inches: u32,
    /// Adjusted area it takes, sq ft at 1 in an hour.
    pub square_feet: f64,
}

/// The rule behind [`TABLE`].
pub const TABLE_RULE: &str = "table of home-improvement references; its rows equal those of the \
plumbing code for semicircular gutters at 1/16 in a foot (the code from memory)";

const fn row(profile: Profile, inches: u32, square_feet: f64) -> TableRow {
    TableRow {
        profile,
        inches,
        square_feet,
    }
}

/// Capacities by form and width, from small to large within a form.
pub const TABLE: &[TableRow] = &[
    row(Profile::KStyle, 5, 5520.0),
    row(Profile::KStyle, 6, 7960.0),
    row(Profile::HalfRound, 5, 2500.0),
    row(Profile::HalfRound, 6, 3840.0),
];

/// What the table says of a demand.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Sizing {
    /// The smallest row that takes it; `None` where no row does.
    pub row: Option<TableRow>,
    /// The rule, by name.
    pub rule: &'static str,
    /// The answer in words.
    pub words: String,
}

/// The smallest gutter of a form that takes a demand, by the table.
pub fn size_by_table(demand: &Demand, profile: Profile) -> Sizing {
    let adjusted = demand.adjusted_square_feet;
    let mut rows = TABLE.iter().filter(|row| row.profile == profile);
    let row = rows.find(|row| row.square_feet >= adjusted).copied();
    let words = match row {
        Some(row) => format!(
            "Adjusted area {adjusted:.0} sq ft: {} in {} (up to {:.0} sq ft). {SIZING_HELP}",
            row.inches,
            profile.label(),
            row.square_feet
        ),
        None => format!(
            "Adjusted area {adjusted:.0} sq ft: more than any {} of the table takes; divide the \
             run or ask for a design. {SIZING_HELP}",
            profile.label()
        ),
    };
    Sizing {
        row,
        rule: TABLE_RULE,
        words,
    }
}

/// The section of a gutter, measured inside, inches.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Section {
    /// Half a circle of this diameter.
    HalfRound {
        /// Width at the top.
        diameter: f64,
    },
    /// Flat bottom and straight sides that lean by the same amount: close to a K-style gutter.
    Trapezoid {
        /// Width at the top.
        top: f64,
        /// Width at the bottom.
        bottom: f64,
        /// Depth.
        depth: f64,
    },
}

impl Section {
    /// Area in square inches and wetted edge in inches, running full.
    fn full(self) -> Option<(f64, f64)> {
        let good = |side: f64| (0.5..=48.0).contains(&side);
        match self {
            Section::HalfRound { diameter } if good(diameter) => {
                Some((PI * diameter * diameter / 8.0, PI * diameter / 2.0))
            }
            Section::Trapezoid { top, bottom, depth }
                if good(top) && good(bottom) && good(depth) =>
            {
                let side = depth.hypot((top - bottom) / 2.0);
                Some(((top + bottom) / 2.0 * depth, bottom + 2.0 * side))
            }
            _ => None,
        }
    }
}

/// What a gutter carries when it runs full.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Capacity {
    /// US gallons a minute.
    pub gallons_a_minute: f64,
    /// The same as an adjusted area, sq ft at 1 in an hour.
    pub square_feet: f64,
    /// Fall, inches a foot, as handed in.
    pub fall: f64,
    /// Manning's n, as handed in.
    pub roughness: f64,
    /// The rule, by name.
    pub rule: &'static str,
}

/// The rule behind [`manning`].
pub const MANNING_RULE: &str = "Manning's formula, uniform flow, gutter running full";
/// Manning's n of smooth metal (handbooks of hydraulics give 0.011 to 0.013; from memory).
pub const SMOOTH_METAL: f64 = 0.012;

/// What a gutter of a section carries at a fall in inches a foot, by Manning's formula with a
/// roughness n: V = 1.486 / n · R^(2/3) · S^(1/2) in feet and seconds (handbooks of hydraulics).
/// At the same fall it gives more than the table does, about twice: rain enters a gutter all along
/// its run and flows past corners and leaves, which the formula leaves out. The table is the
/// cautious one of the two.
pub fn manning(section: Section, fall: f64, roughness: f64) -> Result<Capacity, GutterError> {
    if !(0.01..=12.0).contains(&fall) {
        return Err(GutterError::Fall);
    }
    if !(0.005..=0.1).contains(&roughness) {
        return Err(GutterError::Roughness);
    }
    let (area, wetted) = section.full().ok_or(GutterError::Section)?;
    let (area, radius) = (area / 144.0, area / wetted / 12.0);
    // The cube root of the feet in a metre, because the formula is a metric one.
    let feet_a_second =
        (1.0 / 0.3048_f64).cbrt() / roughness * radius.powf(2.0 / 3.0) * (fall / 12.0).sqrt();
    let gallons_a_minute = feet_a_second * area * 1728.0 / 231.0 * 60.0;
    Ok(Capacity {
        gallons_a_minute,
        square_feet: gallons_a_minute * SQUARE_FEET_PER_GPM,
        fall,
        roughness,
        rule: MANNING_RULE,
    })
}

/// A downspout of the table.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Downspout {
    /// Its name.
    pub name: &'static str,
    /// Section, square inches.
    pub square_inches: f64,
    /// Adjusted area it takes, sq ft at 1 in an hour.
    pub square_feet: f64,
}

/// The rule behind [`DOWNSPOUTS`].
pub const DOWNSPOUT_RULE: &str = "Uniform Plumbing Code 2000, table of roof drains, leaders and \
vertical rainwater piping (7/24 full); a rectangular leader counts as the largest round one whose \
section it holds, its sides at most 3 to 1";

/// Downspouts by the plumbing code's table of vertical leaders.
pub const DOWNSPOUTS: &[Downspout] = &[
    Downspout {
        name: "2 in round",
        square_inches: PI,
        square_feet: 2176.0,
    },
    Downspout {
        name: "2x3 in",
        square_inches: 6.0,
        square_feet: 2176.0,
    },
    Downspout {
        name: "3 in round",
        square_inches: 7.07,
        square_feet: 6440.0,
    },
    Downspout {
        name: "3x4 in",
        square_inches: 12.0,
        square_feet: 6440.0,
    },
    Downspout {
        name: "4 in round",
        square_inches: 12.57,
        square_feet: 13840.0,
    },
];

/// How many downspouts of a kind a demand asks for, at least one.
pub fn downspouts(demand: &Demand, kind: &Downspout) -> u32 {
    (demand.adjusted_square_feet / kind.square_feet)
        .ceil()
        .max(1.0) as u32
}

#[cfg(test)]
#[path = "gutters_tests.rs"]
mod tests;

//! One storm report.

use serde::Serialize;

use crate::job::Millis;
use crate::trade::geo::Position;

/// Miles an hour in a knot: 1852 m over 1609.344 m, exactly.
const MPH_PER_KNOT: f64 = 1852.0 / 1609.344;

/// What a report tells of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ReportKind {
    /// Hail.
    Hail,
    /// A gust, or damage by wind.
    Wind,
    /// A tornado.
    Tornado,
}

impl ReportKind {
    /// All of them.
    pub const ALL: [ReportKind; 3] = [ReportKind::Hail, ReportKind::Wind, ReportKind::Tornado];

    /// The word that people read.
    pub const fn label(self) -> &'static str {
        match self {
            ReportKind::Hail => "hail",
            ReportKind::Wind => "wind",
            ReportKind::Tornado => "tornado",
        }
    }
}

/// The unit of a wind speed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum WindUnit {
    /// Statute miles an hour.
    MilesPerHour,
    /// Nautical miles an hour.
    Knots,
}

impl WindUnit {
    /// As people write it.
    pub const fn label(self) -> &'static str {
        match self {
            WindUnit::MilesPerHour => "mph",
            WindUnit::Knots => "kt",
        }
    }
}

/// How a wind speed came about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Measured {
    /// By an instrument.
    Measured,
    /// By a person's judgement.
    Estimated,
    /// The file does not say.
    NotStated,
}

/// What a wind speed is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum WindKind {
    /// A gust.
    Gust,
    /// The sustained wind.
    Sustained,
    /// The file does not say.
    NotStated,
}

/// A wind speed as it was reported.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Wind {
    /// The number in the file.
    pub speed: f64,
    /// Its unit.
    pub unit: WindUnit,
    /// The file does not state the unit; the reader was told it.
    pub unit_assumed: bool,
    /// Instrument or judgement.
    pub measured: Measured,
    /// Gust or sustained.
    pub of: WindKind,
}

impl Wind {
    /// The speed in statute miles an hour.
    pub fn mph(&self) -> f64 {
        match self.unit {
            WindUnit::MilesPerHour => self.speed,
            WindUnit::Knots => self.speed * MPH_PER_KNOT,
        }
    }

    /// The speed in knots.
    pub fn knots(&self) -> f64 {
        match self.unit {
            WindUnit::MilesPerHour => self.speed / MPH_PER_KNOT,
            WindUnit::Knots => self.speed,
        }
    }
}

/// One row of a file of storm reports.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Report {
    /// What it tells of.
    pub kind: ReportKind,
    /// When it began, milliseconds since 1970 UTC.
    pub at: Millis,
    /// Where.
    pub position: Position,
    /// Largest stone, inches; `None` where the file gives none.
    pub hail_in: Option<f64>,
    /// The wind; `None` where the file gives no speed.
    pub wind: Option<Wind>,
    /// The tornado's scale as written, such as `EF1`; empty where the file gives none.
    pub scale: String,
    /// The place in the reporter's words, such as "4 SW Tessel Ford, Tessel, TX".
    pub place: String,
    /// What the reporter wrote.
    pub remarks: String,
    /// Line of the file on which the row begins, 1 for the first.
    pub line: u64,
}

impl Report {
    /// Size, speed or scale as people write it: `1.50 in`, `60 mph`, `52 kt (60 mph)`, `EF1`;
    /// "no size" and the like where the file gives none.
    pub fn strength(&self) -> String {
        match self.kind {
            ReportKind::Hail => match self.hail_in {
                Some(inches) => format!("{inches:.2} in"),
                None => "no size".to_owned(),
            },
            ReportKind::Wind => match &self.wind {
                Some(wind) if wind.unit == WindUnit::Knots => {
                    format!("{:.0} kt ({:.0} mph)", wind.speed, wind.mph())
                }
                Some(wind) => format!("{:.0} mph", wind.speed),
                None => "no speed".to_owned(),
            },
            ReportKind::Tornado if self.scale.is_empty() => "no scale".to_owned(),
            ReportKind::Tornado => self.scale.clone(),
        }
    }
}

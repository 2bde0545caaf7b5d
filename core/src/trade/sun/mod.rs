//! Where the sun stands, how its light meets a wall or slope, and when it grazes it.
//!
//! Light that grazes a surface brings out shallow dents (common practice, no source). The position
//! is that of the NREL solar position algorithm (I. Reda and A. Andreas, NREL/TP-560-34302, 2008),
//! by the `solar-positioning` crate, good to 0.0003 degrees for the years this module takes. The
//! horizon is open: [`OPEN_HORIZON`] says what that leaves out.

mod best;
mod day;
mod face;
mod position;
#[cfg(test)]
mod tests;

use chrono::NaiveDate;

pub use best::BestLeft;
pub use day::{DayQuery, FaceDay, Span, SunDay, Window};
pub use face::{Face, GrazingBand, Light};
pub use position::{Air, Sky, SunPosition, delta_t, sun_position};

/// Stands beside every answer about shade and light.
pub const OPEN_HORIZON: &str = "Worked out for an open horizon and a clear sky: trees, eaves, \
neighbours' houses and clouds are not in it.";

/// First and last year that is worked out.
pub const YEARS: std::ops::RangeInclusive<i32> = 1900..=2100;

/// A question about the sun that cannot be answered; the text says what to hand in.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum SunError {
    /// A time outside [`YEARS`].
    #[error("the sun is worked out for the years 1900 to 2100")]
    Year,
    /// A day outside [`YEARS`].
    #[error("{0} is outside the years 1900 to 2100 that the sun is worked out for")]
    Day(NaiveDate),
    /// An offset that no clock has.
    #[error("{0} minutes is no offset from UTC: -720 to 840")]
    Offset(i32),
    /// A height above the sea that no house has.
    #[error("the height above the sea runs from -450 to 9000 m")]
    Elevation,
    /// Air that is not on earth.
    #[error("the air pressure runs from 300 to 1100 hPa and its temperature from -90 to 60 C")]
    Air,
    /// A difference of clocks that these years do not have.
    #[error("delta T runs from -10 to 300 seconds in the years 1900 to 2100")]
    DeltaT,
    /// A band of incidence that is not grazing.
    #[error("the grazing band begins between 45 and 89 degrees of incidence")]
    Band,
    /// A least height of the sun that leaves no day.
    #[error("the least height of the sun runs from 0 to 60 degrees")]
    MinimumAltitude,
    /// A bearing or tilt that is none.
    #[error("a face needs a bearing in degrees and a tilt from 0 (flat) to 90 (a wall)")]
    Face,
    /// More walls and slopes than a house has.
    #[error(
        "at most {} walls and slopes are worked out at once",
        crate::limits::SUN_FACES
    )]
    TooManyFaces,
}

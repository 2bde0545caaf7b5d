//! Measures and storm reports.

use chalkwalk_core::job::{MeasureMethod, MeasuredThing, StormKind};

/// What is measured.
#[uniffi::remote(Enum)]
pub enum MeasuredThing {
    /// Pitch.
    Pitch,
    /// Gutter width.
    GutterWidth,
    /// Shingle exposure.
    ShingleExposure,
    /// Overhang.
    Overhang,
    /// Wall thickness.
    WallThickness,
    /// Length.
    Length,
    /// Height.
    Height,
}

/// How a measure was taken.
#[uniffi::remote(Enum)]
pub enum MeasureMethod {
    /// Pitch gauge.
    Gauge,
    /// Tape.
    Tape,
    /// Phone inclinometer.
    Phone,
    /// Counted courses.
    Counted,
    /// Estimated.
    Estimated,
    /// Measurement report.
    Report,
}

/// What a storm report tells of.
#[uniffi::remote(Enum)]
pub enum StormKind {
    /// Hail.
    Hail,
    /// Wind.
    Wind,
}

//! Computations of the trade, with no state: roof, materials, code, gutters, hail, wind, sun,
//! safety, statistics.
//!
//! Pure functions on plain types. Nothing here knows a job, a file, a clock or a person. Every
//! figure states its unit, its range and its source; sizes are rules of thumb and standards, never
//! a verdict on a roof and never on what an insurer covers or owes. Local codes, the
//! manufacturer's instructions and licensed practice come first.

pub mod code;
pub mod geo;
pub mod gutters;
pub mod hail;
pub mod materials;
pub mod pattern;
pub mod roof;
pub mod safety;
mod source;
pub mod stats;
pub mod storm;
pub mod sun;
pub mod wind;
#[cfg(feature = "zones")]
pub mod zone;

pub use source::Source;

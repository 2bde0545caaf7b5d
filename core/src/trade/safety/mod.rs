//! Safety on ladder and roof: figures with the section they rest on, and the usual caution.
//!
//! Nothing here says that a climb is safe. [`DEFERENCE`] stands above every answer: training, local
//! rules, the manufacturer and the company come first. Section numbers are of title 29 of the US
//! Code of Federal Regulations, parts 1910 and 1926; those marked so are from memory.

mod falls;
mod heat;
mod ladder;
mod lines;
mod weather;

use serde::Serialize;

use super::Source;

pub use falls::{FallAnswer, FallNeed, RoofActivity, fall_protection};
pub use heat::{HeatAnswer, HeatBand, heat, heat_index_f};
pub use ladder::{DUTY_RATINGS, DutyAnswer, DutyRating, LadderSetUp, duty_rating, ladder};
pub use lines::{LineClearance, line_clearance};
pub use weather::{ThunderAnswer, WindAnswer, thunder, wind};

/// Stands above the cautions, always.
pub const DEFERENCE: &str = "Your training, local rules and the manufacturer come first. \
These cautions do not replace them, and nobody has to climb: what cannot be reached safely is \
recorded as \"could not see\".";

/// One caution.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Caution {
    /// What to do or not to do.
    pub text: &'static str,
    /// Where it comes from.
    pub source: Source,
}

/// A question that cannot be answered; the text says what to hand in.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum SafetyError {
    /// A landing that no ladder of this trade reaches.
    #[error("the height of the landing must be over 0 and at most 60 ft")]
    Landing,
    /// No load.
    #[error("the load must be over 0 and at most 2000 lb: person, clothes, tools and material")]
    Load,
    /// A height that is none.
    #[error("the height above the lower level must be 0 or more")]
    Height,
    /// A voltage that no line has.
    #[error("the voltage must be over 0 and at most 1500 kV; ask the utility")]
    Voltage,
    /// Air that nobody works in.
    #[error("the temperature must be from -60 to 150 F")]
    Temperature,
    /// A humidity that is none.
    #[error("the relative humidity must be from 0 to 100 percent")]
    Humidity,
    /// A wind that is none.
    #[error("wind and limit must be 0 or more, miles an hour")]
    Wind,
    /// Thunder after now.
    #[error("the last thunder lies after now; check the time")]
    Thunder,
}

const fn osha(section: &'static str) -> Source {
    Source::Standard {
        name: "29 CFR",
        edition: "US construction rules as codified",
        section,
    }
}

//! What the check must know and the document does not say.

use std::collections::BTreeMap;

use crate::job::{Millis, RecordId};

/// What the check must know and the document does not say. What is left empty is not judged.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Facts {
    /// Milliseconds since 1970 UTC, by the clock of the device that checks.
    pub now: Millis,
    /// What is known of each photo, by its record.
    pub photos: BTreeMap<RecordId, PhotoFacts>,
}

/// What is known of one photo outside the document.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PhotoFacts {
    /// The original is whole on this device.
    pub here: Option<bool>,
    /// The office said that it holds the original durably.
    pub at_office: Option<bool>,
    /// Metres between the place in the file and the house, from 0.
    pub distance_m: Option<f64>,
    /// A weakness that shows when it is compared with photos of the same place.
    pub weakness: Option<Weakness>,
}

/// Why a photo may be of no use.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weakness {
    /// Less sharp than the others of the place.
    Blurred,
    /// Too dark to read.
    Dark,
}

impl Weakness {
    /// The word that people read.
    pub const fn label(self) -> &'static str {
        match self {
            Weakness::Blurred => "blurred",
            Weakness::Dark => "dark",
        }
    }
}

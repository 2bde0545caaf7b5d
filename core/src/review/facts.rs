//! What the check must know and the document does not say.

use std::collections::BTreeMap;

use crate::job::{Capture, Job, Millis, RecordId};
use crate::photo::{is_dark, likely_blurred};

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

/// Blurred photos against their sisters of the same place and role, and dark ones.
pub fn weaknesses(
    job: &Job,
    captures: &BTreeMap<RecordId, Capture>,
) -> BTreeMap<RecordId, Weakness> {
    let mut groups: BTreeMap<_, Vec<&RecordId>> = BTreeMap::new();
    for (id, photo) in job
        .records
        .photos
        .iter()
        .filter(|(_, photo)| photo.stands())
    {
        groups
            .entry((photo.place.clone(), photo.role))
            .or_default()
            .push(id);
    }
    let mut weak = BTreeMap::new();
    for ids in groups.values() {
        let known: Vec<(&RecordId, &Capture)> = ids
            .iter()
            .filter_map(|id| Some((*id, captures.get(*id)?)))
            .collect();
        let sisters: Vec<&Capture> = known.iter().map(|(_, capture)| *capture).collect();
        for blurred in likely_blurred(&sisters) {
            if let Some((id, _)) = known.get(blurred.index) {
                weak.insert((*id).clone(), Weakness::Blurred);
            }
        }
        for (id, _) in known.iter().filter(|(_, capture)| is_dark(capture)) {
            weak.insert((*id).clone(), Weakness::Dark);
        }
    }
    weak
}

//! What the check must know and the document does not say.

use std::collections::BTreeMap;

use super::view::capture_of;
use crate::job::{Capture, Job, Millis, RecordId};
use crate::photo::{is_dark, likely_blurred};
use crate::sorted::Keyed;
use crate::trade::geo::Position;

/// What the check must know and the document does not say. What is left empty is not judged.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Facts {
    /// Milliseconds since 1970 UTC, by the clock of the device that checks.
    pub now: Millis,
    /// What is known of each photo, by its record.
    pub photos: BTreeMap<RecordId, PhotoFacts>,
}

impl Facts {
    /// What the record itself tells of its photos: how far from the house each was taken, and
    /// which are weak beside others of the same place. Where the files are is left open.
    pub fn of_record(job: &Job, now: Millis) -> Self {
        let captures: BTreeMap<RecordId, Capture> = job
            .records
            .photos
            .iter()
            .filter_map(|(id, photo)| Some((id.clone(), capture_of(photo)?)))
            .keyed();
        let weak = weaknesses(job, &captures);
        let photos = captures.iter().map(|(id, capture)| {
            let facts = PhotoFacts {
                distance_m: distance_from_house(job, capture),
                weakness: weak.get(id).copied(),
                ..PhotoFacts::default()
            };
            (id.clone(), facts)
        });
        Self {
            now,
            photos: photos.keyed(),
        }
    }
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
fn weaknesses(job: &Job, captures: &BTreeMap<RecordId, Capture>) -> BTreeMap<RecordId, Weakness> {
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

/// Metres between a photo's place and the house, where both are known.
fn distance_from_house(job: &Job, capture: &Capture) -> Option<f64> {
    let property = job.property()?;
    let house = Position::new(property.latitude?, property.longitude?).ok()?;
    let taken = capture.place?;
    let taken = Position::new(taken.latitude, taken.longitude).ok()?;
    Some(house.way_to(taken).metres)
}

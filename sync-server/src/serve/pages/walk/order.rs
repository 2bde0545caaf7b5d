//! The steps of a walk and the stations they stand at.

use std::collections::BTreeMap;

use chalkwalk_core::job::{
    Capture, Job, Kind, Photo, PhotoRole, Place, Record, RecordId, RecordRef, Side,
};
use chalkwalk_core::photo::{photo_place, walk_order};
use chalkwalk_core::review::side_of;

use super::super::shots::capture;

/// All photos that stand, in walk order.
#[derive(Debug, Default)]
pub(in crate::serve) struct Walk {
    pub(in crate::serve) steps: Vec<Step>,
    pub(in crate::serve) stations: Vec<Station>,
    places: BTreeMap<RecordId, usize>,
    findings: BTreeMap<RecordId, Vec<usize>>,
    shown: BTreeMap<RecordRef, Vec<usize>>,
    /// By the place that the record names; `None` for those without one.
    taken: BTreeMap<Option<Place>, Vec<usize>>,
}

/// One photo of the walk.
#[derive(Debug)]
pub(in crate::serve) struct Step {
    pub(in crate::serve) id: RecordId,
    pub(in crate::serve) capture: Option<Capture>,
    /// Which of the stations.
    pub(in crate::serve) station: usize,
    pub(in crate::serve) side: Option<Side>,
    /// The findings that it shows and that stand.
    pub(in crate::serve) findings: Vec<RecordId>,
}

/// Photos of one place that follow each other.
#[derive(Debug)]
pub(in crate::serve) struct Station {
    pub(in crate::serve) name: String,
    pub(in crate::serve) first: usize,
    pub(in crate::serve) count: usize,
}

impl Walk {
    pub(in crate::serve) fn of(job: &Job) -> Self {
        let mut walk = Self::default();
        for id in walk_order(job) {
            if let Some(photo) = job.records.photos.get(&id) {
                walk.add(job, id, photo);
            }
        }
        walk
    }

    fn add(&mut self, job: &Job, id: RecordId, photo: &Record<Photo>) {
        let at = self.steps.len();
        let name = station(job, photo, at);
        match self.stations.last_mut() {
            Some(last) if last.name == name => last.count += 1,
            _ => self.stations.push(Station {
                name,
                first: at,
                count: 1,
            }),
        }
        let place = photo_place(job, photo);
        let stands = |id: &RecordId| job.records.findings.get(id).is_some_and(Record::stands);
        let findings: Vec<RecordId> = photo
            .shows
            .iter()
            .filter(|at| at.kind == Kind::Finding && stands(&at.id))
            .map(|at| at.id.clone())
            .collect();
        for finding in &findings {
            self.findings.entry(finding.clone()).or_default().push(at);
        }
        for shown in &photo.shows {
            self.shown.entry(shown.clone()).or_default().push(at);
        }
        let taken = self.taken.entry(photo.place.clone()).or_default();
        taken.push(at);
        self.places.insert(id.clone(), at);
        self.steps.push(Step {
            id,
            capture: capture(photo),
            station: self.stations.len() - 1,
            side: place.and_then(|place| side_of(job, place)),
            findings,
        });
    }

    /// Where in the walk a photo stands, from 0.
    pub(in crate::serve) fn place_of(&self, photo: &RecordId) -> Option<usize> {
        self.places.get(photo).copied()
    }

    /// The photos that show a record, in walk order.
    pub(in crate::serve) fn showing(&self, record: &RecordRef) -> Vec<RecordId> {
        self.ids(self.shown.get(record))
    }

    /// The photos taken at a place, in walk order.
    pub(in crate::serve) fn taken_at(&self, place: &Place) -> Vec<RecordId> {
        self.ids(self.taken.get(&Some(place.clone())))
    }

    /// How many photos were taken at a place, or at none.
    pub(in crate::serve) fn count_at(&self, place: Option<&Place>) -> usize {
        self.taken.get(&place.cloned()).map_or(0, Vec::len)
    }

    fn ids(&self, steps: Option<&Vec<usize>>) -> Vec<RecordId> {
        let steps = steps.into_iter().flatten();
        steps
            .filter_map(|at| Some(self.steps.get(*at)?.id.clone()))
            .collect()
    }

    /// The photos that show a finding, in walk order.
    pub(in crate::serve) fn of_finding(&self, finding: &RecordId) -> &[usize] {
        self.findings.get(finding).map_or(&[], Vec::as_slice)
    }
}

fn station(job: &Job, photo: &Record<Photo>, at: usize) -> String {
    if at == 0 && photo.role == Some(PhotoRole::Overview) {
        return "arrival".to_owned();
    }
    match photo.role {
        Some(PhotoRole::Document) => return "papers".to_owned(),
        Some(PhotoRole::Panorama) => return "from the ridge".to_owned(),
        _ => {}
    }
    photo_place(job, photo).map_or_else(
        || "without a place".to_owned(),
        |place| job.place_name(place),
    )
}

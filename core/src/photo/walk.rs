//! The order in which the photos of a job walk a stranger round the house.
//!
//! The front overview, the rooms, the elevations front, right, rear and left, other structures,
//! the eaves, the roof from the ridge slope by slope, photos without a place, papers. Within a
//! place overviews come first, then what was found from left to right, each standoff before its
//! close-ups. Common practice, no source.

use std::collections::BTreeMap;

use crate::job::{
    Finding, Job, Kind, Millis, Photo, PhotoHash, PhotoRole, Place, Record, RecordId, RecordRef,
    Side, SignedCapture,
};
use crate::sorted::{Keyed, Sorted};

/// All photos of a job that were not struck, in walk order.
pub fn walk_order(job: &Job) -> Vec<RecordId> {
    walk_order_of(job, job.records.photos.keys())
}

/// Some photos of a job in walk order, each once. Ids of struck or unknown photos are left out.
/// The order of the input does not matter.
pub fn walk_order_of<'a>(
    job: &Job,
    photos: impl IntoIterator<Item = &'a RecordId>,
) -> Vec<RecordId> {
    let photos: BTreeMap<&RecordId, Shot<'_>> = photos
        .into_iter()
        .filter_map(|id| job.records.photos.get_key_value(id))
        .filter(|(_, photo)| photo.stands())
        .map(|(id, photo)| (id, Shot::new(job, photo)))
        .keyed();
    let opening = opening_photo(&photos);
    let groups = groups(job, &photos);
    let mut keyed: Vec<(Key<'_>, &RecordId)> = photos
        .iter()
        .map(|(id, shot)| {
            let mut key = shot.key(job, id, &groups);
            if opening == Some(*id) {
                key.section = Section::Opening;
            }
            (key, *id)
        })
        .collect();
    keyed.order();
    keyed.into_iter().map(|(_, id)| id.clone()).collect()
}

/// The stations of the walk.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Section {
    Opening,
    Rooms,
    Elevations,
    Structures,
    Eaves,
    Panorama,
    Slopes,
    Unplaced,
    Papers,
}

/// What comes one after the other at one place.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Stage {
    Overview,
    /// At an eave the gutter is measured before the layers are opened.
    MeasureFirst,
    Found,
    MeasureLast,
    TestSquare,
}

/// Everything that decides the place of a photo, most important first.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Key<'a> {
    section: Section,
    rank: Rank<'a>,
    stage: Stage,
    group: Group<'a>,
    role: u8,
    from_left: u32,
    time: Millis,
    hash: Option<PhotoHash>,
}

/// The order of places of one kind: side or storey, then name, then id.
#[derive(Clone, Default, PartialEq, Eq, PartialOrd, Ord)]
struct Rank<'a> {
    number: u32,
    name: &'a str,
    id: Option<&'a RecordId>,
}

/// Photos that belong together: all of one finding, or one photo by itself.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Group<'a> {
    from_left: u32,
    first: (Millis, Option<PhotoHash>),
    id: &'a RecordId,
}

/// A photo with what is known of it.
struct Shot<'a> {
    photo: &'a Record<Photo>,
    place: Option<&'a Place>,
    findings: Vec<(&'a RecordId, &'a Record<Finding>)>,
    shows_square: bool,
    time: Millis,
    hash: Option<PhotoHash>,
}

/// Where nothing says how far from the left: behind what is known.
const UNKNOWN: u32 = u32::MAX;

impl<'a> Shot<'a> {
    fn new(job: &'a Job, photo: &'a Record<Photo>) -> Self {
        let capture = photo
            .capture
            .as_ref()
            .and_then(|bytes| SignedCapture::from_bytes(bytes).ok()?.capture().ok());
        let shown = |kind: Kind| photo.shows.iter().filter(move |at| at.kind == kind);
        let findings = shown(Kind::Finding)
            .filter_map(|at| job.records.findings.get_key_value(&at.id))
            .collect();
        Self {
            photo,
            place: photo_place(job, photo),
            findings,
            shows_square: shown(Kind::TestSquare).next().is_some(),
            time: capture
                .as_ref()
                .map_or(photo.made.at, |capture| capture.order_time()),
            hash: capture.map(|capture| capture.hash),
        }
    }

    /// The finding it is grouped with: the leftmost of those it shows.
    fn finding(&self) -> Option<&'a RecordId> {
        self.findings
            .iter()
            .min_by_key(|(id, finding)| (finding.from_left.unwrap_or(UNKNOWN), *id))
            .map(|(id, _)| *id)
    }

    fn key(
        &self,
        job: &'a Job,
        id: &'a RecordId,
        groups: &BTreeMap<&RecordId, Group<'a>>,
    ) -> Key<'a> {
        let (section, rank) = self.station(job);
        let alone = Group {
            from_left: self.photo.from_left.unwrap_or(UNKNOWN),
            first: (self.time, self.hash),
            id,
        };
        let stage = self.stage(section);
        let group = match self.finding().and_then(|finding| groups.get(finding)) {
            Some(group) if stage != Stage::Overview => group.clone(),
            _ => alone,
        };
        Key {
            section,
            rank,
            stage,
            group,
            role: role_rank(self.photo.role),
            from_left: self.photo.from_left.unwrap_or(UNKNOWN),
            time: self.time,
            hash: self.hash,
        }
    }

    fn station(&self, job: &'a Job) -> (Section, Rank<'a>) {
        match self.photo.role {
            Some(PhotoRole::Document) => return (Section::Papers, Rank::default()),
            Some(PhotoRole::Panorama) => return (Section::Panorama, Rank::default()),
            _ => {}
        }
        let Some(place) = self.place else {
            return (Section::Unplaced, Rank::default());
        };
        let records = &job.records;
        let rank = |number: Option<u32>, name: Option<&'a String>| Rank {
            number: number.unwrap_or(UNKNOWN),
            name: name.map_or("", String::as_str),
            id: Some(&place.id),
        };
        match place.kind {
            Kind::Room => {
                let room = records.rooms.get(&place.id);
                let storey = room.and_then(|room| room.storey);
                let name = room.and_then(|room| room.name.as_ref());
                (Section::Rooms, rank(storey, name))
            }
            Kind::Elevation => {
                let wall = records.elevations.get(&place.id);
                let side = wall.and_then(|wall| wall.side).map(side_rank);
                let name = wall.and_then(|wall| wall.name.as_ref());
                (Section::Elevations, rank(side, name))
            }
            Kind::Structure => {
                let structure = records.structures.get(&place.id);
                let kind = structure.and_then(|structure| structure.kind);
                let name = structure.and_then(|structure| structure.name.as_ref());
                (Section::Structures, rank(kind.map(|k| k as u32), name))
            }
            Kind::EaveOpening => {
                let eave = records.eave_openings.get(&place.id);
                let slope = eave.and_then(|eave| eave.slope.as_ref());
                let below = slope.and_then(|at| records.slopes.get(&at.id)?.side);
                let side = eave.and_then(|eave| eave.side).or(below).map(side_rank);
                (Section::Eaves, rank(side, None))
            }
            Kind::Slope => {
                let slope = records.slopes.get(&place.id);
                let side = slope.and_then(|slope| slope.side).map(side_rank);
                let name = slope.and_then(|slope| slope.name.as_ref());
                (Section::Slopes, rank(side, name))
            }
            _ => (Section::Unplaced, Rank::default()),
        }
    }

    fn stage(&self, section: Section) -> Stage {
        match self.photo.role {
            Some(PhotoRole::Overview) if !self.shows_square => Stage::Overview,
            _ if self.shows_square => Stage::TestSquare,
            Some(PhotoRole::Measurement) if section == Section::Eaves => Stage::MeasureFirst,
            Some(PhotoRole::Measurement) if self.findings.is_empty() => Stage::MeasureLast,
            _ => Stage::Found,
        }
    }
}

/// The first photo of the walk: the earliest overview of the front.
fn opening_photo<'a>(photos: &BTreeMap<&'a RecordId, Shot<'_>>) -> Option<&'a RecordId> {
    let front = RecordRef::side(Side::Front);
    photos
        .iter()
        .filter(|(_, shot)| {
            shot.photo.role == Some(PhotoRole::Overview) && shot.place == Some(&front)
        })
        .min_by_key(|(id, shot)| (shot.time, shot.hash, **id))
        .map(|(id, _)| *id)
}

/// Where each finding stands from the left and when its first photo was taken.
fn groups<'a>(
    job: &'a Job,
    photos: &BTreeMap<&'a RecordId, Shot<'a>>,
) -> BTreeMap<&'a RecordId, Group<'a>> {
    let mut groups: BTreeMap<&RecordId, Group<'_>> = BTreeMap::new();
    for shot in photos.values() {
        let Some(finding) = shot.finding() else {
            continue;
        };
        let own = shot.photo.from_left.unwrap_or(UNKNOWN);
        let group = groups.entry(finding).or_insert(Group {
            from_left: own,
            first: (shot.time, shot.hash),
            id: finding,
        });
        group.from_left = group.from_left.min(own);
        group.first = group.first.min((shot.time, shot.hash));
    }
    for (id, group) in &mut groups {
        let said = job.records.findings.get(*id).and_then(|f| f.from_left);
        if group.from_left == UNKNOWN {
            group.from_left = said.unwrap_or(UNKNOWN);
        }
    }
    groups
}

/// Where a photo was taken: its own place, else that of what it shows.
pub fn photo_place<'a>(job: &'a Job, photo: &'a Record<Photo>) -> Option<&'a Place> {
    let own = photo.place.as_ref();
    own.or_else(|| photo.shows.iter().find_map(|at| place_of(job, at)))
}

/// The place of a record that a photo shows.
fn place_of<'a>(job: &'a Job, at: &'a RecordRef) -> Option<&'a Place> {
    let records = &job.records;
    match at.kind {
        _ if at.is_place() => Some(at),
        Kind::Finding => records.findings.get(&at.id)?.place.as_ref(),
        Kind::Component => records.components.get(&at.id)?.place.as_ref(),
        Kind::Measurement => records.measurements.get(&at.id)?.place.as_ref(),
        Kind::TestSquare => records.test_squares.get(&at.id)?.slope.as_ref(),
        Kind::Edge => records.edges.get(&at.id)?.slope.as_ref(),
        _ => None,
    }
}

/// The sides in the order they are walked.
fn side_rank(side: Side) -> u32 {
    match side {
        Side::Front => 0,
        Side::Right => 1,
        Side::Rear => 2,
        Side::Left => 3,
    }
}

/// Standoff before close-ups; the rest behind.
fn role_rank(role: Option<PhotoRole>) -> u8 {
    match role {
        Some(PhotoRole::Overview) => 0,
        Some(PhotoRole::Standoff) => 1,
        Some(PhotoRole::CloseUp) => 2,
        Some(PhotoRole::Measurement) => 3,
        Some(PhotoRole::Layer) => 4,
        Some(PhotoRole::Panorama) => 5,
        Some(PhotoRole::Document) => 6,
        None => 7,
    }
}

#[cfg(test)]
#[path = "walk_tests.rs"]
mod tests;

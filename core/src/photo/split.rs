//! A camera roll cut into visits, by gaps in time and by place.

use std::collections::BTreeMap;

use super::roll::{PlacedBy, RollOptions, RollPhoto, RollVisit};
use crate::job::{CapturePlace, Millis};
use crate::sorted::Sorted;

/// The mean radius of the earth in metres. Source: IUGG, mean radius R1.
const EARTH_RADIUS_M: f64 = 6_371_008.8;
/// Accuracy taken where the camera gives none, metres. Common practice, no source.
const USUAL_ACCURACY_M: f64 = 20.0;
/// Accuracies above this do not stretch the distance any further, metres: a place that is so
/// uncertain says nothing.
const MOST_ACCURACY_M: f64 = 200.0;
/// Most numbers between two file names that still count as neighbours.
const NAME_STEPS: u64 = 20;

/// Metres between two places on the sphere, by the haversine formula.
pub fn distance_m(one: &CapturePlace, other: &CapturePlace) -> f64 {
    let (lat1, lat2) = (one.latitude.to_radians(), other.latitude.to_radians());
    let up = (lat2 - lat1) / 2.0;
    let across = (other.longitude - one.longitude).to_radians() / 2.0;
    let half = up.sin().powi(2) + lat1.cos() * lat2.cos() * across.sin().powi(2);
    2.0 * EARTH_RADIUS_M * half.sqrt().min(1.0).asin()
}

/// What is left once the photos with a time are in visits.
pub(super) struct Split {
    pub(super) visits: Vec<RollVisit>,
    pub(super) unsure: Vec<RollPhoto>,
}

/// Cuts photos into visits. Photos without a time go with their neighbours by file name.
pub(super) fn split(photos: Vec<RollPhoto>, options: &RollOptions) -> Split {
    let (mut timed, untimed): (Vec<_>, Vec<_>) =
        photos.into_iter().partition(|photo| photo.time.is_some());
    timed.order_by(|a, b| (a.time, &a.path).cmp(&(b.time, &b.path)));
    let mut open: Vec<OpenVisit> = Vec::new();
    for photo in timed {
        let time = photo.time.unwrap_or_default();
        match joins(&open, &photo, time, options) {
            Some(index) => open[index].add(photo, time),
            None => open.push(OpenVisit::new(photo, time)),
        }
    }
    let mut visits: Vec<RollVisit> = open.into_iter().map(OpenVisit::close).collect();
    let unsure = place_by_name(&mut visits, untimed);
    visits.order_by(|a, b| {
        let path = |visit: &RollVisit| visit.photos.first().map(|photo| photo.path.clone());
        (a.first, a.last, path(a)).cmp(&(b.first, b.last, path(b)))
    });
    Split { visits, unsure }
}

/// A visit that photos are still added to.
struct OpenVisit {
    photos: Vec<RollPhoto>,
    first: Millis,
    last: Millis,
    centre: Option<CapturePlace>,
    placed: f64,
}

impl OpenVisit {
    fn new(photo: RollPhoto, time: Millis) -> Self {
        let mut visit = Self {
            photos: Vec::new(),
            first: time,
            last: time,
            centre: None,
            placed: 0.0,
        };
        visit.add(photo, time);
        visit
    }

    fn add(&mut self, photo: RollPhoto, time: Millis) {
        if let Some(place) = photo.capture.place {
            self.placed += 1.0;
            self.centre = Some(match self.centre {
                None => place,
                Some(centre) => moved(centre, &place, self.placed),
            });
        }
        self.last = self.last.max(time);
        self.photos.push(photo);
    }

    fn close(self) -> RollVisit {
        RollVisit {
            first: self.first,
            last: self.last,
            centre: self.centre.map(|at| (at.latitude, at.longitude)),
            photos: self.photos,
        }
    }
}

/// A mean place once one more place is counted in.
fn moved(centre: CapturePlace, place: &CapturePlace, count: f64) -> CapturePlace {
    let across = (place.longitude - centre.longitude + 540.0).rem_euclid(360.0) - 180.0;
    let longitude = centre.longitude + across / count;
    let best = match (centre.accuracy_m, place.accuracy_m) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (a, b) => a.or(b),
    };
    CapturePlace {
        latitude: centre.latitude + (place.latitude - centre.latitude) / count,
        longitude: (longitude + 540.0).rem_euclid(360.0) - 180.0,
        altitude_m: None,
        accuracy_m: best,
    }
}

/// The visit a photo belongs to. Two phones at two houses leave two visits open at once: the
/// latest one whose place agrees is taken; a photo without a place follows its own camera.
fn joins(
    open: &[OpenVisit],
    photo: &RollPhoto,
    time: Millis,
    options: &RollOptions,
) -> Option<usize> {
    let gap = options.gap_min.saturating_mul(60_000);
    let in_time = |visit: &&OpenVisit| time.saturating_sub(visit.last) <= gap;
    let latest = |fits: &dyn Fn(&OpenVisit) -> bool| {
        open.iter()
            .enumerate()
            .filter(|(_, visit)| in_time(visit) && fits(visit))
            .max_by_key(|(index, visit)| (visit.last, *index))
            .map(|(index, _)| index)
    };
    let own_camera = |visit: &OpenVisit| {
        let last = visit.photos.last();
        last.is_some_and(|last| last.capture.camera == photo.capture.camera)
    };
    match &photo.capture.place {
        Some(place) => latest(&|visit| {
            visit
                .centre
                .is_some_and(|centre| within(&centre, place, options.distance_m))
        })
        .or_else(|| latest(&|visit| visit.centre.is_none() && own_camera(visit)))
        .or_else(|| latest(&|visit| visit.centre.is_none())),
        None => latest(&own_camera).or_else(|| latest(&|_| true)),
    }
}

/// True where two places may be one house: their distance, less what both are uncertain by.
pub(super) fn within(one: &CapturePlace, other: &CapturePlace, distance: f64) -> bool {
    let accuracy = |place: &CapturePlace| {
        let said = place.accuracy_m.unwrap_or(USUAL_ACCURACY_M);
        said.clamp(0.0, MOST_ACCURACY_M)
    };
    distance_m(one, other) - accuracy(one) - accuracy(other) <= distance
}

/// Puts photos without a time behind the neighbour that their file name follows, where both
/// neighbours are in the same visit; returns those that cannot be placed.
fn place_by_name(visits: &mut [RollVisit], untimed: Vec<RollPhoto>) -> Vec<RollPhoto> {
    let mut numbered: BTreeMap<(String, u64), (usize, Millis)> = BTreeMap::new();
    for (index, visit) in visits.iter().enumerate() {
        for photo in &visit.photos {
            if let (Some(key), Some(time)) = (sequence(&photo.path), photo.time) {
                numbered.insert(key, (index, time));
            }
        }
    }
    let mut unsure = Vec::new();
    let mut touched = vec![false; visits.len()];
    for mut photo in untimed {
        match neighbour(&numbered, &photo.path) {
            Some((index, time)) => {
                photo.time = Some(time);
                photo.placed_by = PlacedBy::FileName;
                visits[index].photos.push(photo);
                touched[index] = true;
            }
            None => unsure.push(photo),
        }
    }
    for (visit, _) in visits.iter_mut().zip(touched).filter(|(_, t)| *t) {
        visit.photos.order_by(|a, b| {
            let key = |photo: &RollPhoto| (photo.time, photo.placed_by, sequence(&photo.path));
            (key(a), &a.path).cmp(&(key(b), &b.path))
        });
    }
    unsure.order_by(|a, b| a.path.cmp(&b.path));
    unsure
}

/// The visit and time of the photo before, where the photos before and after by file name lie
/// close and in one visit.
fn neighbour(
    numbered: &BTreeMap<(String, u64), (usize, Millis)>,
    path: &str,
) -> Option<(usize, Millis)> {
    let (prefix, number) = sequence(path)?;
    let low = (prefix.clone(), number.saturating_sub(NAME_STEPS));
    let high = (prefix.clone(), number.saturating_add(NAME_STEPS));
    let here = (prefix, number);
    let before = numbered.range(low..here.clone()).next_back()?.1;
    let after = numbered.range(here..=high).next()?.1;
    (before.0 == after.0).then_some(*before)
}

/// The folder and first part of a file name, and the number that ends it: `a/IMG_` and 12 for
/// `a/IMG_0012.jpg`.
pub(super) fn sequence(path: &str) -> Option<(String, u64)> {
    let stem = path.rsplit_once('.').map_or(path, |(stem, _)| stem);
    let digits = stem.bytes().rev().take_while(u8::is_ascii_digit).count();
    let (prefix, number) = stem.split_at(stem.len() - digits);
    Some((prefix.to_owned(), number.parse().ok()?))
}

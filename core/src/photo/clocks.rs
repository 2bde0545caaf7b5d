//! Cameras of a roll whose clocks may be wrong, as far as the photos can tell.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::roll::{RollOptions, RollPhoto, RollVisit};
use super::split::{sequence, within};
use crate::job::{CapturePlace, Millis};
use crate::sorted::Sorted;

/// How far a camera may stray from the satellites, minutes: their time stands still while a
/// phone has no view of the sky. Common practice, no source.
const STRAY_MIN: i64 = 10;
/// Offsets from UTC come in steps of a quarter of an hour.
const OFFSET_STEP_MIN: i64 = 15;
/// A step back by more than this between photos that follow by number is remarkable, minutes.
const STEP_BACK_MIN: i64 = 10;

/// A reason to doubt a camera's clock.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum ClockDoubt {
    /// The camera and the satellites disagree.
    Satellites {
        /// The camera, as EXIF names it.
        camera: String,
        /// Minutes by which the camera is ahead; the median over its photos.
        ahead_min: i64,
    },
    /// The camera's time went back while its file numbers went on.
    StepBack {
        /// The camera.
        camera: String,
        /// The path of the photo whose time is earlier than its forerunner's.
        path: String,
        /// By how many minutes.
        back_min: i64,
    },
    /// Two cameras were at the same house, one after the other by whole hours: one of them may
    /// keep the time of another zone.
    Hours {
        /// The camera with the earlier time.
        earlier: String,
        /// The camera with the later time.
        later: String,
        /// Hours between the starts of their visits.
        hours: i64,
    },
}

/// All doubts, in a fixed order.
pub(super) fn doubts(visits: &[RollVisit], options: &RollOptions) -> Vec<ClockDoubt> {
    let mut doubts = satellites(visits);
    doubts.extend(steps_back(visits));
    doubts.extend(hours_apart(visits, options));
    doubts.order();
    doubts.dedup();
    doubts
}

fn name(photo: &RollPhoto) -> String {
    let unnamed = || "a camera without a name".to_owned();
    photo.capture.camera.clone().unwrap_or_else(unnamed)
}

fn satellites(visits: &[RollVisit]) -> Vec<ClockDoubt> {
    let mut ahead: BTreeMap<String, Vec<i64>> = BTreeMap::new();
    for photo in visits.iter().flat_map(|visit| &visit.photos) {
        if let (Some(local), Some(satellite)) = (photo.capture.local_time, photo.satellite_time) {
            let off = match photo.capture.utc_offset_min {
                Some(offset) => minutes(local - satellite) - i64::from(offset),
                // Without an offset only what is no whole step of one can be told.
                None => {
                    let part = minutes(local - satellite).rem_euclid(OFFSET_STEP_MIN);
                    if part > OFFSET_STEP_MIN / 2 {
                        part - OFFSET_STEP_MIN
                    } else {
                        part
                    }
                }
            };
            ahead.entry(name(photo)).or_default().push(off);
        }
    }
    ahead
        .into_iter()
        .filter_map(|(camera, mut all)| {
            all.order();
            let ahead_min = *all.get(all.len() / 2)?;
            (ahead_min.abs() > STRAY_MIN).then_some(ClockDoubt::Satellites { camera, ahead_min })
        })
        .collect()
}

fn steps_back(visits: &[RollVisit]) -> Vec<ClockDoubt> {
    let mut rows: BTreeMap<(String, String), BTreeMap<u64, &RollPhoto>> = BTreeMap::new();
    for photo in visits.iter().flat_map(|visit| &visit.photos) {
        if let Some((prefix, number)) = sequence(&photo.path) {
            let row = rows.entry((name(photo), prefix)).or_default();
            row.insert(number, photo);
        }
    }
    let mut doubts = Vec::new();
    for ((camera, _), row) in rows {
        let mut before: Option<(u64, Millis)> = None;
        for (number, photo) in row {
            let Some(time) = photo.capture.local_time else {
                continue;
            };
            if let Some((last_number, last)) = before {
                let back_min = minutes(last - time);
                if number == last_number + 1 && back_min > STEP_BACK_MIN {
                    doubts.push(ClockDoubt::StepBack {
                        camera: camera.clone(),
                        path: photo.path.clone(),
                        back_min,
                    });
                }
            }
            before = Some((number, time));
        }
    }
    doubts
}

fn hours_apart(visits: &[RollVisit], options: &RollOptions) -> Vec<ClockDoubt> {
    let one_camera: Vec<(&RollVisit, String, CapturePlace)> = visits
        .iter()
        .filter_map(|visit| {
            let first = name(visit.photos.first()?);
            let same = visit.photos.iter().all(|photo| name(photo) == first);
            let (latitude, longitude) = visit.centre?;
            let centre = CapturePlace {
                latitude,
                longitude,
                altitude_m: None,
                accuracy_m: None,
            };
            same.then_some((visit, first, centre))
        })
        .collect();
    let mut doubts = Vec::new();
    for (index, (early, one, here)) in one_camera.iter().enumerate() {
        for (late, other, there) in &one_camera[index + 1..] {
            let apart = minutes(late.first - early.first);
            let hours = (apart + 30).div_euclid(60);
            let whole = (apart - hours * 60).abs() <= STRAY_MIN && (1..=14).contains(&hours);
            if one != other && whole && within(here, there, options.distance_m) {
                doubts.push(ClockDoubt::Hours {
                    earlier: one.clone(),
                    later: other.clone(),
                    hours,
                });
            }
        }
    }
    doubts
}

/// The nearest whole minute.
fn minutes(time: Millis) -> i64 {
    (time + 30_000).div_euclid(60_000)
}

#[cfg(test)]
#[path = "clock_tests.rs"]
mod tests;

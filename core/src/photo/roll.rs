//! A folder of ordinary phone photos becomes visits: how a crew without an app begins.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::clocks::{ClockDoubt, doubts};
use super::compare::is_near;
use super::split::{Split, split};
use super::{PhotoError, PhotoWarning, Taken, look};
use crate::env::Env;
use crate::job::{Capture, DeviceId, Millis, PhotoHash};
use crate::limits;
use crate::sorted::Sorted;

/// How a camera roll is cut into visits. Both figures are common practice, no source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RollOptions {
    /// A longer time without a photo ends a visit, minutes.
    pub gap_min: i64,
    /// A photo farther than this from the visit's centre belongs to another, metres; what the
    /// places are uncertain by is taken off the distance first.
    pub distance_m: f64,
}

impl Default for RollOptions {
    fn default() -> Self {
        Self {
            gap_min: 90,
            distance_m: 150.0,
        }
    }
}

/// A camera roll, cut and ready to be assigned to jobs.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Roll {
    /// The visits by time.
    pub visits: Vec<RollVisit>,
    /// Photos that belong to no visit for sure: they have no time, and their file names do not
    /// tell either.
    pub unsure: Vec<RollPhoto>,
    /// Files that were dropped because the same bytes are there under another name.
    pub dropped: Vec<Dropped>,
    /// Files that are no photo or cannot be read.
    pub refused: Vec<Refused>,
    /// Cameras whose clocks may be wrong.
    pub clocks: Vec<ClockDoubt>,
}

/// Photos that belong together in time and place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RollVisit {
    /// Time of the first photo by the cameras' wall clocks, milliseconds since 1970 as if UTC.
    pub first: Millis,
    /// Time of the last photo.
    pub last: Millis,
    /// Mean latitude and longitude of the photos that have a place, degrees.
    pub centre: Option<(f64, f64)>,
    /// The photos by time.
    pub photos: Vec<RollPhoto>,
}

/// What put a photo where it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PlacedBy {
    /// Its own time.
    Time,
    /// The photos before and after it by file name.
    FileName,
}

/// One photo of a roll. It is not yet taken in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RollPhoto {
    /// Path from the roll's folder, with `/` between the parts.
    pub path: String,
    /// What its file says.
    pub capture: Capture,
    /// When it was taken by the wall clock, its own time or that of its neighbour.
    pub time: Option<Millis>,
    /// What put it where it is.
    pub placed_by: PlacedBy,
    /// An earlier photo of the same visit that looks nearly the same.
    pub near: Option<PhotoHash>,
    /// What is remarkable about it.
    pub warnings: Vec<PhotoWarning>,
    /// The time that the satellites gave, milliseconds since 1970 UTC.
    pub satellite_time: Option<Millis>,
}

/// A file whose bytes are there under another name.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Dropped {
    /// Its path from the roll's folder.
    pub path: String,
    /// The path of the file that stays.
    pub same_as: String,
}

/// A file that was left out.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Refused {
    /// Its path from the roll's folder.
    pub path: String,
    /// Why, in words.
    pub reason: String,
}

/// Reads a folder and all folders in it. Hidden files are passed over, links to folders are not
/// followed. After each file `progress` is told how many of how many are done.
///
/// # Errors
/// [`PhotoError::Unreadable`] where the folder itself cannot be read, [`PhotoError::TooMany`]
/// past [`limits::ROLL_FILES`] files. A bad file in it is listed and never an error.
pub fn read_roll(
    folder: &Path,
    device: DeviceId,
    env: &mut dyn Env,
    options: &RollOptions,
    progress: &mut dyn FnMut(usize, usize),
) -> Result<Roll, PhotoError> {
    let (files, mut refused) = files_below(folder, limits::ROLL_FILES)?;
    let mut looked = Vec::new();
    for (index, (name, path)) in files.iter().enumerate() {
        match look(path, device, env.now()) {
            Ok(taken) => looked.push((name.clone(), taken)),
            Err(error) => refused.push(Refused {
                path: name.clone(),
                reason: error.to_string(),
            }),
        }
        progress(index + 1, files.len());
    }
    let mut roll = roll_of(looked, options);
    refused.order_by(|a, b| a.path.cmp(&b.path));
    roll.refused = refused;
    Ok(roll)
}

/// Cuts photos that were looked at into visits; the order of the input does not matter.
pub(super) fn roll_of(mut looked: Vec<(String, Taken)>, options: &RollOptions) -> Roll {
    looked.order_by(|a, b| a.0.cmp(&b.0));
    let mut first_names: BTreeMap<PhotoHash, String> = BTreeMap::new();
    let mut dropped = Vec::new();
    let mut photos = Vec::new();
    for (path, taken) in looked {
        if let Some(same_as) = first_names.get(&taken.capture.hash) {
            dropped.push(Dropped {
                path,
                same_as: same_as.clone(),
            });
            continue;
        }
        first_names.insert(taken.capture.hash, path.clone());
        photos.push(RollPhoto {
            path,
            time: taken.capture.local_time,
            placed_by: PlacedBy::Time,
            near: None,
            warnings: taken.warnings,
            satellite_time: taken.satellite_time,
            capture: taken.capture,
        });
    }
    let Split { mut visits, unsure } = split(photos, options);
    for visit in &mut visits {
        mark_near(&mut visit.photos);
    }
    let clocks = doubts(&visits, options);
    Roll {
        visits,
        unsure,
        dropped,
        refused: Vec::new(),
        clocks,
    }
}

/// Marks each photo that looks nearly like an earlier one with the earliest such.
fn mark_near(photos: &mut [RollPhoto]) {
    for index in 1..photos.len() {
        let (before, rest) = photos.split_at_mut(index);
        let twin = before
            .iter()
            .find(|earlier| is_near(&earlier.capture, &rest[0].capture));
        rest[0].near = twin.map(|earlier| earlier.capture.hash);
    }
}

type Files = (Vec<(String, PathBuf)>, Vec<Refused>);

/// All files below a folder, with their names from there, by name.
fn files_below(folder: &Path, most: usize) -> Result<Files, PhotoError> {
    let mut files = Vec::new();
    let mut refused = Vec::new();
    let mut open = vec![(String::new(), folder.to_owned())];
    while let Some((prefix, folder)) = open.pop() {
        let entries = match fs::read_dir(&folder) {
            Ok(entries) => entries,
            Err(error) if prefix.is_empty() => return Err(PhotoError::reading(&error)),
            Err(error) => {
                refused.push(Refused {
                    path: prefix,
                    reason: PhotoError::reading(&error).to_string(),
                });
                continue;
            }
        };
        for entry in entries {
            let entry = entry.map_err(|error| PhotoError::reading(&error))?;
            let name = entry.file_name().to_string_lossy().into_owned();
            if name.starts_with('.') {
                continue;
            }
            let name = format!("{prefix}{name}");
            // The kind of the entry itself: a link to a folder is not a folder here.
            match entry.file_type() {
                Ok(kind) if kind.is_dir() => open.push((format!("{name}/"), entry.path())),
                _ => files.push((name, entry.path())),
            }
            if files.len() > most {
                return Err(PhotoError::TooMany { limit: most });
            }
        }
    }
    files.order();
    Ok((files, refused))
}

#[cfg(test)]
#[path = "roll_tests.rs"]
mod tests;

//! A camera roll: a folder of photos cut into visits, before any of them is taken in.

use std::path::Path;
use std::sync::Arc;

use chalkwalk_core::job::{DeviceId, PhotoHash};
use chalkwalk_core::photo::{self, ClockDoubt, Roll, RollOptions};
use chalkwalk_link::env::SystemEnv;

use crate::inner::guarded;
use crate::views::count;
use crate::{Answer, ProgressListener};

/// One photo of a camera roll. It is not yet taken in: its path is what adding
/// it asks for.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct RollPhoto {
    /// Path of the file.
    pub path: String,
    /// The hash of its bytes.
    pub hash: PhotoHash,
    /// When it was taken by the camera's wall clock, milliseconds since 1970 as if UTC.
    pub local_time: Option<i64>,
    /// Its time is that of its neighbours by file name: it has none of its own.
    pub time_from_neighbours: bool,
    /// An earlier photo of the same visit that looks nearly the same.
    pub much_like: Option<PhotoHash>,
    /// What may be wrong with it, in words.
    pub warnings: Vec<String>,
}

/// Photos that belong together in time and place.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct RollVisit {
    /// The first photo's time by the camera's wall clock, milliseconds since 1970 as if UTC.
    pub first: i64,
    /// The last photo's time.
    pub last: i64,
    /// Mean latitude of the photos that have a place, degrees north.
    pub latitude: Option<f64>,
    /// Mean longitude, degrees east.
    pub longitude: Option<f64>,
    /// The photos by time.
    pub photos: Vec<RollPhoto>,
}

/// A camera roll, cut into visits for a person to assign to jobs.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct CameraRoll {
    /// The visits by time.
    pub visits: Vec<RollVisit>,
    /// Photos without a time, which belong to no visit for sure.
    pub unsure: Vec<RollPhoto>,
    /// Files that were left out, each with the reason in words: no photo, or the same bytes twice.
    pub left_out: Vec<String>,
    /// Cameras whose clocks may be wrong, in words.
    pub clocks: Vec<String>,
}

/// Reads the photos in a folder and the folders in it and cuts them into visits: a longer gap than
/// so many minutes without a photo ends one, and so does a place farther than so many metres from
/// its middle. Both defaults are common practice. Nothing is copied and nothing recorded; takes a
/// second for some twenty photos. A listener that fails is passed over.
#[uniffi::export(default(gap_minutes = 90, gap_metres = 150.0, listener = None))]
pub fn read_camera_roll(
    folder: String,
    gap_minutes: u32,
    gap_metres: f64,
    listener: Option<Arc<dyn ProgressListener>>,
) -> Answer<CameraRoll> {
    guarded(|| {
        let options = RollOptions {
            gap_min: i64::from(gap_minutes),
            distance_m: gap_metres,
        };
        let folder = Path::new(&folder);
        let mut tell = |done, of| {
            if let Some(listener) = &listener {
                // What was asked for is read whole: the app may pass over the rest.
                let _ = listener.on_progress(count(done), count(of));
            }
        };
        let roll = photo::read_roll(
            folder,
            DeviceId::GENESIS,
            &mut SystemEnv,
            &options,
            &mut tell,
        )?;
        Ok(view(folder, roll))
    })
}

fn view(folder: &Path, roll: Roll) -> CameraRoll {
    let photo = |photo: photo::RollPhoto| RollPhoto {
        path: folder.join(&photo.path).to_string_lossy().into_owned(),
        hash: photo.capture.hash,
        local_time: photo.time,
        time_from_neighbours: photo.placed_by == photo::PlacedBy::FileName,
        much_like: photo.near,
        warnings: photo.warnings.iter().map(ToString::to_string).collect(),
    };
    let dropped = roll
        .dropped
        .iter()
        .map(|file| format!("{}: the same file as {}", file.path, file.same_as));
    let refused = roll
        .refused
        .iter()
        .map(|file| format!("{}: {}", file.path, file.reason));
    CameraRoll {
        left_out: dropped.chain(refused).collect(),
        clocks: roll.clocks.iter().map(doubt).collect(),
        visits: roll
            .visits
            .into_iter()
            .map(|visit| RollVisit {
                first: visit.first,
                last: visit.last,
                latitude: visit.centre.map(|(latitude, _)| latitude),
                longitude: visit.centre.map(|(_, longitude)| longitude),
                photos: visit.photos.into_iter().map(photo).collect(),
            })
            .collect(),
        unsure: roll.unsure.into_iter().map(photo).collect(),
    }
}

fn doubt(doubt: &ClockDoubt) -> String {
    match doubt {
        ClockDoubt::Satellites { camera, ahead_min } if *ahead_min < 0 => {
            format!("{camera}: {} minutes behind the satellites", -ahead_min)
        }
        ClockDoubt::Satellites { camera, ahead_min } => {
            format!("{camera}: {ahead_min} minutes ahead of the satellites")
        }
        ClockDoubt::StepBack {
            camera,
            path,
            back_min,
        } => format!("{camera}: its time went back by {back_min} minutes at {path}"),
        ClockDoubt::Hours {
            earlier,
            later,
            hours,
        } => format!(
            "{earlier} and {later} were at one house {hours} hours apart: one may keep the time \
             of another zone"
        ),
        _ => "a camera's clock may be wrong".to_owned(),
    }
}

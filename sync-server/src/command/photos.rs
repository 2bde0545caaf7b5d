//! Photo files: a look at one, and a camera roll brought into jobs.

use std::fmt::Write;
use std::path::Path;

use chalkwalk_core::job::DeviceId;
use chalkwalk_core::notebook::PhotoNote;
use chalkwalk_core::photo::{self, Roll, RollOptions};
use chrono::DateTime;
use serde_json::json;

use super::args::{ImportArgs, PhotoArgs};
use super::jobs::{close, open};
use super::output::{Failure, Output};
use crate::env::{SystemEnv, now};

pub(super) fn look(args: &PhotoArgs, out: Output) -> Result<(), Failure> {
    let taken = photo::look(&args.file, DeviceId::GENESIS, now())?;
    let warnings: Vec<String> = taken.warnings.iter().map(ToString::to_string).collect();
    let capture = &taken.capture;
    let sha256 = chalkwalk_core::job::hex(&capture.sha256);
    let thumbnail = taken.thumbnail.as_ref().map_or(0, Vec::len);
    let mut value = serde_json::to_value(capture)?;
    value["warnings"] = json!(warnings);
    value["thumbnail_bytes"] = json!(thumbnail);
    out.give(&value, || {
        let mut words = format!(
            "{}: {} by {} pixels, {} bytes\nBLAKE3 {}\nSHA-256 {sha256}\n",
            capture.file_name, capture.width, capture.height, capture.size, capture.hash
        );
        if let Some(time) = capture.local_time {
            let _ = writeln!(words, "taken {}", wall_clock(time));
        }
        for warning in &warnings {
            let _ = writeln!(words, "{warning}");
        }
        words
    })
}

pub(super) fn import(dir: &Path, args: &ImportArgs, out: Output) -> Result<(), Failure> {
    let options = RollOptions {
        gap_min: i64::from(args.gap_minutes),
        distance_m: f64::from(args.gap_metres),
    };
    let mut bar = None;
    let roll = photo::read_roll(
        &args.folder,
        DeviceId::GENESIS,
        &mut SystemEnv,
        &options,
        &mut |done, of| {
            bar.get_or_insert_with(|| out.bar(of as u64, "reading"))
                .set_position(done as u64);
        },
    )?;
    if let Some(bar) = bar {
        bar.finish_and_clear();
    }
    let Some(job) = args.job else {
        return out.give(&roll, || roll_words(&roll));
    };
    let visit = args
        .visit
        .checked_sub(1)
        .and_then(|i| roll.visits.get(i))
        .ok_or_else(|| {
            Failure::new(format!(
                "the folder has {} visits: choose one of them",
                roll.visits.len()
            ))
        })?;
    let mut notebook = open(dir)?;
    let bar = out.bar(visit.photos.len() as u64, "taking in");
    let mut added = Vec::new();
    let mut failed = Vec::new();
    for photo in &visit.photos {
        match notebook.add_photo(job, &args.folder.join(&photo.path), PhotoNote::default()) {
            Ok(photo) => added.push(photo.record),
            Err(error) => failed.push(format!("{}: {error}", photo.path)),
        }
        bar.inc(1);
    }
    bar.finish_and_clear();
    close(notebook)?;
    out.give(
        &json!({ "added": added, "failed": failed, "dropped": roll.dropped }),
        || {
            let mut words = format!("{} photos are in the job", added.len());
            for failure in &failed {
                let _ = write!(words, "\nleft out: {failure}");
            }
            words
        },
    )
}

fn roll_words(roll: &Roll) -> String {
    let mut words = String::new();
    for (i, visit) in roll.visits.iter().enumerate() {
        let near = visit
            .photos
            .iter()
            .filter(|photo| photo.near.is_some())
            .count();
        let _ = write!(
            words,
            "visit {}: {} to {}, {} photos",
            i + 1,
            wall_clock(visit.first),
            wall_clock(visit.last),
            visit.photos.len()
        );
        if let Some((latitude, longitude)) = visit.centre {
            let _ = write!(words, ", near {latitude:.4}, {longitude:.4}");
        }
        let _ = writeln!(
            words,
            "{}",
            if near > 0 {
                format!(", {near} much alike")
            } else {
                String::new()
            }
        );
    }
    for photo in &roll.unsure {
        let _ = writeln!(words, "unsure: {} has no time", photo.path);
    }
    for dropped in &roll.dropped {
        let _ = writeln!(
            words,
            "dropped: {} is the same file as {}",
            dropped.path, dropped.same_as
        );
    }
    for refused in &roll.refused {
        let _ = writeln!(words, "left out: {}: {}", refused.path, refused.reason);
    }
    if roll.visits.is_empty() {
        words.push_str("No photos with a time were found.");
    } else {
        words.push_str("Next: chalkwalk import FOLDER --job JOB --visit N");
    }
    words
}

/// A camera's wall-clock time.
fn wall_clock(time: i64) -> String {
    DateTime::from_timestamp_millis(time).map_or_else(
        || time.to_string(),
        |time| time.format("%Y-%m-%d %H:%M").to_string(),
    )
}

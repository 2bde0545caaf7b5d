//! Hits, storm reports and light at the house.

use std::fmt::Write;
use std::path::{Path, PathBuf};

use chalkwalk_core::drawing::{self, pitch_of};
use chalkwalk_core::job::{Job, JobId, RecordRef};
use chalkwalk_core::review::{HitsInput, Reader, hits};
use chalkwalk_core::trade::geo::Position;
use chalkwalk_core::trade::sun::{DayQuery, Face, SunDay};
use chalkwalk_core::trade::{storm, zone};
use chrono::NaiveDate;
use clap::Args;
use serde_json::json;

use super::super::jobs::{close, open};
use super::super::output::{Failure, Output};
use super::super::reckon::{nearby_words, read_storm, sun_given, write_file};

use super::*;

#[derive(Debug, Args)]
pub(in crate::command) struct HitsArgs {
    /// The job.
    job: JobId,
    /// Write a drawing of the pattern here.
    #[arg(long)]
    svg: Option<PathBuf>,
}

pub(in crate::command) fn give_hits(
    dir: &Path,
    args: &HitsArgs,
    out: Output,
) -> Result<(), Failure> {
    let job = job_of(dir, args.job)?;
    let input = HitsInput {
        reader: Reader::Office,
        ..HitsInput::default()
    };
    let hits = hits::hits(&job, &input);
    if let (Some(file), Some(pattern)) = (&args.svg, &hits.pattern) {
        write_file(file, drawing::hits_plot(pattern, "hits").as_bytes())?;
    }
    out.give(&hits, || hits_words(&hits))
}

/// The hits in a few lines.
pub(in crate::command) fn hits_words(hits: &hits::Hits) -> String {
    let mut words = String::new();
    for place in &hits.places {
        let _ = writeln!(
            words,
            "{}: {} from hail, {} of them in test squares",
            place.name, place.hail, place.in_squares
        );
    }
    if let Some(pattern) = &hits.pattern {
        let _ = writeln!(words, "{}", pattern.sentence);
        for warning in &pattern.warnings {
            let _ = writeln!(words, "  warning: {}", warning.sentence);
        }
    }
    for left_out in &hits.left_out {
        let _ = writeln!(words, "  left out: {}, {}", left_out.what, left_out.why);
    }
    words
}

#[derive(Debug, Args)]
pub(in crate::command) struct StormArgs {
    /// A file of daily storm reports or of Storm Events details, as published.
    file: PathBuf,
    /// The job whose house it is about.
    job: JobId,
    /// The date of a file of daily reports.
    #[arg(long)]
    file_day: Option<NaiveDate>,
    /// How far from the house, miles.
    #[arg(long, default_value_t = 10.0)]
    miles: f64,
    /// Keep what is near in the job.
    #[arg(long)]
    keep: bool,
    /// Write a drawing here.
    #[arg(long)]
    svg: Option<PathBuf>,
}

pub(in crate::command) fn give_storm(
    dir: &Path,
    args: &StormArgs,
    out: Output,
) -> Result<(), Failure> {
    let file = read_storm(&args.file, args.file_day)?;
    let mut notebook = open(dir)?;
    let job = notebook.job(args.job)?.clone();
    let (place, zone_name) = place_of(&job)?;
    let loss = job
        .property()
        .and_then(|property| property.date_of_loss)
        .ok_or_else(|| Failure::new("the job has no date of loss: record it first"))?;
    let search = storm::Search {
        radius_miles: args.miles,
        ..storm::Search::about(loss)
    };
    let offset = |at| zone::offset_minutes(&zone_name, at).unwrap_or(0);
    let nearby = storm::near(&file.reports, place, &search, &offset)?;
    if args.keep {
        let name = args
            .file
            .file_name()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned();
        for near in &nearby.reports {
            let record = near.report.record(&name);
            let known = job
                .records
                .storm_reports
                .values()
                .any(|kept| kept.stands() && kept.source == record.source);
            if !known {
                notebook.add(args.job, record)?;
            }
        }
    }
    close(notebook)?;
    if let Some(svg) = &args.svg {
        write_file(
            svg,
            drawing::storm_plot(&nearby, "Storm reports near the house").as_bytes(),
        )?;
    }
    out.give(&json!({ "file": file.format, "broken": file.broken, "assumed": file.assumed, "nearby": nearby }), || {
        nearby_words(&file, &nearby)
    })
}

fn place_of(job: &Job) -> Result<(Position, String), Failure> {
    let property = job.property();
    let place = property.and_then(|p| Some((p.latitude?, p.longitude?)));
    let (latitude, longitude) = place.ok_or_else(|| {
        Failure::new("the job has no place on the map: record latitude and longitude")
    })?;
    let zone = property.and_then(|p| p.time_zone.clone()).ok_or_else(|| {
        Failure::new("the job has no time zone: record its name, such as America/Chicago")
    })?;
    Ok((Position::new(latitude, longitude)?, zone))
}

#[derive(Debug, Args)]
pub(in crate::command) struct LightArgs {
    /// The job.
    job: JobId,
    /// The local day.
    day: NaiveDate,
    /// Local time from which the best window is looked for, as 14:30.
    #[arg(long)]
    from: Option<chrono::NaiveTime>,
    /// Write a drawing here.
    #[arg(long)]
    svg: Option<PathBuf>,
}

pub(in crate::command) fn light(dir: &Path, args: &LightArgs, out: Output) -> Result<(), Failure> {
    let job = job_of(dir, args.job)?;
    let (place, zone_name) = place_of(&job)?;
    let noon = args
        .day
        .and_hms_opt(12, 0, 0)
        .map_or(0, |noon| noon.and_utc().timestamp_millis());
    let offset = zone::offset_minutes(&zone_name, noon)
        .ok_or_else(|| Failure::new(format!("\"{zone_name}\" is not the name of a time zone")))?;
    let day = SunDay::of(&DayQuery::new(place, args.day, offset, faces(&job)?))?;
    let now = args.from.map(|time| {
        args.day.and_time(time).and_utc().timestamp_millis() - i64::from(offset) * 60_000
    });
    sun_given(&day, now, args.svg.as_ref(), out)
}

/// The walls and slopes of a job whose facing is known.
fn faces(job: &Job) -> Result<Vec<Face>, Failure> {
    let mut faces = Vec::new();
    for (id, elevation) in &job.records.elevations {
        let at = RecordRef::new(chalkwalk_core::job::Kind::Elevation, id.clone());
        if let Some(bearing) = elevation.bearing {
            faces.push(Face::wall(&job.place_name(&at), bearing)?);
        }
    }
    for (id, slope) in &job.records.slopes {
        let at = RecordRef::new(chalkwalk_core::job::Kind::Slope, id.clone());
        let pitch = pitch_of(job, id, slope);
        if let (Some(bearing), Some(pitch)) = (slope.bearing, pitch) {
            faces.push(Face::slope(&job.place_name(&at), bearing, pitch)?);
        }
    }
    if faces.is_empty() {
        return Err(Failure::new(
            "no wall or slope has a bearing: record which way the sides face",
        ));
    }
    Ok(faces)
}

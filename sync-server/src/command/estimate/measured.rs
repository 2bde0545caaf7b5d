//! A bought measurement report against the record and the plan.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::{Path, PathBuf};

use chalkwalk_core::drawing;
use chalkwalk_core::job::{
    EdgeKind, Job, JobId, MeasurementReport, Pitch, RecordId, RecordRef, Slope,
};
use chalkwalk_core::review::measurement::{self, Columns, SolvedRoof, SolvedSlope};
use chalkwalk_core::trade::{roof, wind};
use clap::Args;
use serde_bytes::ByteBuf;
use serde_json::json;

use super::super::jobs::{close, open};
use super::super::output::{Failure, Output};
use super::super::reckon::read_bytes;

/// The roof of the job's plan, where it has one: as worked out, drawn, and in the figures that a
/// bought report is checked against.
pub(in crate::command) struct PlannedRoof {
    pub(in crate::command) svg: String,
    pub(in crate::command) solved: SolvedRoof,
}

pub(in crate::command) fn planned_roof(job: &Job) -> Result<Option<PlannedRoof>, Failure> {
    let plan = job.records.plans.values().find(|plan| plan.stands());
    let Some(outline) = plan.and_then(|plan| plan.outline.as_ref()) else {
        return Ok(None);
    };
    let roof = roof::solve(&roof::RoofPlan::read(outline)?)?;
    let names: Vec<Option<String>> = roof
        .planes
        .iter()
        .map(|plane| slope_name(job, plane))
        .collect();
    let drawing = drawing::roof_plan::RoofDrawing {
        title: "Roof plan".to_owned(),
        planes: names
            .iter()
            .map(|name| drawing::roof_plan::PlaneNote {
                name: name.clone(),
                mark: None,
            })
            .collect(),
        ..Default::default()
    };
    let slopes = roof.planes.iter().zip(&names).filter_map(|(plane, name)| {
        Some(SolvedSlope {
            name: name.clone()?,
            area_sq_ft: plane.area,
        })
    });
    let edges = roof
        .totals
        .iter()
        .filter_map(|total| Some((edge_kind(total.kind)?, total.length)));
    Ok(Some(PlannedRoof {
        svg: drawing::roof_plan::roof_plan(&roof, &drawing),
        solved: SolvedRoof {
            slopes: slopes.collect(),
            edges_ft: edges.filter(|(_, feet)| *feet > 0.0).collect(),
        },
    }))
}

fn edge_kind(kind: roof::EdgeKind) -> Option<EdgeKind> {
    match kind {
        roof::EdgeKind::Ridge => Some(EdgeKind::Ridge),
        roof::EdgeKind::Hip => Some(EdgeKind::Hip),
        roof::EdgeKind::Valley => Some(EdgeKind::Valley),
        roof::EdgeKind::Eave => Some(EdgeKind::Eave),
        roof::EdgeKind::Rake => Some(EdgeKind::Rake),
        roof::EdgeKind::Wall => Some(EdgeKind::Sidewall),
        roof::EdgeKind::Top => None,
    }
}

/// The one recorded slope that faces as the plane does, at its pitch.
fn slope_name(job: &Job, plane: &roof::RoofPlane) -> Option<String> {
    const NEAR_DEGREES: f64 = 10.0;
    let mut found = job.records.slopes.iter().filter(|(id, slope)| {
        let near = slope
            .bearing
            .is_some_and(|bearing| wind::angle_between(bearing, plane.facing) <= NEAR_DEGREES);
        let pitch = pitch_of(job, id, slope);
        slope.stands()
            && near
            && pitch.is_some_and(|pitch| (pitch.rise() - plane.pitch).abs() < 0.5)
    });
    let (_, slope) = found.next()?;
    if found.next().is_some() {
        None
    } else {
        slope.name.clone()
    }
}

/// The measured pitch of a slope, else the report's.
pub(super) fn pitch_of(job: &Job, id: &RecordId, slope: &Slope) -> Option<Pitch> {
    let at = RecordRef::new(chalkwalk_core::job::Kind::Slope, id.clone());
    let measures = job.records.measurements.values();
    let mut here = measures.filter(|m| m.stands() && m.place.as_ref() == Some(&at));
    here.find_map(|measured| measured.pitch)
        .or(slope.report_pitch)
}

#[derive(Debug, Args)]
pub(in crate::command) struct MeasuredArgs {
    /// The job.
    job: JobId,
    /// The bought report's figures: CSV or JSON with whatever columns it has.
    file: PathBuf,
    /// Keep the figures in the job.
    #[arg(long)]
    keep: bool,
}

pub(in crate::command) fn measured(
    dir: &Path,
    args: &MeasuredArgs,
    out: Output,
) -> Result<(), Failure> {
    let bytes = read_bytes(&args.file)?;
    let report = measurement::read_report(&bytes, &Columns::new())?;
    let mut notebook = open(dir)?;
    if args.keep {
        let record = MeasurementReport {
            name: args
                .file
                .file_name()
                .map(|name| name.to_string_lossy().into_owned()),
            file_hash: Some(blake3::hash(&bytes).to_hex().to_string()),
            rows: Some(ByteBuf::from(measurement::encode_rows(&report.rows)?)),
            ..MeasurementReport::default()
        };
        notebook.add(args.job, record)?;
    }
    let job = notebook.job(args.job)?.clone();
    close(notebook)?;
    let planned = planned_roof(&job)?;
    let solved = planned.as_ref().map(|planned| &planned.solved);
    let check = measurement::measurement_check(&job, &report.rows, &BTreeMap::new(), solved);
    out.give(&json!({ "read": report, "check": check }), || {
        let mut words = String::new();
        for slope in &check.slopes {
            let _ = writeln!(words, "{}", slope.sentence);
        }
        for edge in &check.edges {
            let _ = writeln!(words, "{}", edge.sentence);
        }
        for row in &report.broken {
            let _ = writeln!(words, "line {} was left out: {}", row.line, row.why);
        }
        words + &check.sentence
    })
}

//! The roof of a job's plan, worked out, named after the recorded slopes, and drawn.

use super::roof_plan::{PlaneNote, RoofDrawing, roof_plan};
use crate::job::{EdgeKind, Job, Kind, Pitch, RecordId, RecordRef, Slope};
use crate::review::measurement::{SolvedRoof, SolvedSlope};
use crate::sorted::Keyed;
use crate::trade::roof::{self, PlanError, Roof, RoofPlan, RoofPlane};
use crate::trade::wind;

/// A slope faces as a plane does within so many degrees.
const NEAR_DEGREES: f64 = 10.0;
/// And has its pitch within so many inches in twelve: a gauge is read to that.
const NEAR_RISE: f64 = 0.5;

/// The roof of a job's plan.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedRoof {
    /// As worked out.
    pub roof: Roof,
    /// For each plane, the name of the one recorded slope that it is; `None` where there is none,
    /// or several could be meant.
    pub names: Vec<Option<String>>,
    /// Drawn, as SVG.
    pub svg: String,
    /// The figures that a bought report is checked against.
    pub solved: SolvedRoof,
}

/// The roof of the job's plan; `None` where the job has no plan with an outline.
///
/// # Errors
/// Where the plan does not read or cannot be worked out.
pub fn planned_roof(job: &Job) -> Result<Option<PlannedRoof>, PlanError> {
    let plan = job.records.plans.values().find(|plan| plan.stands());
    let Some(outline) = plan.and_then(|plan| plan.outline.as_ref()) else {
        return Ok(None);
    };
    let roof = roof::solve(&RoofPlan::read(outline)?)?;
    let planes = roof.planes.iter();
    let names: Vec<Option<String>> = planes.map(|plane| slope_name(job, plane)).collect();
    let drawing = RoofDrawing {
        title: "Roof plan".to_owned(),
        planes: names
            .iter()
            .map(|name| PlaneNote {
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
    let solved = SolvedRoof {
        slopes: slopes.collect(),
        edges_ft: edges.filter(|(_, feet)| *feet > 0.0).keyed(),
    };
    Ok(Some(PlannedRoof {
        svg: roof_plan(&roof, &drawing),
        solved,
        names,
        roof,
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
fn slope_name(job: &Job, plane: &RoofPlane) -> Option<String> {
    let mut found = job.records.slopes.iter().filter(|(id, slope)| {
        let near = slope
            .bearing
            .is_some_and(|bearing| wind::angle_between(bearing, plane.facing) <= NEAR_DEGREES);
        let pitch = pitch_of(job, id, slope);
        slope.stands()
            && near
            && pitch.is_some_and(|pitch| (pitch.rise() - plane.pitch).abs() < NEAR_RISE)
    });
    let (_, slope) = found.next()?;
    if found.next().is_some() {
        None
    } else {
        slope.name.clone()
    }
}

/// The measured pitch of a slope, else the bought report's.
pub fn pitch_of(job: &Job, id: &RecordId, slope: &Slope) -> Option<Pitch> {
    let at = RecordRef::new(Kind::Slope, id.clone());
    let measures = job.records.measurements.values();
    let mut here = measures.filter(|m| m.stands() && m.place.as_ref() == Some(&at));
    here.find_map(|measured| measured.pitch)
        .or(slope.report_pitch)
}

//! The drawing of a house from its record: which slope is which plane of the worked-out roof.

use super::{HouseMarks, SlopeMarks, house_marks};
use crate::job::{Job, Kind, Place, Record, RecordId, RecordRef, Side, Slope};
use crate::review::State;
use crate::trade::roof::{Roof, RoofPlan, RoofPlane, solve};
use crate::trade::wind;

/// How far the facing of a slope may lie from its plane's, degrees: a phone's compass.
const FACING_DEGREES: f64 = 15.0;
/// How far a slope's area may lie from its plane's, as a share.
const AREA_SHARE: f64 = 0.15;

/// The drawing of a job, as SVG, with what was found at each place: sides and slopes are asked for.
pub fn house_of_job(job: &Job, title: String, found: &dyn Fn(&Place) -> Vec<State>) -> String {
    let roof = roof_of(job);
    let slopes = job
        .records
        .slopes
        .iter()
        .filter(|(_, slope)| slope.stands());
    let slopes = slopes.map(|(id, slope)| {
        let at = RecordRef::new(Kind::Slope, id.clone());
        SlopeMarks {
            name: slope.name.clone().unwrap_or_else(|| job.place_name(&at)),
            side: slope.side,
            plane: roof.as_ref().and_then(|roof| plane_of(roof, slope)),
            found: found(&at),
            square_hits: square_hits(job, id),
        }
    });
    let property = job.property();
    house_marks(&HouseMarks {
        title,
        id: "house".to_owned(),
        sides: Side::ALL
            .iter()
            .map(|side| (*side, found(&RecordRef::side(*side))))
            .collect(),
        slopes: slopes.collect(),
        front_bearing: property.and_then(|property| property.front_bearing),
        roof: roof.as_ref(),
    })
}

/// The roof of the first plan that stands, where it can be worked out.
fn roof_of(job: &Job) -> Option<Roof> {
    let plan = job.records.plans.values().find(|plan| plan.stands())?;
    solve(&RoofPlan::read(plan.outline.as_ref()?).ok()?).ok()
}

/// The one plane that faces as the slope does; of several, the one whose area is the slope's.
fn plane_of(roof: &Roof, slope: &Record<Slope>) -> Option<usize> {
    let bearing = slope.bearing?;
    let faces = |plane: &RoofPlane| wind::angle_between(bearing, plane.facing) <= FACING_DEGREES;
    let facing: Vec<usize> = (0..roof.planes.len())
        .filter(|at| roof.planes.get(*at).is_some_and(faces))
        .collect();
    if let [only] = facing.as_slice() {
        return Some(*only);
    }
    let area = slope.measured_area.or(slope.report_area)?.to_square_feet();
    let off = |at: &usize| {
        roof.planes
            .get(*at)
            .map_or(f64::MAX, |plane| (plane.area - area).abs())
    };
    let near: Vec<&usize> = facing
        .iter()
        .filter(|at| off(at) <= area * AREA_SHARE)
        .collect();
    match near.as_slice() {
        [only] => Some(**only),
        _ => None,
    }
}

fn square_hits(job: &Job, slope: &RecordId) -> Option<u32> {
    let squares = job
        .records
        .test_squares
        .values()
        .filter(|square| square.stands());
    let mut here = squares
        .filter(|square| square.slope.as_ref().is_some_and(|at| at.id == *slope))
        .filter_map(Record::hits)
        .peekable();
    here.peek()?;
    Some(here.fold(0, u32::saturating_add))
}

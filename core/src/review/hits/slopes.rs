//! The slopes as surfaces of the pattern.

use std::collections::BTreeMap;

use super::super::view::View;
use super::squares::Pooled;
use super::{LeftOut, gathered};
use crate::job::*;
use crate::trade::pattern::Surface;
use crate::trade::wind::{self, Facing};

pub(super) fn surfaces(
    view: &View<'_>,
    pooled: &BTreeMap<Place, Pooled>,
    left_out: &mut Vec<LeftOut>,
) -> Vec<Surface> {
    let mut surfaces = Vec::new();
    for (at, pooled) in pooled {
        let Some(slope) = view.job.records.slopes.get(&at.id) else {
            continue;
        };
        let name = view.job.place_name(at);
        let mut out = |why: &str| {
            left_out.push(LeftOut {
                what: format!("{name}, from the pattern"),
                why: why.to_owned(),
            });
        };
        let bearing = slope.bearing.and_then(wind::bearing);
        let below = || {
            slope
                .side
                .and_then(|side| gathered::side_bearing(view.job, side))
        };
        let Some(bearing) = bearing.or_else(below) else {
            out("it is not known which way it faces: record a bearing of the slope or the front");
            continue;
        };
        let Some(pitch) = pitch(view, at, slope) else {
            out("its pitch is neither measured nor in a report");
            continue;
        };
        surfaces.push(Surface {
            facing: Facing::slope(bearing, pitch.rise()),
            exposure: pooled.count.exposure,
            unit: "sq ft".to_owned(),
            covering: slope
                .roofing
                .map_or("roofing not named", Material::label)
                .to_owned(),
            hits: pooled.count.hits,
            placement: pooled.placement,
            name,
        });
    }
    surfaces
}

/// The pitch as measured on the roof, by the best tool and the latest measure; else the report's.
fn pitch(view: &View<'_>, at: &Place, slope: &Slope) -> Option<Pitch> {
    let rank = |method: Option<MeasureMethod>| match method {
        Some(MeasureMethod::Gauge) => 0,
        Some(MeasureMethod::Tape) => 1,
        Some(MeasureMethod::Phone) => 2,
        Some(MeasureMethod::Counted) => 3,
        Some(MeasureMethod::Estimated) => 5,
        Some(MeasureMethod::Report) | None => 4,
    };
    let measured = view
        .measures(MeasuredThing::Pitch)
        .filter(|(_, measure)| measure.place.as_ref() == Some(at) && measure.pitch.is_some())
        .min_by_key(|(_, measure)| (rank(measure.method), -i128::from(measure.made.at)));
    let estimated = |measure: &Record<Measurement>| {
        measure.method == Some(MeasureMethod::Estimated) && slope.report_pitch.is_some()
    };
    measured
        .filter(|(_, measure)| !estimated(measure))
        .and_then(|(_, measure)| measure.pitch)
        .or(slope.report_pitch)
}

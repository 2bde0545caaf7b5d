//! Slopes: pitch, test squares, layers of roofing, counts, obstacles to tear-off.

use std::collections::BTreeSet;

use super::super::view::{View, standing};
use super::Raise;
use crate::job::*;
use crate::limits;
use crate::sorted::Keyed;

pub(super) fn slopes(view: &View<'_>, raise: &mut Raise<'_>) {
    if view.slopes().next().is_none() {
        raise.point("No slope of the roof was recorded.", vec![]);
    }
}

pub(super) fn walked(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, slope) in view.slopes() {
        if slope.walked != Some(true) {
            let name = view.job.place_name(&at);
            raise.point(format!("Not walked and not seen whole: {name}."), vec![at]);
        }
    }
}

pub(super) fn panorama(view: &View<'_>, raise: &mut Raise<'_>) {
    let walked: Vec<RecordRef> = view
        .slopes()
        .filter(|(_, slope)| slope.walked == Some(true))
        .map(|(at, _)| at)
        .collect();
    let turned = view.shots().iter().any(|shot| shot.is(PhotoRole::Panorama));
    if !walked.is_empty() && !turned {
        raise.point("No full turn of views from the ridge.", walked);
    }
}

pub(super) fn layers(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, slope) in view.slopes() {
        let by_eave = view.eaves().any(|(_, eave)| {
            eave.roofing_layers.is_some()
                && (eave.slope.as_ref() == Some(&at)
                    || (eave.slope.is_none() && eave.side.is_some() && eave.side == slope.side))
        });
        if slope.layers.is_none() && !by_eave {
            let name = view.job.place_name(&at);
            raise.point(format!("How many layers of roofing? {name}."), vec![at]);
        }
    }
}

/// Pitches measured on a slope by gauge or phone.
fn pitches<'a>(
    view: &'a View<'a>,
    slope: &'a RecordRef,
) -> impl Iterator<Item = (RecordRef, Pitch)> {
    view.measures(MeasuredThing::Pitch)
        .filter(move |(_, measure)| {
            measure.place.as_ref() == Some(slope)
                && matches!(
                    measure.method,
                    Some(MeasureMethod::Gauge | MeasureMethod::Phone)
                )
        })
        .filter_map(|(at, measure)| Some((at, measure.pitch?)))
}

pub(super) fn pitch(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, _) in view.slopes() {
        if pitches(view, &at).next().is_none() {
            let name = view.job.place_name(&at);
            raise.point(format!("The pitch was not measured: {name}."), vec![at]);
        }
    }
}

pub(super) fn pitch_photo(view: &View<'_>, raise: &mut Raise<'_>) {
    for (slope, _) in view.slopes() {
        let measured: Vec<RecordRef> = pitches(view, &slope).map(|(at, _)| at).collect();
        let shown = measured.iter().any(|at| view.showing(at).next().is_some());
        if !measured.is_empty() && !shown {
            let name = view.job.place_name(&slope);
            raise.point(format!("No photo of the gauge: {name}."), measured);
        }
    }
}

pub(super) fn pitch_report(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, slope) in view.slopes() {
        let Some(report) = slope.report_pitch else {
            continue;
        };
        for (measure, pitch) in pitches(view, &at) {
            if (pitch.rise() - report.rise()).abs() >= limits::PITCH_AT_ODDS {
                let name = view.job.place_name(&at);
                raise.point(
                    format!("The report says {report}, the gauge {pitch}: {name}."),
                    vec![at.clone(), measure],
                );
            }
        }
    }
}

pub(super) fn low_slope(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, slope) in view.slopes() {
        let shingled = matches!(
            slope.roofing,
            Some(Material::ThreeTabShingle | Material::LaminatedShingle)
        );
        let low = pitches(view, &at).find(|(_, pitch)| pitch.rise() < 2.0);
        if let Some((measure, pitch)) = low
            && shingled
        {
            let name = view.job.place_name(&at);
            raise.point(
                format!("Asphalt shingles on a slope measured at {pitch}: {name}."),
                vec![at, measure],
            );
        }
    }
}

/// One test square for each direction; a slope without a side counts by itself.
pub(super) fn test_square(view: &View<'_>, raise: &mut Raise<'_>) {
    let squares: Vec<_> = standing(Kind::TestSquare, &view.job.records.test_squares).collect();
    let tested: BTreeSet<Side> = squares
        .iter()
        .filter_map(|(_, square)| view.side(square.slope.as_ref()))
        .keyed();
    let mut missing: BTreeSet<Side> = BTreeSet::new();
    for (at, slope) in view.slopes() {
        let here = squares.iter().any(|(_, s)| s.slope.as_ref() == Some(&at));
        let by_side = slope.side.is_some_and(|side| tested.contains(&side));
        let told = slope.side.is_some_and(|side| !missing.insert(side));
        if !here && !by_side && !told {
            let name = view.job.place_name(&at);
            raise.point(
                format!("No test square in this direction: {name}."),
                vec![at],
            );
        }
    }
}

pub(super) fn test_square_count(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, square) in standing(Kind::TestSquare, &view.job.records.test_squares) {
        if square.hits().is_none() {
            raise.point("A test square without a count; zero counts too.", vec![at]);
        }
    }
}

pub(super) fn test_square_size(view: &View<'_>, raise: &mut Raise<'_>) {
    const SIDE: Length = Length::feet_inches(10, 0);
    for (at, square) in standing(Kind::TestSquare, &view.job.records.test_squares) {
        let odd = |length: Option<Length>| length.is_some_and(|length| length != SIDE);
        if odd(square.width) || odd(square.height) {
            raise.point("A test square is not 10 ft by 10 ft.", vec![at]);
        }
    }
}

pub(super) fn test_square_photo(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, _) in standing(Kind::TestSquare, &view.job.records.test_squares) {
        if view.showing(&at).next().is_none() {
            raise.point("A test square without a photo.", vec![at]);
        }
    }
}

pub(super) fn obstacles(view: &View<'_>, raise: &mut Raise<'_>) {
    // Guards are asked for with the gutters.
    let missing: Vec<&str> = Component::ALL
        .iter()
        .filter(|part| part.facts().obstacle && **part != Component::GutterGuard)
        .filter(|part| !view.accounted(**part, |_| true))
        .map(|part| part.label())
        .collect();
    if !missing.is_empty() {
        raise.point(
            format!(
                "Nobody said whether these stand in the way of tear-off: {}.",
                missing.join(", ")
            ),
            vec![],
        );
    }
}

pub(super) fn counts(view: &View<'_>, raise: &mut Raise<'_>) {
    const VENTS: &[Component] = &[
        Component::BoxVent,
        Component::RidgeVent,
        Component::TurbineVent,
        Component::PowerVent,
    ];
    let counted = |part: Component| {
        view.parts(part).any(|(_, count)| {
            count.count.is_some()
                || count.length.is_some()
                || count.condition == Some(Condition::NotPresent)
        })
    };
    let mut missing = Vec::new();
    if !counted(Component::PipeBoot) {
        missing.push("pipe boots");
    }
    if !VENTS.iter().any(|vent| counted(*vent)) {
        missing.push("vents");
    }
    if !missing.is_empty() {
        raise.point(
            format!("Not counted on the roof: {}.", missing.join(", ")),
            vec![],
        );
    }
}

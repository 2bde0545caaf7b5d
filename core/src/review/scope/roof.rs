//! The slopes that are to be replaced, with their areas and pitches, as the record has them.
//!
//! A slope is proposed for replacement only where a finding of the crew says that the storm
//! damaged its shingles. Counts are stated as evidence; whether a slope is replaced or repaired
//! stays the estimator's decision.

use std::collections::{BTreeMap, BTreeSet};

use super::ScopeInputs;
use super::causes::{Outcome, outcome};
use crate::job::*;
use crate::review::view::View;
use crate::sorted::Keyed;

/// A slope to be replaced.
pub(super) struct Plane<'a> {
    pub(super) at: Place,
    pub(super) slope: &'a Record<Slope>,
    /// The findings that say so; empty where it goes with others of its roof.
    pub(super) findings: Vec<RecordRef>,
    pub(super) area: Option<f64>,
    pub(super) area_how: String,
    pub(super) pitch: Option<Pitch>,
    /// Measurements that pitch and area rest on.
    pub(super) measures: Vec<RecordRef>,
    pub(super) unsure: Vec<String>,
}

/// The slopes to be replaced, and those whose count stays under the estimator's number.
pub(super) struct Roof<'a> {
    pub(super) planes: BTreeMap<RecordId, Plane<'a>>,
    pub(super) under: BTreeMap<RecordId, Vec<RecordRef>>,
}

impl<'a> Roof<'a> {
    pub(super) fn of(view: &View<'a>, inputs: &ScopeInputs) -> Self {
        let mut found: BTreeMap<RecordId, Vec<RecordRef>> = BTreeMap::new();
        for (at, finding) in view.findings() {
            if let Some(slope) = slope_spoken_for(view, finding) {
                found.entry(slope.id).or_default().push(at);
            }
        }
        let (under, found): (BTreeMap<_, _>, BTreeMap<_, _>) = found
            .into_iter()
            .partition(|(slope, findings)| is_under(view, inputs, slope, findings));
        let mut chosen: BTreeSet<RecordId> = found.into_keys().keyed();
        for group in &inputs.one_roof {
            add_group(view, group, &mut chosen);
        }
        let planes = chosen
            .into_iter()
            .filter_map(|id| {
                let findings = on_shingles(view, &id);
                let slope = view
                    .job
                    .records
                    .slopes
                    .get(&id)
                    .filter(|slope| slope.stands())?;
                Some((id.clone(), plane(view, &id, slope, findings)))
            })
            .keyed();
        Self { planes, under }
    }

    /// True where the slope is to be replaced.
    pub(super) fn has(&self, place: Option<&Place>) -> bool {
        self.plane(place).is_some()
    }

    /// The slope, where it is to be replaced.
    pub(super) fn plane(&self, place: Option<&Place>) -> Option<&Plane<'a>> {
        let place = place.filter(|place| place.kind == Kind::Slope)?;
        self.planes.get(&place.id)
    }
}

/// The slope that a finding has replaced.
pub(super) fn slope_spoken_for(view: &View<'_>, finding: &Record<Finding>) -> Option<Place> {
    if finding.component != Some(Component::Shingles) || outcome(finding) != Outcome::Work {
        return None;
    }
    if finding.cause == Some(Cause::Wind) && is_spot(finding) {
        return None;
    }
    let slope = slope_of(view, finding.place.as_ref()?)?;
    let stands = view
        .job
        .records
        .slopes
        .get(&slope.id)
        .is_some_and(Record::stands);
    stands.then_some(slope)
}

/// Every finding that asks for work on the shingles of a slope, spots of wind damage too.
fn on_shingles(view: &View<'_>, slope: &RecordId) -> Vec<RecordRef> {
    view.findings()
        .filter(|(_, finding)| {
            finding.component == Some(Component::Shingles) && outcome(finding) == Outcome::Work
        })
        .filter(|(_, finding)| {
            let at = finding
                .place
                .as_ref()
                .and_then(|place| slope_of(view, place));
            at.is_some_and(|at| at.id == *slope)
        })
        .map(|(at, _)| at)
        .collect()
}

/// Wind damage of a stated size is a repair where nothing else has the slope replaced.
fn is_spot(finding: &Finding) -> bool {
    finding.units.is_some_and(|units| units > 0) || finding.extent_area.is_some()
}

/// The slope that a place on the roof belongs to.
pub(super) fn slope_of(view: &View<'_>, place: &Place) -> Option<Place> {
    match place.kind {
        Kind::Slope => Some(place.clone()),
        Kind::EaveOpening => {
            let eave = view.job.records.eave_openings.get(&place.id)?;
            eave.slope.clone().filter(|slope| slope.kind == Kind::Slope)
        }
        _ => None,
    }
}

/// Test squares on a slope in which somebody counted, with the count.
pub(super) fn squares<'a>(
    view: &View<'a>,
    slope: &RecordId,
) -> Vec<(RecordRef, &'a Record<TestSquare>, u32)> {
    let squares = crate::review::view::standing(Kind::TestSquare, &view.job.records.test_squares);
    squares
        .filter(|(_, square)| {
            square
                .slope
                .as_ref()
                .is_some_and(|at| at.kind == Kind::Slope && at.id == *slope)
        })
        .filter_map(|(at, square)| Some((at, square, square.hits()?)))
        .collect()
}

/// The estimator's number is set, hits were counted, and they are fewer; wind is not counted.
fn is_under(view: &View<'_>, inputs: &ScopeInputs, slope: &RecordId, found: &[RecordRef]) -> bool {
    let Some(from) = inputs.replace_from_hits else {
        return false;
    };
    let hail_alone = found.iter().all(|at| {
        let finding = view.job.records.findings.get(&at.id);
        finding.is_some_and(|finding| finding.cause == Some(Cause::Hail))
    });
    let most = squares(view, slope)
        .into_iter()
        .map(|(_, _, hits)| hits)
        .max();
    hail_alone && most.is_some_and(|most| most < from)
}

/// Slopes that are roofed as one go together.
fn add_group(view: &View<'_>, group: &BTreeSet<RecordId>, chosen: &mut BTreeSet<RecordId>) {
    if !group.is_disjoint(chosen) {
        let known = |slope: &&RecordId| view.job.records.slopes.contains_key(*slope);
        chosen.extend(group.iter().filter(known).cloned());
    }
}

fn plane<'a>(
    view: &View<'a>,
    id: &RecordId,
    slope: &'a Record<Slope>,
    findings: Vec<RecordRef>,
) -> Plane<'a> {
    let at = RecordRef::new(Kind::Slope, id.clone());
    let mut unsure = Vec::new();
    let gauge = view
        .measures(MeasuredThing::Pitch)
        .find(|(_, measure)| measure.place.as_ref() == Some(&at) && measure.pitch.is_some());
    let measured = gauge.as_ref().and_then(|(_, measure)| measure.pitch);
    let pitch = measured.or(slope.report_pitch);
    if measured.is_none() {
        unsure.push(match slope.report_pitch {
            Some(pitch) => format!("the pitch of {pitch} is the report's: it was not measured"),
            None => "the pitch was not measured".to_owned(),
        });
    }
    let (area, area_how) = area(slope, measured);
    if area.is_none() {
        unsure.push("the slope's area was not measured and no report gives it".to_owned());
    }
    Plane {
        at,
        slope,
        findings,
        area,
        area_how,
        pitch,
        measures: gauge.into_iter().map(|(at, _)| at).collect(),
        unsure,
    }
}

/// Square feet of a slope. The report's area is put right where its pitch is not the gauge's:
/// the plan stays, the slope factor sqrt(1 + (rise/12)^2) changes (plane geometry).
fn area(slope: &Slope, measured: Option<Pitch>) -> (Option<f64>, String) {
    let usable = |area: &Area| area.to_square_feet() > 0.0;
    if let Some(area) = slope.measured_area.filter(usable) {
        return (
            Some(area.to_square_feet()),
            format!("{area:.1} as the crew measured"),
        );
    }
    let Some(area) = slope.report_area.filter(usable) else {
        return (None, String::new());
    };
    let report = format!("{area:.1} in the measurement report");
    match (slope.report_pitch, measured) {
        (Some(said), Some(seen)) if said != seen => {
            let by = factor(seen) / factor(said);
            (
                Some(area.to_square_feet() * by),
                format!("{report} at {said}, times {by:.4} for the measured {seen}"),
            )
        }
        _ => (Some(area.to_square_feet()), report),
    }
}

/// Slope length over its run.
pub(super) fn factor(pitch: Pitch) -> f64 {
    (pitch.rise() / 12.0).hypot(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    // Slope factors of plane geometry: 1.118034 at 6 in 12, 1.157704 at 7 in 12.
    #[test]
    fn a_report_with_the_wrong_pitch_is_put_right() {
        let pitch = |rise| Pitch::from_rise(rise);
        assert!((factor(pitch(6.0).unwrap()) - 1.118_034).abs() < 1e-6);
        let mut slope = Slope {
            report_pitch: pitch(6.0),
            report_area: Some(Area::from_square_feet(1118.034)),
            ..Slope::default()
        };
        let (area_seen, how) = area(&slope, pitch(7.0));
        assert!((area_seen.unwrap() - 1157.704).abs() < 0.01, "{how}");
        assert!(how.contains("7/12"), "{how}");
        slope.measured_area = Some(Area::from_square_feet(900.0));
        assert_eq!(area(&slope, pitch(7.0)).0, Some(900.0));
    }
}

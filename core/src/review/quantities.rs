//! The material inputs of a job: areas, edges and counts as the record has them, with the records
//! they come from.

use std::collections::BTreeMap;

use super::Facts;
use super::measurement::{ReportRow, measurement_check, report_rows, same_name};
use super::requirements::{Stated, requirements, roof_slopes};
use super::view::{View, standing};
use crate::job::*;
use crate::sorted::Sorted;
use crate::trade::code::CodeRule;
use crate::trade::materials::{CoverageKey, Entered, MaterialInputs, RoofArea, RoofEdge, Waste};

/// What the person who orders decides or enters; the record does not hold it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MaterialChoices {
    /// The waste, for shingles and underlayment.
    pub waste: Option<Waste>,
    /// Coverages in place of the defaults.
    pub coverages: BTreeMap<CoverageKey, Entered>,
    /// Starter runs up the rakes as well.
    pub starter_at_rakes: Option<bool>,
    /// A gutter apron is wanted along the eaves.
    pub gutter_apron: Option<bool>,
    /// Six fasteners a shingle for high wind.
    pub high_wind: Option<bool>,
    /// How the valleys will be lined.
    pub valley_lining: Option<ValleyLining>,
    /// What the code depends on and the record has no field for.
    pub stated: Stated,
}

/// Material inputs and the records behind them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct JobQuantities {
    /// The inputs.
    pub inputs: MaterialInputs,
    /// The records they come from.
    pub from: Vec<RecordRef>,
}

/// The material inputs of a job. An area is the crew's own, else the report's laid at the measured
/// pitch, else the report's as it stands. Edges of a kind are those of the record; where it has none
/// of the kind, those of the imported reports.
pub fn job_quantities(job: &Job, choices: &MaterialChoices) -> JobQuantities {
    let facts = Facts::default();
    let view = View::new(job, &facts);
    let mut from = Vec::new();
    let rows = imported(&view, &mut from);
    let mut inputs = MaterialInputs {
        waste: choices.waste.clone(),
        coverages: choices.coverages.clone(),
        starter_at_rakes: choices.starter_at_rakes,
        gutter_apron: choices.gutter_apron,
        high_wind: choices.high_wind,
        valley_lining: choices.valley_lining,
        ..MaterialInputs::default()
    };
    house(job, choices, &mut inputs, &mut from);
    let places = slopes(&view, &rows, choices, &mut inputs, &mut from);
    edges(&view, &rows, &places, &mut inputs, &mut from);
    counts(&view, &mut inputs, &mut from);
    from.order();
    from.dedup();
    JobQuantities { inputs, from }
}

/// The rows of all imported reports that can be read.
fn imported(view: &View<'_>, from: &mut Vec<RecordRef>) -> Vec<ReportRow> {
    let mut rows = Vec::new();
    let reports = &view.job.records.measurement_reports;
    for (at, report) in standing(Kind::MeasurementReport, reports) {
        if let Ok(read) = report_rows(report)
            && !read.is_empty()
        {
            rows.extend(read);
            from.push(at);
        }
    }
    rows
}

fn house(
    job: &Job,
    choices: &MaterialChoices,
    inputs: &mut MaterialInputs,
    from: &mut Vec<RecordRef>,
) {
    for requirement in requirements(job, &choices.stated) {
        let answer = &requirement.answer;
        if answer.rule == CodeRule::Ventilation
            && let Some(area) = answer.figure("net free area asked")
        {
            inputs.vent_area_asked = Some((area, answer.citation()));
        }
    }
    let Some(property) = job.property().filter(|property| property.stands()) else {
        return;
    };
    from.push(RecordRef::new(Kind::Property, Job::only()));
    inputs.code_edition = property.code_edition.clone();
    inputs.ice_barrier_designated = match property.ice_barrier_designated {
        Some(Known::Yes) => Some(true),
        Some(Known::No) => Some(false),
        _ => None,
    };
}

fn slopes(
    view: &View<'_>,
    rows: &[ReportRow],
    choices: &MaterialChoices,
    inputs: &mut MaterialInputs,
    from: &mut Vec<RecordRef>,
) -> Vec<(RecordRef, String)> {
    let check = measurement_check(view.job, rows, &BTreeMap::new(), None);
    let code = super::requirements::code_inputs(view.job, &choices.stated);
    let mut places = Vec::new();
    for (index, slope) in roof_slopes(view).into_iter().enumerate() {
        let checked = check
            .slopes
            .iter()
            .find(|s| s.place.as_ref() == Some(&slope.at));
        let report = checked
            .and_then(|s| s.report_area)
            .map(Area::to_square_feet);
        let laid = checked.and_then(|s| s.at_measured_pitch_sq_ft);
        let own = slope.record.measured_area.map(Area::to_square_feet);
        let eave = code.slopes.get(index);
        inputs.slopes.push(RoofArea {
            name: slope.name.clone(),
            area_sq_ft: own.or(laid).or(report),
            rise: slope.pitch.as_ref().map(|(pitch, _, _)| pitch.rise()),
            overhang_in: eave.and_then(|s| s.overhang).map(Length::to_inches),
            wall_in: eave.and_then(|s| s.wall_thickness).map(Length::to_inches),
        });
        from.push(slope.at.clone());
        from.extend(slope.pitch.map(|(_, _, at)| at));
        places.push((slope.at, slope.name));
    }
    places
}

fn edges(
    view: &View<'_>,
    rows: &[ReportRow],
    places: &[(RecordRef, String)],
    inputs: &mut MaterialInputs,
    from: &mut Vec<RecordRef>,
) {
    for kind in EdgeKind::ALL {
        let mut recorded = false;
        for (at, edge) in standing(Kind::Edge, &view.job.records.edges) {
            if edge.kind != Some(*kind) {
                continue;
            }
            recorded = true;
            let place = edge.slope.as_ref();
            inputs.edges.push(RoofEdge {
                kind: *kind,
                name: match place {
                    Some(place) => format!("{kind}, {}", view.job.place_name(place)),
                    None => kind.label().to_owned(),
                },
                length_ft: edge.length.map(Length::to_feet),
                slope: places.iter().position(|(at, _)| Some(at) == place),
            });
            from.push(at);
        }
        if recorded {
            continue;
        }
        for row in rows {
            if let ReportRow::Edge {
                kind: of,
                name,
                length,
                ..
            } = row
                && of == kind
            {
                let name = name.clone().unwrap_or_default();
                inputs.edges.push(RoofEdge {
                    kind: *kind,
                    slope: places.iter().position(|(_, slope)| same_name(slope, &name)),
                    name: format!("{kind}, {name}, by the report"),
                    length_ft: Some(length.to_feet()),
                });
            }
        }
    }
    let none = |part| {
        let mut parts = view.parts(part);
        parts.any(|(_, part)| part.condition == Some(Condition::NotPresent))
    };
    for (part, kind) in [
        (Component::Valley, EdgeKind::Valley),
        (Component::StepFlashing, EdgeKind::Sidewall),
    ] {
        if none(part) && !inputs.edges.iter().any(|edge| edge.kind == kind) {
            inputs.none_of.insert(kind);
        }
    }
}

fn counts(view: &View<'_>, inputs: &mut MaterialInputs, from: &mut Vec<RecordRef>) {
    let mut count = |component| {
        let mut total: Option<u32> = None;
        for (at, part) in view.parts(component) {
            let here = match part.condition {
                Some(Condition::NotPresent) => Some(0),
                _ => part.count,
            };
            if let Some(here) = here {
                total = Some(total.unwrap_or(0).saturating_add(here));
                from.push(at);
            }
        }
        total
    };
    inputs.pipe_boots = count(Component::PipeBoot);
    inputs.box_vents = count(Component::BoxVent);
    inputs.turbine_vents = count(Component::TurbineVent);
    inputs.power_vents = count(Component::PowerVent);
    let lengths: Vec<f64> = view
        .parts(Component::RidgeVent)
        .filter_map(|(_, part)| part.length.map(Length::to_feet))
        .collect();
    inputs.ridge_vent_ft = (!lengths.is_empty()).then(|| lengths.iter().sum());
    let exposures = view.measures(MeasuredThing::ShingleExposure);
    let exposures = exposures.filter_map(|(_, measure)| measure.length);
    // The smallest of several asks for the most pieces.
    let exposure = exposures.filter(|length| length.as_64ths() > 0).min();
    inputs.exposure_in = exposure.map(Length::to_inches);
}

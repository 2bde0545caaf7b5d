//! Lines for each slope that is replaced: shingles, waste, further layers, steep and high work.

use super::amounts::item_words;
use super::roof::{Plane, Roof, squares};
use super::sheet::{Part, Sheet};
use super::{Item, under};
use crate::job::*;
use crate::review::side_of;
use crate::trade::stats::{Interval, garwood};

const REPLACE: WorkAction = WorkAction::RemoveAndReplace;

pub(super) fn write(sheet: &mut Sheet<'_>, roof: &Roof<'_>) {
    for plane in roof.planes.values() {
        shingles(sheet, plane);
        further_layers(sheet, plane);
        steep_and_high(sheet, plane);
        under::write(sheet, plane);
    }
    for (slope, findings) in &roof.under {
        if !roof.planes.contains_key(slope) {
            under_the_number(sheet, slope, findings);
        }
    }
}

/// A part over the whole area of a slope.
pub(super) fn over_area(plane: &Plane<'_>, item: Item, action: WorkAction) -> Part {
    let mut part = Part::new(Some(plane.at.clone()), item, action)
        .on([plane.at.clone()])
        .on(plane.measures.clone())
        .unsure(plane.unsure.clone());
    part.how = plane.area_how.clone();
    part.amount = plane.area.map(|area| match part.unit {
        Unit::Square => area / 100.0,
        _ => area,
    });
    part
}

fn shingles(sheet: &mut Sheet<'_>, plane: &Plane<'_>) {
    let roofing = plane.slope.roofing;
    let words = item_words(&Item::Shingles, None, roofing);
    let counted = counted(sheet, &plane.at.id);
    let squares: Vec<RecordRef> = counted.iter().map(|(at, _)| at.clone()).collect();
    let mut part = over_area(plane, Item::Shingles, REPLACE).words(words);
    // The findings come first, as the line rests on them.
    part.rests_on
        .splice(0..0, plane.findings.iter().cloned().chain(squares));
    for (_, words) in counted.iter() {
        part.how = format!("{}; {words}", part.how);
    }
    part.how = part.how.trim_start_matches("; ").to_owned();
    if plane.findings.is_empty() {
        part = part.doubt(
            "no storm damage was found on this slope: it stands here because the estimator counts \
             it as one roof with a slope that has",
        );
    } else {
        if counted.is_empty() {
            part = part.doubt("no hits were counted in a test square on this slope");
        }
        part = part.doubt(
            "whether the slope is replaced or repaired is the estimator's decision: no count of \
             hits decides it here",
        );
    }
    let waste = sheet.inputs.waste_of(&plane.at.id);
    match (waste, plane.area) {
        (Some(percent), Some(area)) if percent > 0.0 => {
            let waste = over_area(plane, Item::ShingleWaste, WorkAction::Install).amount(
                area * percent / 10_000.0,
                format!("{percent} % of {}, as the estimator set it", plane.area_how),
            );
            sheet.put(waste);
        }
        (None, _) => part = part.doubt("waste is not included: no percentage was set"),
        _ => {}
    }
    if roofing.is_none() {
        part = part.doubt("what the slope is covered with was not recorded");
    }
    sheet.put(part);
}

/// The counts of the test squares on a slope, in words.
fn counted(sheet: &Sheet<'_>, slope: &RecordId) -> Vec<(RecordRef, String)> {
    squares(sheet.view, slope)
        .into_iter()
        .map(|(at, square, hits)| {
            let size = match (square.width, square.height) {
                (Some(width), Some(height)) => format!(" of {width} by {height}"),
                _ => String::new(),
            };
            let spot = match square.placement {
                Some(placement) => format!(" at a {placement}"),
                None => String::new(),
            };
            let hits_word = if hits == 1 { "hit" } else { "hits" };
            let interval = interval(hits);
            (
                at,
                format!("{hits} {hits_word} counted in a test square{size}{spot}{interval}"),
            )
        })
        .collect()
}

/// Between which means such a count may lie by chance alone: the exact interval of a Poisson
/// count, in words.
fn interval(hits: u32) -> String {
    match garwood(u64::from(hits), 0.95) {
        Ok(Interval {
            low,
            high: Some(high),
        }) => format!(" (95 % interval {low:.2} to {high:.2})"),
        _ => String::new(),
    }
}

/// Fewer hits than the number the estimator set: somebody looks again.
fn under_the_number(sheet: &mut Sheet<'_>, slope: &RecordId, findings: &[RecordRef]) {
    let at = RecordRef::new(Kind::Slope, slope.clone());
    let roofing = sheet
        .view
        .job
        .records
        .slopes
        .get(slope)
        .and_then(|slope| slope.roofing);
    let counted = counted(sheet, slope);
    let words: Vec<&str> = counted.iter().map(|(_, words)| words.as_str()).collect();
    let mut part = Part::new(Some(at.clone()), Item::Shingles, WorkAction::Inspect)
        .words(item_words(&Item::Shingles, None, roofing))
        .on(findings.iter().cloned())
        .on(counted.iter().map(|(at, _)| at.clone()))
        .on([at])
        .doubt(format!(
            "fewer hits than the {} that the estimator set for this job; how many shingles to repair was not counted",
            sheet.inputs.replace_from_hits.unwrap_or(0)
        ));
    part.how = words.join("; ");
    sheet.put(part);
}

/// Every layer but one is charged apart.
fn further_layers(sheet: &mut Sheet<'_>, plane: &Plane<'_>) {
    let opened = sheet
        .view
        .eaves()
        .find(|(_, eave)| eave.slope.as_ref() == Some(&plane.at) && eave.roofing_layers.is_some());
    let seen = opened.as_ref().and_then(|(_, eave)| eave.roofing_layers);
    let from = opened.map(|(at, _)| at);
    let Some(layers) = plane.slope.layers.or(seen).filter(|layers| *layers > 1) else {
        return;
    };
    let further = f64::from(layers - 1);
    let mut part = over_area(plane, Item::SecondLayer, WorkAction::RemoveOnly).on(from);
    part.amount = part.amount.map(|squares| squares * further);
    part.how = format!(
        "{layers} layers, so {further} more than one over {}",
        plane.area_how
    );
    if seen.is_some_and(|seen| seen != layers) {
        part = part.doubt("the eave opening and the slope's record differ on the layers");
    }
    sheet.put(part);
}

fn steep_and_high(sheet: &mut Sheet<'_>, plane: &Plane<'_>) {
    let steep_from = sheet.inputs.steep_from;
    if let Some(pitch) = plane.pitch.filter(|pitch| *pitch >= steep_from) {
        let mut part = over_area(plane, Item::SteepCharge, WorkAction::Charge);
        part.how = format!("{pitch}, charged from {steep_from}; {}", plane.area_how);
        sheet.put(part);
    }
    let job = sheet.view.job;
    let side = side_of(job, &plane.at);
    let of_side = side
        .and_then(|side| job.elevation(side))
        .filter(|side| side.stands());
    let property = job.property().filter(|property| property.stands());
    let storeys = of_side
        .and_then(|side| side.storeys)
        .or_else(|| property.and_then(|property| property.storeys));
    let from = sheet.inputs.high_from_storeys;
    if let Some(storeys) = storeys.filter(|storeys| *storeys >= from && *storeys > 0) {
        let mut part = over_area(plane, Item::HighCharge, WorkAction::Charge);
        part = match (of_side.and_then(|side| side.storeys), side) {
            (Some(_), Some(side)) => part.on([RecordRef::side(side)]),
            _ => part.on([RecordRef::new(Kind::Property, Job::only())]),
        };
        part.how = format!("{storeys} storeys, charged from {from}; {}", plane.area_how);
        sheet.put(part);
    }
}

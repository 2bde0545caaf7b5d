//! What runs along ridges, hips, valleys and walls.

use super::eaves::pieces;
use super::line::{number, up};
use super::{CoverageKey, MaterialInputs, MaterialItem, MaterialLine, MaterialUnit, Reckoning};
use crate::job::{EdgeKind, ValleyLining};

pub(super) fn caps(inputs: &MaterialInputs, lines: &mut Vec<MaterialLine>) {
    let mut reckoning = Reckoning::new(inputs);
    let length = reckoning.edges(&[EdgeKind::Ridge, EdgeKind::Hip]);
    let per = reckoning.coverage(CoverageKey::CapBundle);
    let words = format!(
        "{} ft / {} ft a bundle, rounded up",
        number(length),
        number(per)
    );
    let (item, unit) = (MaterialItem::RidgeAndHipCap, MaterialUnit::Bundle);
    lines.push(reckoning.line(item, unit, Some(up(length / per)), words));
}

pub(super) fn valleys(inputs: &MaterialInputs, lines: &mut Vec<MaterialLine>) {
    if inputs.none_of.contains(&EdgeKind::Valley) {
        return;
    }
    let item = MaterialItem::ValleyLining;
    let mut reckoning = Reckoning::new(inputs);
    let length = reckoning.edges(&[EdgeKind::Valley]);
    let lining = reckoning.chosen("how the valleys will be lined", inputs.valley_lining);
    let (unit, quantity, words) = match lining {
        None => {
            let words = format!("{} ft, lining not chosen", number(length));
            (MaterialUnit::Foot, Some(length), words)
        }
        Some(ValleyLining::OpenMetal) => {
            let piece = reckoning.coverage(CoverageKey::ValleyMetalPiece);
            let lap = reckoning.coverage(CoverageKey::ValleyMetalLap);
            let (count, words) = pieces(length, piece, lap);
            (MaterialUnit::Piece, count, words)
        }
        Some(ValleyLining::MembraneUnder) => {
            let roll = reckoning.coverage(CoverageKey::IceBarrierRoll);
            roll_of(length, roll)
        }
        Some(ValleyLining::ClosedCut | ValleyLining::Woven | ValleyLining::RollRoofing) => {
            let roll = reckoning.coverage(CoverageKey::ValleyRoll);
            roll_of(length, roll)
        }
    };
    lines.push(reckoning.line(item, unit, quantity, words));
}

fn roll_of(length: f64, roll: f64) -> (MaterialUnit, Option<f64>, String) {
    let words = format!(
        "{} ft / {} ft a roll, rounded up",
        number(length),
        number(roll)
    );
    (MaterialUnit::Roll, Some(up(length / roll)), words)
}

/// One piece a course, wall by wall.
pub(super) fn step_flashing(inputs: &MaterialInputs, lines: &mut Vec<MaterialLine>) {
    if inputs.none_of.contains(&EdgeKind::Sidewall) {
        return;
    }
    let mut reckoning = Reckoning::new(inputs);
    let length = reckoning.edges(&[EdgeKind::Sidewall]);
    let exposure = reckoning.given("exposure of the shingles", inputs.exposure_in, "in");
    let (item, unit) = (MaterialItem::StepFlashing, MaterialUnit::Piece);
    let Some(exposure) = exposure else {
        let words = format!("{} ft of sidewall, one piece a course", number(length));
        lines.push(reckoning.line(item, unit, None, words));
        return;
    };
    let walls = inputs.edges.iter().filter(|e| e.kind == EdgeKind::Sidewall);
    let lengths: Vec<f64> = walls.filter_map(|wall| wall.length_ft).collect();
    let count = lengths.iter().map(|ft| up(ft * 12.0 / exposure)).sum();
    let each: Vec<String> = lengths
        .iter()
        .map(|ft| format!("{} ft x 12 / {} in", number(*ft), number(exposure)))
        .collect();
    let words = format!("{}, each wall rounded up", each.join(" + "));
    lines.push(reckoning.line(item, unit, Some(count), words));
}

pub(super) fn headwall(inputs: &MaterialInputs, lines: &mut Vec<MaterialLine>) {
    if inputs.none_of.contains(&EdgeKind::Headwall) {
        return;
    }
    let mut reckoning = Reckoning::new(inputs);
    let length = reckoning.edges(&[EdgeKind::Headwall]);
    let piece = reckoning.coverage(CoverageKey::HeadwallPiece);
    let lap = reckoning.coverage(CoverageKey::HeadwallLap);
    let (count, words) = pieces(length, piece, lap);
    let (item, unit) = (MaterialItem::HeadwallFlashing, MaterialUnit::Piece);
    lines.push(reckoning.line(item, unit, count, words));
}

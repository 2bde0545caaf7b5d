//! What runs along eaves and rakes: starter, edge metal, ice barrier.

use super::line::{number, up};
use super::{CoverageKey, MaterialInputs, MaterialItem, MaterialLine, MaterialUnit, Reckoning};
use super::{RoofArea, RoofEdge};
use crate::job::EdgeKind;
use crate::trade::code::{
    CodeRule, Edition, EditionRead, IceRule, ice_barrier as reach, provision,
};

pub(super) fn starter(inputs: &MaterialInputs, lines: &mut Vec<MaterialLine>) {
    let mut reckoning = Reckoning::new(inputs);
    let at_rakes = reckoning.chosen("whether starter runs up the rakes", inputs.starter_at_rakes);
    let kinds: &[EdgeKind] = match at_rakes {
        Some(true) => &[EdgeKind::Eave, EdgeKind::Rake],
        _ => &[EdgeKind::Eave],
    };
    let length = reckoning.edges(kinds);
    let per = reckoning.coverage(CoverageKey::StarterBundle);
    let words = format!(
        "{} ft / {} ft a bundle, rounded up",
        number(length),
        number(per)
    );
    let (item, unit) = (MaterialItem::Starter, MaterialUnit::Bundle);
    lines.push(reckoning.line(item, unit, Some(up(length / per)), words));
}

pub(super) fn drip_edge(inputs: &MaterialInputs, lines: &mut Vec<MaterialLine>) {
    let edition = EditionRead::of(inputs.code_edition.as_deref()).edition;
    let row = provision(CodeRule::DripEdge, edition).filter(|row| row.in_force);
    let mut reckoning = Reckoning::new(inputs);
    if let Some(row) = row {
        reckoning = reckoning.resting_on(format!("{edition}, {}", row.section));
    }
    let length = reckoning.edges(&[EdgeKind::Eave, EdgeKind::Rake]);
    lines.push(metal(reckoning, MaterialItem::DripEdge, length));
}

pub(super) fn gutter_apron(inputs: &MaterialInputs, lines: &mut Vec<MaterialLine>) {
    if inputs.gutter_apron == Some(false) {
        return;
    }
    let mut reckoning = Reckoning::new(inputs);
    reckoning.chosen("whether a gutter apron is wanted", inputs.gutter_apron);
    let length = reckoning.edges(&[EdgeKind::Eave]);
    lines.push(metal(reckoning, MaterialItem::GutterApron, length));
}

fn metal(mut reckoning: Reckoning<'_>, item: MaterialItem, length: f64) -> MaterialLine {
    let piece = reckoning.coverage(CoverageKey::EdgeMetalPiece);
    let lap = reckoning.coverage(CoverageKey::EdgeMetalLap);
    let (count, words) = pieces(length, piece, lap);
    reckoning.line(item, MaterialUnit::Piece, count, words)
}

/// Pieces of a length with a lap at each joint; `None` where the lap eats the piece.
pub(super) fn pieces(length_ft: f64, piece_ft: f64, lap_in: f64) -> (Option<f64>, String) {
    let net = piece_ft - lap_in / 12.0;
    let words = format!(
        "{} ft / ({} ft a piece - {} in lap), rounded up",
        number(length_ft),
        number(piece_ft),
        number(lap_in)
    );
    (Some(up(length_ft / net)).filter(|_| net > 0.0), words)
}

/// Courses of a roll that cover a length along the slope, each lapped over the one below.
pub(super) fn courses(along_in: f64, width_in: f64, lap_in: f64) -> f64 {
    1.0 + up((along_in - width_in) / (width_in - lap_in))
}

/// One line for each eave, because pitch and overhang differ; rolls are shared between them only
/// by the person who orders.
pub(super) fn ice_barrier(inputs: &MaterialInputs, lines: &mut Vec<MaterialLine>) {
    let edition = EditionRead::of(inputs.code_edition.as_deref()).edition;
    let (item, unit) = (MaterialItem::IceBarrier, MaterialUnit::Roll);
    if inputs.ice_barrier_designated == Some(false) {
        let words = "the local authority does not designate the area, so none is asked for";
        let reckoning = Reckoning::new(inputs);
        lines.push(reckoning.line(item, unit, Some(0.0), words.to_owned()));
        return;
    }
    let mut any = false;
    for edge in inputs.edges.iter().filter(|e| e.kind == EdgeKind::Eave) {
        any = true;
        lines.push(one_eave(inputs, edge, edition));
    }
    if !any && !inputs.none_of.contains(&EdgeKind::Eave) {
        let mut reckoning = Reckoning::new(inputs);
        reckoning.edges(&[EdgeKind::Eave]);
        let words = "no eave is measured".to_owned();
        lines.push(reckoning.line(item, unit, None, words));
    }
}

fn one_eave(inputs: &MaterialInputs, edge: &RoofEdge, edition: Edition) -> MaterialLine {
    let row = provision(CodeRule::IceBarrier, edition);
    let section = row.map(|row| row.section).unwrap_or_default();
    let rule = format!("{edition}, {section}");
    let mut reckoning = Reckoning::new(inputs).at(&edge.name).resting_on(rule);
    reckoning.chosen(
        "whether the local authority designates the area for an ice barrier",
        inputs.ice_barrier_designated,
    );
    let (item, unit) = (MaterialItem::IceBarrier, MaterialUnit::Roll);
    let unmeasured = RoofArea::default();
    let slope = inputs.slope(edge.slope).unwrap_or(&unmeasured);
    let length = reckoning.given("length of the eave", edge.length_ft, "ft");
    let rise = reckoning.given("pitch above it", slope.rise, "in 12");
    let overhang = reckoning.given("overhang", slope.overhang_in, "in");
    let wall = reckoning.given("wall thickness", slope.wall_in, "in");
    let width = reckoning.coverage(CoverageKey::IceBarrierWidth);
    let lap = reckoning.coverage(CoverageKey::IceBarrierLap);
    let roll = reckoning.coverage(CoverageKey::IceBarrierRoll);
    let (Some(length), Some(rise), Some(overhang), Some(wall), Some(ice)) =
        (length, rise, overhang, wall, IceRule::in_edition(edition))
    else {
        let words = "(overhang + wall thickness + 24 in) x slope factor, in courses of the roll";
        return reckoning.line(item, unit, None, words.to_owned());
    };
    let Some(barrier) = reach(ice, overhang, wall, rise) else {
        return reckoning.line(item, unit, None, "out of range".to_owned());
    };
    let courses = courses(barrier.along_slope_in, width, lap);
    let words = format!(
        "({} + {} + {} in) x {} = {} in along the slope{}; {} courses of {} in with {} in laps x \
         {} ft / {} ft a roll, rounded up",
        number(overhang),
        number(wall),
        number(ice.inside_wall_in),
        number(barrier.from_wall_line_in / barrier.on_the_flat_in),
        number(barrier.from_wall_line_in),
        if barrier.along_slope_in > barrier.from_wall_line_in {
            format!(
                ", at least {} in on a steep slope",
                number(barrier.along_slope_in)
            )
        } else {
            String::new()
        },
        number(courses),
        number(width),
        number(lap),
        number(length),
        number(roll),
    );
    let rolls = Some(up(courses * length / roll));
    reckoning.line(item, unit, rolls, words)
}

//! What goes by area: shingles, their fasteners, underlayment.

use super::line::{Sum, number, up};
use super::{CoverageKey, MaterialInputs, MaterialItem, MaterialLine, MaterialUnit, Reckoning};
use super::{RoofArea, Waste};
use crate::job::EdgeKind;
use crate::trade::code::{CodeRule, EditionRead, provision};

/// The areas of the slopes that a test picks.
fn area_of<'a>(slopes: impl Iterator<Item = &'a RoofArea>) -> Sum {
    let mut sum = Sum::default();
    for slope in slopes {
        match slope.area_sq_ft {
            Some(area) => sum.so_far += area,
            None => sum.missing.push(format!("area of {}", slope.name)),
        }
    }
    sum
}

fn whole_roof(inputs: &MaterialInputs) -> Sum {
    let mut sum = area_of(inputs.slopes.iter());
    if inputs.slopes.is_empty() {
        sum.missing.push("area of the roof".to_owned());
    }
    sum
}

/// "with 10 % waste (hip roof)" for the words of a line.
fn waste_words(waste: Option<&Waste>) -> String {
    match waste {
        Some(waste) => format!(" ({}: {} %)", waste.name, number(waste.percent)),
        None => String::new(),
    }
}

/// Squares with waste, and the words for them.
fn squares_with_waste(
    reckoning: &mut Reckoning<'_>,
    inputs: &MaterialInputs,
) -> (f64, Option<f64>, String) {
    let squares = reckoning.area(&whole_roof(inputs)) / 100.0;
    let factor = reckoning.waste();
    let words = match factor {
        Some(factor) => format!("{} SQ x {}", number(squares), number(factor)),
        None => format!("{} SQ, waste not stated", number(squares)),
    };
    (squares, factor.map(|factor| squares * factor), words)
}

pub(super) fn squares(inputs: &MaterialInputs, lines: &mut Vec<MaterialLine>) {
    let mut reckoning = Reckoning::new(inputs);
    let (bare, with_waste, words) = squares_with_waste(&mut reckoning, inputs);
    let words = format!("{words}{}", waste_words(inputs.waste.as_ref()));
    let (item, unit) = (MaterialItem::ShingleSquares, MaterialUnit::Square);
    lines.push(reckoning.line(item, unit, with_waste.or(Some(bare)), words));
}

pub(super) fn bundles(inputs: &MaterialInputs, lines: &mut Vec<MaterialLine>) {
    let mut reckoning = Reckoning::new(inputs);
    let (bare, with_waste, words) = squares_with_waste(&mut reckoning, inputs);
    let per = reckoning.coverage(CoverageKey::ShingleBundle);
    let count = up(with_waste.unwrap_or(bare) / per);
    let words = format!("{words} / {} SQ a bundle, rounded up", number(per));
    let (item, unit) = (MaterialItem::ShingleBundles, MaterialUnit::Bundle);
    lines.push(reckoning.line(item, unit, Some(count), words));
}

pub(super) fn fasteners(inputs: &MaterialInputs, lines: &mut Vec<MaterialLine>) {
    let count = |reckoning: &mut Reckoning<'_>| {
        let (bare, with_waste, words) = squares_with_waste(reckoning, inputs);
        let shingles = reckoning.coverage(CoverageKey::ShinglesInSquare);
        let wind = reckoning.chosen("whether high wind asks for six fasteners", inputs.high_wind);
        let each = reckoning.coverage(match wind {
            Some(true) => CoverageKey::FastenersHighWind,
            _ => CoverageKey::FastenersInShingle,
        });
        let words = format!(
            "{words} x {} shingles a SQ x {} a shingle",
            number(shingles),
            number(each)
        );
        (with_waste.unwrap_or(bare) * shingles * each, words)
    };
    let edition = EditionRead::of(inputs.code_edition.as_deref()).edition;
    let section = provision(CodeRule::Fasteners, edition).map(|row| row.section);
    let rule = format!("{edition}, {}", section.unwrap_or_default());

    let mut reckoning = Reckoning::new(inputs).resting_on(rule.clone());
    let (total, words) = count(&mut reckoning);
    let (item, unit) = (MaterialItem::Fasteners, MaterialUnit::Each);
    lines.push(reckoning.line(item, unit, Some(up(total)), format!("{words}, rounded up")));

    let mut reckoning = Reckoning::new(inputs).resting_on(rule);
    let (total, words) = count(&mut reckoning);
    let per = reckoning.coverage(CoverageKey::FastenerBox);
    let words = format!("{words} / {} a box, rounded up", number(per));
    let (item, unit) = (MaterialItem::FastenerBoxes, MaterialUnit::Box);
    lines.push(reckoning.line(item, unit, Some(up(total / per)), words));
}

/// Sheets of 36 in: one layer shows 34 in of each (2 in side lap), two layers 17 in (19 in lap)
/// over a starting strip of 19 in. The ice barrier's area is not taken off.
pub(super) fn underlayment(inputs: &MaterialInputs, lines: &mut Vec<MaterialLine>) {
    let edition = EditionRead::of(inputs.code_edition.as_deref()).edition;
    let Some(row) = provision(CodeRule::Underlayment, edition) else {
        return;
    };
    let rule = format!("{edition}, {}", row.section);
    let single_from = row.figure("one layer from rise").unwrap_or(0.0);
    let single_lap = row.figure("side lap of one layer").unwrap_or(0.0);
    let double_lap = row.figure("lap of two layers").unwrap_or(0.0);
    let strip = row.figure("starting strip of two layers").unwrap_or(0.0);
    let unknown: Vec<&RoofArea> = inputs.slopes.iter().filter(|s| s.rise.is_none()).collect();
    for (item, lap) in [
        (MaterialItem::UnderlaymentSingle, single_lap),
        (MaterialItem::UnderlaymentDouble, double_lap),
    ] {
        let double = item == MaterialItem::UnderlaymentDouble;
        let mine = |rise: f64| (rise < single_from) == double;
        let picked = inputs.slopes.iter().filter(|s| s.rise.is_some_and(mine));
        let mut sum = area_of(picked.clone());
        let any = picked.count() > 0;
        // A slope without a pitch could need either; it is missing from the line that is sure to
        // be there, and makes the other one appear only where it has slopes of its own.
        if !any && (double || (unknown.is_empty() && !inputs.slopes.is_empty())) {
            continue;
        }
        for slope in &unknown {
            sum.missing.push(format!("pitch of {}", slope.name));
        }
        if inputs.slopes.is_empty() {
            sum.missing.push("area of the roof".to_owned());
        }
        let mut reckoning = Reckoning::new(inputs).resting_on(rule.clone());
        let area = reckoning.area(&sum);
        let factor = reckoning.waste();
        let length = reckoning.coverage(CoverageKey::UnderlaymentRoll);
        let shown = WIDTH_IN - lap;
        let mut sheet = area * factor.unwrap_or(1.0) * 12.0 / shown;
        let factor = factor.map_or("waste not stated".to_owned(), number);
        let mut words = format!(
            "{} sq ft x {factor} / {} in shown",
            number(area),
            number(shown)
        );
        if double {
            let eaves = low_eaves(&mut reckoning, inputs, single_from);
            sheet += eaves * strip / WIDTH_IN;
            words = format!(
                "{words} + {} ft of eave x {} in strip / 36 in",
                number(eaves),
                number(strip)
            );
        }
        let words = format!(
            "({words}) / {} ft a roll of 36 in, rounded up",
            number(length)
        );
        let rolls = Some(up(sheet / length));
        lines.push(reckoning.line(item, MaterialUnit::Roll, rolls, words));
    }
}

/// Width of an underlayment sheet, inches, as the code's laps take it.
const WIDTH_IN: f64 = 36.0;

/// Eaves of the slopes that need two layers.
fn low_eaves(reckoning: &mut Reckoning<'_>, inputs: &MaterialInputs, single_from: f64) -> f64 {
    let mut total = 0.0;
    let mut any = false;
    for edge in inputs.edges.iter().filter(|e| e.kind == EdgeKind::Eave) {
        any = true;
        let slope = inputs.slope(edge.slope);
        match (slope, slope.and_then(|slope| slope.rise)) {
            (Some(_), Some(rise)) if rise >= single_from => {}
            (Some(_), Some(_)) => {
                let name = format!("length of {}", edge.name);
                total += reckoning.given(&name, edge.length_ft, "ft").unwrap_or(0.0);
            }
            _ => {
                reckoning.given(&format!("pitch above {}", edge.name), None, "in 12");
            }
        }
    }
    if !any && !inputs.none_of.contains(&EdgeKind::Eave) {
        reckoning.given("length of eaves", None, "ft");
    }
    total
}

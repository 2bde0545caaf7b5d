//! What is counted: pipe boots, vents and their net free area.

use super::line::number;
use super::{CoverageKey, MaterialInputs, MaterialItem, MaterialLine, MaterialUnit, Reckoning};

pub(super) fn boots(inputs: &MaterialInputs, lines: &mut Vec<MaterialLine>) {
    let item = MaterialItem::PipeBoots;
    lines.push(counted(
        inputs,
        item,
        "count of pipe boots",
        inputs.pipe_boots,
    ));
}

fn counted(
    inputs: &MaterialInputs,
    item: MaterialItem,
    name: &str,
    count: Option<u32>,
) -> MaterialLine {
    let mut reckoning = Reckoning::new(inputs);
    let count = reckoning.given(name, count.map(f64::from), "EA");
    let words = match count {
        Some(count) => format!("{} counted", number(count)),
        None => "not counted".to_owned(),
    };
    reckoning.line(item, MaterialUnit::Each, count, words)
}

/// Vents like for like: a kind that nobody counted has no line where another was counted.
pub(super) fn vents(inputs: &MaterialInputs, lines: &mut Vec<MaterialLine>) {
    let kinds = [
        (
            MaterialItem::BoxVents,
            "count of box vents",
            inputs.box_vents,
        ),
        (
            MaterialItem::TurbineVents,
            "count of turbine vents",
            inputs.turbine_vents,
        ),
        (
            MaterialItem::PowerVents,
            "count of power vents",
            inputs.power_vents,
        ),
    ];
    for (item, name, count) in kinds {
        if count.is_some_and(|count| count > 0) {
            lines.push(counted(inputs, item, name, count));
        }
    }
    if let Some(length) = inputs.ridge_vent_ft.filter(|length| *length > 0.0) {
        let mut reckoning = Reckoning::new(inputs);
        reckoning.given("length of ridge vent", Some(length), "ft");
        let words = format!("{} ft measured", number(length));
        let (item, unit) = (MaterialItem::RidgeVent, MaterialUnit::Foot);
        lines.push(reckoning.line(item, unit, Some(length), words));
    }
    let anything = kinds.iter().any(|(_, _, count)| count.is_some());
    if !anything && inputs.ridge_vent_ft.is_none() {
        let mut line = counted(inputs, MaterialItem::BoxVents, "count of vents", None);
        line.arithmetic = "no vent of any kind was counted".to_owned();
        lines.push(line);
    }
}

/// The high part of the net free area asked, and what the box and ridge vents there give.
pub(super) fn vent_area(inputs: &MaterialInputs, lines: &mut Vec<MaterialLine>) {
    let unit = MaterialUnit::SquareInch;
    let mut reckoning = Reckoning::new(inputs);
    let asked = inputs.vent_area_asked.as_ref();
    if let Some((_, rule)) = asked {
        reckoning = reckoning.resting_on(rule.clone());
    }
    let area = asked.map(|(area, _)| *area);
    let area = reckoning.given("net free vent area that the code asks for", area, "sq in");
    let share = reckoning.coverage(CoverageKey::HighShare);
    let words = match area {
        Some(area) => format!("{} sq in x {}", number(area), number(share)),
        None => "the area of the vented space is not known".to_owned(),
    };
    let high = area.map(|area| area * share);
    lines.push(reckoning.line(MaterialItem::VentAreaHigh, unit, high, words));

    if inputs.box_vents.is_none() && inputs.ridge_vent_ft.is_none() {
        return;
    }
    let mut reckoning = Reckoning::new(inputs);
    let boxes = f64::from(inputs.box_vents.unwrap_or(0));
    let ridge = inputs.ridge_vent_ft.unwrap_or(0.0);
    let each = reckoning.coverage(CoverageKey::BoxVentArea);
    let foot = reckoning.coverage(CoverageKey::RidgeVentArea);
    let words = format!(
        "{} box vents x {} sq in + {} ft of ridge vent x {} sq in a ft",
        number(boxes),
        number(each),
        number(ridge),
        number(foot)
    );
    let there = Some(boxes * each + ridge * foot);
    lines.push(reckoning.line(MaterialItem::VentAreaThere, unit, there, words));
}

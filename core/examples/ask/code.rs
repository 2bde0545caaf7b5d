//! Questions about the residential code's rules.

use chalkwalk_core::job::{Area, Length, Material, Pitch};
use chalkwalk_core::trade::code::{
    CodeInputs, CodeRule, Edition, IceRule, SlopeInputs, answers, ice_barrier as reach,
};
use serde_json::{Value, json};

use super::{flag, number_or_none};

/// `edition` (a year), `overhang_in`, `wall_in`, `rise` -> lengths in inches.
pub(super) fn ice_barrier(question: &Value) -> Result<Value, String> {
    let year = question["edition"].as_u64().ok_or("edition is a year")?;
    let edition = Edition::ALL.iter().find(|e| u64::from(e.year()) == year);
    let rule = edition.and_then(|edition| IceRule::in_edition(*edition));
    let (Some(overhang), Some(wall), Some(rise)) = (
        number_or_none(question, "overhang_in"),
        number_or_none(question, "wall_in"),
        number_or_none(question, "rise"),
    ) else {
        return Err("overhang_in, wall_in and rise are numbers".to_owned());
    };
    let barrier = reach(rule.ok_or("no such edition")?, overhang, wall, rise);
    Ok(json!(barrier.ok_or("out of range")?))
}

/// `edition` (text), `space_sq_ft`, `high_share`, `zone`, `retarder` -> square inches.
pub(super) fn vent_area(question: &Value) -> Result<Value, String> {
    let inputs = CodeInputs {
        code_edition: question["edition"].as_str().map(str::to_owned),
        vented_space: number_or_none(question, "space_sq_ft").map(Area::from_square_feet),
        high_vent_share: number_or_none(question, "high_share"),
        vapour_retarder: flag(question, "retarder"),
        climate_zone: question["zone"]
            .as_u64()
            .and_then(|zone| zone.try_into().ok()),
        ..CodeInputs::default()
    };
    answer(&inputs, CodeRule::Ventilation)
}

/// `edition` (text), `overhang_in`, `wall_in`, `rise`, `designated` -> the answer about one slope.
pub(super) fn ice_answer(question: &Value) -> Result<Value, String> {
    let inputs = CodeInputs {
        code_edition: question["edition"].as_str().map(str::to_owned),
        ice_barrier_designated: flag(question, "designated"),
        slopes: vec![SlopeInputs {
            name: "slope".into(),
            pitch: number_or_none(question, "rise").and_then(Pitch::from_rise),
            roofing: Some(Material::LaminatedShingle),
            overhang: number_or_none(question, "overhang_in").map(Length::from_inches_f64),
            wall_thickness: number_or_none(question, "wall_in").map(Length::from_inches_f64),
            ..SlopeInputs::default()
        }],
        ..CodeInputs::default()
    };
    answer(&inputs, CodeRule::IceBarrier)
}

/// The last answer of a rule, with its figures by name.
fn answer(inputs: &CodeInputs, rule: CodeRule) -> Result<Value, String> {
    let all = answers(inputs);
    let answer = all.iter().rfind(|answer| answer.rule == rule);
    let answer = answer.ok_or("no answer")?;
    let figures: serde_json::Map<String, Value> = answer
        .figures
        .iter()
        .map(|figure| (figure.name.to_owned(), json!(figure.value)))
        .collect();
    Ok(json!({
        "standing": answer.standing,
        "citation": answer.citation(),
        "sentence": answer.sentence,
        "figures": figures,
    }))
}

//! Questions about material quantities: `slopes` (area_sq_ft, rise, overhang_in, wall_in), `edges`
//! (kind, length_ft, slope), `waste`, `coverages` by key, and the choices -> the lines.

use std::collections::BTreeMap;

use chalkwalk_core::job::{EdgeKind, ValleyLining};
use chalkwalk_core::trade::materials::{
    CoverageKey, Entered, MaterialInputs, RoofArea, RoofEdge, Waste, materials as reckon,
};
use serde_json::{Value, json};

use super::{flag, number_or_none};

pub(super) fn materials(question: &Value) -> Result<Value, String> {
    let inputs = MaterialInputs {
        slopes: list(question, "slopes").map(slope).collect(),
        edges: list(question, "edges")
            .map(edge)
            .collect::<Result<_, _>>()?,
        none_of: EdgeKind::ALL.iter().copied().collect(),
        waste: number_or_none(question, "waste").map(|percent| Waste {
            name: "stated".into(),
            percent,
        }),
        coverages: coverages(question)?,
        code_edition: question["edition"].as_str().map(str::to_owned),
        ice_barrier_designated: flag(question, "designated"),
        starter_at_rakes: flag(question, "starter_at_rakes"),
        gutter_apron: flag(question, "gutter_apron"),
        high_wind: flag(question, "high_wind"),
        valley_lining: question["valley_lining"]
            .as_str()
            .and_then(ValleyLining::from_code),
        exposure_in: number_or_none(question, "exposure_in"),
        ..MaterialInputs::default()
    };
    // Only kinds of which an edge is given are there; the rest the roof has none of.
    let given: Vec<EdgeKind> = inputs.edges.iter().map(|edge| edge.kind).collect();
    let mut inputs = inputs;
    inputs.none_of.retain(|kind| !given.contains(kind));
    let lines = reckon(&inputs).map_err(|error| error.to_string())?;
    Ok(json!(lines))
}

fn list<'a>(question: &'a Value, key: &str) -> impl Iterator<Item = &'a Value> {
    question[key].as_array().into_iter().flatten()
}

fn slope(value: &Value) -> RoofArea {
    RoofArea {
        name: value["name"].as_str().unwrap_or("slope").to_owned(),
        area_sq_ft: number_or_none(value, "area_sq_ft"),
        rise: number_or_none(value, "rise"),
        overhang_in: number_or_none(value, "overhang_in"),
        wall_in: number_or_none(value, "wall_in"),
    }
}

fn edge(value: &Value) -> Result<RoofEdge, String> {
    let kind = value["kind"].as_str().and_then(EdgeKind::from_code);
    let slope = value["slope"].as_u64();
    Ok(RoofEdge {
        kind: kind.ok_or("an edge has a kind")?,
        name: value["name"].as_str().unwrap_or("edge").to_owned(),
        length_ft: number_or_none(value, "length_ft"),
        slope: slope.and_then(|slope| slope.try_into().ok()),
    })
}

fn coverages(question: &Value) -> Result<BTreeMap<CoverageKey, Entered>, String> {
    let mut coverages = BTreeMap::new();
    for (name, value) in question["coverages"].as_object().into_iter().flatten() {
        let key = CoverageKey::ALL.iter().find(|key| json!(key) == *name);
        let key = key.ok_or_else(|| format!("there is no coverage \"{name}\""))?;
        let entered = Entered {
            value: value.as_f64().ok_or("a coverage is a number")?,
            source: "asked".into(),
        };
        coverages.insert(*key, entered);
    }
    Ok(coverages)
}

//! `{"about": "roof_plan", "plan": PLAN}` -> the solved roof; `{"about": "pitch", "rise": 6}` (or
//! `degrees`, `percent`) -> the pitch in each way it is written, and its factors.

use chalkwalk_core::trade::roof::{Rise, RoofPlan, solve};
use serde_json::{Value, json};

pub(super) fn plan(question: &Value) -> Result<Value, String> {
    let plan = RoofPlan::read(&question["plan"].to_string()).map_err(|error| error.to_string())?;
    let roof = solve(&plan).map_err(|error| error.to_string())?;
    serde_json::to_value(&roof).map_err(|error| error.to_string())
}

pub(super) fn pitch(question: &Value) -> Result<Value, String> {
    let number = |key: &str| question[key].as_f64();
    let pitch = match (number("rise"), number("degrees"), number("percent")) {
        (Some(rise), _, _) => Rise::in_twelve(rise),
        (_, Some(degrees), _) => Rise::from_degrees(degrees),
        (_, _, Some(percent)) => Rise::from_percent(percent),
        _ => return Err("a pitch has a rise, degrees or percent".to_owned()),
    };
    let pitch = pitch.map_err(|error| error.to_string())?;
    Ok(json!({
        "rise": pitch.rise(),
        "degrees": pitch.degrees(),
        "percent": pitch.percent(),
        "slope_factor": pitch.slope_factor(),
        "hip_factor": pitch.hip_factor(),
    }))
}

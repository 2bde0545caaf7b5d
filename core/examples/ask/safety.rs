//! `{"about": "heat", "temperature": F, "humidity": PERCENT}` and `{"about": "ladder", "landing":
//! FEET}`.

use chalkwalk_core::job::Length;
use chalkwalk_core::trade::safety::{heat, ladder};
use serde_json::{Value, json};

use super::number;

pub(super) fn heat_index(question: &Value) -> Result<Value, String> {
    let answer = heat(
        number(question, "temperature")?,
        number(question, "humidity")?,
    );
    let answer = answer.map_err(|error| error.to_string())?;
    Ok(json!({ "index": answer.index_f, "band": answer.band }))
}

pub(super) fn ladder_set_up(question: &Value) -> Result<Value, String> {
    let landing = Length::from_inches_f64(number(question, "landing")? * 12.0);
    let set_up = ladder(landing).map_err(|error| error.to_string())?;
    Ok(json!({
        "working_length": set_up.working_length.to_feet(),
        "base": set_up.base.to_feet(),
        "rail_length": set_up.rail_length.to_feet(),
    }))
}

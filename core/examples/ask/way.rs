//! `{"about": "way", "from": [LATITUDE, LONGITUDE], "to": [...]}`: miles and bearing.

use chalkwalk_core::trade::geo::{Position, compass_point};
use serde_json::{Value, json};

pub(super) fn way(question: &Value) -> Result<Value, String> {
    let way = position(&question["from"])?.way_to(position(&question["to"])?);
    Ok(json!({
        "miles": way.miles(),
        "metres": way.metres,
        "bearing": way.bearing,
        "letters": way.bearing.and_then(compass_point).map(|point| point.letters),
    }))
}

pub(super) fn position(value: &Value) -> Result<Position, String> {
    match (value[0].as_f64(), value[1].as_f64()) {
        (Some(north), Some(east)) => Position::new(north, east).map_err(|error| error.to_string()),
        _ => Err("a position is [latitude, longitude]".to_owned()),
    }
}

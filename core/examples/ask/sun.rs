//! `{"about": "sun", "at": [LATITUDE, LONGITUDE], "millis": UTC, "elevation": M, "pressure": HPA,
//! "temperature": C, "delta_t": S, "faces": [[FACING, TILT], ...]}`: angles in degrees.
//!
//! With `"day": "2026-04-28", "offset": MINUTES` in place of `millis`: the spans of each face, as
//! `[LIGHT, FROM, TO]`.

use chalkwalk_core::trade::sun::{Air, DayQuery, Face, Sky, SunDay, sun_position};
use serde_json::{Value, json};

use super::{number, way};

pub(super) fn sun(question: &Value) -> Result<Value, String> {
    let place = way::position(&question["at"])?;
    let air = Air {
        pressure_hpa: number(question, "pressure")?,
        temperature_c: number(question, "temperature")?,
    };
    let sky = Sky {
        elevation_m: number(question, "elevation")?,
        air: Some(air),
        delta_t: question["delta_t"].as_f64(),
    };
    let faces = question["faces"].as_array().map_or(&[][..], Vec::as_slice);
    let faces = faces
        .iter()
        .map(|face| {
            let angle = |index: usize| face[index].as_f64().unwrap_or(f64::NAN);
            Face::new("face", angle(0), angle(1))
        })
        .collect::<Result<Vec<_>, _>>()
        .map_err(|error| error.to_string())?;
    if let Some(day) = question["day"].as_str() {
        let day = day.parse().map_err(|_| "the day is no date".to_owned())?;
        let offset = question["offset"].as_i64().unwrap_or_default() as i32;
        let query = DayQuery {
            sky,
            ..DayQuery::new(place, day, offset, faces)
        };
        let day = SunDay::of(&query).map_err(|error| error.to_string())?;
        return Ok(json!(day.faces));
    }
    let millis = question["millis"]
        .as_i64()
        .ok_or("\"millis\" is no instant")?;
    let sun = sun_position(place, millis, &sky).map_err(|error| error.to_string())?;
    let incidences: Vec<f64> = faces.iter().map(|face| face.incidence(&sun)).collect();
    Ok(json!({
        "zenith": sun.zenith,
        "true_zenith": sun.true_zenith,
        "azimuth": sun.azimuth,
        "incidences": incidences,
    }))
}

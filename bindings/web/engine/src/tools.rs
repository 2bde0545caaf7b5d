//! What needs no job: words of the trade, cautions, pitch, sun.

use chalkwalk_core::job::{
    AnyFields, Audience, Cause, Component, Condition, Finish, Kind, Known, Mark, Material,
    PhotoRole, Pitch, Severity, Side, StructureKind,
};

use chalkwalk_core::review::account::{OWNER_CAUTIONS, SIGNATURE_MEANS};
use chalkwalk_core::review::{CAUTIONS, DEFERENCE};
use chalkwalk_core::trade::geo::Position;
use chalkwalk_core::trade::roof::{GaugeReading, GaugeStep};
use chalkwalk_core::trade::sun::{
    BestLeft, DayQuery, Face, GrazingBand, Sky, SunDay, sun_position,
};
use chrono::DateTime;
use serde_json::{Value, json};

macro_rules! words {
    ($($name:ident),*) => {
        json!({$(
            stringify!($name): $name::ALL
                .iter()
                .map(|word| json!({"code": word.code(), "label": word.label()}))
                .collect::<Vec<_>>(),
        )*})
    };
}

/// The words of the trade that the page offers, and the texts that it must show.
pub(crate) fn vocabulary() -> Value {
    let mut words = words!(
        Audience,
        Cause,
        Condition,
        Finish,
        Known,
        Material,
        PhotoRole,
        Severity,
        Side,
        StructureKind
    );
    let components: Vec<Value> = Component::ALL
        .iter()
        .map(|component| {
            let facts = component.facts();
            json!({
                "code": component.code(),
                "label": component.label(),
                "soft_metal": facts.soft_metal,
                "of_total": facts.of_total,
                "unit": facts.unit.code(),
            })
        })
        .collect();
    words["Component"] = Value::Array(components);
    let cautions: Vec<Value> = CAUTIONS
        .iter()
        .map(|caution| json!({"text": caution.text, "source": caution.source}))
        .collect();
    words["cautions"] = Value::Array(cautions);
    words["deference"] = json!(DEFERENCE);
    words["owner_cautions"] = json!(OWNER_CAUTIONS);
    words["signature_means"] = json!(SIGNATURE_MEANS);
    words
}

/// An angle from level as a pitch: exact, and rounded to half an inch in twelve.
pub(crate) fn pitch(degrees: f64) -> Result<Value, String> {
    let reading = GaugeReading::Degrees(degrees);
    let gauge = reading
        .rounded(GaugeStep::Half)
        .map_err(|error| error.to_string())?;
    serde_json::to_value(gauge).map_err(|error| error.to_string())
}

/// How the sun meets a wall (no pitch) or a slope that faces a bearing, now and later today.
pub(crate) fn sun(
    place: (f64, f64),
    bearing: f64,
    pitch: Option<f64>,
    offset_min: i32,
    now: i64,
) -> Result<Value, String> {
    let said = |error: &dyn std::fmt::Display| error.to_string();
    let place = Position::new(place.0, place.1).map_err(|error| said(&error))?;
    let face = match pitch {
        Some(rise) => {
            let pitch = Pitch::from_rise(rise).ok_or("a pitch runs from 0 to 40 in 12")?;
            Face::slope("this slope", bearing, pitch)
        }
        None => Face::wall("this wall", bearing),
    };
    let face = face.map_err(|error| said(&error))?;
    let sky = Sky::default();
    let sun = sun_position(place, now, &sky).map_err(|error| said(&error))?;
    let local = DateTime::from_timestamp_millis(now + i64::from(offset_min) * 60_000);
    let day = local
        .ok_or("this time is outside the calendar")?
        .date_naive();
    let query = DayQuery::new(place, day, offset_min, vec![face.clone()]);
    let day = SunDay::of(&query).map_err(|error| said(&error))?;
    let best = day.faces.first().map(|of_day| {
        let best = BestLeft::of(&day, of_day, now);
        best.words(&day, of_day)
    });
    Ok(json!({
        "altitude": sun.altitude(),
        "azimuth": sun.azimuth,
        "grazing_angle": 90.0 - face.incidence(&sun),
        "light": face.light(&sun, GrazingBand::default()),
        "best": best,
    }))
}

/// The marks drawn on a photo, as its record holds them.
pub(crate) fn marks(marks: &[Mark]) -> Result<AnyFields, String> {
    let bytes = Mark::to_bytes(marks).map_err(|error| error.to_string())?;
    let mut fields = AnyFields::empty(Kind::Photo);
    if let AnyFields::Photo(photo) = &mut fields {
        photo.marks = Some(serde_bytes::ByteBuf::from(bytes));
    }
    Ok(fields)
}

//! Questions about hail, wind, gutters, counts and patterns of hits.

use chalkwalk_core::job::{Area, Pitch};
use chalkwalk_core::trade::hail::{FallModel, IMPACT_CLASSES, fall};
use chalkwalk_core::trade::pattern::{Question, Stone, Surface, pattern};
use chalkwalk_core::trade::stats::{Count, compare_many, compare_two, garwood};
use chalkwalk_core::trade::wind::{Facing, drift, hits_against_level};
use chalkwalk_core::trade::{gutters, hail};
use serde_json::{Value, json};

fn number(value: &Value, key: &str) -> Result<f64, String> {
    value[key]
        .as_f64()
        .ok_or_else(|| format!("{key} is no number"))
}

fn list<'a>(value: &'a Value, key: &str) -> Result<&'a Vec<Value>, String> {
    value[key]
        .as_array()
        .ok_or_else(|| format!("{key} is no list"))
}

fn count(value: &Value) -> Result<Count, String> {
    Ok(Count {
        hits: value[0].as_u64().ok_or("a count is no whole number")?,
        exposure: value[1].as_f64().ok_or("an exposure is no number")?,
    })
}

fn answer<T: serde::Serialize, E: ToString>(found: Result<T, E>) -> Result<Value, String> {
    let found = found.map_err(|error| error.to_string())?;
    serde_json::to_value(found).map_err(|error| error.to_string())
}

/// `count`, `level`.
pub(crate) fn interval(q: &Value) -> Result<Value, String> {
    let hits = q["count"].as_u64().ok_or("count is no whole number")?;
    answer(garwood(hits, number(q, "level")?))
}

/// `first` and `second` as `[hits, exposure]`, `level`.
pub(crate) fn two(q: &Value) -> Result<Value, String> {
    answer(compare_two(
        count(&q["first"])?,
        count(&q["second"])?,
        number(q, "level")?,
    ))
}

/// `counts`, a list of `[hits, exposure]`.
pub(crate) fn many(q: &Value) -> Result<Value, String> {
    let counts: Result<Vec<Count>, String> = list(q, "counts")?.iter().map(count).collect();
    answer(compare_many(&counts?))
}

/// `inches`, `model`: `ice` or `natural`.
pub(crate) fn falling(q: &Value) -> Result<Value, String> {
    let model = match q["model"].as_str() {
        Some("ice") => FallModel::SmoothIceBall,
        _ => FallModel::NaturalHail,
    };
    answer(fall(number(q, "inches")?, model))
}

/// `wind`, `fall`.
pub(crate) fn drifting(q: &Value) -> Result<Value, String> {
    let found = drift(number(q, "wind")?, number(q, "fall")?);
    answer(found.ok_or("no such speeds"))
}

/// `bearing`, `rise` or null for a wall, `from`, `ratio`.
pub(crate) fn exposure(q: &Value) -> Result<Value, String> {
    let bearing = number(q, "bearing")?;
    let facing = match q["rise"].as_f64() {
        Some(rise) => Facing::slope(bearing, rise),
        None => Facing::wall(bearing),
    };
    Ok(json!(hits_against_level(
        facing,
        number(q, "from")?,
        number(q, "ratio")?
    )))
}

/// The steel balls of the impact classes, ft-lbf.
pub(crate) fn impact(_: &Value) -> Result<Value, String> {
    let each = IMPACT_CLASSES.iter().map(|class| class.foot_pounds());
    Ok(json!(each.collect::<Vec<f64>>()))
}

/// `said`.
pub(crate) fn size_word(q: &Value) -> Result<Value, String> {
    let said = q["said"].as_str().unwrap_or_default();
    answer(hail::inches_from_word(said).ok_or("no list has the word"))
}

/// `surfaces`, a list of `[bearing, tilt, exposure, hits, covering]`; `level`; `stone` or null.
pub(crate) fn hits_pattern(q: &Value) -> Result<Value, String> {
    let mut surfaces = Vec::new();
    for row in list(q, "surfaces")? {
        let part = |at: usize| row[at].as_f64().ok_or("a surface needs five entries");
        surfaces.push(Surface {
            name: "surface".to_owned(),
            facing: Facing {
                bearing: part(0)?,
                tilt: part(1)?,
            },
            exposure: part(2)?,
            unit: "sq ft".to_owned(),
            hits: row[3].as_u64().ok_or("hits are no whole number")?,
            covering: row[4].to_string(),
            placement: None,
        });
    }
    let stone = q["stone"].as_f64().map(|inches| Stone {
        inches,
        source: "asked".to_owned(),
    });
    let question = Question {
        level: number(q, "level")?,
        stone,
        stated: Vec::new(),
    };
    answer(pattern(&surfaces, &question))
}

/// `diameter`, or `top`, `bottom` and `depth`; `fall`, `roughness`.
pub(crate) fn manning(q: &Value) -> Result<Value, String> {
    let section = match q["diameter"].as_f64() {
        Some(diameter) => gutters::Section::HalfRound { diameter },
        None => gutters::Section::Trapezoid {
            top: number(q, "top")?,
            bottom: number(q, "bottom")?,
            depth: number(q, "depth")?,
        },
    };
    answer(gutters::manning(
        section,
        number(q, "fall")?,
        number(q, "roughness")?,
    ))
}

/// `square_feet`, `rise`, `rain`.
pub(crate) fn demand(q: &Value) -> Result<Value, String> {
    let pitch = Pitch::from_rise(number(q, "rise")?).ok_or("no such pitch")?;
    let plan = Area::from_square_feet(number(q, "square_feet")?);
    answer(gutters::demand(plan, pitch, number(q, "rain")?))
}

//! `{"about": "storm", "file": TEXT, "day": DATE, "wind_unit": "mph" or "kt", "address": [LATITUDE,
//! LONGITUDE], "loss": DATE, "days": DAYS, "miles": RADIUS, "zone": NAME}`: what the file holds,
//! and what of it lies near the address.

use chalkwalk_core::trade::storm::{Order, ReadOptions, Search, WindUnit, near, read};
use chalkwalk_core::trade::zone::offset_minutes;
use serde_json::{Value, json};

use super::{number, way};

pub(super) fn storm(question: &Value) -> Result<Value, String> {
    let date = |name: &str| question[name].as_str().and_then(|text| text.parse().ok());
    let options = ReadOptions {
        day: date("day"),
        wind_unit: match question["wind_unit"].as_str() {
            Some("kt") => WindUnit::Knots,
            _ => WindUnit::MilesPerHour,
        },
    };
    let text = question["file"].as_str().ok_or("there is no \"file\"")?;
    let file = read(text.as_bytes(), &options).map_err(|error| error.to_string())?;
    let days = number(question, "days")? as u32;
    let search = Search {
        days_before: days,
        days_after: days,
        radius_miles: number(question, "miles")?,
        order: Order::Distance,
        ..Search::about(date("loss").ok_or("\"loss\" is no date")?)
    };
    let zone = question["zone"].as_str().unwrap_or_default();
    offset_minutes(zone, 0).ok_or("\"zone\" is no time zone")?;
    let offset = |at| offset_minutes(zone, at).unwrap_or_default();
    let address = way::position(&question["address"])?;
    let found = near(&file.reports, address, &search, &offset).map_err(|e| e.to_string())?;
    let found: Vec<Value> = found
        .reports
        .iter()
        .map(|near| {
            json!({
                "line": near.report.line,
                "kind": near.report.kind,
                "at": near.report.at,
                "local": near.local.format("%Y-%m-%d %H:%M").to_string(),
                "miles": near.miles,
                "bearing": near.bearing,
                "hail": near.report.hail_in,
                "mph": near.report.wind.map(|wind| wind.mph()),
            })
        })
        .collect();
    Ok(json!({
        "reports": file.reports.len(),
        "broken": file.broken,
        "other_rows": file.other_rows,
        "zone_rows": file.zone_rows,
        "near": found,
    }))
}

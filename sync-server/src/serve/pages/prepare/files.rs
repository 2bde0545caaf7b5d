//! The files of the form as records: a bought measurement report, reports of hail and wind.

use std::collections::BTreeMap;

use chalkwalk_core::job::{AnyFields, MeasurementReport, Property, StormReport};
use chalkwalk_core::review::measurement::{Columns, encode_rows, read_report};
use chalkwalk_core::trade::geo::Position;
use chalkwalk_core::trade::{storm, zone};
use chrono::NaiveDate;
use serde_bytes::ByteBuf;

use super::super::super::Shared;
use super::fields::{date, number};
use super::form::{Sent, SentFile, Wrong};
use crate::limits;

/// How far from the house reports are looked for, miles, where nobody says otherwise.
const MILES: f64 = 10.0;

/// The records that the files become; what is wrong with a file is added to `wrong`.
pub(super) async fn records(
    shared: &Shared,
    sent: &Sent,
    property: &Property,
    wrong: &mut Wrong,
) -> Vec<AnyFields> {
    let mut records: Vec<AnyFields> = Vec::new();
    if let Some(file) = &sent.measured {
        match measured(file, property.measurement_report.as_deref()) {
            Ok(report) => records.push(report.into()),
            Err(words) => wrong.add("measured", words),
        }
    }
    if sent.storms.is_empty() {
        return records;
    }
    let Some(near) = near(sent, property, wrong) else {
        return records;
    };
    // A year of the whole country takes a second or two: one at a time, off the threads that answer.
    let turn = std::sync::Arc::clone(&shared.house.reading);
    let _turn = turn.acquire_owned().await;
    let mut kept: BTreeMap<String, StormReport> = BTreeMap::new();
    for file in &sent.storms {
        let (near, name, bytes) = (near.clone(), file.name.clone(), file.bytes.clone());
        let read = tokio::task::spawn_blocking(move || near.reports(&name, &bytes)).await;
        match read {
            Ok(Ok(found)) => kept.extend(found),
            Ok(Err(words)) => wrong.add("storm", format!("{}: {words}.", file.name)),
            Err(_) => wrong.add(
                "storm",
                format!("{} could not be read: try again.", file.name),
            ),
        }
    }
    if kept.len() > limits::STORM_KEPT {
        let (found, most) = (kept.len(), limits::STORM_KEPT);
        wrong.add(
            "miles",
            format!("{found} reports lie so near; at most {most} are kept. Look less far."),
        );
    }
    records.extend(kept.into_values().map(AnyFields::from));
    records
}

/// The figures of a bought report.
fn measured(file: &SentFile, name: Option<&str>) -> Result<MeasurementReport, String> {
    let words = |error: chalkwalk_core::review::measurement::MeasurementError| {
        format!("{}: {error}.", file.name)
    };
    let report = read_report(&file.bytes, &Columns::new()).map_err(words)?;
    if report.rows.is_empty() {
        let why = report.broken.first().map_or_else(String::new, |row| {
            format!(" Line {}: {}.", row.line, row.why)
        });
        return Err(format!("{}: no row of it could be read.{why}", file.name));
    }
    Ok(MeasurementReport {
        name: Some(name.unwrap_or(&file.name).to_owned()),
        file_hash: Some(blake3::hash(&file.bytes).to_hex().to_string()),
        rows: Some(ByteBuf::from(encode_rows(&report.rows).map_err(words)?)),
        ..MeasurementReport::default()
    })
}

/// Where and when reports are looked for.
#[derive(Clone, Debug)]
struct Near {
    place: Position,
    zone: String,
    search: storm::Search,
    day: Option<NaiveDate>,
}

/// Reports are kept by their distance and day: both must be known.
fn near(sent: &Sent, property: &Property, wrong: &mut Wrong) -> Option<Near> {
    let place = property.latitude.zip(property.longitude);
    let place = place.and_then(|(latitude, longitude)| Position::new(latitude, longitude).ok());
    if place.is_none() {
        wrong.add(
            "latitude",
            "Storm reports are kept by their distance: type the coordinates of the house.",
        );
    }
    if property.date_of_loss.is_none() {
        wrong.add(
            "date_of_loss",
            "Storm reports are kept by their day: type the date of loss.",
        );
    }
    if property.time_zone.is_none() {
        wrong.add(
            "time_zone",
            "Storm reports are in UTC: type the time zone of the house.",
        );
    }
    let miles = match sent.filled("miles") {
        Some(typed) => number(&typed),
        None => Some(MILES),
    };
    if miles.is_none() {
        wrong.add("miles", "A number of miles.");
    }
    let day = date(sent, wrong, "storm_day");
    let search = storm::Search {
        radius_miles: miles?,
        ..storm::Search::about(property.date_of_loss?)
    };
    Some(Near {
        place: place?,
        zone: property.time_zone.clone()?,
        search,
        day,
    })
}

impl Near {
    /// The reports of one file that lie near, by their source.
    fn reports(&self, name: &str, bytes: &[u8]) -> Result<Vec<(String, StormReport)>, String> {
        let options = storm::ReadOptions {
            day: self.day,
            ..storm::ReadOptions::default()
        };
        let file = storm::read(bytes, &options).map_err(|error| error.to_string())?;
        let offset = |at| zone::offset_minutes(&self.zone, at).unwrap_or(0);
        let near = storm::near(&file.reports, self.place, &self.search, &offset);
        let near = near.map_err(|error| error.to_string())?;
        let records = near.reports.iter().map(|near| {
            let record = near.report.record(name);
            (record.source.clone().unwrap_or_default(), record)
        });
        Ok(records.collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(name: &str, bytes: &[u8]) -> SentFile {
        SentFile {
            name: name.to_owned(),
            bytes: bytes.to_vec(),
        }
    }

    #[test]
    fn a_report_is_kept_with_its_hash() {
        let csv = b"Slope,Area (sq ft),Pitch\nmain front,429,6/12\n";
        let report = measured(&file("report.csv", csv), Some("TF-2204")).unwrap();
        assert_eq!(report.name.as_deref(), Some("TF-2204"));
        assert_eq!(
            report.file_hash.unwrap(),
            blake3::hash(csv).to_hex().to_string()
        );
        let rows = chalkwalk_core::review::measurement::decode_rows(&report.rows.unwrap()).unwrap();
        assert_eq!(rows.len(), 1);
    }

    #[test]
    fn a_wrong_file_is_told_by_its_name() {
        for (bytes, words) in [
            (&b"\xff\xd8\xff\xe0"[..], "not text in UTF-8"),
            (b"", "no rows"),
            (b"a,b\n1,2\n", "no column for area, pitch or length"),
            (
                b"Slope,Area (sq ft)\nmain,many\n",
                "no row of it could be read. Line 2",
            ),
        ] {
            let told = measured(&file("x.csv", bytes), None).unwrap_err();
            assert!(
                told.starts_with("x.csv: ") && told.contains(words),
                "{told}"
            );
        }
    }

    /// The row that stands as the example on the Storm Prediction Center's page of reports.
    #[test]
    fn reports_near_the_house_are_found() {
        let csv = b"Time,Size,Location,County,State,Lat,Lon,Comments\n\
                    1208,100,1 SSW Berea,Madison,KY,37.57,-84.3,(LMK)\n";
        let loss = NaiveDate::from_ymd_opt(2026, 4, 21).unwrap();
        let near = |miles| Near {
            place: Position::new(37.6, -84.3).unwrap(),
            zone: "America/New_York".to_owned(),
            search: storm::Search {
                radius_miles: miles,
                ..storm::Search::about(loss)
            },
            day: Some(loss),
        };
        let found = near(10.0).reports("daily.csv", csv).unwrap();
        assert_eq!(found.len(), 1);
        assert!(found[0].0.starts_with("daily.csv, line 2"));
        assert!(near(1.0).reports("daily.csv", csv).unwrap().is_empty());
        assert!(near(-1.0).reports("daily.csv", csv).is_err());
        let undated = Near {
            day: None,
            ..near(10.0)
        };
        assert!(
            undated
                .reports("daily.csv", csv)
                .unwrap_err()
                .contains("date of the file")
        );
        assert!(
            near(10.0)
                .reports("x.csv", b"a,b\n")
                .unwrap_err()
                .contains("first line")
        );
    }
}

//! Files of others that a person hands in: scopes, measurement reports, price lists, storm
//! reports, roof plans, enrolment texts, and the values that people type.

use std::path::Path;

use chalkwalk_core::job::{Area, JobId, Length, Pitch, RecordRef};
use chalkwalk_core::review::compare::columns::Columns as ScopeColumns;
use chalkwalk_core::review::compare::{read_rows, table::read_table};
use chalkwalk_core::review::measurement::{self, Columns, decode_rows, encode_rows, read_report};
use chalkwalk_core::review::scope::{PriceColumns, read_price_list};
use chalkwalk_core::trade::roof::{RoofPlan, solve};
use chalkwalk_core::trade::storm::{self, ReadOptions};
use chalkwalk_link::Ticket;

/// A scope as CSV or XLSX, its columns guessed, its rows read.
pub(super) fn scope_file(bytes: &[u8]) {
    if let Ok(table) = read_table(bytes, None) {
        let columns = ScopeColumns::guess(&table);
        drop(read_rows(&table, &columns));
    }
}

/// A measurement report as CSV or JSON; what is read of it is kept and read back the same.
pub(super) fn measurement_report(bytes: &[u8]) {
    if let Ok(report) = read_report(bytes, &Columns::default())
        && let Ok(kept) = encode_rows(&report.rows)
    {
        assert_eq!(decode_rows(&kept).as_ref(), Ok(&report.rows));
    }
}

/// The rows of a measurement report, as a peer's record brings them.
pub(super) fn measurement_rows(bytes: &[u8]) {
    drop(decode_rows(bytes));
}

/// A price list.
pub(super) fn price_list(bytes: &[u8]) {
    let columns = PriceColumns {
        item: "Item".to_owned(),
        unit: "Unit".to_owned(),
        price: "Price".to_owned(),
        action: Some("Work".to_owned()),
    };
    drop(read_price_list(bytes, &columns));
}

/// A file of storm reports, plain or compressed.
pub(super) fn storm_file(bytes: &[u8]) {
    let options = ReadOptions {
        day: chrono::NaiveDate::from_ymd_opt(2026, 4, 21),
        ..ReadOptions::default()
    };
    drop(storm::read(bytes, &options));
}

/// A roof plan, worked out.
pub(super) fn roof_plan(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    if let Ok(plan) = RoofPlan::read(text) {
        drop(solve(&plan));
    }
}

/// The text of an enrolment picture; what is read of it says the same again.
pub(super) fn enrolment_text(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    if let Ok(ticket) = text.parse::<Ticket>() {
        assert_eq!(ticket.text().parse::<Ticket>().as_ref(), Ok(&ticket));
    }
}

/// Lengths, pitches, areas and names of records, as people type them.
pub(super) fn typed_values(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    drop(text.parse::<Length>());
    drop(text.parse::<Pitch>());
    drop(text.parse::<Area>());
    drop(text.parse::<RecordRef>());
    drop(text.parse::<JobId>());
}

/// Bytes that these read well.
pub(super) fn good(decoder: &str, fixtures: &Path) -> Vec<Vec<u8>> {
    let file = |name: &str| std::fs::read(fixtures.join(name)).unwrap();
    let lines = |name: &str, most: usize| {
        let text = String::from_utf8(file(name)).unwrap();
        let head: Vec<&str> = text.lines().take(most).collect();
        head.join("\n").into_bytes()
    };
    let texts = |texts: &[&str]| texts.iter().map(|text| text.as_bytes().to_vec()).collect();
    match decoder {
        "scope-file" => vec![
            lines("scope/insurer-scope.csv", 12),
            file("scope/insurer-scope.xlsx"),
        ],
        "measurement-report" => vec![
            lines("scope/measurement-report.csv", 12),
            br#"[{"Section":"main front","Feature":"roof plane","Area (sq ft)":429,"Pitch":"6/12"}]"#
                .to_vec(),
        ],
        "measurement-rows" => {
            let report = file("scope/measurement-report.csv");
            let report = measurement::read_report(&report, &Columns::default()).unwrap();
            vec![encode_rows(&report.rows).unwrap()]
        }
        "price-list" => texts(&[
            "Item,Work,Unit,Price\nGutter 5 in,remove and replace,LF,9.85\nScreen,,EA,\"1,024.50\"\n",
        ]),
        "storm-file" => vec![
            lines("storm/daily-260421.csv", 8),
            lines("storm/storm-events-2026.csv", 3),
        ],
        "roof-plan" => {
            let square = |x: f64, y: f64| format!("[{x},{y}]");
            let points = [
                square(0.0, 0.0),
                square(40.0, 0.0),
                square(40.0, 18.0),
                square(22.0, 18.0),
                square(22.0, 30.0),
                square(0.0, 30.0),
            ];
            let points = points.join(",");
            texts(&[&format!(
                r#"{{"points":[{points}],"pitch":6.0,"overhang":1.0,"sides":[{{}},{{"form":"gable"}},{{}},{{"pitch":4.5}},{{}},{{}}]}}"#
            )])
        }
        "enrolment-text" => {
            let ticket = Ticket {
                address: "https://office.example/at/alder".to_owned(),
                pin: "k7mq-22xd-9fpa".to_owned(),
                code: "2345-6789-abcd".to_owned(),
            };
            vec![ticket.text().into_bytes()]
        }
        "typed-values" => texts(&[
            "12' 6-1/2\"",
            "6/12",
            "96 sq ft",
            "finding/01J00000000000000000000001",
            "01J00000000000000000000002",
        ]),
        _ => Vec::new(),
    }
}

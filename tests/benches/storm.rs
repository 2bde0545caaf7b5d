//! A year of national hail reports, read and searched: `cargo bench -p chalkwalk-tests --bench
//! storm`.
//!
//! The baseline is the `csv` crate alone, which splits the same bytes into the same cells and does
//! nothing else. A bench is not a test: it prints, and marks a ratio that is over its aim.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::fmt::Write;
use std::hint::black_box;
use std::time::{Duration, Instant};

use chalkwalk_core::trade::geo::Position;
use chalkwalk_core::trade::storm::{ReadOptions, Search, near, read};
use chrono::{NaiveDate, TimeDelta};

const ROWS: u32 = 10_000;
/// Half the speed of the baseline.
const AIM: f64 = 2.0;
const RUNS: usize = 21;

fn main() {
    let file = storm_events();
    println!("storm: {ROWS} rows, {} KB", file.len() / 1024);
    let day = NaiveDate::from_ymd_opt(2026, 6, 15).unwrap();
    let search = Search {
        days_before: 30,
        days_after: 30,
        radius_miles: 50.0,
        ..Search::about(day)
    };
    let house = Position::new(33.2127, -98.7431).unwrap();
    let (mut reports, mut found) = (0, 0);
    let mut ours = Vec::new();
    let mut baseline = Vec::new();
    // In turns, so that whatever else the machine does bears on both.
    for _ in 0..RUNS {
        ours.push(timed(|| {
            let file = read(file.as_bytes(), &ReadOptions::default()).unwrap();
            let near = near(&file.reports, house, &search, &|_| -300).unwrap();
            (reports, found) = (file.reports.len(), near.reports.len());
            near
        }));
        baseline.push(timed(|| {
            let mut reader = csv::ReaderBuilder::new().from_reader(file.as_bytes());
            let mut row = csv::ByteRecord::new();
            let mut cells = 0;
            while reader.read_byte_record(&mut row).unwrap() {
                cells += black_box(&row).len();
            }
            cells
        }));
    }
    let (ours, baseline) = (median(ours), median(baseline));
    let ratio = ours / baseline;
    let mark = if ratio <= AIM { "" } else { "  over" };
    println!(
        "{:<40} {:>9} {:>9} {:>6} {:>5}",
        "what", "ours ms", "csv ms", "ratio", "aim"
    );
    println!(
        "{:<40} {ours:>9.2} {baseline:>9.2} {ratio:>6.2} {AIM:>5}{mark}",
        "read and search a year of hail"
    );
    println!("{reports} reports read, {found} near the address");
}

fn median(mut times: Vec<Duration>) -> f64 {
    times.sort();
    times[times.len() / 2].as_secs_f64() * 1000.0
}

fn timed<T>(work: impl FnOnce() -> T) -> Duration {
    let start = Instant::now();
    black_box(work());
    start.elapsed()
}

/// A details file as the Storm Events Database lays it out: hail all over the country and the
/// year, with narratives of the usual length. Numbers come from a fixed seed.
fn storm_events() -> String {
    let fixture = include_str!("../../fixtures/storm/storm-events-2026.csv");
    let head = fixture.lines().next().unwrap();
    let columns: Vec<&str> = head.split(',').collect();
    let mut dice = 0x5eed_u64;
    let mut roll = move |sides: u64| {
        // The generator of Knuth's MMIX.
        dice = dice
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (dice >> 33) % sides
    };
    let first = NaiveDate::from_ymd_opt(2026, 1, 1)
        .unwrap()
        .and_hms_opt(0, 0, 0)
        .unwrap();
    let mut file = format!("{head}\n");
    for number in 0..ROWS {
        let at = first + TimeDelta::minutes(roll(365 * 1440) as i64);
        let time = at.format("%d-%b-%y %H:%M:%S").to_string().to_uppercase();
        let (north, east) = (
            25.0 + roll(24_000) as f64 / 1000.0,
            -124.0 + roll(57_000) as f64 / 1000.0,
        );
        let cells = columns.iter().map(|column| match *column {
            "BEGIN_YEARMONTH" | "END_YEARMONTH" => at.format("%Y%m").to_string(),
            "BEGIN_DAY" | "END_DAY" => at.format("%-d").to_string(),
            "BEGIN_TIME" | "END_TIME" => at.format("%-H%M").to_string(),
            "BEGIN_DATE_TIME" | "END_DATE_TIME" => time.clone(),
            "EPISODE_ID" => format!("{}", 900_000 + number / 8),
            "EVENT_ID" => format!("{}", 9_000_000 + number),
            "STATE" => "\"TEXAS\"".to_owned(),
            "STATE_FIPS" => "48".to_owned(),
            "YEAR" => "2026".to_owned(),
            "MONTH_NAME" => at.format("\"%B\"").to_string(),
            "EVENT_TYPE" => "\"Hail\"".to_owned(),
            "CZ_TYPE" => "\"C\"".to_owned(),
            "CZ_NAME" => "\"TESSEL\"".to_owned(),
            "CZ_TIMEZONE" => "\"CST-6\"".to_owned(),
            "WFO" => "\"FTT\"".to_owned(),
            "MAGNITUDE" => format!("\"{}.{:02}\"", 1 + roll(2), roll(4) * 25),
            "SOURCE" => "\"Trained Spotter\"".to_owned(),
            "BEGIN_RANGE" => roll(9).to_string(),
            "BEGIN_AZIMUTH" => "\"SW\"".to_owned(),
            "BEGIN_LOCATION" => "\"TESSEL FORD\"".to_owned(),
            "BEGIN_LAT" | "END_LAT" => format!("\"{north:.4}\""),
            "BEGIN_LON" | "END_LON" => format!("\"{east:.4}\""),
            "EPISODE_NARRATIVE" => EPISODE.to_owned(),
            "EVENT_NARRATIVE" => EVENT.to_owned(),
            "DATA_SOURCE" => "\"CSV\"".to_owned(),
            _ => String::new(),
        });
        let row: Vec<String> = cells.collect();
        let _ = writeln!(file, "{}", row.join(","));
    }
    file
}

/// Narratives: a details file of a whole year has about a thousand bytes a row (from memory).
const EPISODE: &str = "\"A line of storms formed along a front in the late afternoon and crossed \
several counties during the evening. The strongest of them brought large hail, gusty winds and \
heavy rain to parts of the area before they weakened after sunset. Ahead of the front the air was \
warm and damp, and winds turned and grew with height, so that the first storms lasted long and \
split. Later they joined into a line that moved to the north-east at about forty miles an hour. \
Reports came from spotters, the police and people on the road.\"";
const EVENT: &str = "\"Quarter size hail was seen by a spotter on the road south of the town. It \
fell for about five minutes, covered the ground in places, and was driven by wind.\"";

use chrono::{DateTime, NaiveDate};
use proptest::prelude::*;

use super::*;
use crate::job::{Length, Millis, StormKind};
use crate::limits::*;
use crate::trade::geo::Position;

const DAILY: &[u8] = include_bytes!("../../../../fixtures/storm/daily-260421.csv");
const EVENTS: &[u8] = include_bytes!("../../../../fixtures/storm/storm-events-2026.csv");
const HAIL_HEAD: &str = "Time,Size,Location,County,State,Lat,Lon,Comments\n";

fn utc(text: &str) -> Millis {
    DateTime::parse_from_rfc3339(text)
        .unwrap()
        .timestamp_millis()
}

fn loss() -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 4, 21).unwrap()
}

fn house() -> Position {
    Position::new(33.2127, -98.7431).unwrap()
}

fn of_the_day() -> ReadOptions {
    ReadOptions {
        day: Some(loss()),
        ..ReadOptions::default()
    }
}

fn read_daily(text: &str) -> StormFile {
    read(text.as_bytes(), &of_the_day()).unwrap()
}

fn one(text: &str) -> Report {
    let file = read_daily(text);
    assert_eq!(file.broken, vec![]);
    file.reports.into_iter().next().unwrap()
}

// Storm Prediction Center, daily storm reports in CSV: columns and units as on its report pages.
#[test]
fn a_row_of_daily_reports_is_read_in_its_units() {
    let row = format!("{HAIL_HEAD}1208,100,1 SSW Berea,Madison,KY,37.57,-84.3,(LMK)\n");
    let report = one(&row);
    assert_eq!(report.kind, ReportKind::Hail);
    assert_eq!(report.at, utc("2026-04-21T12:08:00Z"));
    assert_eq!(report.hail_in, Some(1.0));
    assert_eq!(report.position, Position::new(37.57, -84.3).unwrap());
    assert_eq!(report.place, "1 SSW Berea, Madison, KY");
    assert_eq!((report.remarks.as_str(), report.line), ("(LMK)", 2));
}

#[test]
fn a_combined_file_changes_kind_with_each_head() {
    let file = read(DAILY, &of_the_day()).unwrap();
    assert_eq!(file.format, StormFormat::DailyReports);
    let count = |kind| {
        file.reports
            .iter()
            .filter(|report| report.kind == kind)
            .count()
    };
    assert_eq!(
        (
            count(ReportKind::Tornado),
            count(ReportKind::Wind),
            count(ReportKind::Hail)
        ),
        (1, 3, 7)
    );
    let unknown = file.reports.iter().find(|report| report.line == 5).unwrap();
    assert_eq!((unknown.kind, unknown.wind), (ReportKind::Wind, None));
    // A comma and quotation marks in a comment stay in it.
    assert!(file.reports[0].remarks.contains("open range, no damage"));
    assert!(
        file.reports
            .iter()
            .any(|report| report.remarks.contains("\"Ground covered\""))
    );
    assert!(file.assumed[0].contains("2026-04-21") && file.assumed[1].contains("mph"));
}

#[test]
fn broken_rows_are_listed_with_their_lines_and_passed_over() {
    let file = read(DAILY, &of_the_day()).unwrap();
    let lines: Vec<u64> = file.broken.iter().map(|row| row.line).collect();
    assert_eq!(lines, [7, 8, 13, 16]);
    assert!(file.broken[0].reason.contains("\"2605\" is not HHMM"));
    assert!(
        file.broken[1]
            .reason
            .contains("only one of latitude and longitude")
    );
    assert!(file.broken[2].reason.contains("not in hundredths"));
    assert!(file.broken[3].reason.contains("3 columns"));
    let file = read(EVENTS, &ReadOptions::default()).unwrap();
    let lines: Vec<u64> = file.broken.iter().map(|row| row.line).collect();
    // A narrative of two lines moves what follows by one.
    assert_eq!(lines, [13, 14, 15, 16]);
    assert!(file.broken[0].reason.contains("\"golf\" is no number"));
    assert!(
        file.broken[1]
            .reason
            .contains("\"LOCAL\" is not one such as CST-6")
    );
    assert!(file.broken[2].reason.contains("latitude"));
    assert!(file.broken[3].reason.contains("40 columns where 51 belong"));
}

// NCEI, "Storm Data Bulk CSV Format": hail in inches, wind in knots, EG estimated gust, MG
// measured gust, local standard time of CZ_TIMEZONE.
#[test]
fn storm_events_are_read_in_their_units() {
    let file = read(EVENTS, &ReadOptions::default()).unwrap();
    assert_eq!(file.format, StormFormat::StormEvents);
    assert_eq!(
        (file.reports.len(), file.other_rows, file.zone_rows),
        (9, 1, 1)
    );
    let at = |line| {
        file.reports
            .iter()
            .find(|report| report.line == line)
            .unwrap()
    };
    let hail = at(3);
    assert_eq!(hail.hail_in, Some(1.5));
    // 17:27 of Central Standard Time is 18:27 on the summer clocks of the town.
    assert_eq!(hail.at, utc("2026-04-21T18:27:00-05:00"));
    assert_eq!(hail.place, "5 SW TESSEL FORD, TESSEL, TEXAS");
    assert!(hail.remarks.contains("minutes, driven"));
    let estimated = at(5).wind.unwrap();
    assert_eq!(
        (estimated.measured, estimated.of),
        (Measured::Estimated, WindKind::Gust)
    );
    // BIPM, SI brochure: a knot is 1852 m an hour; 52 kt are 59.84 mph.
    assert!((estimated.mph() - 59.8404).abs() < 1e-3 && !estimated.unit_assumed);
    assert_eq!(at(9).wind.unwrap().measured, Measured::Measured);
    assert_eq!(at(10).strength(), "EFU");
}

#[test]
fn the_unit_of_wind_in_daily_reports_is_what_the_caller_says() {
    let text = "Time,Speed,Location,County,State,Lat,Lon,Comments\n1300,50,A,B,TX,33,-98,\n";
    let options = ReadOptions {
        wind_unit: WindUnit::Knots,
        ..of_the_day()
    };
    let wind = |options: &ReadOptions| {
        read(text.as_bytes(), options).unwrap().reports[0]
            .wind
            .unwrap()
    };
    assert!((wind(&options).mph() - 57.539).abs() < 1e-3);
    assert!((wind(&of_the_day()).mph() - 50.0).abs() < 1e-9 && wind(&of_the_day()).unit_assumed);
}

#[test]
fn reports_near_the_house_are_found_by_distance_and_by_time() {
    let file = read(DAILY, &of_the_day()).unwrap();
    let search = Search::about(loss());
    let found = near(&file.reports, house(), &search, &|_| -300).unwrap();
    let miles: Vec<f64> = found.reports.iter().map(|near| near.miles).collect();
    assert!(miles.is_sorted() && miles.iter().all(|miles| *miles <= 10.0));
    let half = found
        .reports
        .iter()
        .find(|near| near.report.hail_in == Some(1.25))
        .unwrap();
    assert_eq!(half.direction, "south-south-west");
    assert_eq!(half.local.to_string(), "2026-04-21 18:38:00");
    assert_eq!(found.largest_hail().unwrap().report.hail_in, Some(1.5));
    let by_time = Search {
        order: Order::Time,
        ..search
    };
    let by_time = near(&file.reports, house(), &by_time, &|_| -300).unwrap();
    let times: Vec<Millis> = by_time.reports.iter().map(|near| near.report.at).collect();
    assert!(times.is_sorted() && times.len() == miles.len());
    insta::assert_snapshot!(found.summary());
}

#[test]
fn the_day_is_counted_on_local_clocks() {
    // 00:22 UTC of the 22nd is the evening of the 21st; 11:40 UTC is the morning of the 22nd.
    let file = read(DAILY, &of_the_day()).unwrap();
    let search = |after| Search {
        days_before: 0,
        days_after: after,
        radius_miles: 40.0,
        ..Search::about(loss())
    };
    let lines = |after| -> Vec<u64> {
        let found = near(&file.reports, house(), &search(after), &|_| -300).unwrap();
        found.reports.iter().map(|near| near.report.line).collect()
    };
    assert!(lines(0).contains(&17) && !lines(0).contains(&18));
    assert!(lines(1).contains(&18));
}

#[test]
fn nothing_near_is_said_with_what_it_does_not_prove() {
    let found = near(&[], house(), &Search::about(loss()), &|_| -300).unwrap();
    let summary = found.summary();
    assert!(summary.starts_with("There is no report within 10 miles"));
    assert!(summary.contains("no proof that no hail fell") && summary.contains("90 to 120 days"));
}

#[test]
fn a_report_becomes_a_record_of_the_job() {
    let file = read(EVENTS, &ReadOptions::default()).unwrap();
    let by_line = |line| {
        file.reports
            .iter()
            .find(|report| report.line == line)
            .unwrap()
            .record("events.csv")
    };
    let hail = by_line(3);
    assert_eq!(hail.kind, Some(StormKind::Hail));
    assert_eq!(hail.size, Some(Length::from_inches_f64(1.5)));
    assert_eq!(hail.source.as_deref(), Some("events.csv, line 3"));
    let wind = by_line(9);
    assert_eq!(
        (wind.kind, wind.gust_measured),
        (Some(StormKind::Wind), Some(true))
    );
    assert!(
        wind.remarks
            .unwrap()
            .starts_with("Reported as 56 kt, measured.")
    );
    let tornado = by_line(10).remarks.unwrap();
    assert!(tornado.starts_with("Tornado, EFU."));
}

#[test]
fn a_compressed_file_is_read_and_a_damaged_one_refused() {
    use std::io::Write;
    let mut pack = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    pack.write_all(EVENTS).unwrap();
    let packed = pack.finish().unwrap();
    let plain = read(EVENTS, &ReadOptions::default());
    assert_eq!(read(&packed, &ReadOptions::default()), plain);
    let cut = read(&packed[..packed.len() / 2], &ReadOptions::default());
    assert_eq!(cut, Err(StormError::Compressed));
}

#[test]
fn a_file_of_another_kind_gets_a_word() {
    let refused = |text: &str| read(text.as_bytes(), &ReadOptions::default()).unwrap_err();
    assert_eq!(refused(" \n\r\n"), StormError::Empty);
    assert_eq!(refused("name,price\nnail,1\n"), StormError::NotStormReports);
    assert_eq!(refused("\u{0}\u{ff}"), StormError::NotStormReports);
    assert_eq!(refused(HAIL_HEAD), StormError::NoDay);
    assert_eq!(
        refused("EVENT_TYPE,BEGIN_DATE_TIME\n"),
        StormError::NoColumn("CZ_TIMEZONE")
    );
    let marked = format!("\u{feff}{HAIL_HEAD}\n\n1208,100,A,B,TX,33,-98,\n1208,x,A,B,TX,33,-98,\n");
    let file = read_daily(&marked);
    assert_eq!((file.reports[0].line, file.broken[0].line), (4, 5));
}

#[test]
fn one_past_each_limit_is_refused() {
    let too_large = vec![b'x'; STORM_FILE_BYTES + 1];
    assert_eq!(read(&too_large, &of_the_day()), Err(StormError::TooLarge));
    drop(too_large);
    let rows = format!("{HAIL_HEAD}{}", "x\n".repeat(STORM_ROWS));
    assert_eq!(
        read(rows.as_bytes(), &of_the_day()),
        Err(StormError::TooManyRows)
    );
    let broken = format!("{HAIL_HEAD}{}", "x\n".repeat(STORM_BROKEN_LISTED + 1));
    let file = read_daily(&broken);
    assert_eq!(
        (file.broken.len(), file.broken_rows),
        (STORM_BROKEN_LISTED, STORM_BROKEN_LISTED + 1)
    );
    let search = |radius_miles, days_after| Search {
        radius_miles,
        days_after,
        ..Search::about(loss())
    };
    let refused = |search| near(&[], house(), &search, &|_| 0).unwrap_err();
    assert_eq!(
        refused(search(STORM_RADIUS_MILES + 1.0, 0)),
        SearchError::Radius
    );
    assert_eq!(refused(search(f64::NAN, 0)), SearchError::Radius);
    assert_eq!(
        refused(search(1.0, STORM_SEARCH_DAYS + 1)),
        SearchError::Days
    );
    let file = read(DAILY, &of_the_day()).unwrap();
    let offset = near(&file.reports, house(), &search(10.0, 1), &|_| 841);
    assert_eq!(offset, Err(SearchError::Offset(841)));
}

#[test]
fn a_quotation_mark_left_open_costs_its_own_row_only() {
    let text = std::str::from_utf8(EVENTS).unwrap();
    let (head, rows) = text.split_once('\n').unwrap();
    let good = rows.lines().next().unwrap();
    let open = good.replacen("TEXAS", "\"TEXAS", 1);
    let many = format!("{good}\n").repeat(STORM_ROW_BYTES / good.len() + 2);
    let file = read(
        format!("{head}\n{open}\n{many}").as_bytes(),
        &ReadOptions::default(),
    )
    .unwrap();
    assert_eq!(file.reports.len(), many.lines().count());
    assert_eq!((file.broken.len(), file.broken[0].line), (1, 2));
    assert!(file.broken[0].reason.contains("quotation mark may be open"));
    assert_eq!(file.reports[0].line, 3);
    let all_open = format!(
        "{head}\n{}",
        format!("{open}\n{many}").repeat(STORM_LONG_ROWS + 1)
    );
    let read_all = read(all_open.as_bytes(), &ReadOptions::default());
    assert_eq!(read_all, Err(StormError::TooManyLongRows));
}

#[test]
fn words_of_any_length_fit_a_field_of_the_record() {
    let long = "hail ".repeat(TEXT_BYTES / 4);
    let report = one(&format!("{HAIL_HEAD}1208,100,A,B,TX,33,-98,{long}\n"));
    assert!(report.remarks.len() <= TEXT_BYTES);
    assert!(report.record("f").remarks.unwrap().len() <= TEXT_BYTES);
}

proptest! {
    #[test]
    fn no_file_panics(bytes in proptest::collection::vec(any::<u8>(), 0..400), head in 0..3usize) {
        let events = EVENTS.split(|byte| *byte == b'\n').next().unwrap();
        let mut data = match head {
            0 => Vec::new(),
            1 => HAIL_HEAD.as_bytes().to_vec(),
            _ => [events, b"\n"].concat(),
        };
        data.extend(bytes);
        let _ = read(&data, &of_the_day());
    }

    #[test]
    fn no_broken_cell_panics(cells in proptest::collection::vec("[ -~]{0,12}", 7..10), at in 0..60usize) {
        let row = cells.join(",");
        let _ = read_daily(&format!("{HAIL_HEAD}{row}\n"));
        let text = std::str::from_utf8(EVENTS).unwrap();
        let mut lines = text.lines();
        let (head, good) = (lines.next().unwrap(), lines.next().unwrap());
        let mut parts: Vec<&str> = good.split(',').collect();
        if let Some(part) = parts.get_mut(at) {
            *part = &cells[0];
        }
        let _ = read(format!("{head}\n{}\n", parts.join(",")).as_bytes(), &ReadOptions::default());
    }
}

//! The invented report of the demo house against the house itself, and files that are not right.

use std::collections::BTreeMap;

use super::super::house::*;
use super::*;
use crate::job::*;
use crate::limits;

const REPORT: &[u8] = include_bytes!("../../../../fixtures/scope/measurement-report.csv");
const HOUSE: &str = include_str!("../../../../fixtures/house/house.json");

fn read(text: &str) -> ReadReport {
    read_report(text.as_bytes(), &Columns::new()).unwrap()
}

/// Area of a polygon by the shoelace formula (plane geometry).
fn shoelace(points: &[[f64; 2]]) -> f64 {
    let next = points.iter().cycle().skip(1);
    let twice: f64 = points
        .iter()
        .zip(next)
        .map(|(a, b)| a[0] * b[1] - b[0] * a[1])
        .sum();
    twice.abs() / 2.0
}

/// The demo house's slopes as records with gauge readings, and its solved roof from the description.
fn demo() -> (Job, SolvedRoof) {
    let described: serde_json::Value = serde_json::from_str(HOUSE).unwrap();
    let mut house = House::empty();
    let mut solved = SolvedRoof::default();
    for slope in described["slopes"].as_array().unwrap() {
        let name = slope["name"].as_str().unwrap();
        let rise = slope["pitch_in_12"].as_f64().unwrap();
        let word = name.replace(' ', "-");
        let points: Vec<[f64; 2]> = serde_json::from_value(slope["plan_ft"].clone()).unwrap();
        house.job.records.slopes.insert(
            id(&word),
            record(Slope {
                name: Some(name.to_owned()),
                ..Slope::default()
            }),
        );
        house.job.records.measurements.insert(
            id(&word),
            record(Measurement {
                place: Some(at(Kind::Slope, &word)),
                of: Some(MeasuredThing::Pitch),
                pitch: Pitch::from_rise(rise),
                method: Some(MeasureMethod::Gauge),
                ..Measurement::default()
            }),
        );
        solved.slopes.push(SolvedSlope {
            name: name.to_owned(),
            area_sq_ft: shoelace(&points) * (1.0 + (rise / 12.0).powi(2)).sqrt(),
        });
    }
    // From the description: eaves and ridges as they lie; hips run 15 ft at 6 in 12 (x 1.5), rakes
    // 11 ft at 7 in 12 (x 1.157704), valleys from (23, 9, eave) to (34, 21.833, 6.4167 ft up).
    solved.edges_ft = BTreeMap::from([
        (
            EdgeKind::Eave,
            24.0 + 4.0 + 30.0 + 50.0 + 30.0 + 10.0 + 10.0,
        ),
        (EdgeKind::Rake, 2.0 * 11.0 * 1.157704),
        (EdgeKind::Ridge, 20.0 + 22.833),
        (EdgeKind::Hip, 4.0 * 22.5),
        (
            EdgeKind::Valley,
            2.0 * (121.0f64 + 12.833 * 12.833 + 6.4167 * 6.4167).sqrt(),
        ),
    ]);
    (house.job, solved)
}

#[test]
fn the_planted_pitch_and_length_are_found_and_nothing_else() {
    let (job, solved) = demo();
    let report = read_report(REPORT, &Columns::new()).unwrap();
    assert!(report.broken.is_empty(), "{:?}", report.broken);
    let check = measurement_check(&job, &report.rows, &BTreeMap::new(), Some(&solved));
    for slope in &check.slopes {
        let wing = slope.name.starts_with("wing");
        let wanted = if wing {
            Verdict::Differs
        } else {
            Verdict::Agrees
        };
        assert_eq!((slope.pitch, slope.area), (wanted, wanted), "{slope:?}");
        if wing {
            // 202 x 1.157704 / 1.118034 = 209.17 sq ft
            let more = slope.difference_sq_ft.unwrap();
            assert!((more - 7.167).abs() < 0.0015, "{more}");
            assert!(
                slope.sentence.contains("7.2 sq ft or 0.07 SQ more"),
                "{}",
                slope.sentence
            );
        } else {
            assert!(slope.difference_sq_ft.unwrap().abs() < 1e-9);
        }
    }
    for edge in &check.edges {
        let wanted = match edge.kind {
            EdgeKind::Eave => Verdict::Differs,
            _ => Verdict::Agrees,
        };
        assert_eq!(edge.against_plan, wanted, "{edge:?}");
        assert_eq!(edge.against_record, Verdict::NotCompared);
    }
    let squares = check.totals.difference_squares.unwrap();
    assert!((squares - 0.14334).abs() < 5e-5, "{squares}");
}

#[test]
fn recorded_edges_are_compared_only_when_all_are_measured() {
    let (mut job, _) = demo();
    let report = read_report(REPORT, &Columns::new()).unwrap();
    let eave = |feet: Option<i64>| {
        record(Edge {
            kind: Some(EdgeKind::Eave),
            length: feet.map(|feet| Length::feet_inches(feet, 0)),
            ..Edge::default()
        })
    };
    job.records.edges.insert(id("a"), eave(Some(108)));
    job.records.edges.insert(id("b"), eave(None));
    let eaves = |job: &Job| {
        let check = measurement_check(job, &report.rows, &BTreeMap::new(), None);
        check
            .edges
            .into_iter()
            .find(|e| e.kind == EdgeKind::Eave)
            .unwrap()
    };
    assert_eq!(eaves(&job).against_record, Verdict::NotCompared);
    job.records.edges.insert(id("b"), eave(Some(50)));
    let checked = eaves(&job);
    assert_eq!(checked.against_record, Verdict::Differs);
    assert!(
        checked.sentence.contains("(+6.0 ft)"),
        "{}",
        checked.sentence
    );
    job.records.edges.insert(id("b"), eave(Some(56)));
    assert_eq!(eaves(&job).against_record, Verdict::Agrees);
}

#[test]
fn names_that_differ_are_matched_only_where_said() {
    let (job, _) = demo();
    let rows = read("plane,area,pitch\nA,429,6/12\n").rows;
    let check = measurement_check(&job, &rows, &BTreeMap::new(), None);
    let stray = check.slopes.last().unwrap();
    assert_eq!((stray.place.as_ref(), stray.name.as_str()), (None, "A"));
    assert!(stray.sentence.contains("say which one it is"));
    let names = BTreeMap::from([("A".to_owned(), at(Kind::Slope, "main-front"))]);
    let check = measurement_check(&job, &rows, &names, None);
    let front = check
        .slopes
        .iter()
        .find(|s| s.name == "main front slope")
        .unwrap();
    assert_eq!((front.report_line, front.pitch), (Some(2), Verdict::Agrees));
}

#[test]
fn columns_are_guessed_shown_and_can_be_said() {
    let report = read("Slope;Surface;Incline\nfront;429;6:12\n");
    let used: Vec<_> = report
        .columns
        .iter()
        .map(|used| (used.column, used.head.as_str(), used.guessed))
        .collect();
    assert_eq!(
        used,
        [
            (Column::Pitch, "Incline", true),
            (Column::Area, "Surface", true),
            (Column::Name, "Slope", true)
        ]
    );
    // "slope" is the pitch where nothing else is and the name stands elsewhere.
    let report = read("Name,Slope,Area\nfront,6/12,429\n");
    assert!(matches!(&report.rows[0], ReportRow::Slope { pitch: Some(p), .. } if p.rise() == 6.0));
    let named = Columns::from([
        (Column::Name, "x".to_owned()),
        (Column::Area, "y".to_owned()),
    ]);
    let report = read_report(b"x,y\nfront,429\n", &named).unwrap();
    assert_eq!(report.rows.len(), 1);
    assert!(report.columns.iter().all(|used| !used.guessed));
    let wrong = Columns::from([(Column::Area, "z".to_owned())]);
    let error = read_report(b"x,y\nfront,429\n", &wrong).unwrap_err();
    assert!(error.to_string().contains("no column \"z\""));
    let error = read_report(b"x,y\nfront,429\n", &Columns::new()).unwrap_err();
    assert!(matches!(error, MeasurementError::NoColumn { .. }));
}

#[test]
fn json_lists_are_read_and_their_names_tell_the_kind() {
    let report = read(
        r#"{"report": {"planes": [{"id": 1, "area": 429, "pitch": "6/12"}],
            "eaves": [{"id": "1a", "length": 24}], "hips": [{"length": "22' 6\""}, 7]}}"#,
    );
    assert_eq!(report.rows.len(), 3, "{report:?}");
    assert_eq!(report.broken.len(), 1);
    let kinds: Vec<_> = report
        .rows
        .iter()
        .filter_map(|row| match row {
            ReportRow::Edge { kind, length, .. } => Some((*kind, length.to_feet())),
            ReportRow::Slope { .. } => None,
        })
        .collect();
    assert_eq!(kinds, [(EdgeKind::Eave, 24.0), (EdgeKind::Hip, 22.5)]);
}

#[test]
fn broken_rows_are_told_with_their_line_and_left_out() {
    let report = read(
        "Section,Feature,Area,Pitch,Length\n\
         front,plane,many,6/12,\n\
         \n\
         rear,plane,500,6/12,\n\
         rear,plane,500,6/12,\n\
         x,gable trim,,,12\n\
         y,eave,,,minus two\n\
         z,plane,1,2,3,4,5\n\
         w,plane,,,\n\
         Total,,900,,\n",
    );
    assert_eq!(report.rows.len(), 1);
    let lines: Vec<u32> = report.broken.iter().map(|row| row.line).collect();
    assert_eq!(lines, [2, 5, 6, 7, 8, 9, 10]);
    assert!(report.broken.iter().all(|row| !row.why.is_empty()));
    for (bytes, error) in [
        (&b""[..], MeasurementError::Empty),
        (b"  \n", MeasurementError::Empty),
        (b"[]", MeasurementError::Empty),
        (b"\xff\xfe", MeasurementError::NotText),
    ] {
        assert_eq!(read_report(bytes, &Columns::new()), Err(error));
    }
    assert!(matches!(
        read_report(b"{\"a\": [", &Columns::new()),
        Err(MeasurementError::NotJson(_))
    ));
    let wide = |columns: usize| {
        let names: Vec<String> = (0..columns).map(|n| format!("area{n}")).collect();
        let pairs: Vec<String> = names.iter().map(|n| format!("\"{n}\": 1")).collect();
        let csv = format!("area,{}\n1\n", names[1..].join(","));
        let json = format!("[{{{}}}]", pairs.join(","));
        [csv, json].map(|text| read_report(text.as_bytes(), &Columns::new()))
    };
    let too_wide = |read: &Result<ReadReport, MeasurementError>| {
        matches!(read, Err(MeasurementError::TooWide { .. }))
    };
    assert!(!wide(limits::TABLE_COLUMNS).iter().any(too_wide));
    assert!(wide(limits::TABLE_COLUMNS + 1).iter().all(too_wide));
    let past = vec![b'x'; limits::TABLE_BYTES + 1];
    assert!(matches!(
        read_report(&past, &Columns::new()),
        Err(MeasurementError::TooLarge { .. })
    ));
}

#[test]
fn rows_are_kept_in_the_record_and_read_back() {
    let rows = read_report(REPORT, &Columns::new()).unwrap().rows;
    let report = MeasurementReport {
        rows: Some(encode_rows(&rows).unwrap().into()),
        ..MeasurementReport::default()
    };
    assert_eq!(report_rows(&report), Ok(rows));
    assert_eq!(report_rows(&MeasurementReport::default()), Ok(vec![]));
    assert_eq!(decode_rows(b"rubbish"), Err(MeasurementError::Stored));
    let past = vec![0; limits::TABLE_BYTES + 1];
    assert!(matches!(
        decode_rows(&past),
        Err(MeasurementError::TooLarge { .. })
    ));
}

mod any_file {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn never_panics_and_reads_the_same(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
            let read = read_report(&bytes, &Columns::new());
            prop_assert_eq!(&read, &read_report(&bytes, &Columns::new()));
            let _ = decode_rows(&bytes);
        }

        #[test]
        fn near_files_never_panic(
            text in "(name|area|pitch|length|kind|,|;|\n|6/12|eave|429|-|1e999|nan|\"|°|é| ){0,60}"
        ) {
            if let Ok(read) = read_report(text.as_bytes(), &Columns::new()) {
                let (job, solved) = demo();
                let bytes = encode_rows(&read.rows).unwrap();
                prop_assert_eq!(decode_rows(&bytes).unwrap(), read.rows.clone());
                measurement_check(&job, &read.rows, &BTreeMap::new(), Some(&solved));
            }
        }
    }
}

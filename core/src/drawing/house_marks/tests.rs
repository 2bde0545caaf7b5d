//! The drawing as it was looked at, and what holds of every one.

use super::*;
use crate::trade::roof::{PlanSide, RoofPlan, SideForm, solve};

fn ell() -> Roof {
    let corners = vec![
        [0.0, 0.0],
        [48.0, 0.0],
        [48.0, 24.0],
        [22.0, 24.0],
        [22.0, 50.0],
        [0.0, 50.0],
    ];
    let gable = PlanSide {
        form: SideForm::Gable,
        ..PlanSide::default()
    };
    let mut sides = vec![PlanSide::default(); 6];
    sides[4] = gable;
    solve(&RoofPlan {
        points: corners,
        pitch: Some(6.0),
        overhang: Some(1.0),
        sides,
        north: 0.0,
        holes: Vec::new(),
    })
    .unwrap()
}

fn house() -> HouseMarks<'static> {
    use State::*;
    let slope = |name: &str, side, plane, found: &[State], hits| SlopeMarks {
        name: name.to_owned(),
        side: Some(side),
        plane,
        found: found.to_vec(),
        square_hits: hits,
    };
    HouseMarks {
        title: "14 Larkmeadow Lane from above".to_owned(),
        id: "house".to_owned(),
        sides: vec![
            (Side::Front, vec![Damaged, Damaged, Prior, Unsure, Cleared]),
            (Side::Right, vec![Open]),
            (Side::Rear, Vec::new()),
            (
                Side::Left,
                [Damaged; 31]
                    .into_iter()
                    .chain([Prior, NotPresent])
                    .collect(),
            ),
        ],
        slopes: vec![
            slope(
                "main front",
                Side::Front,
                Some(0),
                &[Damaged, Prior],
                Some(8),
            ),
            slope("main left", Side::Left, None, &[], Some(0)),
        ],
        front_bearing: Some(140.0),
        roof: None,
    }
}

#[test]
fn a_house_without_a_plan() {
    insta::assert_snapshot!(house_marks(&house()));
}

#[test]
fn a_house_whose_roof_was_worked_out() {
    let roof = ell();
    let mut house = house();
    house.roof = Some(&roof);
    house.slopes[1].plane = Some(1);
    insta::assert_snapshot!(house_marks(&house));
}

/// A slope without a plane must not fall off the sheet: the plain house holds it.
#[test]
fn no_slope_is_left_out_for_want_of_a_plane() {
    let roof = ell();
    let mut house = house();
    house.roof = Some(&roof);
    let svg = house_marks(&house);
    assert!(svg.contains("main left") && svg.contains("Not to scale"));
}

/// The front faces 180 (south): north is up. 270 (west): standing at its foot one looks east, so
/// north is to the left.
#[test]
fn north_is_where_it_is() {
    let tip = |bearing: f64| {
        let mut sheet = Sheet::new("n", WIDTH, HEIGHT, "n", "n");
        north(&mut sheet, bearing);
        let svg = sheet.finish();
        let spot = |key: &str| -> f64 {
            let from = svg.find(&format!(" {key}=\"")).unwrap() + key.len() + 3;
            svg[from..].split('"').next().unwrap().parse().unwrap()
        };
        (spot("x2") - spot("x1"), spot("y2") - spot("y1"))
    };
    let near = |a: (f64, f64), b: (f64, f64)| (a.0 - b.0).abs() < 0.05 && (a.1 - b.1).abs() < 0.05;
    assert!(near(tip(180.0), (0.0, -40.0)), "{:?}", tip(180.0));
    assert!(near(tip(270.0), (-40.0, 0.0)), "{:?}", tip(270.0));
}

/// The plan's front is at the foot whatever way the plan was drawn: the plane that faces the
/// front's bearing lies lowest.
#[test]
fn the_front_is_at_the_foot() {
    let roof = ell();
    for front in [0.0, 90.0, 180.0, 270.0] {
        let frame = Frame::of(&roof, Some(front));
        let lowest = |plane: &crate::trade::roof::RoofPlane| {
            let ys = plane.corners.iter().map(|c| frame.at([c[0], c[1]]).1);
            ys.fold(f64::MIN, f64::max)
        };
        let foot = roof.planes.iter().map(lowest).fold(f64::MIN, f64::max);
        let facing = roof
            .planes
            .iter()
            .filter(|plane| (plane.facing - front).abs() < 1.0);
        let least = facing.map(lowest).fold(f64::MIN, f64::max);
        // The ell has a gable to the north: nothing faces that way.
        if front > 0.0 {
            assert!((least - foot).abs() < 1e-6, "{front}: {least} {foot}");
        }
    }
}

#[test]
fn names_cannot_break_the_drawing() {
    let mut house = house();
    house.id = "a\"><b>".to_owned();
    house.slopes[0].name = "<script>&\"\u{0}".to_owned();
    let svg = house_marks(&house);
    assert!(!svg.contains("<script>") && !svg.contains('\u{0}') && svg.contains("id=\"ab-title\""));
}

#[test]
fn every_state_has_a_shape_of_its_own() {
    let drawn = |state: State| {
        let mut sheet = Sheet::new("s", WIDTH, HEIGHT, "s", "s");
        shape(&mut sheet, (50.0, 50.0), state);
        let svg = sheet.finish();
        let colours = |c: char| c == '#' || c.is_ascii_hexdigit();
        svg.split("\"#")
            .map(|part| part.trim_start_matches(colours).to_owned())
            .collect::<String>()
    };
    let shapes: std::collections::BTreeSet<String> =
        SHAPES.iter().map(|(state, _)| drawn(*state)).collect();
    assert_eq!(shapes.len(), SHAPES.len());
}

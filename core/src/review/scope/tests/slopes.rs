use super::*;
use WorkAction::{Charge, Inspect, Install, RemoveAndReplace, RemoveOnly};

const SLOPES: [(&str, Side, f64, i64); 4] = [
    // Plane geometry: a hip roof of 40 by 30 ft at 6 in 12 has 1341.641 sq ft, a ridge of 10 ft
    // and four hips of 22.5 ft; the slope factor is 1.118034.
    ("front", Side::Front, 25.0 * 15.0 * 1.118_034, 40),
    ("right", Side::Right, 15.0 * 15.0 * 1.118_034, 30),
    ("rear", Side::Rear, 25.0 * 15.0 * 1.118_034, 40),
    ("left", Side::Left, 15.0 * 15.0 * 1.118_034, 30),
];

pub(super) fn edge(
    house: &mut House,
    word: &str,
    kind: EdgeKind,
    slopes: (&str, Option<&str>),
    inches: i64,
) {
    let edge = Edge {
        kind: Some(kind),
        slope: Some(at(Kind::Slope, slopes.0)),
        other_slope: slopes.1.map(|slope| at(Kind::Slope, slope)),
        length: Some(Length::inches(inches)),
        ..Edge::default()
    };
    house.job.records.edges.insert(id(word), record(edge));
}

/// The hip roof, measured whole, with nothing found.
pub(super) fn hip_roof() -> House {
    let mut house = House::empty();
    for (word, side, area, eave) in SLOPES {
        let slope = Slope {
            name: Some(word.to_owned()),
            side: Some(side),
            roofing: Some(Material::LaminatedShingle),
            measured_area: Some(Area::from_square_feet(area)),
            layers: Some(1),
            ..Slope::default()
        };
        house.job.records.slopes.insert(id(word), record(slope));
        let pitch = Measurement {
            place: Some(at(Kind::Slope, word)),
            of: Some(MeasuredThing::Pitch),
            pitch: Pitch::from_rise(6.0),
            ..Measurement::default()
        };
        house
            .job
            .records
            .measurements
            .insert(id(&format!("pitch-{word}")), record(pitch));
        edge(
            &mut house,
            &format!("eave-{word}"),
            EdgeKind::Eave,
            (word, None),
            eave * 12,
        );
    }
    edge(
        &mut house,
        "ridge",
        EdgeKind::Ridge,
        ("front", Some("rear")),
        120,
    );
    for (word, one, other) in [
        ("h1", "front", "left"),
        ("h2", "front", "right"),
        ("h3", "rear", "left"),
        ("h4", "rear", "right"),
    ] {
        edge(&mut house, word, EdgeKind::Hip, (one, Some(other)), 270);
    }
    house
}

pub(super) fn hit(house: &mut House, slope: &str) {
    house.finding(
        &format!("hits-{slope}"),
        hail(at(Kind::Slope, slope), Component::Shingles),
    );
}

pub(super) fn all_hit() -> House {
    let mut house = hip_roof();
    for (word, ..) in SLOPES {
        hit(&mut house, word);
    }
    house
}

pub(super) fn square(house: &mut House, slope: &str, hits: u32) {
    let mut square = record(TestSquare {
        slope: Some(at(Kind::Slope, slope)),
        width: Some(Length::feet_inches(10, 0)),
        height: Some(Length::feet_inches(10, 0)),
        placement: Some(Placement::Typical),
        ..TestSquare::default()
    });
    square.tally.insert(crate::review::house::device(), hits);
    house
        .job
        .records
        .test_squares
        .insert(id(&format!("square-{slope}")), square);
}

pub(super) fn total(scope: &Scope, item: &Item, action: WorkAction) -> String {
    let mut totals = scope.totals.iter();
    let total = totals.find(|total| total.item == *item && total.action == action);
    total.map_or("none".to_owned(), |total| total.quantity.to_string())
}

#[test]
fn a_whole_hip_roof_has_the_handbook_s_squares_and_lengths() {
    let scope = scope_of(&all_hit());
    assert_eq!(total(&scope, &Item::Shingles, RemoveAndReplace), "13.42 SQ");
    assert_eq!(
        total(&scope, &Item::Underlayment, RemoveAndReplace),
        "13.42 SQ"
    );
    assert_eq!(
        quantity(&scope, &Item::RidgeCap, RemoveAndReplace),
        "100 LF"
    );
    assert_eq!(quantity(&scope, &Item::Starter, RemoveAndReplace), "140 LF");
}

#[test]
fn one_slope_takes_its_eave_its_ridge_and_its_hips_along() {
    let mut house = hip_roof();
    hit(&mut house, "front");
    square(&mut house, "front", 8);
    let scope = scope_of(&house);
    let shingles = find(&scope, &Item::Shingles, RemoveAndReplace).unwrap();
    assert_eq!(shingles.quantity.unwrap().to_string(), "4.19 SQ");
    assert!(
        shingles
            .how
            .contains("8 hits counted in a test square of 10' by 10' at a typical spot")
    );
    assert!(
        shingles
            .records
            .contains(&at(Kind::TestSquare, "square-front"))
    );
    assert!(
        shingles
            .unsure
            .iter()
            .any(|said| said.contains("the estimator's decision"))
    );
    assert_eq!(quantity(&scope, &Item::RidgeCap, RemoveAndReplace), "55 LF");
    assert_eq!(quantity(&scope, &Item::Starter, RemoveAndReplace), "40 LF");
    assert_eq!(total(&scope, &Item::Shingles, RemoveAndReplace), "4.19 SQ");
}

#[test]
fn the_estimator_s_number_of_hits_asks_to_look_again() {
    let mut house = hip_roof();
    hit(&mut house, "front");
    square(&mut house, "front", 7);
    let mut inputs = ScopeInputs::default();
    for (from, action) in [(7, RemoveAndReplace), (8, Inspect)] {
        inputs.replace_from_hits = Some(from);
        let scope = scope(&house.job, &inputs);
        assert!(find(&scope, &Item::Shingles, action).is_some(), "{from}");
        assert_eq!(
            find(&scope, &Item::RidgeCap, RemoveAndReplace).is_some(),
            from == 7
        );
    }
}

#[test]
fn slopes_of_one_roof_go_together_and_say_why() {
    let mut house = hip_roof();
    hit(&mut house, "front");
    let inputs = ScopeInputs {
        one_roof: vec![["front", "left", "nowhere"].map(id).into()],
        ..ScopeInputs::default()
    };
    let scope = scope(&house.job, &inputs);
    let shingles: Vec<&ScopeLine> = scope
        .lines
        .iter()
        .filter(|line| line.item == Item::Shingles)
        .collect();
    assert_eq!(shingles.len(), 2);
    let with = shingles
        .iter()
        .find(|line| line.findings.is_empty())
        .unwrap();
    assert!(with.unsure.iter().any(|said| said.contains("one roof")));
}

#[test]
fn waste_is_a_line_of_its_own_and_only_where_it_is_set() {
    let house = all_hit();
    let inputs = ScopeInputs {
        waste_percent: Some(15.0),
        ..ScopeInputs::default()
    };
    let with = scope(&house.job, &inputs);
    // 15 % of 4.1926 and 2.5156 squares, each rounded on its line.
    assert_eq!(total(&with, &Item::ShingleWaste, Install), "2.02 SQ");
    assert_eq!(total(&with, &Item::Shingles, RemoveAndReplace), "13.42 SQ");
    let without = scope_of(&house);
    assert_eq!(total(&without, &Item::ShingleWaste, Install), "none");
    let doubts = &find(&without, &Item::Shingles, RemoveAndReplace)
        .unwrap()
        .unsure;
    assert!(
        doubts
            .iter()
            .any(|said| said.contains("waste is not included"))
    );
}

#[test]
fn layers_steep_and_high_are_charged_from_the_thresholds_on() {
    let mut house = hip_roof();
    hit(&mut house, "front");
    assert_eq!(total(&scope_of(&house), &Item::SteepCharge, Charge), "none");
    house
        .job
        .records
        .slopes
        .get_mut(&id("front"))
        .unwrap()
        .fields
        .layers = Some(3);
    house
        .job
        .records
        .measurements
        .get_mut(&id("pitch-front"))
        .unwrap()
        .fields
        .pitch = Pitch::from_rise(7.0);
    house.job.records.properties.insert(
        Job::only(),
        record(Property {
            storeys: Some(2),
            ..Property::default()
        }),
    );
    let scope = scope_of(&house);
    // Two further layers over 4.1926 squares.
    assert_eq!(total(&scope, &Item::SecondLayer, RemoveOnly), "8.39 SQ");
    assert_eq!(total(&scope, &Item::SteepCharge, Charge), "4.19 SQ");
    assert_eq!(total(&scope, &Item::HighCharge, Charge), "4.19 SQ");
    let high = find(&scope, &Item::HighCharge, Charge).unwrap();
    assert!(
        high.records
            .contains(&RecordRef::new(Kind::Property, Job::only()))
    );
}

#[test]
fn wind_on_a_slope_that_goes_is_named_on_its_line() {
    let mut house = hip_roof();
    hit(&mut house, "front");
    let mut tabs = hail(at(Kind::Slope, "front"), Component::Shingles);
    (tabs.cause, tabs.units) = (Some(Cause::Wind), Some(2));
    house.finding("tabs", tabs);
    let scope = scope_of(&house);
    let line = find(&scope, &Item::Shingles, RemoveAndReplace).unwrap();
    assert_eq!(
        line.findings,
        [at(Kind::Finding, "hits-front"), at(Kind::Finding, "tabs")]
    );
    assert!(find(&scope, &Item::Shingles, WorkAction::Repair).is_none());
}

#[test]
fn two_layers_stated_differently_are_named_where_they_matter() {
    let mut house = hip_roof();
    hit(&mut house, "front");
    let slope = house.job.records.slopes.get_mut(&id("front")).unwrap();
    slope.fields.layers = Some(2);
    slope.conflicts.push(Conflict {
        field: "layers".into(),
        statements: vec![Statement {
            value: Some(Scalar::Int(1)),
            by: slope.made,
        }],
    });
    let scope = scope_of(&house);
    let named = |item: &Item| {
        let line = scope.lines.iter().find(|line| line.item == *item).unwrap();
        line.unsure
            .iter()
            .any(|said| said.contains("\"layers\" of front slope"))
    };
    assert!(named(&Item::Shingles) && named(&Item::SecondLayer));
    assert!(!named(&Item::Underlayment));
}

use super::*;
use WorkAction::{Charge, DetachAndReset, Inspect, Install, RemoveAndReplace, RemoveOnly};

const SLOPES: [(&str, Side, f64, i64); 4] = [
    // Plane geometry: a hip roof of 40 by 30 ft at 6 in 12 has 1341.641 sq ft, a ridge of 10 ft
    // and four hips of 22.5 ft; the slope factor is 1.118034.
    ("front", Side::Front, 25.0 * 15.0 * 1.118_034, 40),
    ("right", Side::Right, 15.0 * 15.0 * 1.118_034, 30),
    ("rear", Side::Rear, 25.0 * 15.0 * 1.118_034, 40),
    ("left", Side::Left, 15.0 * 15.0 * 1.118_034, 30),
];

fn edge(house: &mut House, word: &str, kind: EdgeKind, slopes: (&str, Option<&str>), inches: i64) {
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
fn hip_roof() -> House {
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

fn hit(house: &mut House, slope: &str) {
    house.finding(
        &format!("hits-{slope}"),
        hail(at(Kind::Slope, slope), Component::Shingles),
    );
}

fn all_hit() -> House {
    let mut house = hip_roof();
    for (word, ..) in SLOPES {
        hit(&mut house, word);
    }
    house
}

fn square(house: &mut House, slope: &str, hits: u32) {
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

fn total(scope: &Scope, item: &Item, action: WorkAction) -> String {
    let mut totals = scope.totals.iter();
    let total = totals.find(|total| total.item == *item && total.action == action);
    total.map_or("none".to_owned(), |total| total.quantity.to_string())
}

fn opened(house: &mut House, slope: &str, opening: EaveOpening) {
    let opening = EaveOpening {
        slope: Some(at(Kind::Slope, slope)),
        ..opening
    };
    house
        .job
        .records
        .eave_openings
        .insert(id(&format!("opening-{slope}")), record(opening));
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
fn what_is_there_is_replaced_and_what_is_not_is_asked_for_by_section() {
    let mut house = hip_roof();
    hit(&mut house, "front");
    hit(&mut house, "left");
    opened(
        &mut house,
        "front",
        EaveOpening {
            drip_edge: Some(Layer::SeenAbsent),
            underlayment: Some(Layer::Seen(Underlayment::Felt15)),
            deck: Some(Layer::Seen(DeckKind::Planks)),
            widest_gap: Some(Length::from_inches_f64(0.5)),
            ..EaveOpening::default()
        },
    );
    opened(
        &mut house,
        "left",
        EaveOpening {
            drip_edge: Some(Layer::Seen(EdgeMetal::Metal)),
            deck: Some(Layer::Seen(DeckKind::Plywood)),
            ..EaveOpening::default()
        },
    );
    let scope = scope_of(&house);
    assert_eq!(quantity(&scope, &Item::DripEdge, RemoveAndReplace), "30 LF");
    let asked = find(&scope, &Item::DripEdge, Install).unwrap();
    assert_eq!(asked.quantity.unwrap().to_string(), "40 LF");
    // IRC R905.2.8.5, in the code since 2012; R905.2.1 for a solid deck.
    assert!(
        matches!(&asked.basis, Basis::Requirement { section, words, .. }
        if section == "R905.2.8.5" && words.contains("local authority"))
    );
    assert!(asked.key.as_str().ends_with("|required"));
    let deck = find(&scope, &Item::RoofDeck, Install).unwrap();
    assert_eq!(deck.quantity.unwrap().to_string(), "419.26 SF");
    assert!(matches!(&deck.basis, Basis::Requirement { section, .. } if section == "R905.2.1"));
    let older = ScopeInputs {
        code_edition: Some("IRC 2009".into()),
        ..ScopeInputs::default()
    };
    let older = super::scope(&house.job, &older);
    assert!(
        find(&older, &Item::DripEdge, Install).is_none(),
        "not in the code before 2012"
    );
    let wide = ScopeInputs {
        widest_gap: Length::from_inches_f64(0.5),
        ..ScopeInputs::default()
    };
    assert!(find(&super::scope(&house.job, &wide), &Item::RoofDeck, Install).is_none());
}

#[test]
fn the_ice_barrier_reaches_inside_the_wall_where_it_is_designated() {
    let mut house = hip_roof();
    hit(&mut house, "front");
    for (word, of, inches) in [
        ("over", MeasuredThing::Overhang, 12),
        ("wall", MeasuredThing::WallThickness, 6),
    ] {
        let measure = Measurement {
            place: Some(RecordRef::side(Side::Front)),
            of: Some(of),
            length: Some(Length::inches(inches)),
            ..Measurement::default()
        };
        house
            .job
            .records
            .measurements
            .insert(id(word), record(measure));
    }
    let designated = |house: &mut House, known| {
        let property = Property {
            ice_barrier_designated: Some(known),
            code_edition: Some("IRC 2021".into()),
            ..Property::default()
        };
        house
            .job
            .records
            .properties
            .insert(Job::only(), record(property));
        scope_of(house)
    };
    // IRC R905.1.2: (12 + 6 + 24) x 1.118034 = 46.957 in along the slope, 40 ft of eave.
    let yes = designated(&mut house, Known::Yes);
    assert_eq!(quantity(&yes, &Item::IceBarrier, Install), "156.52 SF");
    let unknown = designated(&mut house, Known::Unknown);
    let ask = find(&unknown, &Item::IceBarrier, Inspect).unwrap();
    assert!(
        ask.unsure
            .iter()
            .any(|said| said.contains("ask the local authority"))
    );
    let no = designated(&mut house, Known::No);
    assert!(no.lines.iter().all(|line| line.item != Item::IceBarrier));
}

#[test]
fn what_stands_on_a_slope_goes_with_it() {
    let mut house = hip_roof();
    hit(&mut house, "rear");
    let rear = Some(at(Kind::Slope, "rear"));
    for (word, part) in [
        ("boots", Component::PipeBoot),
        ("vents", Component::BoxVent),
        ("dish", Component::SatelliteDish),
        ("chimney", Component::Chimney),
    ] {
        house.part(word, rear.clone(), part, Condition::Cleared);
    }
    house.part("mast", rear.clone(), Component::Mast, Condition::NotPresent);
    let chimney = house
        .job
        .records
        .components
        .get_mut(&id("chimney"))
        .unwrap();
    (chimney.fields.count, chimney.fields.length) = (Some(1), Some(Length::inches(36)));
    let mut dented = hail(at(Kind::Slope, "rear"), Component::BoxVent);
    (dented.units, dented.units_total) = (Some(3), Some(4));
    house.finding("dented", dented);
    let scope = scope_of(&house);
    assert_eq!(quantity(&scope, &Item::PipeBoot, RemoveAndReplace), "4 EA");
    assert_eq!(quantity(&scope, &Item::BoxVent, RemoveAndReplace), "3 EA");
    assert_eq!(quantity(&scope, &Item::BoxVent, DetachAndReset), "1 EA");
    assert_eq!(
        quantity(&scope, &Item::SatelliteDish, DetachAndReset),
        "4 EA"
    );
    assert_eq!(
        quantity(&scope, &Item::ChimneyFlashing, RemoveAndReplace),
        "1 EA"
    );
    // IRC R903.2.2: over 30 in wide.
    assert_eq!(quantity(&scope, &Item::Cricket, Install), "1 EA");
    assert!(scope.lines.iter().all(|line| line.item != Item::Mast));
}

#[test]
fn a_valley_counts_once_however_many_of_its_slopes_go() {
    let mut house = hip_roof();
    edge(
        &mut house,
        "valley",
        EdgeKind::Valley,
        ("front", Some("left")),
        217,
    );
    house
        .job
        .records
        .edges
        .get_mut(&id("valley"))
        .unwrap()
        .fields
        .lining = Some(Layer::Seen(ValleyLining::OpenMetal));
    let mut dents = hail(at(Kind::Slope, "front"), Component::Valley);
    dents.extent_length = Some(Length::inches(217));
    house.finding("dents", dents);
    let alone = scope_of(&house);
    assert_eq!(
        quantity(&alone, &Item::ValleyOpenMetal, RemoveAndReplace),
        "18.08 LF"
    );
    hit(&mut house, "front");
    hit(&mut house, "left");
    let both = scope_of(&house);
    let line = find(&both, &Item::ValleyOpenMetal, RemoveAndReplace).unwrap();
    assert_eq!(line.quantity.unwrap().to_string(), "18.08 LF");
    assert_eq!(line.findings, [at(Kind::Finding, "dents")]);
    house
        .job
        .records
        .edges
        .get_mut(&id("valley"))
        .unwrap()
        .fields
        .lining = None;
    let line_of = scope_of(&house);
    let unknown = find(&line_of, &Item::Valley, RemoveAndReplace).unwrap();
    assert!(
        unknown
            .unsure
            .iter()
            .any(|said| said.contains("lined was not seen"))
    );
}

#[test]
fn lengths_that_nobody_measured_are_named() {
    let mut house = hip_roof();
    hit(&mut house, "front");
    house.job.records.edges.clear();
    let scope = scope_of(&house);
    let starter = find(&scope, &Item::Starter, RemoveAndReplace).unwrap();
    assert_eq!(starter.quantity, None);
    assert!(
        starter
            .unsure
            .iter()
            .any(|said| said.contains("measure it")),
        "{:?}",
        starter.unsure
    );
}

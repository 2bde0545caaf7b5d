use super::slopes::{edge, hip_roof, hit};
use super::*;
use WorkAction::{DetachAndReset, Inspect, Install, RemoveAndReplace};

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
    assert!(find(&scope, &Item::RoofDeck, Inspect).is_none());
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
fn where_boards_were_seen_under_one_slope_the_others_are_looked_at() {
    let mut house = hip_roof();
    hit(&mut house, "rear");
    opened(
        &mut house,
        "front",
        EaveOpening {
            deck: Some(Layer::Seen(DeckKind::Planks)),
            ..EaveOpening::default()
        },
    );
    opened(
        &mut house,
        "left",
        EaveOpening {
            deck: Some(Layer::Seen(DeckKind::Plywood)),
            ..EaveOpening::default()
        },
    );
    let scope = scope_of(&house);
    let deck = find(&scope, &Item::RoofDeck, Inspect).unwrap();
    assert_eq!(
        deck.records.last(),
        Some(&at(Kind::EaveOpening, "opening-front"))
    );
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

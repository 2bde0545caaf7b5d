//! The rules against published figures and worked cases.

use super::*;
use crate::job::{Area, DeckKind, Length, Material, Pitch, ValleyLining};

fn house(edition: &str, rise: f64) -> CodeInputs {
    CodeInputs {
        code_edition: Some(edition.to_owned()),
        ice_barrier_designated: Some(true),
        slopes: vec![SlopeInputs {
            name: "main".into(),
            pitch: Pitch::from_rise(rise),
            roofing: Some(Material::LaminatedShingle),
            layers: Some(1),
            overhang: Some(Length::inches(12)),
            wall_thickness: Some(Length::inches(6)),
            deck: Some(DeckKind::Plywood),
            ..SlopeInputs::default()
        }],
        ..CodeInputs::default()
    }
}

fn one(inputs: &CodeInputs, rule: CodeRule) -> Answer {
    let mut found: Vec<Answer> = answers(inputs)
        .into_iter()
        .filter(|answer| answer.rule == rule)
        .collect();
    assert_eq!(found.len(), 1, "{found:?}");
    found.remove(0)
}

// IRC R905.1.2 (2015 to 2021) with worked lengths that a building magazine printed for a 12 in
// overhang and a 2x6 wall ("Ice-Dam Protection: How Far Up the Roof Slope?", M. Guertin): 47 in at
// 6 in 12, 50-1/2 at 8, 59-3/8 at 12; the thousandths by plane geometry.
#[test]
fn the_ice_barrier_reaches_as_far_as_printed() {
    for (rise, length, printed) in [
        (4.0, 44.272, None),
        (6.0, 46.957, Some(47.0)),
        (8.0, 50.478, Some(50.5)),
        (12.0, 59.397, Some(59.375)),
    ] {
        let answer = one(&house("IRC 2018", rise), CodeRule::IceBarrier);
        let along = answer.figure("along the slope").unwrap();
        assert!((along - length).abs() < 0.0005, "{along}");
        assert!(
            printed.is_none_or(|p: f64| (along - p).abs() < 0.06),
            "{along}"
        );
        assert_eq!(answer.citation(), "IRC 2018, R905.1.2");
        assert_eq!(answer.standing, Standing::Asks);
    }
    let rule = IceRule::in_edition(Edition::Of2018).unwrap();
    let eave = |rise| ice_barrier(rule, 24.0, 6.0, rise).unwrap().along_slope_in;
    assert!((eave(6.0) - 60.374).abs() < 0.0005 && (eave(12.0) - 76.368).abs() < 0.0005);
}

#[test]
fn the_clause_for_steep_slopes_came_in_2015_and_left_in_2024() {
    for (edition, steep) in [
        (Edition::Of2012, None),
        (Edition::Of2015, Some((36.0, 8.0))),
        (Edition::Of2021, Some((36.0, 8.0))),
        (Edition::Of2024, None),
    ] {
        let rule = IceRule::in_edition(edition).unwrap();
        assert_eq!((rule.inside_wall_in, rule.steep), (24.0, steep));
        // Flush eave: 24 in x 1.2019 is less than 36 in along an 8 in 12 slope.
        let flush = ice_barrier(rule, 0.0, 0.0, 8.0).unwrap().along_slope_in;
        let asked = if steep.is_some() { 36.0 } else { 28.844 };
        assert!((flush - asked).abs() < 0.0005);
    }
    let rule = IceRule::in_edition(Edition::Of2018).unwrap();
    for bad in [-1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(ice_barrier(rule, bad, 6.0, 6.0), None);
        assert_eq!(ice_barrier(rule, 12.0, bad, 6.0), None);
        assert_eq!(ice_barrier(rule, 12.0, 6.0, bad), None);
    }
}

#[test]
fn the_ice_barrier_is_asked_only_where_designated_and_says_what_is_not_known() {
    let mut inputs = house("IRC 2018", 6.0);
    inputs.ice_barrier_designated = Some(false);
    assert_eq!(
        one(&inputs, CodeRule::IceBarrier).standing,
        Standing::NotAsked
    );
    inputs.ice_barrier_designated = None;
    inputs.slopes[0].wall_thickness = None;
    let all = answers(&inputs);
    let said: Vec<_> = all
        .iter()
        .filter(|a| a.rule == CodeRule::IceBarrier)
        .collect();
    assert_eq!(said.len(), 2);
    assert!(said[0].not_known.contains(&Input::IceBarrierDesignated));
    assert!(said[1].not_known.contains(&Input::WallThickness));
    assert!(said.iter().all(|a| a.sentence.starts_with("Not known: ")));
    // Known lengths are worked out all the same, and remain marked.
    inputs.slopes[0].wall_thickness = Some(Length::inches(6));
    let all = answers(&inputs);
    let slope = all
        .iter()
        .rfind(|a| a.rule == CodeRule::IceBarrier)
        .unwrap();
    assert_eq!(slope.standing, Standing::NotKnown);
    assert!(slope.sentence.contains("47.0 in along the slope"));
    inputs.conditioned = Some(false);
    assert_eq!(
        one(&inputs, CodeRule::IceBarrier).standing,
        Standing::NotAsked
    );
}

// IRC R905.2.2 and R905.1.1: double underlayment from 2 in 12 up to 4 in 12.
#[test]
fn low_slopes_ask_for_two_layers() {
    for (rise, least, two) in [
        (1.99, Standing::Asks, None),
        (2.0, Standing::Asks, Some(true)),
        (3.99, Standing::Asks, Some(true)),
        (4.0, Standing::NotAsked, Some(false)),
    ] {
        let inputs = house("IRC 2015", rise);
        assert_eq!(one(&inputs, CodeRule::LeastSlope).standing, least, "{rise}");
        let layers = one(&inputs, CodeRule::Underlayment);
        match two {
            None => assert_eq!(layers.standing, Standing::NotAsked),
            Some(two) => assert_eq!(layers.sentence.starts_with("Two layers"), two),
        }
        assert_eq!(layers.section, "R905.1.1");
    }
    assert_eq!(
        one(&house("IRC 2012", 6.0), CodeRule::Underlayment).section,
        "R905.2.7"
    );
}

// IRC R806.2: 1500 sq ft needs 1440 sq in at 1/150 and 720 at 1/300.
#[test]
fn vent_area_depends_on_place_and_zone() {
    let vent = |edition: &str, share, zone, retarder| {
        let inputs = CodeInputs {
            code_edition: Some(edition.to_owned()),
            vented_space: Some(Area::from_square_feet(1500.0)),
            high_vent_share: share,
            climate_zone: zone,
            vapour_retarder: retarder,
            ..CodeInputs::default()
        };
        let answer = one(&inputs, CodeRule::Ventilation);
        (
            answer.figure("net free area asked").unwrap(),
            answer.not_known.len(),
        )
    };
    assert_eq!(vent("IRC 2018", Some(0.45), Some(3), None), (720.0, 0));
    assert_eq!(
        vent("IRC 2018", Some(0.45), Some(6), Some(true)),
        (720.0, 0)
    );
    assert_eq!(
        vent("IRC 2018", Some(0.45), Some(6), Some(false)),
        (1440.0, 0)
    );
    assert_eq!(vent("IRC 2018", Some(0.6), Some(3), None), (1440.0, 0));
    assert_eq!(vent("IRC 2018", None, Some(3), None), (1440.0, 1));
    assert_eq!(vent("IRC 2018", Some(f64::NAN), None, None), (1440.0, 3));
    // 2009: the place or the retarder is enough.
    assert_eq!(vent("IRC 2009", Some(0.6), None, None).0, 720.0);
    assert_eq!(vent("IRC 2009", None, None, Some(true)).0, 720.0);
    assert_eq!(vent("IRC 2009", Some(0.4), None, Some(false)).0, 1440.0);
}

#[test]
fn details_are_answered_one_by_one() {
    let mut inputs = house("IRC 2018", 6.0);
    inputs.valleys = Some(vec![
        ValleyInputs {
            name: "left".into(),
            lining: Some(ValleyLining::OpenMetal),
            width: Some(Length::inches(18)),
        },
        ValleyInputs::default(),
    ]);
    inputs.sidewalls = Some(vec![]);
    let chimney = |inches| OpeningInputs {
        name: "chimney".into(),
        width: Some(Length::inches(inches)),
        skylight: false,
    };
    inputs.openings = Some(vec![chimney(30), chimney(31)]);
    let all = answers(&inputs);
    let of = |rule| all.iter().filter(move |a| a.rule == rule);
    let valleys: Vec<_> = of(CodeRule::Valley).collect();
    assert!(valleys[0].sentence.contains("24 in") && valleys[0].sentence.contains("narrower"));
    assert_eq!(valleys[1].standing, Standing::NotKnown);
    let walls: Vec<_> = of(CodeRule::Sidewall).map(|a| a.standing).collect();
    assert_eq!(walls, [Standing::NotAsked]);
    // IRC R903.2.2: over 30 in, not from 30 in.
    let crickets: Vec<_> = of(CodeRule::Cricket).map(|a| a.standing).collect();
    assert_eq!(crickets, [Standing::NotAsked, Standing::Asks]);
    assert_eq!(
        one(&house("IRC 2018", 6.0), CodeRule::Sidewall).not_known,
        [Input::Sidewalls]
    );
}

// IRC R908.3.1.1, before 2015 R907.3; drip edge in the code since 2012.
#[test]
fn editions_differ() {
    let recover = |edition, layers, kind, hail| {
        let mut inputs = house(edition, 6.0);
        inputs.slopes[0].layers = layers;
        inputs.slopes[0].roofing = Some(kind);
        inputs.roofing_soaked = Some(false);
        inputs.hail_exposure = hail;
        one(&inputs, CodeRule::Recover)
    };
    let shingle = Material::ThreeTabShingle;
    assert_eq!(
        recover("IRC 2018", Some(2), shingle, None).standing,
        Standing::Asks
    );
    assert_eq!(
        recover("IRC 2018", Some(1), shingle, None).standing,
        Standing::NotAsked
    );
    assert_eq!(
        recover("IRC 2018", None, shingle, None).not_known,
        [Input::Layers]
    );
    assert_eq!(
        recover("IRC 2018", Some(1), Material::Slate, None).standing,
        Standing::Asks
    );
    let older = recover("IRC 2009", Some(1), shingle, Some(true));
    assert_eq!((older.standing, older.section), (Standing::Asks, "R907.3"));
    for (edition, standing) in [
        ("IRC 2009", Standing::NotAsked),
        ("IRC 2012", Standing::Asks),
    ] {
        assert_eq!(
            one(&house(edition, 6.0), CodeRule::DripEdge).standing,
            standing
        );
    }
    let steep = |edition, rise| one(&house(edition, rise), CodeRule::Fasteners).sentence;
    assert!(steep("IRC 2006", 20.5).contains("steeper than 20"));
    assert!(!steep("IRC 2018", 21.0).contains("steeper"));
    assert!(steep("IRC 2018", 21.01).contains("steeper than 21"));
}

#[test]
fn an_empty_house_gets_an_answer_from_every_rule_and_each_says_to_confirm() {
    let all = answers(&CodeInputs::default());
    for row in PROVISIONS {
        assert!(all.iter().any(|a| a.rule == row.rule), "{:?}", row.rule);
    }
    for answer in &all {
        assert_eq!(answer.standing, Standing::NotKnown);
        assert!(!answer.not_known.is_empty());
        assert!(answer.confirm.contains("local authority"));
        assert!(answer.edition_assumed && answer.citation().contains("assumed"));
    }
}

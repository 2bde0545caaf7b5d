//! Patterns whose wind is known, sides that contradict one another, and too little data.

use super::*;
use crate::trade::hail::FallModel;
use crate::trade::wind::hits_against_level;

pub(super) fn slope(name: &str, bearing: f64, rise: f64, hits: u64) -> Surface {
    Surface {
        name: name.to_owned(),
        facing: Facing::slope(bearing, rise),
        exposure: 100.0,
        unit: "sq ft".to_owned(),
        covering: "shingles".to_owned(),
        hits,
        placement: Some(Placement::Typical),
    }
}

pub(super) fn wall(name: &str, bearing: f64, hits: u64) -> Surface {
    Surface {
        name: name.to_owned(),
        facing: Facing::wall(bearing),
        exposure: 8.0,
        unit: "screens".to_owned(),
        covering: "window screens".to_owned(),
        hits,
        placement: None,
    }
}

/// Four slopes and four walls with the counts, to the nearest whole, that a wind would leave.
pub(super) fn house(from: f64, ratio: f64, on_level: f64, walls: f64) -> Vec<Surface> {
    let mut surfaces = Vec::new();
    for (name, bearing) in [
        ("south", 180.0),
        ("east", 90.0),
        ("north", 0.0),
        ("west", 270.0),
    ] {
        let mut one = slope(&format!("{name} slope"), bearing, 6.0, 0);
        one.hits =
            (on_level * hits_against_level(one.facing, from, ratio).max(STRAY)).round() as u64;
        let mut other = wall(&format!("{name} wall"), bearing, 0);
        other.hits =
            (walls * hits_against_level(other.facing, from, ratio).max(STRAY)).round() as u64;
        surfaces.extend([one, other]);
    }
    surfaces
}

fn kinds(pattern: &Pattern) -> Vec<WarningKind> {
    pattern
        .warnings
        .iter()
        .map(|warning| warning.kind)
        .collect()
}

#[test]
fn a_known_wind_is_found() {
    for (from, ratio) in [(225.0, 0.6), (0.0, 1.0), (352.0, 0.5), (100.0, 1.5)] {
        // Counts so large that rounding them changes little.
        let found = pattern(&house(from, ratio, 4000.0, 3000.0), &Question::default()).unwrap();
        let fit = found.fit.unwrap();
        assert!(
            wind::angle_between(fit.from, from) < 1.0,
            "{from}: {}",
            fit.from
        );
        assert!(
            (fit.ratio - ratio).abs() < 0.02,
            "{from} {ratio}: {}",
            fit.ratio
        );
        assert!(fit.directions.hold(from));
        assert!(fit.ratio_low <= ratio && fit.ratio_high >= Some(ratio));
        assert!(fit.p_no_wind < 1e-6);
    }
}

#[test]
fn the_sentence_names_both_fall_speeds() {
    let question = Question {
        stone: Some(Stone {
            inches: 1.0,
            source: "storm report".to_owned(),
        }),
        ..Question::default()
    };
    let found = pattern(&house(225.0, 0.6, 12.0, 14.0), &question).unwrap();
    insta::assert_snapshot!(found.sentence);
    let fit = found.fit.unwrap();
    for model in FallModel::ALL {
        assert!(found.sentence.contains(model.label()));
        assert!(fit.speeds.iter().any(|speed| speed.model == *model));
    }
}

#[test]
fn even_counts_tell_no_direction() {
    let even: Vec<Surface> = [0.0, 90.0, 180.0, 270.0]
        .into_iter()
        .map(|bearing| slope("slope", bearing, 6.0, 8))
        .collect();
    let found = pattern(&even, &Question::default()).unwrap();
    let fit = found.fit.unwrap();
    assert_eq!(fit.directions, Directions::Any);
    assert!(fit.p_no_wind > 0.9 && fit.ratio < 1e-3);
    assert!(found.sentence.contains("every direction fits"));
}

/// Walls alone: the hits of each are in proportion to the ratio, which therefore drops out.
#[test]
fn walls_alone_set_no_upper_bound_to_the_wind() {
    let walls = [
        wall("south", 180.0, 20),
        wall("west", 270.0, 21),
        wall("north", 0.0, 0),
        wall("east", 90.0, 0),
    ];
    let found = pattern(&walls, &Question::default()).unwrap();
    let fit = found.fit.unwrap();
    assert_eq!(fit.ratio_high, None);
    assert!(wind::angle_between(fit.from, 226.0) < 5.0, "{}", fit.from);
    assert!(found.sentence.contains("no upper bound"));
}

#[test]
fn sides_that_contradict_one_another_are_warned_of() {
    let mut surfaces = house(225.0, 0.6, 120.0, 180.0);
    // The walls are those of a wind from the other side.
    for (surface, other) in surfaces.iter_mut().zip(house(45.0, 0.6, 120.0, 180.0)) {
        if surface.facing.tilt == 90.0 {
            surface.hits = other.hits;
        }
    }
    let found = pattern(&surfaces, &Question::default()).unwrap();
    assert!(
        found.sentence.contains("no steady wind"),
        "{}",
        found.sentence
    );
    assert!(kinds(&found).contains(&WarningKind::PoorFit), "{found:?}");
    assert!(
        kinds(&found).contains(&WarningKind::LeeOverWindward),
        "{found:?}"
    );
}

#[test]
fn a_fit_is_held_against_what_others_say() {
    let stone = Stone {
        inches: 1.0,
        source: "report".to_owned(),
    };
    let says = |from, gust_mph| Question {
        stone: Some(stone.clone()),
        stated: vec![Stated {
            from,
            gust_mph,
            source: "the storm report says".to_owned(),
        }],
        ..Question::default()
    };
    let surfaces = house(225.0, 1.0, 60.0, 60.0);
    let warned = |question: &Question| kinds(&pattern(&surfaces, question).unwrap());
    let against = [
        WarningKind::AgainstStatedWind,
        WarningKind::AgainstReportedGust,
    ];
    for good in [
        says(Some(230.0), Some(40.0)),
        says(None, None),
        says(Some(f64::NAN), None),
    ] {
        assert!(!warned(&good).iter().any(|kind| against.contains(kind)));
    }
    assert!(warned(&says(Some(20.0), None)).contains(&against[0]));
    // A wind of the fall speed is 26.7 mph by the slower model.
    assert!(warned(&says(None, Some(10.0))).contains(&against[1]));
}

#[test]
fn the_choice_of_the_worst_spot_is_warned_of() {
    let mut surfaces = house(225.0, 0.6, 12.0, 14.0);
    assert!(
        !kinds(&pattern(&surfaces, &Question::default()).unwrap())
            .contains(&WarningKind::WorstSpots)
    );
    surfaces[0].placement = Some(Placement::Worst);
    let found = pattern(&surfaces, &Question::default()).unwrap();
    assert!(kinds(&found).contains(&WarningKind::WorstSpots));
}

#[test]
fn too_little_data_is_said() {
    let none = pattern(&[], &Question::default()).unwrap();
    assert!(none.fit.is_none() && none.sentence.starts_with("Too little data"));
    let slopes = |counts: &[(f64, u64)]| -> Vec<Surface> {
        let one = |(bearing, hits): &(f64, u64)| slope("slope", *bearing, 6.0, *hits);
        counts.iter().map(one).collect()
    };
    let most = limits::PATTERN_HITS;
    for (counts, enough) in [
        (vec![(0.0, most), (90.0, 0)], false),
        (vec![(0.0, most), (10.0, 0), (20.0, 5)], false),
        (vec![(0.0, most - 1), (90.0, 0), (180.0, 0)], false),
        (vec![(0.0, most), (90.0, 0), (180.0, 0)], true),
        (vec![(355.0, most), (25.0, 3), (330.0, 3)], false),
    ] {
        let found = pattern(&slopes(&counts), &Question::default()).unwrap();
        assert_eq!(found.fit.is_some(), enough, "{counts:?}");
        assert_eq!(found.too_little.is_none(), enough);
    }
    // Each alone with its covering: nothing to compare it with.
    let mut alone = slopes(&[(0.0, 10), (90.0, 10), (180.0, 10)]);
    for (number, surface) in alone.iter_mut().enumerate() {
        surface.covering = format!("covering {number}");
    }
    assert!(pattern(&alone, &Question::default()).unwrap().fit.is_none());
}

#[test]
fn what_is_no_surface_is_refused() {
    let good = slope("roof", 10.0, 6.0, 4);
    let bad = |change: fn(&mut Surface)| {
        let mut surface = good.clone();
        change(&mut surface);
        pattern(&[surface], &Question::default())
    };
    for facing in [
        bad(|s| s.facing.bearing = f64::NAN),
        bad(|s| s.facing.tilt = 91.0),
        bad(|s| s.facing.tilt = f64::NAN),
    ] {
        assert_eq!(facing, Err(PatternError::Facing("roof".to_owned())));
    }
    for counts in [
        bad(|s| s.exposure = 0.0),
        bad(|s| s.exposure = f64::INFINITY),
        bad(|s| s.hits = limits::HITS_COUNTED + 1),
    ] {
        assert!(matches!(counts, Err(PatternError::Counts(_))));
    }
    let level = Question {
        level: 95.0,
        ..Question::default()
    };
    assert_eq!(pattern(&[], &level), Err(StatsError::Level.into()));
    let most = vec![good.clone(); limits::PATTERN_SURFACES];
    assert!(pattern(&most, &Question::default()).is_ok());
    let past = vec![good; limits::PATTERN_SURFACES + 1];
    assert_eq!(
        pattern(&past, &Question::default()),
        Err(StatsError::TooManyCounts.into())
    );
}

#[test]
fn an_arc_may_pass_through_north() {
    let arc = Arc {
        from: 340.0,
        to: 20.0,
    };
    assert_eq!(arc.width(), 40.0);
    assert!(arc.holds(0.0) && arc.holds(340.0) && arc.holds(20.0));
    assert!(!arc.holds(21.0) && !arc.holds(180.0));
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(48))]
    #[test]
    fn any_counts_have_an_answer(
        rows in proptest::collection::vec(
            (-1e4f64..1e4, 0.0f64..=90.0, 1e-6f64..1e6, 0u64..=limits::HITS_COUNTED, 0u8..3),
            0..9,
        ),
    ) {
        let surfaces: Vec<Surface> = rows
            .iter()
            .map(|(bearing, tilt, exposure, hits, covering)| Surface {
                name: "any".to_owned(),
                facing: Facing { bearing: *bearing, tilt: *tilt },
                exposure: *exposure,
                unit: "sq ft".to_owned(),
                covering: covering.to_string(),
                hits: *hits,
                placement: None,
            })
            .collect();
        let found = pattern(&surfaces, &Question::default()).unwrap();
        proptest::prop_assert_eq!(&found, &pattern(&surfaces, &Question::default()).unwrap());
        if let Some(fit) = &found.fit {
            proptest::prop_assert!(fit.directions.hold(fit.from));
            proptest::prop_assert!(fit.ratio_low <= fit.ratio + 1e-9);
            proptest::prop_assert!(fit.ratio_high.is_none_or(|high| high >= fit.ratio - 1e-9));
            let expected: f64 = found.surfaces.iter().filter_map(|row| row.expected).sum();
            let hits: f64 = surfaces.iter().map(|surface| surface.hits as f64).sum();
            proptest::prop_assert!((expected - hits).abs() <= 1e-6 * hits.max(1.0));
        }
    }
}

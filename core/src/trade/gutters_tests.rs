//! Sizing against the printed example, the formula of the leaders' table and hand calculation.

use super::*;

fn pitch(rise: f64) -> Pitch {
    Pitch::from_rise(rise).unwrap()
}

/// Home-improvement reference tables: 1,000 sq ft at 6/12 in a rain of 6.8 in an hour make 7,480
/// sq ft and ask for 6 in K-style.
#[test]
fn the_printed_example_comes_out() {
    let found = demand(Area::from_square_feet(1000.0), pitch(6.0), 6.8).unwrap();
    assert_eq!(found.pitch_factor, 1.1);
    assert!((found.adjusted_square_feet - 7480.0).abs() < 1e-9);
    assert!((found.gallons_a_minute - 77.714).abs() < 1e-3);
    let sizing = size_by_table(&found, Profile::KStyle);
    assert_eq!(sizing.row.unwrap().inches, 6);
    assert!(sizing.words.contains("Sizing help only"));
    let round = size_by_table(&found, Profile::HalfRound);
    assert!(round.row.is_none() && round.words.contains("divide the run"));
}

/// The same tables: 1.0 up to 3 in 12, 1.05 at 4 and 5, 1.1 at 6 to 8, 1.2 at 9 to 11, 1.3 above.
#[test]
fn pitch_factors_are_those_of_the_table() {
    let table = [
        (0.0, 1.0),
        (3.0, 1.0),
        (4.0, 1.05),
        (5.0, 1.05),
        (6.0, 1.1),
        (8.0, 1.1),
        (9.0, 1.2),
        (11.0, 1.2),
        (12.0, 1.3),
        (24.0, 1.3),
    ];
    for (rise, factor) in table {
        assert_eq!(pitch_factor(pitch(rise)), factor, "{rise}");
    }
    // Between two rows the larger factor is taken.
    assert_eq!(pitch_factor(pitch(3.5)), 1.05);
    assert_eq!(pitch_factor(pitch(11.5)), 1.3);
}

/// Manning's formula by hand for a half circle of 6 in at 1/16 in a foot and n 0.012: area
/// 0.098175 sq ft, hydraulic radius 0.125 ft, slope 1/192, so V = 1.486/0.012 x 0.25 x 0.072169 =
/// 2.2342 ft/s and Q = 0.21934 cu ft/s = 98.45 gpm.
#[test]
fn manning_is_as_by_hand_and_gives_more_than_the_table() {
    let half = manning(Section::HalfRound { diameter: 6.0 }, 1.0 / 16.0, 0.012).unwrap();
    assert!((half.gallons_a_minute - 98.45).abs() < 0.05, "{half:?}");
    // Inside of ordinary K-style gutters, from memory.
    let k_style = |inches: f64| Section::Trapezoid {
        top: inches,
        bottom: 0.65 * inches,
        depth: 0.7 * inches,
    };
    for row in TABLE {
        let inches = f64::from(row.inches);
        let section = match row.profile {
            Profile::KStyle => k_style(inches),
            Profile::HalfRound => Section::HalfRound { diameter: inches },
        };
        let full = manning(section, 1.0 / 16.0, SMOOTH_METAL).unwrap();
        let more = full.square_feet / row.square_feet;
        assert!((1.5..3.0).contains(&more), "{row:?}: {more}");
    }
}

/// The table of leaders follows R. Wyly and H. Eaton, National Bureau of Standards Monograph 31,
/// 1961: 27.8 r^(5/3) d^(8/3) gpm with r the part of the section that is filled (from memory).
#[test]
fn leaders_follow_the_formula_of_their_table() {
    for (inches, name) in [
        (2.0_f64, "2 in round"),
        (3.0, "3 in round"),
        (4.0, "4 in round"),
    ] {
        let row = DOWNSPOUTS.iter().find(|row| row.name == name).unwrap();
        let gpm = 27.8 * (7.0 / 24.0_f64).powf(5.0 / 3.0) * inches.powf(8.0 / 3.0);
        let off = (row.square_feet / SQUARE_FEET_PER_GPM / gpm - 1.0).abs();
        assert!(off < 0.015, "{name}: {off}");
        assert!((row.square_inches - PI * inches * inches / 4.0).abs() < 0.01);
    }
    let found = demand(Area::from_square_feet(1000.0), pitch(6.0), 6.8).unwrap();
    let by = |name| DOWNSPOUTS.iter().find(|row| row.name == name).unwrap();
    assert_eq!(downspouts(&found, by("2x3 in")), 4);
    assert_eq!(downspouts(&found, by("3x4 in")), 2);
}

#[test]
fn a_rectangular_leader_counts_as_the_round_one_it_holds() {
    for row in DOWNSPOUTS {
        let round = DOWNSPOUTS
            .iter()
            .filter(|other| other.name.ends_with("round"))
            .rfind(|other| other.square_inches <= row.square_inches + 0.01);
        assert_eq!(round.unwrap().square_feet, row.square_feet, "{row:?}");
    }
}

#[test]
fn what_cannot_be_sized_is_said() {
    let area = Area::from_square_feet;
    assert_eq!(demand(area(0.5), pitch(6.0), 6.0), Err(GutterError::Area));
    assert_eq!(demand(area(-9.0), pitch(6.0), 6.0), Err(GutterError::Area));
    for rain in [0.0, -1.0, 31.0, f64::NAN, f64::INFINITY] {
        assert_eq!(
            demand(area(100.0), pitch(6.0), rain),
            Err(GutterError::Rain)
        );
    }
    let half = Section::HalfRound { diameter: 5.0 };
    assert_eq!(manning(half, 0.0, 0.012), Err(GutterError::Fall));
    assert_eq!(manning(half, f64::NAN, 0.012), Err(GutterError::Fall));
    assert_eq!(manning(half, 0.1, 0.0), Err(GutterError::Roughness));
    for diameter in [0.0, -5.0, 49.0, f64::NAN] {
        let none = Section::HalfRound { diameter };
        assert_eq!(manning(none, 0.1, 0.012), Err(GutterError::Section));
    }
}

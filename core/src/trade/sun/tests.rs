use chrono::{DateTime, NaiveDate};
use proptest::prelude::*;

use super::*;
use crate::job::{Millis, Pitch};
use crate::limits::SUN_FACES;
use crate::trade::geo::Position;

fn at(text: &str) -> Millis {
    DateTime::parse_from_rfc3339(text)
        .unwrap()
        .timestamp_millis()
}

fn place(latitude: f64, longitude: f64) -> Position {
    Position::new(latitude, longitude).unwrap()
}

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn near(ours: f64, theirs: f64, within: f64) {
    assert!((ours - theirs).abs() <= within, "{ours} is not {theirs}");
}

// The worked example of I. Reda and A. Andreas, "Solar Position Algorithm for Solar Radiation
// Applications", NREL/TP-560-34302, appendix A.5: a face that tilts 30 degrees and is turned 10
// degrees east of south.
#[test]
fn the_example_of_the_algorithms_authors_comes_out() {
    let sky = Sky {
        elevation_m: 1830.14,
        air: Some(Air {
            pressure_hpa: 820.0,
            temperature_c: 11.0,
        }),
        delta_t: Some(67.0),
    };
    let golden = place(39.742476, -105.1786);
    let sun = sun_position(golden, at("2003-10-17T12:30:30-07:00"), &sky).unwrap();
    near(sun.zenith, 50.111622, 1e-5);
    near(sun.azimuth, 194.340241, 1e-5);
    let face = Face::new("example", 170.0, 30.0).unwrap();
    near(face.incidence(&sun), 25.187000, 1e-5);
}

// Worked with pvlib 0.16.1 (`solarposition.get_solarposition`, `irradiance.aoi`) for a place in
// Texas, 130 m above the sea, delta T 69.2; the zenith is pvlib's apparent one.
#[test]
fn walls_and_slopes_meet_the_sun_as_in_pvlib() {
    let texas = place(32.7767, -96.7970);
    let sky = Sky {
        elevation_m: 130.0,
        air: None,
        delta_t: Some(69.2),
    };
    let roof = |facing| Face::slope("roof", facing, Pitch::from_rise(6.0).unwrap()).unwrap();
    let wall = |facing| Face::wall("wall", facing).unwrap();
    let cases = [
        (
            "2024-05-28T09:00:00-05:00",
            58.9405,
            82.9054,
            vec![
                (wall(180.0), 96.073),
                (wall(0.0), 83.927),
                (roof(270.0), 85.337),
            ],
        ),
        (
            "2024-05-28T13:00:00-05:00",
            12.4091,
            152.4398,
            vec![(wall(180.0), 79.018), (wall(90.0), 84.294)],
        ),
        (
            "2024-05-28T18:00:00-05:00",
            61.1750,
            278.4475,
            vec![(roof(90.0), 87.496), (wall(0.0), 82.605)],
        ),
        (
            "2024-11-15T15:30:00-06:00",
            f64::NAN,
            f64::NAN,
            vec![(roof(0.0), 87.865), (roof(90.0), 90.858)],
        ),
    ];
    for (time, zenith, azimuth, faces) in cases {
        let sun = sun_position(texas, at(time), &sky).unwrap();
        if zenith.is_finite() {
            near(sun.zenith, zenith, 2e-3);
            near(sun.azimuth, azimuth, 1e-3);
        }
        for (face, incidence) in faces {
            near(face.incidence(&sun), incidence, 2e-3);
        }
    }
}

#[test]
fn light_is_named_by_incidence_and_horizon() {
    let sun = |zenith, azimuth| SunPosition {
        zenith,
        true_zenith: zenith,
        azimuth,
    };
    let south = Face::wall("south", 180.0).unwrap();
    let band = GrazingBand::default();
    assert_eq!(south.light(&sun(60.0, 180.0), band), Light::Lit);
    assert_eq!(south.light(&sun(14.0, 180.0), band), Light::Grazing);
    assert_eq!(south.light(&sun(60.0, 0.0), band), Light::Shade);
    assert_eq!(south.light(&sun(91.0, 180.0), band), Light::Night);
    assert_eq!(
        south.light(&sun(14.0, 180.0), GrazingBand::new(80.0).unwrap()),
        Light::Lit
    );
}

fn house_day(text: &str) -> SunDay {
    let pitch = Pitch::from_rise(6.0).unwrap();
    let faces = vec![
        Face::wall("front wall", 140.0).unwrap(),
        Face::wall("left wall", 230.0).unwrap(),
        Face::slope("rear slope", 320.0, pitch).unwrap(),
    ];
    SunDay::of(&DayQuery::new(
        place(33.2127, -98.7431),
        day(text),
        -300,
        faces,
    ))
    .unwrap()
}

#[test]
fn the_states_of_a_day_have_no_gap_and_change_where_the_angle_says() {
    let today = house_day("2026-04-28");
    for face in &today.faces {
        assert_eq!(face.spans.first().unwrap().window.from, today.whole.from);
        assert_eq!(face.spans.last().unwrap().window.to, today.whole.to);
        for pair in face.spans.windows(2) {
            assert_eq!(pair[0].window.to, pair[1].window.from);
            assert_ne!(pair[0].light, pair[1].light);
            // A second on either side, the angle is on the side that the state says.
            for (span, at) in [
                (&pair[0], pair[0].window.to - 1001),
                (&pair[1], pair[0].window.to),
            ] {
                let sun = sun_position(place(33.2127, -98.7431), at, &Sky::default()).unwrap();
                assert_eq!(face.face.light(&sun, today.band), span.light);
            }
        }
        for window in &face.useful {
            for at in [window.from, window.to - 1001] {
                let sun = sun_position(place(33.2127, -98.7431), at, &Sky::default()).unwrap();
                assert!(sun.altitude() >= today.minimum_altitude - 0.01);
                assert!((74.99..=90.01).contains(&face.face.incidence(&sun)));
            }
        }
    }
}

#[test]
fn the_best_window_is_the_longest_that_is_left() {
    let today = house_day("2026-04-28");
    let front = &today.faces[0];
    let morning = BestLeft::of(&today, front, today.whole.from);
    let BestLeft::Window(best) = morning else {
        panic!("{morning:?}")
    };
    assert!(
        front
            .useful
            .iter()
            .all(|window| window.length() <= best.length())
    );
    let middle = best.from + best.length() / 2;
    let BestLeft::Window(rest) = BestLeft::of(&today, front, middle) else {
        panic!("half of it should be left")
    };
    assert_eq!((rest.from, rest.to), (middle, best.to));
    let night = BestLeft::of(&today, front, today.whole.to);
    assert!(matches!(night, BestLeft::Over { .. }));
    assert!(
        night
            .words(&today, front)
            .contains("no grazing light is left")
    );
    assert!(
        morning
            .words(&today, front)
            .starts_with("front wall: grazed from ")
    );
}

// Polar day and night at Utqiagvik, Alaska: US Naval Observatory, sun up from about 10 May to 2
// August and down from about 18 November to 23 January.
#[test]
fn polar_day_and_night_get_a_plain_answer() {
    let arctic = place(71.29, -156.79);
    let wall = || vec![Face::wall("south wall", 180.0).unwrap()];
    let summer = SunDay::of(&DayQuery::new(arctic, day("2026-06-21"), -480, wall())).unwrap();
    assert_eq!(summer.sun_up, vec![summer.whole]);
    let winter = SunDay::of(&DayQuery::new(arctic, day("2026-12-21"), -540, wall())).unwrap();
    assert!(winter.sun_up.is_empty() && winter.highest < 0.0);
    let best = BestLeft::of(&winter, &winter.faces[0], winter.whole.from);
    assert_eq!(best, BestLeft::NoSun);
    assert!(
        best.words(&winter, &winter.faces[0])
            .contains("does not rise")
    );
}

// At the equator on an equinox the sun rises due east and sets due west (plane geometry), so that
// it stays within a degree of the plane of a north and a south wall.
#[test]
fn at_the_equator_on_an_equinox_north_and_south_walls_are_grazed_all_day() {
    let faces = vec![
        Face::wall("north", 0.0).unwrap(),
        Face::wall("east", 90.0).unwrap(),
        Face::new("flat roof", 0.0, 0.0).unwrap(),
    ];
    let today = SunDay::of(&DayQuery::new(place(0.0, 0.0), day("2026-03-20"), 0, faces)).unwrap();
    assert_eq!(today.sun_up.len(), 1);
    near(today.sun_up[0].length() as f64 / 3.6e6, 12.0, 0.15);
    assert!(
        today.faces[0]
            .spans
            .iter()
            .all(|span| span.light != Light::Lit)
    );
    let flat = &today.faces[2];
    assert_eq!(
        BestLeft::of(&today, flat, today.whole.from),
        BestLeft::Window(flat.useful[0])
    );
}

#[test]
fn a_face_that_is_never_grazed_says_so() {
    // North of the tropic in December the sun never comes near the plane of a flat northern roof
    // from above: a steep north slope stays in shade.
    let steep = Face::new("north slope", 0.0, 80.0).unwrap();
    let low = Face::new("flat roof", 0.0, 0.0).unwrap();
    let mut query = DayQuery::new(
        place(45.0, -93.0),
        day("2026-12-21"),
        -360,
        vec![steep, low],
    );
    let today = SunDay::of(&query).unwrap();
    assert_eq!(
        BestLeft::of(&today, &today.faces[0], today.whole.from),
        BestLeft::Never
    );
    query.minimum_altitude = 30.0;
    let today = SunDay::of(&query).unwrap();
    let best = BestLeft::of(&today, &today.faces[1], today.whole.from);
    assert_eq!(best, BestLeft::SunTooLow);
    assert!(best.words(&today, &today.faces[1]).contains("30 degrees"));
}

#[test]
fn what_cannot_be_worked_out_is_refused_with_a_reason() {
    let texas = place(32.0, -97.0);
    let query = || DayQuery::new(texas, day("2026-04-28"), -300, vec![]);
    let refused = |change: fn(&mut DayQuery)| {
        let mut query = query();
        change(&mut query);
        SunDay::of(&query).unwrap_err()
    };
    assert!(SunDay::of(&query()).is_ok());
    assert!(matches!(
        refused(|q| q.day = day("1899-12-31")),
        SunError::Day(_)
    ));
    assert!(matches!(
        refused(|q| q.day = NaiveDate::MAX),
        SunError::Day(_)
    ));
    assert_eq!(refused(|q| q.offset_min = 841), SunError::Offset(841));
    assert_eq!(
        refused(|q| q.minimum_altitude = f64::NAN),
        SunError::MinimumAltitude
    );
    assert_eq!(refused(|q| q.sky.elevation_m = 9001.0), SunError::Elevation);
    assert_eq!(
        refused(|q| q.sky.delta_t = Some(f64::NAN)),
        SunError::DeltaT
    );
    assert_eq!(
        refused(|q| q.faces = vec![Face::wall("wall", 0.0).unwrap(); SUN_FACES + 1]),
        SunError::TooManyFaces
    );
    assert_eq!(GrazingBand::new(44.9), Err(SunError::Band));
    assert_eq!(Face::wall("wall", f64::NAN), Err(SunError::Face));
    assert_eq!(
        sun_position(texas, i64::MAX, &Sky::default()),
        Err(SunError::Year)
    );
}

// IERS Bulletin B and the Astronomical Almanac, table of delta T: 63.8 s at 2000.0, 66.1 s at
// 2010.0, 69.2 s at 2024.0 (the last two digits from memory).
#[test]
fn the_estimate_of_delta_t_is_near_what_was_measured() {
    near(delta_t(at("2000-01-01T00:00:00Z")).unwrap(), 63.8, 0.3);
    near(delta_t(at("2010-01-01T00:00:00Z")).unwrap(), 66.1, 0.3);
    near(delta_t(at("2024-01-01T00:00:00Z")).unwrap(), 69.2, 0.3);
    assert_eq!(delta_t(at("2101-01-01T00:00:00Z")), None);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn no_instant_place_or_face_panics(
        latitude in -90.0..=90.0f64, longitude in -180.0..=180.0f64, at in proptest::num::i64::ANY,
        facing in proptest::num::f64::ANY, tilt in proptest::num::f64::ANY,
    ) {
        let sun = sun_position(place(latitude, longitude), at % 4_000_000_000_000, &Sky::default());
        if let (Ok(sun), Ok(face)) = (sun, Face::new("face", facing, tilt)) {
            prop_assert!((0.0..=180.0).contains(&face.incidence(&sun)));
            prop_assert!((0.0..=180.0).contains(&sun.zenith) && (0.0..=360.0).contains(&sun.azimuth));
        }
    }
}

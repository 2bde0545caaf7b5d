//! Wind: how hail drifts with it, which surfaces it then strikes, and the Beaufort scale.
//!
//! The wind is steady and level, the stones fall at one speed, nothing shelters anything: a plain
//! model, good for asking whether sides agree, not for a speed to swear by.

use serde::Serialize;

/// Which way a surface faces and how steep it is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Facing {
    /// True bearing it faces, degrees clockwise from north.
    pub bearing: f64,
    /// Degrees from level: 0 for a flat roof, 90 for a wall.
    pub tilt: f64,
}

impl Facing {
    /// An upright wall.
    pub fn wall(bearing: f64) -> Self {
        Self {
            bearing,
            tilt: 90.0,
        }
    }

    /// A roof slope of so many inches of rise in twelve.
    pub fn slope(bearing: f64, rise: f64) -> Self {
        Self {
            bearing,
            tilt: (rise / 12.0).atan().to_degrees(),
        }
    }
}

/// How hail drifts in wind.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Drift {
    /// Angle of its path from the vertical, degrees.
    pub degrees: f64,
    /// Its energy over the energy without wind.
    pub energy_factor: f64,
}

/// Drift of a stone that falls at `fall_mph` in a steady wind of `wind_mph`: the angle is
/// atan(wind / fall), the energy grows by 1 + (wind / fall)². `None` unless the fall speed is more
/// than zero and the wind from 0 to 300 mph.
pub fn drift(wind_mph: f64, fall_mph: f64) -> Option<Drift> {
    let good = fall_mph > 0.0 && fall_mph.is_finite() && (0.0..=300.0).contains(&wind_mph);
    let ratio = wind_mph / fall_mph;
    (good && ratio.is_finite()).then(|| Drift {
        degrees: ratio.atan().to_degrees(),
        energy_factor: 1.0 + ratio * ratio,
    })
}

/// Hits per area of a surface over hits per area of level ground: the projection of the surface
/// on the path of the hail, never below zero. `wind_from` is the true bearing the wind comes from,
/// `ratio` wind speed over fall speed, from 0.
pub fn hits_against_level(facing: Facing, wind_from: f64, ratio: f64) -> f64 {
    let (sin_tilt, cos_tilt) = facing.tilt.to_radians().sin_cos();
    let off = (facing.bearing - wind_from).to_radians().cos();
    let hits = cos_tilt + ratio * sin_tilt * off;
    if hits.is_finite() { hits.max(0.0) } else { 0.0 }
}

/// One force of the Beaufort scale.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct BeaufortForce {
    /// The force, 0 to 12.
    pub force: u8,
    /// Its name.
    pub name: &'static str,
    /// Lowest speed, mph.
    pub from_mph: u32,
    /// Highest speed, mph; `None` for the last.
    pub to_mph: Option<u32>,
    /// From memory, not read in a source.
    pub from_memory: bool,
}

const fn force(force: u8, name: &'static str, from_mph: u32, to_mph: u32) -> BeaufortForce {
    BeaufortForce {
        force,
        name,
        from_mph,
        to_mph: Some(to_mph),
        from_memory: false,
    }
}

/// The Beaufort scale in whole mph, as the US National Weather Service prints it.
pub const BEAUFORT: &[BeaufortForce] = &[
    force(0, "calm", 0, 0),
    force(1, "light air", 1, 3),
    force(2, "light breeze", 4, 7),
    force(3, "gentle breeze", 8, 12),
    force(4, "moderate breeze", 13, 18),
    force(5, "fresh breeze", 19, 24),
    force(6, "strong breeze", 25, 31),
    force(7, "near gale", 32, 38),
    force(8, "gale", 39, 46),
    force(9, "strong gale", 47, 54),
    force(10, "storm", 55, 63),
    BeaufortForce {
        from_memory: true,
        ..force(11, "violent storm", 64, 72)
    },
    BeaufortForce {
        force: 12,
        name: "hurricane force",
        from_mph: 73,
        to_mph: None,
        from_memory: true,
    },
];

/// The Beaufort force of a mean wind speed, rounded to whole mph. `None` for what is no speed.
pub fn beaufort(mph: f64) -> Option<&'static BeaufortForce> {
    if !(0.0..=400.0).contains(&mph) {
        return None;
    }
    let whole = mph.round() as u32;
    BEAUFORT.iter().rev().find(|row| whole >= row.from_mph)
}

/// A bearing brought to 0 up to 360 degrees; `None` for what is no number.
pub fn bearing(degrees: f64) -> Option<f64> {
    let turned = degrees.rem_euclid(360.0);
    turned
        .is_finite()
        .then_some(if turned >= 360.0 { 0.0 } else { turned })
}

/// The smaller angle between two bearings, 0 to 180 degrees.
pub fn angle_between(one: f64, other: f64) -> f64 {
    let apart = (one - other).rem_euclid(360.0);
    apart.min(360.0 - apart)
}

/// A bearing in one of eight words: "south-west".
pub fn compass_word(degrees: f64) -> &'static str {
    const WORDS: [&str; 8] = [
        "north",
        "north-east",
        "east",
        "south-east",
        "south",
        "south-west",
        "west",
        "north-west",
    ];
    let eighth = (degrees.rem_euclid(360.0) / 45.0).round();
    let eighth = if eighth.is_finite() { eighth } else { 0.0 };
    WORDS.get(eighth as usize % 8).copied().unwrap_or("north")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// atan and Pythagoras, worked with 49.8 and 71.6 mph.
    #[test]
    fn hail_drifts_by_the_angle_of_the_two_speeds() {
        let one = drift(30.0, 49.8).unwrap();
        assert!((one.degrees - 31.07).abs() < 5e-3 && (one.energy_factor - 1.3629).abs() < 5e-5);
        let two = drift(60.0, 71.6).unwrap();
        assert!((two.degrees - 39.96).abs() < 5e-3 && (two.energy_factor - 1.7022).abs() < 5e-5);
        for (wind, fall) in [
            (-1.0, 50.0),
            (301.0, 50.0),
            (30.0, 0.0),
            (30.0, 1e-320),
            (f64::NAN, 50.0),
            (30.0, f64::INFINITY),
        ] {
            assert_eq!(drift(wind, fall), None, "{wind} {fall}");
        }
    }

    /// Wind from the south-west at 30 mph, stones of 1 in that fall at 49.8 mph; worked as the
    /// scalar product of the hail's path and the slope's normal.
    #[test]
    fn windward_slopes_take_more_and_lee_slopes_less() {
        let ratio = 30.0 / 49.8;
        for (rise, windward, lee) in [
            (4.0, 1.0834, 0.8140),
            (6.0, 1.0849, 0.7039),
            (12.0, 1.0083, 0.4059),
        ] {
            for facing in [180.0, 270.0] {
                let found = hits_against_level(Facing::slope(facing, rise), 225.0, ratio);
                assert!((found - windward).abs() < 5e-5, "{rise} {facing}: {found}");
            }
            for facing in [0.0, 90.0] {
                let found = hits_against_level(Facing::slope(facing, rise), 225.0, ratio);
                assert!((found - lee).abs() < 5e-5, "{rise} {facing}: {found}");
            }
        }
        let wall = hits_against_level(Facing::wall(225.0), 225.0, ratio);
        assert!((wall - ratio).abs() < 1e-12);
        assert_eq!(hits_against_level(Facing::wall(45.0), 225.0, ratio), 0.0);
        assert_eq!(
            hits_against_level(Facing::wall(f64::NAN), 225.0, ratio),
            0.0
        );
    }

    /// weather.gov, Beaufort scale in mph.
    #[test]
    fn beaufort_has_the_speeds_of_the_weather_service() {
        for (mph, force) in [
            (0.0, 0),
            (19.0, 5),
            (24.4, 5),
            (25.0, 6),
            (38.0, 7),
            (39.0, 8),
            (54.0, 9),
            (55.0, 10),
            (63.0, 10),
            (200.0, 12),
        ] {
            assert_eq!(beaufort(mph).unwrap().force, force, "{mph}");
        }
        for pair in BEAUFORT.windows(2) {
            assert_eq!(pair[0].to_mph.unwrap() + 1, pair[1].from_mph);
        }
        assert_eq!(beaufort(-1.0), None);
        assert_eq!(beaufort(f64::NAN), None);
    }

    #[test]
    fn bearings_wrap() {
        assert_eq!(bearing(-90.0), Some(270.0));
        assert_eq!(bearing(720.0), Some(0.0));
        assert_eq!(bearing(-1e-20), Some(0.0));
        assert_eq!(bearing(f64::NAN), None);
        assert_eq!(angle_between(350.0, 20.0), 30.0);
        assert_eq!(compass_word(225.0), "south-west");
        assert_eq!(compass_word(359.0), "north");
        assert_eq!(compass_word(f64::NAN), "north");
    }
}

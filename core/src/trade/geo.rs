//! Where things lie on the earth: distance and bearing on the WGS 84 ellipsoid, and bearings in
//! words.
//!
//! Distances are geodesics (C. F. F. Karney, "Algorithms for geodesics", Journal of Geodesy 87,
//! 2013), by the `geographiclib-rs` crate.

use geographiclib_rs::{Geodesic, InverseGeodesic};
use serde::Serialize;

/// Metres in an international mile, exactly.
pub const METRES_PER_MILE: f64 = 1609.344;

/// A latitude or longitude that is none.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum GeoError {
    /// Not between the poles.
    #[error("a latitude runs from -90 to 90 degrees north")]
    Latitude,
    /// Not once round the earth.
    #[error("a longitude runs from -180 to 180 degrees east; west is negative")]
    Longitude,
}

/// A position on the earth, degrees on WGS 84.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Position {
    latitude: f64,
    longitude: f64,
}

impl Position {
    /// A position from degrees north (-90 to 90) and degrees east (-180 to 180).
    pub fn new(latitude: f64, longitude: f64) -> Result<Self, GeoError> {
        if !(-90.0..=90.0).contains(&latitude) {
            return Err(GeoError::Latitude);
        }
        if !(-180.0..=180.0).contains(&longitude) {
            return Err(GeoError::Longitude);
        }
        Ok(Self {
            latitude,
            longitude,
        })
    }

    /// Degrees north.
    pub const fn latitude(self) -> f64 {
        self.latitude
    }

    /// Degrees east.
    pub const fn longitude(self) -> f64 {
        self.longitude
    }

    /// The shortest way from here to there.
    pub fn way_to(self, there: Self) -> Way {
        let (metres, azimuth, _, _): (f64, f64, f64, f64) = Geodesic::wgs84().inverse(
            self.latitude,
            self.longitude,
            there.latitude,
            there.longitude,
        );
        let bearing = (metres > 0.0).then(|| turned_once(azimuth));
        Way { metres, bearing }
    }
}

/// The shortest way between two positions.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Way {
    /// Its length, metres.
    pub metres: f64,
    /// True bearing at its beginning, degrees clockwise from north, 0 up to 360; `None` where both
    /// positions are the same.
    pub bearing: Option<f64>,
}

impl Way {
    /// Its length, miles.
    pub fn miles(self) -> f64 {
        self.metres / METRES_PER_MILE
    }
}

/// One of the sixteen points of the compass card.
#[derive(Debug, PartialEq, Eq, Serialize)]
pub struct CompassPoint {
    /// Its letters, such as `SSW`.
    pub letters: &'static str,
    /// Its words, such as `south-south-west`.
    pub words: &'static str,
}

macro_rules! card {
    ($($letters:literal $words:literal),*) => {
        /// The sixteen points, clockwise from north.
        pub const COMPASS: [CompassPoint; 16] =
            [$( CompassPoint { letters: $letters, words: $words } ),*];
    };
}
card! {
    "N" "north", "NNE" "north-north-east", "NE" "north-east", "ENE" "east-north-east",
    "E" "east", "ESE" "east-south-east", "SE" "south-east", "SSE" "south-south-east",
    "S" "south", "SSW" "south-south-west", "SW" "south-west", "WSW" "west-south-west",
    "W" "west", "WNW" "west-north-west", "NW" "north-west", "NNW" "north-north-west"
}

/// The point of the compass nearest to a bearing in degrees; `None` where it is no number.
pub fn compass_point(bearing: f64) -> Option<&'static CompassPoint> {
    if !bearing.is_finite() {
        return None;
    }
    let sixteenths = (turned_once(bearing) / 22.5).round() as usize;
    COMPASS.get(sixteenths % COMPASS.len())
}

/// The same direction as an angle from 0 up to 360 degrees.
pub(super) fn turned_once(degrees: f64) -> f64 {
    let turned = degrees.rem_euclid(360.0);
    // A negative number too small to see turns into 360 itself.
    if turned >= 360.0 { 0.0 } else { turned }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn at(latitude: f64, longitude: f64) -> Position {
        Position::new(latitude, longitude).unwrap()
    }

    // Worked with the PROJ library (pyproj 3.7.2, ellipsoid WGS 84): 59.6897 miles, 150.739
    // degrees. A sphere would say 59.784 miles.
    #[test]
    fn a_way_is_that_of_the_ellipsoid() {
        let way = at(32.7767, -96.7970).way_to(at(32.02, -96.30));
        assert!((way.miles() - 59.6897).abs() < 1e-4, "{}", way.miles());
        assert!((way.bearing.unwrap() - 150.739).abs() < 1e-3);
    }

    // NIMA TR8350.2, WGS 84: a quarter of a meridian is 10 001 965.729 m.
    #[test]
    fn from_equator_to_pole_is_a_quarter_meridian() {
        let way = at(0.0, 0.0).way_to(at(90.0, 0.0));
        assert!((way.metres - 10_001_965.729).abs() < 1e-3, "{}", way.metres);
    }

    #[test]
    fn the_same_position_has_no_bearing() {
        let way = at(33.2127, -98.7431).way_to(at(33.2127, -98.7431));
        assert_eq!((way.metres, way.bearing), (0.0, None));
    }

    #[test]
    fn what_is_no_position_is_refused() {
        for bad in [90.1, -90.1, f64::NAN, f64::INFINITY] {
            assert_eq!(Position::new(bad, 0.0), Err(GeoError::Latitude));
        }
        for bad in [180.1, -180.1, f64::NAN, f64::NEG_INFINITY] {
            assert_eq!(Position::new(0.0, bad), Err(GeoError::Longitude));
        }
    }

    // The compass card: US Weather Service, wind direction in sixteen points of 22.5 degrees.
    #[test]
    fn bearings_read_as_on_the_compass_card() {
        let cases = [
            (0.0, "N"),
            (11.24, "N"),
            (11.26, "NNE"),
            (140.0, "SE"),
            (200.0, "SSW"),
            (348.76, "N"),
            (-90.0, "W"),
            (359.999, "N"),
            (720.0 + 45.0, "NE"),
        ];
        for (bearing, letters) in cases {
            assert_eq!(
                compass_point(bearing).unwrap().letters,
                letters,
                "{bearing}"
            );
        }
        assert_eq!(compass_point(f64::NAN), None);
    }

    proptest! {
        #[test]
        fn any_number_has_a_point_or_none(bearing in proptest::num::f64::ANY) {
            prop_assert_eq!(compass_point(bearing).is_some(), bearing.is_finite());
        }
    }
}

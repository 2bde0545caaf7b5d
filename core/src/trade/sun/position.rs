//! Where the sun stands.

use chrono::{DateTime, Datelike};
use serde::Serialize;
use solar_positioning::time::JulianDate;
use solar_positioning::{Location, RefractionCorrection, SolarPositions};

use super::{SunError, YEARS};
use crate::job::Millis;
use crate::trade::geo::Position;

const MILLIS_PER_DAY: f64 = 86_400_000.0;
/// Julian date of 1970-01-01 00:00 UTC.
const JULIAN_1970: f64 = 2_440_587.5;

/// The air that bends the light.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Air {
    /// Pressure at the place, hPa (not reduced to the sea).
    pub pressure_hpa: f64,
    /// Temperature, degrees Celsius.
    pub temperature_c: f64,
}

impl Air {
    /// The International Standard Atmosphere (ISO 2533) at a height in metres above the sea, with
    /// 15 C at every height: a house in summer, not a mountain's free air.
    pub fn standard(elevation_m: f64) -> Self {
        Self {
            pressure_hpa: 1013.25 * (1.0 - 2.25577e-5 * elevation_m).max(0.0).powf(5.25588),
            temperature_c: 15.0,
        }
    }
}

/// What else bears on the sun's position. The default is sea level, standard air and the estimate
/// of [`delta_t`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Sky {
    /// Height above the sea, metres.
    pub elevation_m: f64,
    /// The air; `None` takes [`Air::standard`] at that height.
    pub air: Option<Air>,
    /// Terrestrial time less universal time, seconds; `None` takes [`delta_t`]. Ten seconds move
    /// the sun by less than 0.0002 degrees.
    pub delta_t: Option<f64>,
}

/// Where the sun stands.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SunPosition {
    /// Angle from straight up to the sun's centre as the air shows it, degrees: refraction is in
    /// it while the sun is above the horizon.
    pub zenith: f64,
    /// The same without air, degrees.
    pub true_zenith: f64,
    /// True bearing, degrees clockwise from north.
    pub azimuth: f64,
}

impl SunPosition {
    /// Height above the horizon as the air shows it, degrees.
    pub fn altitude(&self) -> f64 {
        90.0 - self.zenith
    }
}

/// Terrestrial time less universal time at an instant, seconds: the polynomials of Espenak and
/// Meeus, refitted to measurements up to 2026 by the `solar-positioning` crate. `None` outside
/// [`YEARS`].
pub fn delta_t(at: Millis) -> Option<f64> {
    let date = DateTime::from_timestamp_millis(at)?;
    if !YEARS.contains(&date.year()) {
        return None;
    }
    solar_positioning::delta_t::estimate_from_date(date.year(), date.month()).ok()
}

/// Where the sun stands for a position and an instant.
pub fn sun_position(place: Position, at: Millis, sky: &Sky) -> Result<SunPosition, SunError> {
    Observer::new(place, sky)?.sun(at)
}

/// A place with its air, checked once for many instants.
pub(super) struct Observer {
    location: Location,
    elevation_m: f64,
    refraction: RefractionCorrection,
    delta_t: Option<f64>,
}

impl Observer {
    pub(super) fn new(place: Position, sky: &Sky) -> Result<Self, SunError> {
        if !(-450.0..=9000.0).contains(&sky.elevation_m) {
            return Err(SunError::Elevation);
        }
        let air = sky.air.unwrap_or_else(|| Air::standard(sky.elevation_m));
        let on_earth = (300.0..=1100.0).contains(&air.pressure_hpa)
            && (-90.0..=60.0).contains(&air.temperature_c);
        if !on_earth {
            return Err(SunError::Air);
        }
        if sky.delta_t.is_some_and(|s| !(-10.0..=300.0).contains(&s)) {
            return Err(SunError::DeltaT);
        }
        Ok(Self {
            location: Location {
                latitude: place.latitude(),
                longitude: place.longitude(),
            },
            elevation_m: sky.elevation_m,
            refraction: RefractionCorrection::new(air.pressure_hpa, air.temperature_c)
                .map_err(|_| SunError::Air)?,
            delta_t: sky.delta_t,
        })
    }

    pub(super) fn sun(&self, at: Millis) -> Result<SunPosition, SunError> {
        let estimate = delta_t(at).ok_or(SunError::Year)?;
        let julian = at as f64 / MILLIS_PER_DAY + JULIAN_1970;
        let time = JulianDate::new(julian, self.delta_t.unwrap_or(estimate))
            .map_err(|_| SunError::Year)?;
        let prepared = SolarPositions::new()
            .for_time_from_julian(time)
            .map_err(|_| SunError::Year)?;
        let seen = |refraction| {
            prepared
                .at(self.location, self.elevation_m, refraction)
                .map_err(|_| SunError::Year)
        };
        let (bare, shown) = (seen(None)?, seen(Some(self.refraction))?);
        Ok(SunPosition {
            zenith: shown.zenith_angle(),
            true_zenith: bare.zenith_angle(),
            azimuth: shown.azimuth(),
        })
    }
}

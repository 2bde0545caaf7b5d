//! Pitch in the three ways it is written, and the factors that follow from it.
//!
//! All of it is plane geometry on a right triangle with a run of 12. Printed rafter tables truncate
//! in the fourth digit; nothing here is rounded unless it says so.

use serde::{Deserialize, Serialize};

use crate::job::Pitch;
use crate::limits::ROOF_RISE_MOST;

/// A pitch that is out of range or not a number.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PitchError {
    /// The rise is not between 0 and [`ROOF_RISE_MOST`] in 12.
    #[error(
        "a pitch of {0} in 12 is out of range: write the inches of rise in 12 of run, from 0 to {ROOF_RISE_MOST}"
    )]
    Rise(f64),
    /// The angle is out of range.
    #[error(
        "a pitch of {0} degrees is out of range: write the angle from level, from 0 to about 73 degrees"
    )]
    Degrees(f64),
    /// The percentage is out of range.
    #[error(
        "a pitch of {0} percent is out of range: write rise over run times 100, from 0 to about 333 percent"
    )]
    Percent(f64),
}

/// A pitch as inches of rise in 12 inches of run, from 0 to [`ROOF_RISE_MOST`], exact as given.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct Rise(f64);

impl Rise {
    /// A pitch from its inches of rise in 12 of run.
    ///
    /// # Errors
    /// Where it is not a number from 0 to [`ROOF_RISE_MOST`].
    pub fn in_twelve(rise: f64) -> Result<Self, PitchError> {
        Self::within(rise).ok_or(PitchError::Rise(rise))
    }

    /// A pitch from its angle to the level, degrees.
    ///
    /// # Errors
    /// Where its rise would be out of range.
    pub fn from_degrees(degrees: f64) -> Result<Self, PitchError> {
        // The tangent comes round again after a half turn, so the angle is held first.
        let good = (0.0..90.0).contains(&degrees);
        let rise = good.then(|| 12.0 * degrees.to_radians().tan());
        rise.and_then(Self::within)
            .ok_or(PitchError::Degrees(degrees))
    }

    /// A pitch from rise over run times 100.
    ///
    /// # Errors
    /// Where its rise would be out of range.
    pub fn from_percent(percent: f64) -> Result<Self, PitchError> {
        Self::within(percent * 0.12).ok_or(PitchError::Percent(percent))
    }

    fn within(rise: f64) -> Option<Self> {
        (0.0..=ROOF_RISE_MOST).contains(&rise).then_some(Self(rise))
    }

    /// Inches of rise in 12 inches of run.
    pub fn rise(self) -> f64 {
        self.0
    }

    /// Angle to the level, degrees.
    pub fn degrees(self) -> f64 {
        (self.0 / 12.0).atan().to_degrees()
    }

    /// Rise over run times 100.
    pub fn percent(self) -> f64 {
        self.0 / 0.12
    }

    /// Length up the slope, and area on the slope, for one unit in plan: sqrt(1 + (rise/12)^2).
    pub fn slope_factor(self) -> f64 {
        (1.0 + (self.0 / 12.0).powi(2)).sqrt()
    }

    /// Length of a hip or valley for one unit of the common run, where two slopes of this pitch
    /// meet over a right-angled corner: sqrt(2 + (rise/12)^2).
    pub fn hip_factor(self) -> f64 {
        (2.0 + (self.0 / 12.0).powi(2)).sqrt()
    }
}

impl TryFrom<f64> for Rise {
    type Error = PitchError;
    fn try_from(rise: f64) -> Result<Self, PitchError> {
        Self::in_twelve(rise)
    }
}

impl From<Rise> for f64 {
    fn from(rise: Rise) -> f64 {
        rise.0
    }
}

impl From<Pitch> for Rise {
    /// A recorded pitch reaches from 0 to 40 in 12, the range of this type.
    fn from(pitch: Pitch) -> Self {
        Self(pitch.rise().clamp(0.0, ROOF_RISE_MOST))
    }
}

/// How a gauge shows a pitch.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum GaugeReading {
    /// Degrees from level, as a digital level or a phone shows.
    Degrees(f64),
    /// Inches of rise in 12, as a pitch gauge shows.
    Rise(f64),
    /// Rise over run times 100.
    Percent(f64),
}

/// The step to which a reading is rounded.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum GaugeStep {
    /// Half an inch in 12.
    Half,
    /// A whole inch in 12.
    Whole,
}

/// A reading rounded to a pitch that roofs are built to, and what the rounding leaves.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct GaugePitch {
    /// The pitch as read.
    pub read: Rise,
    /// The nearest step; halfway goes to the steeper.
    pub rounded: Rise,
    /// Read less rounded, inches of rise in 12.
    pub remains_rise: f64,
    /// Read less rounded, degrees.
    pub remains_degrees: f64,
    /// What the roof's area would differ by if the reading were exact: the share by which the
    /// slope factor of the reading is over (or, negative, under) that of the rounded pitch.
    pub remains_area: f64,
}

impl GaugeReading {
    /// The pitch as read.
    ///
    /// # Errors
    /// Where the reading is out of range.
    pub fn pitch(self) -> Result<Rise, PitchError> {
        match self {
            Self::Degrees(degrees) => Rise::from_degrees(degrees),
            Self::Rise(rise) => Rise::in_twelve(rise),
            Self::Percent(percent) => Rise::from_percent(percent),
        }
    }

    /// The nearest half or whole inch in 12, with what remains stated. That roofs are framed to
    /// whole and half inches is common practice, no source.
    ///
    /// # Errors
    /// Where the reading is out of range.
    pub fn rounded(self, step: GaugeStep) -> Result<GaugePitch, PitchError> {
        let read = self.pitch()?;
        let step = match step {
            GaugeStep::Half => 0.5,
            GaugeStep::Whole => 1.0,
        };
        let rounded = Rise((read.0 / step).round() * step);
        Ok(GaugePitch {
            read,
            rounded,
            remains_rise: read.0 - rounded.0,
            remains_degrees: read.degrees() - rounded.degrees(),
            remains_area: read.slope_factor() / rounded.slope_factor() - 1.0,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn rise(rise: f64) -> Rise {
        Rise::in_twelve(rise).unwrap()
    }

    // Plane geometry: a right triangle of run 12 and the given rise, worked to six digits; the
    // angles of 3-4-5 and 8-15-17 triangles among them are textbook values. Printed rafter tables
    // truncate these in the fourth digit.
    #[test]
    // The table's own six digits, square root of two among them.
    #[allow(clippy::approx_constant)]
    fn the_rafter_table_comes_out() {
        for (r, degrees, slope, hip) in [
            (2.0, 9.4623, 1.013794, 1.424001),
            (3.0, 14.0362, 1.030776, 1.436141),
            (4.0, 18.4349, 1.054093, 1.452966),
            (5.0, 22.6199, 1.083333, 1.474317),
            (6.0, 26.5651, 1.118034, 1.500000),
            (7.0, 30.2564, 1.157704, 1.529797),
            (8.0, 33.6901, 1.201850, 1.563472),
            (9.0, 36.8699, 1.250000, 1.600781),
            (10.0, 39.8056, 1.301708, 1.641476),
            (12.0, 45.0000, 1.414214, 1.732051),
            (16.0, 53.1301, 1.666667, 1.943651),
            (21.0, 60.2551, 2.015564, 2.250000),
        ] {
            let pitch = rise(r);
            assert!((pitch.degrees() - degrees).abs() < 5.1e-5, "{r}: degrees");
            assert!((pitch.slope_factor() - slope).abs() < 5.1e-7, "{r}: slope");
            assert!((pitch.hip_factor() - hip).abs() < 5.1e-7, "{r}: hip");
            assert!((pitch.percent() - r / 12.0 * 100.0).abs() < 1e-9);
        }
    }

    #[test]
    fn a_gauge_reading_is_rounded_and_says_what_remains() {
        // 26.57 degrees is 6 in 12 to the hundredth of a degree (atan 1/2 = 26.5651).
        let six = GaugeReading::Degrees(26.57)
            .rounded(GaugeStep::Half)
            .unwrap();
        assert_eq!(six.rounded, rise(6.0));
        assert!((six.remains_degrees - 0.0049).abs() < 1e-4);
        let half = GaugeReading::Rise(6.3).rounded(GaugeStep::Half).unwrap();
        assert_eq!(half.rounded, rise(6.5));
        assert!((half.remains_rise + 0.2).abs() < 1e-12);
        assert!(half.remains_area < 0.0);
        let whole = GaugeReading::Rise(6.3).rounded(GaugeStep::Whole).unwrap();
        assert_eq!(whole.rounded, rise(6.0));
        // sqrt(1 + (6.3/12)^2) / sqrt(1.25) - 1
        assert!((whole.remains_area - 0.010_198).abs() < 1e-6);
        let percent = GaugeReading::Percent(50.0)
            .rounded(GaugeStep::Whole)
            .unwrap();
        assert_eq!(percent.rounded, rise(6.0));
    }

    #[test]
    fn a_pitch_out_of_range_is_refused_with_what_to_write() {
        for wrong in [-0.1, ROOF_RISE_MOST + 0.01, f64::NAN, f64::INFINITY] {
            let error = Rise::in_twelve(wrong).unwrap_err();
            assert!(error.to_string().contains("inches of rise in 12 of run"));
        }
        for wrong in [-1.0, 80.0, 90.0, 200.0, f64::NAN] {
            assert!(Rise::from_degrees(wrong).is_err(), "{wrong}");
        }
        assert!(Rise::from_percent(400.0).is_err());
        assert!(serde_json::from_str::<Rise>("41").is_err());
    }

    proptest! {
        #[test]
        fn the_three_ways_agree(r in 0.0..40.0f64) {
            let pitch = rise(r);
            let back = Rise::from_degrees(pitch.degrees().min(73.3)).unwrap();
            prop_assert!((back.rise() - r).abs() < 1e-9);
            let back = Rise::from_percent(pitch.percent()).unwrap();
            prop_assert!((back.rise() - r).abs() < 1e-9);
            let rounded = GaugeReading::Rise(r).rounded(GaugeStep::Half).unwrap();
            prop_assert!(rounded.remains_rise.abs() <= 0.25);
        }
    }
}

//! Lengths, pitches and areas as the trade writes them.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

use super::{FieldValue, Scalar, ScalarRef};

/// A measure that could not be read; the text says how to write it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("\"{text}\" is not {expected}")]
pub struct UnitError {
    text: String,
    expected: &'static str,
}

impl UnitError {
    fn new(text: &str, expected: &'static str) -> Self {
        Self {
            text: text.chars().take(40).collect(),
            expected,
        }
    }
}

/// A length in 64ths of an inch, at most about 2 miles either way.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Length(i64);

impl Length {
    const PER_INCH: i64 = 64;
    const MAX: i64 = 2 * 5280 * 12 * Self::PER_INCH;
    const EXPECTED: &'static str = "a length: write 12' 6-1/2\", 6.5 in or 40 ft";

    /// A length from 64ths of an inch.
    pub const fn from_64ths(count: i64) -> Self {
        Self(count)
    }

    /// A length from whole inches.
    pub const fn inches(inches: i64) -> Self {
        Self(inches * Self::PER_INCH)
    }

    /// A length from whole feet and inches.
    pub const fn feet_inches(feet: i64, inches: i64) -> Self {
        Self((feet * 12 + inches) * Self::PER_INCH)
    }

    /// The nearest 64th to a number of inches.
    pub fn from_inches_f64(inches: f64) -> Self {
        Self((inches * Self::PER_INCH as f64).round() as i64)
    }

    /// Count of 64ths of an inch.
    pub const fn as_64ths(self) -> i64 {
        self.0
    }

    /// The length in inches.
    pub fn to_inches(self) -> f64 {
        self.0 as f64 / Self::PER_INCH as f64
    }

    /// The length in feet.
    pub fn to_feet(self) -> f64 {
        self.to_inches() / 12.0
    }
}

impl fmt::Display for Length {
    /// `12' 6-1/2"`, `5"`, `3/8"`, `40'`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.0 < 0 { "-" } else { "" };
        let total = self.0.unsigned_abs();
        let per_inch = Self::PER_INCH.unsigned_abs();
        let feet = total / (12 * per_inch);
        let inches = total / per_inch % 12;
        let mut part = total % per_inch;
        let mut of = per_inch;
        while part > 0 && part.is_multiple_of(2) {
            part /= 2;
            of /= 2;
        }
        f.write_str(sign)?;
        if feet > 0 {
            write!(f, "{feet}'")?;
            if inches == 0 && part == 0 {
                return Ok(());
            }
            f.write_str(" ")?;
        }
        match (inches, part) {
            (whole, 0) => write!(f, "{whole}\""),
            (0, part) if feet == 0 => write!(f, "{part}/{of}\""),
            (whole, part) => write!(f, "{whole}-{part}/{of}\""),
        }
    }
}

impl FromStr for Length {
    type Err = UnitError;

    fn from_str(text: &str) -> Result<Self, UnitError> {
        let error = || UnitError::new(text, Self::EXPECTED);
        let lower = text
            .trim()
            .to_ascii_lowercase()
            .replace("feet", "'")
            .replace("ft", "'");
        let lower = lower
            .replace("inches", "\"")
            .replace("inch", "\"")
            .replace("in", "\"");
        let (negative, body) = match lower.strip_prefix('-') {
            Some(rest) => (true, rest),
            None => (false, lower.as_str()),
        };
        let mut inches = 0.0;
        let mut rest = body.trim();
        let mut seen = false;
        if let Some((feet, after)) = rest.split_once('\'') {
            inches += number(feet).ok_or_else(error)? * 12.0;
            rest = after.trim();
            seen = true;
        }
        if !rest.is_empty() {
            let part = rest.strip_suffix('"').ok_or_else(error)?;
            inches += number(part).ok_or_else(error)?;
            seen = true;
        }
        let length = Self::from_inches_f64(if negative { -inches } else { inches });
        if seen && length.0.abs() <= Self::MAX {
            Ok(length)
        } else {
            Err(error())
        }
    }
}

/// `6`, `6.5`, `1/2`, `6-1/2` or `6 1/2`; never negative.
fn number(text: &str) -> Option<f64> {
    let text = text.trim();
    let plain = |part: &str| -> Option<f64> {
        let good = !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit() || b == b'.');
        if good { part.parse().ok() } else { None }
    };
    let fraction = |part: &str| -> Option<f64> {
        let (top, bottom) = part.split_once('/')?;
        let bottom = plain(bottom.trim())?;
        if bottom > 0.0 {
            Some(plain(top.trim())? / bottom)
        } else {
            None
        }
    };
    if !text.contains('/') {
        return plain(text);
    }
    match text.rsplit_once(['-', ' ']) {
        Some((whole, part)) => Some(plain(whole.trim())? + fraction(part)?),
        None => fraction(text),
    }
}

/// A roof pitch: hundredths of an inch of rise in twelve inches of run, from 0 to 40 in 12.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Pitch(i64);

impl Pitch {
    const MAX: i64 = 4000;
    const EXPECTED: &'static str = "a pitch from 0/12 to 40/12: write 6/12 or 6.5/12";

    /// A pitch from its rise in twelve; `None` outside 0 to 40.
    pub fn from_rise(rise: f64) -> Option<Self> {
        let hundredths = (rise * 100.0).round();
        (0.0..=Self::MAX as f64)
            .contains(&hundredths)
            .then_some(Self(hundredths as i64))
    }

    /// Inches of rise in twelve inches of run.
    pub fn rise(self) -> f64 {
        self.0 as f64 / 100.0
    }
}

impl fmt::Display for Pitch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/12", self.rise())
    }
}

impl FromStr for Pitch {
    type Err = UnitError;
    fn from_str(text: &str) -> Result<Self, UnitError> {
        let error = || UnitError::new(text, Self::EXPECTED);
        let rise = text.trim().strip_suffix("/12").ok_or_else(error)?;
        Self::from_rise(number(rise).ok_or_else(error)?).ok_or_else(error)
    }
}

/// An area in square inches, at most about 700 acres.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Area(i64);

impl Area {
    const PER_SQUARE_FOOT: f64 = 144.0;
    const MAX: i64 = 30_000_000 * 144;
    const EXPECTED: &'static str = "an area: write 1341.6 sq ft or 13.4 SQ";

    /// An area from whole square inches.
    pub const fn square_inches(count: i64) -> Self {
        Self(count)
    }

    /// The nearest square inch to a number of square feet.
    pub fn from_square_feet(feet: f64) -> Self {
        Self((feet * Self::PER_SQUARE_FOOT).round() as i64)
    }

    /// The area in square feet.
    pub fn to_square_feet(self) -> f64 {
        self.0 as f64 / Self::PER_SQUARE_FOOT
    }

    /// The area in roofing squares of 100 square feet.
    pub fn to_squares(self) -> f64 {
        self.to_square_feet() / 100.0
    }
}

impl fmt::Display for Area {
    /// Square feet to the thousandth, so that it reads back to the square inch; `{:.1}` rounds.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let digits = f.precision().unwrap_or(3);
        let text = format!("{:.digits$}", self.to_square_feet());
        let text = if text.contains('.') {
            text.trim_end_matches('0').trim_end_matches('.')
        } else {
            &text
        };
        write!(f, "{text} sq ft")
    }
}

impl FromStr for Area {
    type Err = UnitError;
    fn from_str(text: &str) -> Result<Self, UnitError> {
        let error = || UnitError::new(text, Self::EXPECTED);
        let lower = text.trim().to_ascii_lowercase();
        let (digits, factor) = if let Some(digits) = lower.strip_suffix("sq ft") {
            (digits, 1.0)
        } else if let Some(digits) = lower.strip_suffix("sf") {
            (digits, 1.0)
        } else if let Some(digits) = lower.strip_suffix("sq") {
            (digits, 100.0)
        } else {
            return Err(error());
        };
        let area = Self::from_square_feet(number(digits).ok_or_else(error)? * factor);
        if area.0 <= Self::MAX {
            Ok(area)
        } else {
            Err(error())
        }
    }
}

macro_rules! measure {
    ($($name:ident),*) => {$(
        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
                if s.is_human_readable() { s.collect_str(self) } else { s.serialize_i64(self.0) }
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                if d.is_human_readable() {
                    String::deserialize(d)?.parse().map_err(de::Error::custom)
                } else {
                    i64::deserialize(d).map(Self)
                }
            }
        }

        impl FieldValue for $name {
            fn to_scalar(&self) -> Scalar {
                Scalar::Int(self.0)
            }
            fn from_scalar(scalar: ScalarRef<'_>) -> Option<Self> {
                match scalar {
                    ScalarRef::Int(v) if v.unsigned_abs() <= Self::MAX.unsigned_abs() => Some(Self(v)),
                    _ => None,
                }
            }
            fn in_words(&self) -> String {
                self.to_string()
            }
        }
    )*};
}
measure!(Length, Pitch, Area);

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn lengths_are_shown_as_the_trade_writes_them() {
        assert_eq!(Length::feet_inches(12, 6).to_string(), "12' 6\"");
        assert_eq!(Length::from_inches_f64(150.5).to_string(), "12' 6-1/2\"");
        assert_eq!(Length::from_inches_f64(0.375).to_string(), "3/8\"");
        assert_eq!(Length::feet_inches(40, 0).to_string(), "40'");
        assert_eq!(Length::inches(0).to_string(), "0\"");
    }

    #[test]
    fn lengths_are_read_in_the_ways_people_write_them() {
        for text in [
            "12' 6-1/2\"",
            "12 ft 6 1/2 in",
            "150.5 in",
            "150.5\"",
            "12.541667'",
        ] {
            let length: Length = text.parse().unwrap();
            assert_eq!(length, Length::from_inches_f64(150.5), "{text}");
        }
        for text in ["", "12", "6'x", "1/0\"", "nan in", "-", "'", "99999 miles"] {
            assert!(text.parse::<Length>().is_err(), "{text:?} was read");
        }
    }

    #[test]
    fn pitch_and_area_read_back() {
        assert_eq!("6/12".parse::<Pitch>().unwrap().rise(), 6.0);
        assert_eq!("6 1/2/12".parse::<Pitch>().unwrap().to_string(), "6.5/12");
        assert!("41/12".parse::<Pitch>().is_err());
        assert_eq!("13.4 SQ".parse::<Area>().unwrap().to_square_feet(), 1340.0);
        assert_eq!("1340 sq ft".parse::<Area>().unwrap().to_squares(), 13.4);
        assert!("1340".parse::<Area>().is_err());
    }

    proptest! {
        #[test]
        fn any_length_reads_back(count in -1_000_000i64..1_000_000) {
            let length = Length::from_64ths(count);
            prop_assert_eq!(length.to_string().parse::<Length>().unwrap(), length);
        }
    }
}

//! A quantity with its unit. The one place where quantities are rounded.

use std::fmt;

use serde::Serialize;

use crate::job::Unit;
use crate::limits;

/// How much of an item.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Quantity {
    value: f64,
    unit: Unit,
}

impl Quantity {
    /// A quantity, rounded to two decimals, half away from zero. It is worked out in full
    /// precision before and rounded here once; a half that binary fractions put a hair too low
    /// counts as a half. `None` where the value is negative, not finite or over
    /// [`limits::SCOPE_QUANTITY`].
    pub fn new(value: f64, unit: Unit) -> Option<Self> {
        const HAIR: f64 = 1.0 + 4.0 * f64::EPSILON;
        if !(0.0..=limits::SCOPE_QUANTITY).contains(&value) {
            return None;
        }
        // Adding zero turns the negative zero into the plain one.
        let value = (value * 100.0 * HAIR).round() / 100.0 + 0.0;
        Some(Self { value, unit })
    }

    /// So many units.
    pub fn each(count: u32) -> Self {
        Self {
            value: f64::from(count),
            unit: Unit::Each,
        }
    }

    /// The value, to two decimals; finite and never negative.
    pub const fn value(self) -> f64 {
        self.value
    }

    /// The unit.
    pub const fn unit(self) -> Unit {
        self.unit
    }

    /// The value without its unit: `3`, `13.42`, `40.5`.
    pub fn digits(self) -> String {
        let text = format!("{:.2}", self.value);
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    }
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.digits(), self.unit)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn quantities_are_rounded_once_half_away_from_zero() {
        for (value, shown) in [
            (1.005, "1.01 SQ"),
            (2.675, "2.68 SQ"),
            (0.125, "0.13 SQ"),
            (13.41641, "13.42 SQ"),
            (3.0, "3 SQ"),
            (40.5, "40.5 SQ"),
            (100.0, "100 SQ"),
            (-0.0, "0 SQ"),
        ] {
            assert_eq!(
                Quantity::new(value, Unit::Square).unwrap().to_string(),
                shown
            );
        }
    }

    #[test]
    fn what_is_no_quantity_is_refused() {
        for value in [f64::NAN, f64::INFINITY, -0.01, limits::SCOPE_QUANTITY + 1.0] {
            assert_eq!(Quantity::new(value, Unit::Each), None, "{value}");
        }
        assert!(Quantity::new(limits::SCOPE_QUANTITY, Unit::Each).is_some());
    }

    proptest! {
        #[test]
        fn rounding_again_changes_nothing(value in 0.0..limits::SCOPE_QUANTITY) {
            let once = Quantity::new(value, Unit::LinearFoot).unwrap();
            prop_assert_eq!(Quantity::new(once.value(), Unit::LinearFoot), Some(once));
            prop_assert!((once.value() - value).abs() <= 0.005 + value * 1e-12);
        }
    }
}

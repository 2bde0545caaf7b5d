//! Scales of hail, and what counts as severe.

use chrono::NaiveDate;
use serde::Serialize;

/// A class of the ANELFA scale.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct AnelfaClass {
    /// The class.
    pub class: &'static str,
    /// What a stone is like.
    pub like: &'static str,
}

/// The ANELFA scale: the class is the whole number of centimetres of the largest diameter
/// (J. Dessens, C. Berthet and J. Sanchez, Atmospheric Research 83, 2007, 132-139).
pub const ANELFA: &[AnelfaClass] = &[
    class("A0", "pea"),
    class("A1", "grape"),
    class("A2", "pigeon's egg"),
    class("A3", "walnut"),
    class("A4", "hen's egg"),
    class("A5", "orange"),
];

const fn class(class: &'static str, like: &'static str) -> AnelfaClass {
    AnelfaClass { class, like }
}

/// The ANELFA class of a largest diameter in inches, the last one from 5 cm up. `None` for what is
/// no size.
pub fn anelfa(inches: f64) -> Option<&'static AnelfaClass> {
    if !(inches > 0.0 && inches <= 12.0) {
        return None;
    }
    // A hair of slack, so that an inch value written for a whole centimetre reaches it.
    let centimetres = (inches * 2.54 + 1e-9).floor() as usize;
    ANELFA.get(centimetres.min(ANELFA.len() - 1))
}

/// A class of the TORRO hailstorm intensity scale.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TorroClass {
    /// The class.
    pub class: &'static str,
    /// Its name.
    pub name: &'static str,
    /// Typical diameters, mm; `None` where there is no upper end. The ranges overlap, because the
    /// class goes by damage first.
    pub millimetres: (f64, Option<f64>),
    /// From memory, not read in a source.
    pub from_memory: bool,
}

const fn storm(
    class: &'static str,
    name: &'static str,
    millimetres: (f64, Option<f64>),
) -> TorroClass {
    TorroClass {
        class,
        name,
        millimetres,
        from_memory: false,
    }
}

/// The TORRO hailstorm intensity scale of the Tornado and Storm Research Organisation. Its damage
/// is that of British houses.
pub const TORRO: &[TorroClass] = &[
    storm("H0", "hard hail", (5.0, Some(5.0))),
    storm("H1", "potentially damaging", (5.0, Some(15.0))),
    storm("H2", "potentially damaging", (10.0, Some(20.0))),
    storm("H3", "severe", (20.0, Some(30.0))),
    storm("H4", "severe", (25.0, Some(40.0))),
    storm("H5", "destructive", (30.0, Some(50.0))),
    storm("H6", "destructive", (40.0, Some(60.0))),
    storm("H7", "very destructive", (50.0, Some(75.0))),
    storm("H8", "very destructive", (60.0, Some(90.0))),
    storm("H9", "super hailstorm", (75.0, Some(100.0))),
    TorroClass {
        from_memory: true,
        ..storm("H10", "super hailstorm", (100.0, None))
    },
];

/// The TORRO classes for which a diameter in inches is typical: several, or none, because size
/// alone does not settle the class.
pub fn torro(inches: f64) -> impl Iterator<Item = &'static TorroClass> {
    let millimetres = inches * 25.4;
    TORRO.iter().filter(move |row| {
        let (low, high) = row.millimetres;
        millimetres.is_finite() && millimetres >= low && high.is_none_or(|high| millimetres <= high)
    })
}

/// What the US National Weather Service called severe on a day.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Severe {
    /// Hail from this diameter, inches.
    pub hail_inches: f64,
    /// Wind from this speed, mph.
    pub wind_mph: f64,
}

/// The thresholds of the US National Weather Service: hail of 1 in since 5 January 2010, 3/4 in
/// before; wind of 58 mph. They say what is reported, nothing of what is damaged.
pub fn severe_thresholds(day: NaiveDate) -> Severe {
    let since = NaiveDate::from_ymd_opt(2010, 1, 5).unwrap_or_default();
    Severe {
        hail_inches: if day >= since { 1.0 } else { 0.75 },
        wind_mph: 58.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Dessens and others 2007: the class is the whole number of centimetres.
    #[test]
    fn anelfa_counts_centimetres() {
        for (centimetres, name) in [
            (0.5, "A0"),
            (0.99, "A0"),
            (1.0, "A1"),
            (2.9, "A2"),
            (3.0, "A3"),
            (4.0, "A4"),
            (5.0, "A5"),
            (9.0, "A5"),
        ] {
            assert_eq!(
                anelfa(centimetres / 2.54).unwrap().class,
                name,
                "{centimetres}"
            );
        }
        for none in [0.0, -2.0, f64::NAN, 13.0] {
            assert_eq!(anelfa(none), None);
        }
    }

    /// The scale's own table of typical diameters.
    #[test]
    fn torro_classes_overlap() {
        let classes = |inches| -> Vec<&str> { torro(inches).map(|row| row.class).collect() };
        assert_eq!(classes(1.0), ["H3", "H4"]);
        assert_eq!(classes(45.0 / 25.4), ["H5", "H6"]);
        assert_eq!(classes(4.5), ["H10"]);
        assert!(classes(0.1).is_empty() && classes(f64::NAN).is_empty());
    }

    /// US National Weather Service, change of the hail criterion on 5 January 2010.
    #[test]
    fn the_threshold_changed_in_2010() {
        let on = |year, month, day| {
            severe_thresholds(NaiveDate::from_ymd_opt(year, month, day).unwrap()).hail_inches
        };
        assert_eq!(on(2010, 1, 4), 0.75);
        assert_eq!(on(2010, 1, 5), 1.0);
        assert_eq!(on(1999, 5, 3), 0.75);
    }
}

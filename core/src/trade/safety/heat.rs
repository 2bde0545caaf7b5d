//! Heat: the index of the US National Weather Service, and what its bands ask for.

use serde::Serialize;

use super::{Caution, SafetyError};
use crate::trade::Source;

const NWS: Source = Source::Standard {
    name: "US National Weather Service",
    edition: "technical attachment SR 90-23, L. P. Rothfusz, 1990",
    section: "heat index equation",
};
const OSHA_HEAT: Source = Source::Standard {
    name: "US Occupational Safety and Health Administration",
    edition: "as published on osha.gov",
    section: "protective measures to take at each heat index risk level",
};

/// A band of risk.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum HeatBand {
    /// Below 91 F.
    Lower,
    /// From 91 to 103 F.
    Moderate,
    /// Above 103, to 115 F.
    High,
    /// Above 115 F.
    VeryHigh,
}

impl HeatBand {
    /// The words of the source.
    pub const fn label(self) -> &'static str {
        match self {
            HeatBand::Lower => "lower (caution)",
            HeatBand::Moderate => "moderate",
            HeatBand::High => "high",
            HeatBand::VeryHigh => "very high to extreme",
        }
    }

    fn of(index: f64) -> Self {
        match index {
            index if index < 91.0 => HeatBand::Lower,
            index if index <= 103.0 => HeatBand::Moderate,
            index if index <= 115.0 => HeatBand::High,
            _ => HeatBand::VeryHigh,
        }
    }
}

const CAUTIONS: &[Caution] = &[
    Caution {
        text: "The index holds for shade and a light wind: full sun adds up to 15 F, and a roof is \
               hotter than the yard.",
        source: NWS,
    },
    Caution {
        text: "Water about every 15 minutes, shade and rest; newcomers get used to heat over days; \
               watch each other.",
        source: OSHA_HEAT,
    },
    Caution {
        text: "Confusion, fainting, hot skin: call 911, cool the person with water and shade.",
        source: OSHA_HEAT,
    },
];

/// What the heat is like.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HeatAnswer {
    /// The heat index, degrees Fahrenheit, in shade.
    pub index_f: f64,
    /// Its band.
    pub band: HeatBand,
    /// What goes with it.
    pub cautions: &'static [Caution],
}

/// The heat index and its band, from the air's temperature in degrees Fahrenheit and its relative
/// humidity in percent.
pub fn heat(temperature_f: f64, humidity: f64) -> Result<HeatAnswer, SafetyError> {
    let index_f = heat_index_f(temperature_f, humidity)?;
    Ok(HeatAnswer {
        index_f,
        band: HeatBand::of(index_f),
        cautions: CAUTIONS,
    })
}

/// The heat index, degrees Fahrenheit: Rothfusz's regression with the adjustments that the Weather
/// Service uses, and its simple form where that stays below 79 F (the order of steps is that of G.
/// B. Anderson and others, Environmental Health Perspectives 121, 2013, figure 3). At 40 F and
/// below it is the temperature.
pub fn heat_index_f(temperature_f: f64, humidity: f64) -> Result<f64, SafetyError> {
    if !(-60.0..=150.0).contains(&temperature_f) {
        return Err(SafetyError::Temperature);
    }
    if !(0.0..=100.0).contains(&humidity) {
        return Err(SafetyError::Humidity);
    }
    let (t, rh) = (temperature_f, humidity);
    if t <= 40.0 {
        return Ok(t);
    }
    let simple = -10.3 + 1.1 * t + 0.047 * rh;
    let index = if simple < 79.0 {
        simple
    } else {
        regression(t, rh)
    };
    Ok(index + adjustment(t, rh))
}

fn regression(t: f64, rh: f64) -> f64 {
    -42.379 + 2.049_015_23 * t + 10.143_331_27 * rh
        - 0.224_755_41 * t * rh
        - 6.837_83e-3 * t * t
        - 5.481_717e-2 * rh * rh
        + 1.228_74e-3 * t * t * rh
        + 8.5282e-4 * t * rh * rh
        - 1.99e-6 * t * t * rh * rh
}

/// For very dry and very damp air.
fn adjustment(t: f64, rh: f64) -> f64 {
    if rh <= 13.0 && (80.0..=112.0).contains(&t) {
        -((13.0 - rh) / 4.0) * ((17.0 - (t - 95.0).abs()) / 17.0).sqrt()
    } else if rh > 85.0 && (80.0..=87.0).contains(&t) {
        (rh - 85.0) / 10.0 * ((87.0 - t) / 5.0)
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Worked with MetPy 1.7.1 (`calc.heat_index`).
    #[test]
    fn the_index_is_that_of_the_weather_service() {
        for (t, rh, index) in [
            (90.0, 60.0, 99.68),
            (96.0, 65.0, 121.03),
            (100.0, 40.0, 109.26),
        ] {
            let ours = heat_index_f(t, rh).unwrap();
            assert!((ours - index).abs() < 0.01, "{t} {rh}: {ours}");
        }
    }

    // OSHA, "Using the heat index": below 91, 91 to 103, 103 to 115, above 115 F.
    #[test]
    fn the_bands_are_those_of_the_safety_administration() {
        let cases = [
            (90.9, HeatBand::Lower),
            (91.0, HeatBand::Moderate),
            (103.0, HeatBand::Moderate),
            (103.1, HeatBand::High),
            (115.0, HeatBand::High),
            (115.1, HeatBand::VeryHigh),
        ];
        for (index, band) in cases {
            assert_eq!(HeatBand::of(index), band, "{index}");
        }
        assert_eq!(heat(96.0, 65.0).unwrap().band, HeatBand::VeryHigh);
    }

    #[test]
    fn air_that_is_none_is_refused() {
        assert_eq!(heat(f64::NAN, 50.0), Err(SafetyError::Temperature));
        assert_eq!(heat(151.0, 50.0), Err(SafetyError::Temperature));
        assert_eq!(heat(90.0, 100.1), Err(SafetyError::Humidity));
        assert_eq!(heat(90.0, f64::NAN), Err(SafetyError::Humidity));
    }
}

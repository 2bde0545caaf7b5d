//! Thunder and wind.

use serde::Serialize;

use super::{Caution, SafetyError};
use crate::job::Millis;
use crate::trade::Source;

/// How long to stay inside after thunder, milliseconds.
const AFTER_THUNDER: Millis = 30 * 60_000;

const THUNDER: &[Caution] = &[Caution {
    text: "Thunder means lightning is close enough to strike: off the roof, off the ladder, \
               into a house or a hard-topped car, and 30 minutes there after the last thunder.",
    source: Source::Standard {
        name: "US National Weather Service and OSHA",
        edition: "fact sheet FS-3863, 2016 (number from memory)",
        section: "lightning safety when working outdoors",
    },
}];
const WIND: &[Caution] = &[Caution {
    text: "The company sets its wind limit; no figure for walking a roof was found in the \
               federal rules. Gusts count, and a roof has more wind than the yard.",
    source: Source::Practice,
}];

/// Whether the wait after thunder is over.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ThunderAnswer {
    /// When the wait ends, milliseconds since 1970; `None` where no thunder was heard.
    pub wait_until: Option<Millis>,
    /// The wait is over, or there was none. It says nothing else of the roof.
    pub over: bool,
    /// Whole minutes left, rounded up.
    pub minutes_left: i64,
    /// What goes with it.
    pub cautions: &'static [Caution],
}

/// The wait after the last thunder.
pub fn thunder(last: Option<Millis>, now: Millis) -> Result<ThunderAnswer, SafetyError> {
    if last.is_some_and(|last| last > now) {
        return Err(SafetyError::Thunder);
    }
    let wait_until = last.map(|last| last.saturating_add(AFTER_THUNDER));
    let left = wait_until.map_or(0, |until| until.saturating_sub(now).max(0));
    Ok(ThunderAnswer {
        wait_until,
        over: left == 0,
        minutes_left: left.saturating_add(59_999) / 60_000,
        cautions: THUNDER,
    })
}

/// How the wind stands to the company's limit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WindAnswer {
    /// Over the limit; `None` where the company has set none.
    pub over: Option<bool>,
    /// A sentence for the crew.
    pub sentence: String,
    /// What goes with it.
    pub cautions: &'static [Caution],
}

/// How a wind, gusts counted, stands to the company's limit; both in miles an hour.
pub fn wind(gust_mph: f64, limit_mph: Option<f64>) -> Result<WindAnswer, SafetyError> {
    let sound = |speed: f64| speed.is_finite() && speed >= 0.0;
    if !sound(gust_mph) || limit_mph.is_some_and(|limit| !sound(limit)) {
        return Err(SafetyError::Wind);
    }
    let over = limit_mph.map(|limit| gust_mph > limit);
    let sentence = match (limit_mph, over) {
        (Some(limit), Some(true)) => {
            format!(
                "Wind of {gust_mph} mph is over the company's limit of {limit} mph: stay off the roof."
            )
        }
        (Some(limit), _) => {
            format!("Wind of {gust_mph} mph is not over the company's limit of {limit} mph.")
        }
        (None, _) => format!(
            "Wind of {gust_mph} mph; the company has set no limit. Ask before anybody climbs."
        ),
    };
    Ok(WindAnswer {
        over,
        sentence,
        cautions: WIND,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    // US National Weather Service: stay inside until 30 minutes after the last thunder.
    #[test]
    fn the_wait_is_thirty_minutes_from_the_last_thunder() {
        let minute = 60_000;
        let wait = |minutes: Millis| thunder(Some(0), minutes * minute).unwrap();
        assert_eq!((wait(0).minutes_left, wait(0).over), (30, false));
        assert_eq!((wait(29).minutes_left, wait(29).over), (1, false));
        assert_eq!((wait(30).minutes_left, wait(30).over), (0, true));
        assert!(thunder(None, 0).unwrap().over);
        assert_eq!(thunder(Some(1), 0), Err(SafetyError::Thunder));
        assert!(thunder(Some(i64::MIN), i64::MAX).unwrap().over);
        assert!(!thunder(Some(i64::MAX), i64::MAX).is_ok_and(|answer| answer.minutes_left > 30));
    }

    // No published figure: the limit is the company's.
    #[test]
    fn the_companys_limit_decides_and_without_one_nothing_is_cleared() {
        assert_eq!(wind(26.0, Some(25.0)).unwrap().over, Some(true));
        assert_eq!(wind(25.0, Some(25.0)).unwrap().over, Some(false));
        let none = wind(10.0, None).unwrap();
        assert_eq!(none.over, None);
        assert!(none.sentence.contains("set no limit"));
        for (gust, limit) in [(f64::NAN, None), (-1.0, None), (1.0, Some(f64::INFINITY))] {
            assert_eq!(wind(gust, limit), Err(SafetyError::Wind));
        }
    }
}

//! How a ladder stands, and how much it may carry.

use serde::Serialize;

use super::{Caution, SafetyError, osha};
use crate::job::Length;
use crate::trade::Source;

/// The base stands a quarter of the working length out.
const BASE_PER_LENGTH: f64 = 0.25;
/// The rails go at least so far above the landing, feet.
const ABOVE_LANDING_FT: f64 = 3.0;
const HIGHEST_LANDING_FT: f64 = 60.0;

const SET_UP: &[Caution] = &[
    Caution {
        text: "The base out from the wall a quarter of the working length: from the foot to where \
               the ladder rests at the top.",
        source: osha("1926.1053(b)(5)(i)"),
    },
    Caution {
        text: "Side rails at least 3 ft above the landing, measured upright. Where they cannot \
               reach that far: the top secured to a rigid support, and a grab device.",
        source: osha("1926.1053(b)(1)"),
    },
    Caution {
        text: "Firm, level ground, or secured; feet on slippery ground secured too.",
        // From memory.
        source: osha("1926.1053(b)(6) and (7)"),
    },
    Caution {
        text: "An extension ladder is shorter in use than its nominal length by its overlap: read \
               its label.",
        source: Source::Practice,
    },
];

/// How a ladder stands against an eave.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LadderSetUp {
    /// From the foot along the rails to where the ladder rests.
    pub working_length: Length,
    /// From the point below the support out to the foot.
    pub base: Length,
    /// Least length of the rails from the foot to their end.
    pub rail_length: Length,
    /// Height of the rails' end above the ground.
    pub rail_height: Length,
    /// Angle from level, degrees.
    pub angle: f64,
    /// What goes with it.
    pub cautions: &'static [Caution],
}

/// How a ladder that is not self-supporting stands to a landing at a height above its foot, up to
/// 60 ft. Lengths are rounded to a 64th of an inch.
pub fn ladder(landing: Length) -> Result<LadderSetUp, SafetyError> {
    let height = landing.to_feet();
    if !(height > 0.0 && height <= HIGHEST_LANDING_FT) {
        return Err(SafetyError::Landing);
    }
    let rise_per_length = (1.0 - BASE_PER_LENGTH * BASE_PER_LENGTH).sqrt();
    let feet = |feet: f64| Length::from_inches_f64(feet * 12.0);
    let working = height / rise_per_length;
    Ok(LadderSetUp {
        working_length: feet(working),
        base: feet(working * BASE_PER_LENGTH),
        rail_length: feet((height + ABOVE_LANDING_FT) / rise_per_length),
        rail_height: feet(height + ABOVE_LANDING_FT),
        angle: rise_per_length.asin().to_degrees(),
        cautions: SET_UP,
    })
}

/// A duty rating of portable ladders.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct DutyRating {
    /// The type on the label.
    pub kind: &'static str,
    /// Load it is rated for, pounds.
    pub pounds: u32,
}

/// The duty ratings of the ANSI A14 ladder standards, lightest first.
pub const DUTY_RATINGS: &[DutyRating] = &[
    DutyRating {
        kind: "III",
        pounds: 200,
    },
    DutyRating {
        kind: "II",
        pounds: 225,
    },
    DutyRating {
        kind: "I",
        pounds: 250,
    },
    DutyRating {
        kind: "IA",
        pounds: 300,
    },
    DutyRating {
        kind: "IAA",
        pounds: 375,
    },
];

const LOAD: &[Caution] = &[
    Caution {
        text: "No ladder is loaded beyond its rated capacity: person, clothes, tools and material \
               together.",
        // From memory.
        source: osha("1926.1053(b)(3)"),
    },
    Caution {
        text: "Nothing is carried that could make you lose your hold.",
        // From memory.
        source: osha("1926.1053(b)(22)"),
    },
];

/// Which rating carries a load.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DutyAnswer {
    /// The lightest rating that carries it; `None` where no portable ladder does.
    pub rating: Option<DutyRating>,
    /// What goes with it.
    pub cautions: &'static [Caution],
}

/// The lightest duty rating for a load in pounds: person, clothes, tools and material.
pub fn duty_rating(pounds: f64) -> Result<DutyAnswer, SafetyError> {
    if !(pounds > 0.0 && pounds <= 2000.0) {
        return Err(SafetyError::Load);
    }
    let carries = |rating: &&DutyRating| pounds <= f64::from(rating.pounds);
    Ok(DutyAnswer {
        rating: DUTY_RATINGS.iter().find(carries).copied(),
        cautions: LOAD,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    // 29 CFR 1926.1053(b)(1) and (b)(5)(i), with Pythagoras: a landing at 16 ft takes a working
    // length of 16.525 ft, a base of 4.131 ft and rails of 19.623 ft.
    #[test]
    fn a_ladder_to_sixteen_feet() {
        let set_up = ladder(Length::feet_inches(16, 0)).unwrap();
        let near = |length: Length, feet: f64| (length.to_feet() - feet).abs() < 0.001;
        assert!(
            near(set_up.working_length, 16.525),
            "{}",
            set_up.working_length
        );
        assert!(near(set_up.base, 4.131), "{}", set_up.base);
        assert!(near(set_up.rail_length, 19.623), "{}", set_up.rail_length);
        assert_eq!(set_up.rail_height, Length::feet_inches(19, 0));
        // 29 CFR 1926.1053(a)(1)(ii) tests ladders at 75 1/2 degrees.
        assert!((set_up.angle - 75.5).abs() < 0.1);
    }

    #[test]
    fn a_landing_that_is_none_is_refused() {
        for bad in [
            Length::inches(0),
            Length::inches(-12),
            Length::feet_inches(60, 1),
        ] {
            assert_eq!(ladder(bad), Err(SafetyError::Landing));
        }
        assert!(ladder(Length::feet_inches(60, 0)).is_ok());
    }

    // ANSI A14.2, duty ratings 200, 225, 250, 300 and 375 lb.
    #[test]
    fn the_lightest_rating_that_carries_the_load_is_named() {
        let kind = |load| duty_rating(load).unwrap().rating.map(|rating| rating.kind);
        assert_eq!(kind(200.0), Some("III"));
        assert_eq!(kind(200.5), Some("II"));
        assert_eq!(kind(251.0), Some("IA"));
        assert_eq!(kind(375.0), Some("IAA"));
        assert_eq!(kind(375.1), None);
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(duty_rating(bad), Err(SafetyError::Load));
        }
    }
}

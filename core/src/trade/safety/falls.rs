//! When fall protection is needed, and where the exception for looking ends.

use serde::Serialize;

use super::{Caution, SafetyError, osha};
use crate::job::{Length, Pitch};
use crate::trade::Source;

/// Height above a lower level from which fall protection is needed.
const FROM: Length = Length::feet_inches(6, 0);
/// A roof over this rise in twelve is steep (1926.500(b)).
const STEEP_OVER: f64 = 4.0;

/// What somebody does on the roof.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum RoofActivity {
    /// Looks, counts, measures and photographs, before work starts or after all of it is done.
    Looking,
    /// Lifts shingles, opens an eave, takes a sample, covers a hole: counts as work here.
    Opening,
    /// Works.
    Working,
}

/// Whether fall protection is needed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum FallNeed {
    /// It is.
    Needed,
    /// The rule has an exception for looking, and it ends where work starts.
    ExceptionWhileLooking,
    /// The rule begins at 6 ft; falls hurt from less.
    BelowThreshold,
}

/// Whether fall protection is needed, and why.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FallAnswer {
    /// Whether.
    pub need: FallNeed,
    /// The roof is steep; `None` where its pitch is not known.
    pub steep: Option<bool>,
    /// What goes with it.
    pub cautions: Vec<Caution>,
}

const FROM_SIX_FEET: Caution = Caution {
    text: "Fall protection from 6 ft above a lower level: guardrails, nets or a harness.",
    source: osha("1926.501(b)(13)"),
};
const LOOKING: Caution = Caution {
    text: "The rules leave out looking before the work starts and after all of it is done. That \
           ends where work starts, and opening an eave or lifting shingles may count as work.",
    source: osha("1926.500(a)(1)"),
};
const STEEP: Caution = Caution {
    text: "Steep roofs (over 4 in 12) ask for more than sure feet: guardrails with toeboards, nets \
           or a harness.",
    source: osha("1926.500(b) and 1926.501(b)(11)"),
};
const HOLES: Caution = Caution {
    text: "Skylights and soft decks are holes: keep off them, and cover or guard them.",
    // From memory.
    source: osha("1926.501(b)(4)"),
};
const SLIPPERY: Caution = Caution {
    text: "No walking on wet, icy or mossy roofs. State plans and the company may ask for more.",
    source: Source::Practice,
};

/// Whether fall protection is needed at a height above the next lower level, on a roof of a pitch
/// where it is known.
pub fn fall_protection(
    height: Length,
    pitch: Option<Pitch>,
    activity: RoofActivity,
) -> Result<FallAnswer, SafetyError> {
    if height < Length::inches(0) {
        return Err(SafetyError::Height);
    }
    let need = match activity {
        _ if height < FROM => FallNeed::BelowThreshold,
        RoofActivity::Looking => FallNeed::ExceptionWhileLooking,
        RoofActivity::Opening | RoofActivity::Working => FallNeed::Needed,
    };
    let steep = pitch.map(|pitch| pitch.rise() > STEEP_OVER);
    let mut cautions = vec![FROM_SIX_FEET];
    if activity != RoofActivity::Working {
        cautions.push(LOOKING);
    }
    if steep != Some(false) {
        cautions.push(STEEP);
    }
    cautions.extend([HOLES, SLIPPERY]);
    Ok(FallAnswer {
        need,
        steep,
        cautions,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    // 29 CFR 1926.501(b)(13): "6 feet (1.8 m) or more above lower levels"; 1926.500(a)(1) and
    // 1926.500(b), "steep roof".
    #[test]
    fn protection_begins_at_six_feet_and_the_exception_ends_with_work() {
        let need = |inches, activity| {
            fall_protection(Length::inches(inches), None, activity)
                .unwrap()
                .need
        };
        assert_eq!(need(71, RoofActivity::Working), FallNeed::BelowThreshold);
        assert_eq!(need(72, RoofActivity::Working), FallNeed::Needed);
        assert_eq!(need(72, RoofActivity::Opening), FallNeed::Needed);
        assert_eq!(
            need(108, RoofActivity::Looking),
            FallNeed::ExceptionWhileLooking
        );
    }

    #[test]
    fn steep_is_over_four_in_twelve_and_an_unknown_pitch_is_warned_of() {
        let steep = |rise: f64| {
            let pitch = Pitch::from_rise(rise);
            fall_protection(Length::feet_inches(9, 0), pitch, RoofActivity::Looking).unwrap()
        };
        assert_eq!(steep(4.0).steep, Some(false));
        assert!(!steep(4.0).cautions.contains(&STEEP));
        assert_eq!(steep(4.5).steep, Some(true));
        assert!(steep(4.5).cautions.contains(&STEEP));
        assert!(steep(f64::NAN).cautions.contains(&STEEP));
        let negative = fall_protection(Length::inches(-1), None, RoofActivity::Working);
        assert_eq!(negative, Err(SafetyError::Height));
    }
}

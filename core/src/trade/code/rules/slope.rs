//! Rules about a slope by itself.

use super::super::answer::{About, Draft, Raise};
use super::super::{CodeInputs, Input, Provision, SlopeInputs};
use super::{is_asphalt, sound};
use crate::job::DeckKind;

/// Calls `each` for every slope; says that no slope is known where there is none.
pub(super) fn each_slope(
    inputs: &CodeInputs,
    raise: &mut Raise<'_>,
    mut each: impl FnMut(Draft, &SlopeInputs, &mut Raise<'_>),
) {
    if inputs.slopes.is_empty() {
        let mut draft = Draft::of(About::House, "the roof");
        draft.uses(Input::Slopes, None::<u32>, |_| String::new());
        raise.not_known(draft);
    }
    for (index, slope) in inputs.slopes.iter().enumerate() {
        each(Draft::of(About::Slope(index), &slope.name), slope, raise);
    }
}

/// The draft of a slope that rules for asphalt shingles apply to; others are answered here.
fn shingled(mut draft: Draft, slope: &SlopeInputs, raise: &mut Raise<'_>) -> Option<Draft> {
    match draft.uses(Input::Roofing, slope.roofing, |m| m.label().to_owned()) {
        Some(roofing) if !is_asphalt(roofing) => {
            let words = format!("This section is about asphalt shingles, not {roofing}.");
            raise.not_asked(draft, words);
            None
        }
        Some(_) => Some(draft),
        None => {
            draft.uses(Input::Pitch, slope.pitch, |pitch| pitch.to_string());
            raise.not_known(draft);
            None
        }
    }
}

pub(super) fn least_slope(
    inputs: &CodeInputs,
    provision: &'static Provision,
    raise: &mut Raise<'_>,
) {
    let least = provision.figure("least rise").unwrap_or(0.0);
    let single = provision.figure("one layer from rise").unwrap_or(0.0);
    each_slope(inputs, raise, |draft, slope, raise| {
        let Some(mut draft) = shingled(draft, slope, raise) else {
            return;
        };
        let Some(pitch) = draft.uses(Input::Pitch, slope.pitch, |p| p.to_string()) else {
            raise.not_known(draft);
            return;
        };
        if pitch.rise() < least {
            let words = format!("No asphalt shingles below {least} in 12; this slope is {pitch}.");
            raise.asks(draft, words);
        } else if pitch.rise() < single {
            let words = format!("At {pitch} asphalt shingles need double underlayment.");
            raise.asks(draft, words);
        } else {
            let words = format!("{pitch} is steep enough for asphalt shingles.");
            raise.not_asked(draft, words);
        }
    });
}

pub(super) fn underlayment(
    inputs: &CodeInputs,
    provision: &'static Provision,
    raise: &mut Raise<'_>,
) {
    let single = provision.figure("one layer from rise").unwrap_or(0.0);
    let double = provision.figure("two layers from rise").unwrap_or(0.0);
    each_slope(inputs, raise, |draft, slope, raise| {
        let Some(mut draft) = shingled(draft, slope, raise) else {
            return;
        };
        let Some(pitch) = draft.uses(Input::Pitch, slope.pitch, |p| p.to_string()) else {
            raise.not_known(draft);
            return;
        };
        let words = if pitch.rise() >= single {
            "One layer of underlayment from the eave up, sheets lapped 2 in, ends lapped 6 in and \
             offset."
        } else if pitch.rise() >= double {
            "Two layers of underlayment: a 19 in strip at the eave, then 36 in sheets, each lapped \
             19 in over the one below; ends lapped 6 in and offset."
        } else {
            let words = format!("No asphalt shingles on {pitch}, so no underlayment is told here.");
            raise.not_asked(draft, words);
            return;
        };
        raise.asks(draft, words.to_owned());
    });
}

pub(super) fn fasteners(inputs: &CodeInputs, provision: &'static Provision, raise: &mut Raise<'_>) {
    let over = provision
        .figure("as the manufacturer says over rise")
        .unwrap_or(f64::INFINITY);
    let least = provision.figure("fasteners in a strip").unwrap_or(0.0);
    each_slope(inputs, raise, |draft, slope, raise| {
        let Some(mut draft) = shingled(draft, slope, raise) else {
            return;
        };
        let Some(pitch) = draft.uses(Input::Pitch, slope.pitch, |p| p.to_string()) else {
            raise.not_known(draft);
            return;
        };
        let words = if pitch.rise() > over {
            format!(
                "{pitch} is steeper than {over} in 12: fasteners as the manufacturer says, never \
                 fewer than {least} in a strip shingle."
            )
        } else {
            format!(
                "At least {least} fasteners in a strip shingle, and as many as the manufacturer \
                 says for the wind there."
            )
        };
        raise.asks(draft, words);
    });
}

pub(super) fn deck(inputs: &CodeInputs, _: &'static Provision, raise: &mut Raise<'_>) {
    each_slope(inputs, raise, |draft, slope, raise| {
        let Some(mut draft) = shingled(draft, slope, raise) else {
            return;
        };
        let Some(deck) = draft.uses(Input::Deck, slope.deck, |d| d.label().to_owned()) else {
            raise.not_known(draft);
            return;
        };
        if matches!(deck, DeckKind::Plywood | DeckKind::OrientedStrandBoard) {
            let words = format!("A deck of {deck} is solid sheathing where it is sound.");
            raise.not_asked(draft, words);
            return;
        }
        let gap = draft.uses(Input::WidestGap, sound(slope.widest_gap), |g| g.to_string());
        let gap = gap.map_or("of unknown width".to_owned(), |gap| format!("up to {gap}"));
        let words = format!(
            "Shingles need a solidly sheathed deck. This one is of {deck} with gaps {gap}. The \
             code names no number for gaps: ask the authority and the manufacturer which gap they \
             accept, or whether sheathing goes over the boards."
        );
        raise.asks(draft, words);
    });
}

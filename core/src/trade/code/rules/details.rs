//! Rules about valleys, walls, edges and openings.

use super::super::answer::{About, Draft, Raise};
use super::super::{CodeInputs, Input, Provision};
use super::slope::each_slope;
use super::{is_asphalt, sound, yes_no};
use crate::job::ValleyLining;

/// The things of a list; where nobody said whether there are any, that is the answer.
fn each<T>(
    things: Option<&Vec<T>>,
    input: Input,
    raise: &mut Raise<'_>,
    mut look: impl FnMut(usize, &T, &mut Raise<'_>),
) {
    let mut house = Draft::of(About::House, "the house");
    match things {
        None => {
            house.uses(input, None::<u32>, |_| String::new());
            raise.not_known(house);
        }
        Some(none) if none.is_empty() => {
            house.uses(input, Some(0), |_| "none".to_owned());
            raise.not_asked(house, "The house has none.".to_owned());
        }
        Some(things) => {
            for (index, thing) in things.iter().enumerate() {
                look(index, thing, raise);
            }
        }
    }
}

pub(super) fn valley(inputs: &CodeInputs, provision: &'static Provision, raise: &mut Raise<'_>) {
    let open = provision.figure("open metal width").unwrap_or(0.0);
    let closed = provision.figure("closed valley width").unwrap_or(0.0);
    let valleys = inputs.valleys.as_ref();
    each(valleys, Input::Valleys, raise, |index, valley, raise| {
        let mut draft = Draft::of(About::Valley(index), &valley.name);
        let lining = draft.uses(Input::ValleyLining, valley.lining, |l| l.label().to_owned());
        let Some(lining) = lining else {
            raise.not_known(draft);
            return;
        };
        let wanted = match lining {
            ValleyLining::OpenMetal => open,
            _ => closed,
        };
        let width = draft.uses(Input::ValleyWidth, sound(valley.width), |w| w.to_string());
        let so_far = match width {
            None => "its width was not measured".to_owned(),
            Some(width) if width.to_inches() < wanted => {
                format!("the lining there is {width}, narrower than that")
            }
            Some(width) => format!("the lining there is {width}"),
        };
        let words = match lining {
            ValleyLining::OpenMetal => {
                format!("Open metal valley: lining {open} in wide or more; {so_far}.")
            }
            ValleyLining::MembraneUnder => format!(
                "Valley over self-adhered membrane, which may stand in place of {closed} in of \
                 roll roofing; {so_far}."
            ),
            _ => format!(
                "Valley, {lining}: {closed} in of roll roofing, metal, or self-adhered membrane \
                 under it; {so_far}."
            ),
        };
        raise.asks(draft, words);
    });
}

pub(super) fn sidewall(inputs: &CodeInputs, provision: &'static Provision, raise: &mut Raise<'_>) {
    let walls = inputs.sidewalls.as_ref();
    each(walls, Input::Sidewalls, raise, |index, wall, raise| {
        let mut draft = Draft::of(About::Sidewall(index), &wall.name);
        draft.uses(Input::Sidewalls, Some(true), yes_no);
        draft.uses(Input::SidewallLength, sound(wall.length), |l| l.to_string());
        raise.asks(draft, provision.asks.to_owned());
    });
}

pub(super) fn drip_edge(inputs: &CodeInputs, provision: &'static Provision, raise: &mut Raise<'_>) {
    each_slope(inputs, raise, |mut draft, slope, raise| {
        let there = draft.uses(Input::DripEdge, slope.drip_edge, yes_no);
        if !provision.in_force {
            raise.not_asked(draft, provision.asks.to_owned());
            return;
        }
        match draft.uses(Input::Roofing, slope.roofing, |m| m.label().to_owned()) {
            Some(roofing) if !is_asphalt(roofing) => {
                let words = format!("This section is about asphalt shingles, not {roofing}.");
                raise.not_asked(draft, words);
                return;
            }
            None => {
                raise.not_known(draft);
                return;
            }
            Some(_) => {}
        }
        let found = match there {
            Some(true) => "one was seen there",
            Some(false) => "none was seen there",
            None => "whether there is one was not seen",
        };
        let words = format!("{} As recorded, {found}.", provision.asks);
        raise.asks(draft, words);
    });
}

pub(super) fn cricket(inputs: &CodeInputs, provision: &'static Provision, raise: &mut Raise<'_>) {
    let over = provision.figure("cricket over width").unwrap_or(0.0);
    let openings = inputs.openings.as_ref();
    each(openings, Input::Openings, raise, |index, opening, raise| {
        let mut draft = Draft::of(About::Opening(index), &opening.name);
        let width = sound(opening.width);
        let Some(width) = draft.uses(Input::OpeningWidth, width, |w| w.to_string()) else {
            raise.not_known(draft);
            return;
        };
        if width.to_inches() <= over {
            let words = format!("{width} is not over {over} in: no cricket is asked for.");
            raise.not_asked(draft, words);
        } else if opening.skylight {
            let words = format!(
                "{width} is over {over} in: a cricket, unless the skylight is flashed as its \
                 manufacturer says."
            );
            raise.asks(draft, words);
        } else {
            let words = format!(
                "{width} is over {over} in: a cricket or saddle on the ridge side, covered with \
                 sheet metal or the roofing."
            );
            raise.asks(draft, words);
        }
    });
}

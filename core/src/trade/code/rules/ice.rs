//! The ice barrier, slope by slope.

use super::super::answer::{About, Draft, Raise};
use super::super::ice_barrier::{IceRule, ice_barrier as reach};
use super::super::{CodeInputs, FigureUnit, Input, Provision, SlopeInputs};
use super::sound;
use super::{slope::each_slope, yes_no};

pub(super) fn ice_barrier(
    inputs: &CodeInputs,
    provision: &'static Provision,
    raise: &mut Raise<'_>,
) {
    let mut house = Draft::of(About::House, "the house");
    if inputs.conditioned == Some(false) {
        house.uses(Input::Conditioned, inputs.conditioned, yes_no);
        let words = "Detached accessory buildings without a conditioned floor need no ice barrier.";
        raise.not_asked(house, words.to_owned());
        return;
    }
    let designated = inputs.ice_barrier_designated;
    match house.uses(Input::IceBarrierDesignated, designated, yes_no) {
        Some(false) => {
            let words = "The local authority does not designate the area for an ice barrier.";
            raise.not_asked(house, words.to_owned());
            return;
        }
        Some(true) => {}
        None => raise.not_known(house),
    }
    let rule = IceRule::of(provision);
    each_slope(inputs, raise, |draft, slope, raise| {
        let Some(rule) = rule else { return };
        one_slope(draft, slope, rule, designated, raise);
    });
}

fn one_slope(
    mut draft: Draft,
    slope: &SlopeInputs,
    rule: IceRule,
    designated: Option<bool>,
    raise: &mut Raise<'_>,
) {
    if slope.has_eave == Some(false) {
        draft.uses(Input::HasEave, slope.has_eave, yes_no);
        let words = "This slope has no eave of its own.";
        raise.not_asked(draft, words.to_owned());
        return;
    }
    draft.uses(Input::IceBarrierDesignated, designated, yes_no);
    let pitch = draft.uses(Input::Pitch, slope.pitch, |p| p.to_string());
    let overhang = draft.uses(Input::Overhang, sound(slope.overhang), |l| l.to_string());
    let wall = sound(slope.wall_thickness);
    let wall = draft.uses(Input::WallThickness, wall, |l| l.to_string());
    let (Some(pitch), Some(overhang), Some(wall)) = (pitch, overhang, wall) else {
        raise.not_known(draft);
        return;
    };
    let (overhang_in, wall_in) = (overhang.to_inches(), wall.to_inches());
    let Some(barrier) = reach(rule, overhang_in, wall_in, pitch.rise()) else {
        raise.not_known(draft);
        return;
    };
    let unit = FigureUnit::Inches;
    draft.figure("on the flat", barrier.on_the_flat_in, unit);
    draft.figure("to inside the wall line", barrier.from_wall_line_in, unit);
    draft.figure("along the slope", barrier.along_slope_in, unit);
    let mut words = format!(
        "Ice barrier {:.1} in along the slope from the roof's lowest edge: ({overhang} overhang + \
         {wall} wall + {} in) x {:.6} at {pitch}",
        barrier.along_slope_in,
        rule.inside_wall_in,
        (1.0 + (pitch.rise() / 12.0).powi(2)).sqrt(),
    );
    if barrier.along_slope_in > barrier.from_wall_line_in {
        let (least, from) = rule.steep.unwrap_or_default();
        words = format!("{words}, raised to {least} in because the slope is {from} in 12 or more");
    }
    words.push('.');
    if designated.is_some() {
        raise.asks(draft, words);
    } else {
        raise.unsettled(draft, format!("Only where designated: {words}"));
    }
}

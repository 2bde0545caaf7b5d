//! Roofing over old roofing, and vent area.

use super::super::answer::{About, Draft, Raise};
use super::super::{CodeInputs, Edition, FigureUnit, Input, Provision, SlopeInputs};
use super::{slope::each_slope, yes_no};
use crate::job::Material;

pub(super) fn recover(inputs: &CodeInputs, provision: &'static Provision, raise: &mut Raise<'_>) {
    let most = provision.figure("layers that rule it out").unwrap_or(0.0);
    let older = provision.since < Edition::Of2015;
    each_slope(inputs, raise, |mut draft, slope, raise| {
        let reasons = reasons(&mut draft, inputs, slope, most, older);
        if !reasons.is_empty() {
            let words = format!("The old roofing comes off first: {}.", reasons.join("; "));
            raise.asks(draft, words);
        } else if draft.lacks_something() {
            raise.not_known(draft);
        } else {
            let words =
                "Nothing recorded rules out new roofing over the old; the manufacturer may.";
            raise.not_asked(draft, words.to_owned());
        }
    });
}

/// Why the old roofing has to come off.
fn reasons(
    draft: &mut Draft,
    inputs: &CodeInputs,
    slope: &SlopeInputs,
    most: f64,
    older: bool,
) -> Vec<String> {
    let mut reasons = Vec::new();
    let layers = draft.uses(Input::Layers, slope.layers, |n| n.to_string());
    if let Some(layers) = layers.filter(|layers| f64::from(*layers) >= most) {
        reasons.push(format!("{layers} layers are there already"));
    }
    let roofing = draft.uses(Input::Roofing, slope.roofing, |m| m.label().to_owned());
    let by_kind = roofing.filter(|kind| {
        matches!(
            kind,
            Material::Slate | Material::ClayTile | Material::ConcreteTile
        ) || (older && *kind == Material::WoodShake)
    });
    if let Some(kind) = by_kind {
        reasons.push(format!("{kind} is no base for new roofing"));
    }
    let soaked = inputs.roofing_soaked;
    if draft.uses(Input::RoofingSoaked, soaked, yes_no) == Some(true) {
        reasons.push("the roofing is soaked or too far gone".to_owned());
    }
    if older {
        let hail = draft.uses(Input::HailExposure, inputs.hail_exposure, |there| {
            if there { "moderate or severe" } else { "less" }.to_owned()
        });
        if hail == Some(true) {
            reasons.push(
                "the code's map shows moderate or severe hail, which rules it out for asphalt \
                 shingles"
                    .to_owned(),
            );
        }
    }
    reasons
}

pub(super) fn ventilation(
    inputs: &CodeInputs,
    provision: &'static Provision,
    raise: &mut Raise<'_>,
) {
    let mut draft = Draft::of(About::House, "the attic");
    let space = inputs
        .vented_space
        .filter(|area| area.to_square_feet() > 0.0);
    let space = draft.uses(Input::VentedSpace, space, |area| format!("{area:.0}"));
    let third = smaller_area(&mut draft, inputs, provision);
    let Some(space) = space else {
        raise.not_known(draft);
        return;
    };
    let inches = space.to_square_feet() * 144.0;
    let (full, half) = (inches / 150.0, inches / 300.0);
    draft.figure("net free area at 1/150", full, FigureUnit::SquareInches);
    draft.figure("net free area at 1/300", half, FigureUnit::SquareInches);
    let asked = if third == Some(true) { half } else { full };
    draft.figure("net free area asked", asked, FigureUnit::SquareInches);
    let words = match third {
        Some(true) => format!(
            "{half:.0} sq in of net free vent area: 1/300 of {space:.0}, because the conditions \
             for it are recorded."
        ),
        Some(false) => format!("{full:.0} sq in of net free vent area: 1/150 of {space:.0}."),
        None => format!(
            "{full:.0} sq in of net free vent area: 1/150 of {space:.0}; {half:.0} sq in (1/300) \
             only where its conditions hold, which is not known."
        ),
    };
    raise.asks(draft, words);
}

/// Whether 1/300 will do; `None` where that is not known.
fn smaller_area(
    draft: &mut Draft,
    inputs: &CodeInputs,
    provision: &'static Provision,
) -> Option<bool> {
    let least = provision.figure("least high share").unwrap_or(1.0);
    let most = provision.figure("most high share").unwrap_or(0.0);
    let cold = provision.figure("vapour retarder from zone");
    let share = inputs
        .high_vent_share
        .filter(|share| (0.0..=1.0).contains(share));
    let share = draft.uses(Input::HighVentShare, share, |s| {
        format!("{:.0} %", s * 100.0)
    });
    let placed = share.map(|share| (least..=most).contains(&share));
    let retarder = inputs.vapour_retarder;
    let Some(cold) = cold else {
        // Older editions: either of the two is enough.
        let retarder = draft.uses(Input::VapourRetarder, retarder, yes_no);
        return match (placed, retarder) {
            (Some(true), _) | (_, Some(true)) => Some(true),
            (Some(false), Some(false)) => Some(false),
            _ => None,
        };
    };
    let zone = inputs.climate_zone.filter(|zone| (1..=8).contains(zone));
    let zone = draft.uses(Input::ClimateZone, zone, |zone| zone.to_string());
    let zone_asks = zone.map(|zone| f64::from(zone) >= cold);
    let warm_side = match zone_asks {
        Some(false) => Some(true),
        _ => match draft.uses(Input::VapourRetarder, retarder, yes_no) {
            Some(true) => Some(true),
            Some(false) => zone_asks.map(|asks| !asks),
            None => None,
        },
    };
    match (placed, warm_side) {
        (Some(false), _) | (_, Some(false)) => Some(false),
        (Some(true), Some(true)) => Some(true),
        _ => None,
    }
}

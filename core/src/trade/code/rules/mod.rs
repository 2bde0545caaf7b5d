//! What each rule makes of the inputs.

mod details;
mod house;
mod ice;
mod slope;

use super::answer::Raise;
use super::{Answer, CodeInputs, CodeRule, EditionRead, Provision, provision};
use crate::job::{Length, Material};

/// What every rule of the code says about these inputs, in the order of the table, slope by slope.
/// A rule that lacks an input says what it lacks.
pub fn answers(inputs: &CodeInputs) -> Vec<Answer> {
    let read = EditionRead::of(inputs.code_edition.as_deref());
    let mut answers = Vec::new();
    for (rule, look) in RULES {
        if let Some(provision) = provision(*rule, read.edition) {
            let mut raise = Raise {
                read: &read,
                provision,
                answers: &mut answers,
            };
            look(inputs, provision, &mut raise);
        }
    }
    answers
}

type Look = fn(&CodeInputs, &'static Provision, &mut Raise<'_>);

const RULES: &[(CodeRule, Look)] = &[
    (CodeRule::LeastSlope, slope::least_slope),
    (CodeRule::Underlayment, slope::underlayment),
    (CodeRule::IceBarrier, ice::ice_barrier),
    (CodeRule::Fasteners, slope::fasteners),
    (CodeRule::Deck, slope::deck),
    (CodeRule::Valley, details::valley),
    (CodeRule::Sidewall, details::sidewall),
    (CodeRule::DripEdge, details::drip_edge),
    (CodeRule::Cricket, details::cricket),
    (CodeRule::Recover, house::recover),
    (CodeRule::Ventilation, house::ventilation),
];

fn is_asphalt(roofing: Material) -> bool {
    matches!(
        roofing,
        Material::ThreeTabShingle | Material::LaminatedShingle
    )
}

/// A length that can be one: nothing below zero.
fn sound(length: Option<Length>) -> Option<Length> {
    length.filter(|length| length.as_64ths() >= 0)
}

fn yes_no(value: bool) -> String {
    if value { "yes" } else { "no" }.to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::code::PROVISIONS;

    #[test]
    fn every_rule_of_the_table_is_looked_at_once() {
        for row in PROVISIONS {
            let times = RULES.iter().filter(|(rule, _)| *rule == row.rule).count();
            assert_eq!(times, 1, "{:?}", row.rule);
        }
        for (rule, _) in RULES {
            let rows: Vec<_> = PROVISIONS.iter().filter(|row| row.rule == *rule).collect();
            assert!(rows.windows(2).all(|w| w[0].since < w[1].since), "{rule:?}");
            assert_eq!(
                rows[0].since,
                crate::trade::code::Edition::ALL[0],
                "{rule:?}"
            );
        }
    }
}

//! Which findings ask for work, which for another look, and which are withheld, with the reason.

use crate::job::*;
use crate::review::office_only_finding;
use crate::review::state::is_storm;

/// What a finding comes to in a scope.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Outcome {
    /// A line of work.
    Work,
    /// A line to inspect, with the doubt.
    Inspect(String),
    /// No line, with the reason.
    Withheld(String),
    /// In order, or not at this house: nothing to say.
    InOrder,
}

/// What a finding comes to.
pub(super) fn outcome(finding: &Record<Finding>) -> Outcome {
    use Outcome::{InOrder, Inspect, Withheld, Work};
    let in_order = matches!(
        finding.condition,
        Some(Condition::Cleared | Condition::NotPresent)
    );
    if office_only_finding(finding) {
        let cause = match finding.cause {
            Some(cause) => format!(", recorded as {cause}"),
            None => String::new(),
        };
        return Withheld(format!(
            "office only{cause}: it is not written up as storm damage"
        ));
    }
    if let Some(cause) = finding
        .cause
        .filter(|cause| !is_storm(*cause) && *cause != Cause::Unsure)
    {
        let also = if in_order { " and in order" } else { "" };
        return Withheld(format!(
            "recorded as {cause}{also}: it is not written up as storm damage"
        ));
    }
    if in_order {
        return InOrder;
    }
    if finding.component.is_none() {
        return Withheld("no part is named: name it, and it gets its line".to_owned());
    }
    match (finding.condition, finding.cause) {
        (None, _) => {
            Withheld("its condition is not stated: state it, and it gets its line".to_owned())
        }
        (Some(Condition::Worn), None) => {
            Withheld("recorded as worn: it is not written up as storm damage".to_owned())
        }
        (Some(Condition::Unsure), _) => Inspect("whether it is damaged is unsure".to_owned()),
        (_, Some(Cause::Unsure)) => Inspect("the cause is unsure".to_owned()),
        (_, None) => Inspect("the cause is not stated".to_owned()),
        (_, Some(_)) => Work,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::review::house::record;

    fn of(condition: Option<Condition>, cause: Option<Cause>) -> Outcome {
        outcome(&record(Finding {
            component: Some(Component::Gutter),
            condition,
            cause,
            ..Finding::default()
        }))
    }

    #[test]
    fn only_storm_causes_ask_for_work() {
        for cause in Cause::ALL {
            let outcome = of(Some(Condition::Damaged), Some(*cause));
            match cause {
                Cause::Hail | Cause::Wind | Cause::OtherStorm => assert_eq!(outcome, Outcome::Work),
                Cause::Unsure => assert!(matches!(outcome, Outcome::Inspect(_))),
                _ => assert!(matches!(outcome, Outcome::Withheld(_)), "{cause}"),
            }
        }
        assert!(matches!(
            of(Some(Condition::Damaged), None),
            Outcome::Inspect(_)
        ));
        assert!(matches!(of(None, Some(Cause::Hail)), Outcome::Withheld(_)));
        assert_eq!(of(Some(Condition::Cleared), None), Outcome::InOrder);
        assert_eq!(
            of(Some(Condition::NotPresent), Some(Cause::Unsure)),
            Outcome::InOrder
        );
    }

    #[test]
    fn what_the_office_keeps_makes_no_line_whatever_the_cause() {
        let kept = record(Finding {
            component: Some(Component::Gutter),
            condition: Some(Condition::Damaged),
            cause: Some(Cause::Hail),
            audience: Some(Audience::OfficeOnly),
            ..Finding::default()
        });
        assert!(matches!(outcome(&kept), Outcome::Withheld(_)));
    }
}

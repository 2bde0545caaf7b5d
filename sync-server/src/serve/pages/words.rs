//! Words that several chapters say alike.

use chalkwalk_core::job::Finding;
use chalkwalk_core::review::State;
use maud::{Markup, html};

use super::super::icons::icon;

/// What a finding amounts to: a shape, a word and a colour.
pub(in crate::serve) fn state(finding: &Finding) -> Markup {
    shown(State::of(finding))
}

/// A state as a shape, a word and a colour.
pub(in crate::serve) fn shown(state: State) -> Markup {
    let (class, name) = look(state);
    html! { span class={ "state " (class) } { (icon(name)) (state.label()) } }
}

/// A state's class and the name of its shape.
pub(in crate::serve) const fn look(state: State) -> (&'static str, &'static str) {
    match state {
        State::Damaged => ("damaged", "triangle"),
        State::Prior => ("prior", "square"),
        State::Unsure => ("unsure", "circle-question-mark"),
        State::Cleared => ("cleared", "check"),
        State::NotPresent => ("absent", "circle-slash"),
        State::Open => ("open", "circle-dashed"),
    }
}

/// The first letter as a capital.
pub(in crate::serve) fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().collect::<String>() + letters.as_str()
    })
}

/// How much of a thing a finding is about.
pub(in crate::serve) fn extent(finding: &Finding) -> String {
    let units = match (finding.units, finding.units_total) {
        (Some(units), Some(total)) => Some(format!("{units} of {total}")),
        (Some(units), None) => Some(units.to_string()),
        (None, _) => None,
    };
    let length = finding.extent_length.map(|length| length.to_string());
    let area = finding.extent_area.map(|area| area.to_string());
    let parts: Vec<String> = [units, length, area].into_iter().flatten().collect();
    parts.join(", ")
}

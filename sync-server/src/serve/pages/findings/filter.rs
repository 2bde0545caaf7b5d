//! Which findings are shown: chosen in the address, so that a selection can be kept and sent on.

use std::collections::{BTreeMap, BTreeSet};

use chalkwalk_core::job::{Audience, Cause, Component, Condition, Job};
use chalkwalk_core::review::{FindingRow, FindingsList};
use maud::{Markup, html};

use super::super::super::icons::icon;
use super::super::words::capital;

/// The names of the choices, in the order of the form.
const NAMES: &[(&str, &str)] = &[
    ("place", "Place"),
    ("component", "Part"),
    ("state", "State"),
    ("condition", "Condition"),
    ("cause", "Cause"),
    ("audience", "Who may read it"),
    ("who", "Recorded by"),
];
/// Chosen for "nobody stated it".
const UNSTATED: &str = "-";

/// What is asked for; a name that is not there asks for everything.
#[derive(Debug, Default, PartialEq)]
pub(super) struct Filter(BTreeMap<&'static str, String>);

impl Filter {
    /// Unknown names and empty values are passed over.
    pub(super) fn of(query: &[(String, String)]) -> Self {
        let mut filter = Self::default();
        for (name, _) in NAMES {
            let given = query
                .iter()
                .find(|(given, value)| given == name && !value.is_empty());
            if let Some((_, value)) = given {
                filter.0.insert(name, value.clone());
            }
        }
        filter
    }

    pub(super) fn is_open(&self) -> bool {
        self.0.is_empty()
    }

    /// Whether a finding is among those asked for.
    pub(super) fn takes(&self, row: &FindingRow) -> bool {
        self.0
            .iter()
            .all(|(name, asked)| value(name, row) == *asked)
    }

    /// The form with what the job holds to choose from.
    pub(super) fn form(&self, action: &str, job: &Job, list: &FindingsList) -> Markup {
        html! {
            form.filter method="get" action=(action) role="search" aria-label="Which findings" {
                @for (name, label) in NAMES {
                    div.field {
                        label for={ "by-" (name) } { (label) }
                        select id={ "by-" (name) } name=(name) {
                            option value="" { "all" }
                            @for (code, words) in options(name, job, list) {
                                option value=(code) selected[self.0.get(name) == Some(&code)] { (words) }
                            }
                        }
                    }
                }
                div.row {
                    button { (icon("filter")) "Show" }
                    @if !self.is_open() { a.button href=(action) { (icon("x")) "Show all" } }
                }
            }
        }
    }
}

/// What a finding states under a name.
fn value(name: &str, row: &FindingRow) -> String {
    let finding = &row.finding;
    let stated = match name {
        "place" => finding.place.as_ref().map(ToString::to_string),
        "component" => finding.component.map(|word| word.code().to_owned()),
        "state" => Some(row.state.label().to_owned()),
        "condition" => finding.condition.map(|word| word.code().to_owned()),
        "cause" => finding.cause.map(|word| word.code().to_owned()),
        "audience" => {
            let audience = if row.office_only {
                Audience::OfficeOnly
            } else {
                Audience::Shared
            };
            Some(audience.code().to_owned())
        }
        _ => Some(row.recorded_by.clone()),
    };
    stated.unwrap_or_else(|| UNSTATED.to_owned())
}

/// What occurs among the findings, as (value, words): places in walk order, the rest by its words.
fn options(name: &str, job: &Job, list: &FindingsList) -> Vec<(String, String)> {
    let rows = list.groups.iter().flat_map(|group| &group.findings);
    let found: Vec<String> = rows.map(|row| value(name, row)).collect();
    let mut seen = BTreeSet::new();
    let mut options: Vec<(String, String)> = found
        .into_iter()
        .filter(|value| seen.insert(value.clone()))
        .map(|value| {
            let words = words(name, job, &value);
            (value, words)
        })
        .collect();
    if name != "place" {
        options.sort_by(|a, b| a.1.cmp(&b.1));
    }
    options
}

fn words(name: &str, job: &Job, value: &str) -> String {
    let known = match name {
        "place" => value
            .parse()
            .ok()
            .map(|place| capital(&job.place_name(&place))),
        "component" => Component::from_code(value).map(|word| word.to_string()),
        "condition" => Condition::from_code(value).map(|word| word.to_string()),
        "cause" => Cause::from_code(value).map(|word| word.to_string()),
        "audience" => Audience::from_code(value).map(|word| word.to_string()),
        _ => Some(value.to_owned()),
    };
    known.unwrap_or_else(|| "not stated".to_owned())
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use chalkwalk_core::job::Finding;
    use chalkwalk_core::review::State;

    use super::*;

    fn row(finding: Finding) -> FindingRow {
        FindingRow {
            id: "a".parse().unwrap(),
            number: 1,
            state: State::of(&finding),
            hits: None,
            photos: Vec::new(),
            office_only: false,
            struck: None,
            unsettled: Vec::new(),
            recorded_by: "Ada & <b>".into(),
            recorded_at: 0,
            finding,
        }
    }

    fn asked(pairs: &[(&str, &str)]) -> Filter {
        let own = |(name, value): &(&str, &str)| ((*name).to_owned(), (*value).to_owned());
        Filter::of(&pairs.iter().map(own).collect::<Vec<_>>())
    }

    #[test]
    fn all_choices_must_fit_and_empty_ones_ask_for_all() {
        let hail = row(Finding {
            cause: Some(Cause::Hail),
            place: Some("elevation/front".parse().unwrap()),
            ..Finding::default()
        });
        assert!(asked(&[("cause", ""), ("other", "x")]).takes(&hail));
        assert!(asked(&[("cause", "hail"), ("place", "elevation/front")]).takes(&hail));
        assert!(!asked(&[("cause", "hail"), ("place", "elevation/rear")]).takes(&hail));
        assert!(asked(&[("component", "-"), ("audience", "shared")]).takes(&hail));
        assert!(asked(&[("who", "Ada & <b>")]).takes(&hail));
        assert!(asked(&[("state", State::of(&hail.finding).label())]).takes(&hail));
        assert!(!asked(&[("audience", "office_only")]).takes(&hail));
    }
}

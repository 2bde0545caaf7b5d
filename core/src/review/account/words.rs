//! One finding in the words of a person who is not of the trade.

use crate::job::{Cause, Condition, Finding, Severity};

/// "Gutter: damaged, 2 of 3, 7 hits counted. The crew puts it down to hail. ..."
pub(super) fn finding(finding: &Finding, hits: Option<u32>) -> String {
    let what = finding.component.map_or("something", |part| part.label());
    let mut text = format!("{}: {}", upper_first(what), condition(finding.condition));
    match (finding.units, finding.units_total) {
        (Some(units), Some(total)) if total > 1 || units != total => {
            text = format!("{text}, {units} of {total}");
        }
        (Some(units), None) => text = format!("{text}, {units}"),
        _ => {}
    }
    if let Some(name) = &finding.unit_name
        && !speaks_of_cover(name)
    {
        text = format!("{text} ({name})");
    }
    if let Some(hits) = hits {
        text = format!("{text}, {} counted", self::hits(hits));
    }
    text.push('.');
    if let Some(cause) = finding.cause {
        text = format!("{text} {}", caused(cause));
    }
    if let Some(severity) = finding.severity {
        let words = match severity {
            Severity::Cosmetic => "It shows, and the part still does its work.",
            Severity::Functional => "The part may no longer do its work as it should.",
        };
        text = format!("{text} {words}");
    }
    text
}

fn condition(condition: Option<Condition>) -> &'static str {
    match condition {
        Some(Condition::Cleared) => "in order",
        Some(Condition::Damaged) => "damage observed",
        Some(Condition::Worn) => "wear observed",
        Some(Condition::Missing) => "missing",
        Some(Condition::Unsure) => "looked at, and the crew is unsure",
        Some(Condition::NotPresent) => "the house has none",
        None => "recorded, without saying its state",
    }
}

fn caused(cause: Cause) -> &'static str {
    match cause {
        Cause::Hail => "The crew puts it down to hail.",
        Cause::Wind => "The crew puts it down to wind.",
        Cause::OtherStorm => "The crew puts it down to a storm.",
        Cause::Mechanical => "The crew puts it down to something that struck or pushed it.",
        Cause::WearOrAge => "The crew puts it down to wear or age.",
        Cause::InstallationFault => "The crew puts it down to how it was fitted.",
        Cause::Prior => "It was there before.",
        Cause::Unsure => "The crew is not sure what caused it.",
    }
}

/// "1 hit", "7 hits".
pub(super) fn hits(count: u32) -> String {
    match count {
        1 => "1 hit".to_owned(),
        count => format!("{count} hits"),
    }
}

/// True for words about insurance, cover, claims and payment, which the account leaves to others.
pub(crate) fn speaks_of_cover(text: &str) -> bool {
    const STEMS: &[&str] = &[
        "insur",
        "claim",
        "polic",
        "adjuster",
        "deductible",
        "approv",
        "settle",
        "reimburs",
        "payout",
        "entitle",
    ];
    const WORDS: &[&str] = &[
        "covered",
        "coverage",
        "covers",
        "owed",
        "owes",
        "pay",
        "pays",
        "paid",
        "payment",
        "guarantee",
        "guaranteed",
        "promise",
        "promised",
    ];
    let lower = text.to_lowercase();
    let mut words = lower.split(|c: char| !c.is_alphanumeric());
    words.any(|word| WORDS.contains(&word) || STEMS.iter().any(|stem| word.starts_with(stem)))
}

fn upper_first(text: &str) -> String {
    let mut chars = text.chars();
    match chars.next() {
        Some(first) => first.to_uppercase().chain(chars).collect(),
        None => String::new(),
    }
}

pub(super) fn lower_first(text: &str) -> String {
    let mut chars = text.chars();
    match chars.next() {
        Some(first) => first.to_lowercase().chain(chars).collect(),
        None => String::new(),
    }
}

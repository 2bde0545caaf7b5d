//! The fields of a finding as a form asks for them, and the way from typed text to a value and back.

use chalkwalk_core::job::{
    AnyFields, Area, Audience, Cause, Component, Condition, FieldRead, FieldValue, Fields, Finding,
    Finish, Job, Length, Material, RecordRef, Scalar, Severity,
};
use chalkwalk_core::review::places_in_walk_order;

use super::super::words::capital;

/// How a field is filled.
#[derive(Clone, Copy)]
pub(super) enum Input {
    /// One of the job's places.
    Place,
    /// One of a list of words.
    Word(fn() -> Vec<(String, String)>),
    /// A whole number from 0.
    Count,
    /// A length as the trade writes it.
    Length,
    /// An area.
    Area,
    /// A line of text.
    Line,
    /// Several lines.
    Lines,
}

/// One field.
pub(super) struct Spec {
    pub(super) key: &'static str,
    pub(super) label: &'static str,
    pub(super) hint: &'static str,
    pub(super) input: Input,
    /// A finding that is added at the page must state it.
    pub(super) needed: bool,
}

macro_rules! words {
    ($type:ident) => {
        Input::Word(|| {
            let word = |word: &$type| (word.code().to_owned(), word.label().to_owned());
            $type::ALL.iter().map(word).collect()
        })
    };
}

const fn spec(key: &'static str, label: &'static str, input: Input, hint: &'static str) -> Spec {
    Spec {
        key,
        label,
        hint,
        input,
        needed: false,
    }
}

const fn needed(key: &'static str, label: &'static str, input: Input) -> Spec {
    Spec {
        needed: true,
        ..spec(key, label, input, "")
    }
}

/// Every field, in groups with a heading.
pub(super) const GROUPS: &[(&str, &[Spec])] = &[
    (
        "What and where",
        &[
            needed("place", "Place", Input::Place),
            needed("component", "Part", words!(Component)),
            spec(
                "unit_name",
                "Which one",
                Input::Line,
                "Number or name, such as screen 2 of 3.",
            ),
            spec("storey", "Storey", Input::Count, "1 at grade."),
            spec(
                "from_left",
                "Place from the left",
                Input::Count,
                "1 at the left end as one faces the side.",
            ),
            spec(
                "height",
                "Height above grade",
                Input::Length,
                "Such as 3' 6\".",
            ),
        ],
    ),
    (
        "State and cause",
        &[
            needed("condition", "Condition", words!(Condition)),
            spec("cause", "Cause", words!(Cause), ""),
            spec(
                "severity",
                "Does it still do its work?",
                words!(Severity),
                "Cosmetic: it does.",
            ),
            spec(
                "cause_reason",
                "Why the cause is taken to be so",
                Input::Lines,
                "What was observed or measured.",
            ),
        ],
    ),
    (
        "How much",
        &[
            spec("units", "Units damaged", Input::Count, ""),
            spec("units_total", "Units there are", Input::Count, ""),
            spec(
                "extent_length",
                "Length damaged",
                Input::Length,
                "Such as 12' 6\".",
            ),
            spec(
                "extent_area",
                "Area damaged",
                Input::Area,
                "Such as 40 sq ft or 1.5 SQ.",
            ),
        ],
    ),
    (
        "What it is made of",
        &[
            spec("material", "Material", words!(Material), ""),
            spec("finish", "Finish", words!(Finish), ""),
        ],
    ),
    (
        "Words",
        &[
            spec(
                "text",
                "The finding in words",
                Input::Lines,
                "What was observed, measured or counted.",
            ),
            spec(
                "audience",
                "Who may read it",
                words!(Audience),
                "Left open, it counts as shared: the owner and the adjuster read it.",
            ),
        ],
    ),
];

/// Every field.
pub(super) fn specs() -> impl Iterator<Item = &'static Spec> {
    GROUPS.iter().flat_map(|(_, specs)| specs.iter())
}

/// The words for a field of a finding.
pub(in crate::serve) fn label(key: &str) -> String {
    match specs().find(|spec| spec.key == key) {
        Some(spec) => spec.label.to_owned(),
        None => capital(&key.replace('_', " ")),
    }
}

/// What a field holds, as the form shows it; empty where nothing is recorded.
pub(super) fn text_of(finding: &Finding, spec: &Spec) -> String {
    if matches!(spec.input, Input::Length | Input::Area) {
        return finding.words(spec.key).unwrap_or_default();
    }
    let mut found = String::new();
    finding.each(&mut |key, value| {
        if key == spec.key {
            found = match value {
                Scalar::Str(text) => plain(&text),
                Scalar::Int(number) => number.to_string(),
                _ => String::new(),
            };
        }
    });
    found
}

/// Typed text as it is compared: browsers send line ends of their own, and nobody means the blanks
/// around a text.
pub(in crate::serve) fn plain(text: &str) -> String {
    text.replace("\r\n", "\n")
        .replace('\r', "\n")
        .trim()
        .to_owned()
}

/// Reads typed text into a field.
///
/// # Errors
/// What is wrong with it, for the person who typed it.
pub(super) fn read(fields: &mut AnyFields, spec: &Spec, typed: &str) -> Result<(), String> {
    let text = || Scalar::Str(typed.to_owned());
    let value = match spec.input {
        Input::Count => {
            let number = typed.parse::<u32>();
            number
                .map_err(|_| "Write a whole number, 0 or more.".to_owned())?
                .to_scalar()
        }
        Input::Length => typed
            .parse::<Length>()
            .map_err(|error| sentence(&error))?
            .to_scalar(),
        Input::Area => typed
            .parse::<Area>()
            .map_err(|error| sentence(&error))?
            .to_scalar(),
        Input::Place | Input::Word(_) | Input::Line | Input::Lines => text(),
    };
    match fields.read(spec.key, value.as_ref()) {
        FieldRead::Taken => Ok(()),
        _ => Err("Choose one of the list.".to_owned()),
    }
}

/// What can be chosen, as (value, words).
pub(super) fn choices(job: &Job, spec: &Spec) -> Vec<(String, String)> {
    match spec.input {
        Input::Place => places_in_walk_order(job)
            .iter()
            .map(|place: &RecordRef| (place.to_string(), capital(&job.place_name(place))))
            .collect(),
        Input::Word(words) => words(),
        _ => Vec::new(),
    }
}

/// A value of the form as people read it.
pub(super) fn in_words(job: &Job, spec: &Spec, value: &str) -> String {
    if value.is_empty() {
        return "not recorded".to_owned();
    }
    let known = choices(job, spec)
        .into_iter()
        .find(|(code, _)| code == value);
    known.map_or_else(|| value.to_owned(), |(_, words)| words)
}

fn sentence(error: &dyn std::fmt::Display) -> String {
    format!("{}.", capital(&error.to_string()))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use chalkwalk_core::job::Kind;

    use super::*;

    #[test]
    fn every_field_of_a_finding_is_asked_for_once() {
        let mut keys: Vec<&str> = specs().map(|spec| spec.key).collect();
        keys.sort_unstable();
        let mut all = Finding::KEYS.to_vec();
        all.sort_unstable();
        assert_eq!(keys, all);
    }

    #[test]
    fn what_is_shown_reads_back_as_the_same_value() {
        let full = Finding {
            place: Some("elevation/front".parse().unwrap()),
            component: Some(Component::Gutter),
            storey: Some(2),
            from_left: Some(0),
            unit_name: Some("panel 3 <b>".into()),
            height: Some(Length::feet_inches(3, 6)),
            condition: Some(Condition::Damaged),
            cause: Some(Cause::Hail),
            cause_reason: Some("round\nand soft".into()),
            units: Some(1),
            units_total: Some(4),
            extent_length: Some(Length::from_64ths(12_345)),
            extent_area: Some(Area::square_inches(7_001)),
            material: Some(Material::Aluminium),
            finish: Some(Finish::Factory),
            severity: Some(Severity::Cosmetic),
            audience: Some(Audience::Shared),
            text: Some("words".into()),
        };
        let mut read_back = AnyFields::empty(Kind::Finding);
        for spec in specs() {
            let shown = text_of(&full, spec);
            assert!(!shown.is_empty(), "{}", spec.key);
            read(&mut read_back, spec, &shown).unwrap();
        }
        assert_eq!(read_back, AnyFields::Finding(full));
    }

    #[test]
    fn wrong_text_says_how_to_write_it() {
        let mut fields = AnyFields::empty(Kind::Finding);
        let mut tried = |key: &str, text: &str| {
            let spec = specs().find(|spec| spec.key == key).unwrap();
            read(&mut fields, spec, text).unwrap_err()
        };
        assert!(tried("units", "-1").contains("whole number"));
        assert!(tried("units", "99999999999").contains("whole number"));
        assert!(tried("height", "12").contains("write 12' 6-1/2\""));
        assert!(tried("extent_area", "a lot").contains("13.4 SQ"));
        assert!(tried("cause", "lightning<script>").contains("list"));
        assert!(tried("place", "../../etc").contains("list"));
    }
}

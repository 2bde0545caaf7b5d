//! The kinds of record that a page shows by themselves, with the fields it asks for. Adding a field
//! to a form is one line here; a test holds the tables against the record.

mod counted;
mod finding;
mod house;
mod layers;
mod photo;
mod places;
mod said;

use chalkwalk_core::job::Kind;

use super::super::words::capital;
use super::spec::Sheet;

const SHEETS: &[&Sheet] = &[
    &finding::FINDING,
    &counted::COMPONENT,
    &counted::MEASUREMENT,
    &counted::TEST_SQUARE,
    &layers::EAVE_OPENING,
    &layers::EDGE,
    &places::ELEVATION,
    &places::SLOPE,
    &places::ROOM,
    &places::STRUCTURE,
    &photo::PHOTO,
    &house::PROPERTY,
    &house::INTERVIEW,
    &said::QUESTION,
    &said::ANSWER,
    &said::NOTE,
];

/// How a kind of record is shown and changed at the pages; `None` for those that are not.
pub(in crate::serve) fn sheet_of(kind: Kind) -> Option<&'static Sheet> {
    SHEETS.iter().find(|sheet| sheet.kind == kind).copied()
}

/// The words for a field.
pub(in crate::serve) fn label(kind: Kind, key: &str) -> String {
    match sheet_of(kind).and_then(|sheet| sheet.spec(key)) {
        Some(spec) => spec.label.to_owned(),
        None => capital(&key.replace('_', " ")),
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    /// Fields that no form asks for, each with the reason.
    const LEFT_OUT: &[(Kind, &str, &str)] = &[
        (Kind::Photo, "capture", "sealed by the phone that took it"),
        (Kind::Photo, "marks", "drawn on a page of their own"),
        (Kind::Elevation, "side", "which of the four it is"),
        (
            Kind::Question,
            "about",
            "asked once; a new question points elsewhere",
        ),
        (Kind::Answer, "question", "given once"),
        (Kind::Answer, "photo", "given once"),
        (Kind::Note, "about", "written once"),
    ];

    #[test]
    fn every_field_of_a_kind_is_asked_for_once() {
        for sheet in SHEETS {
            let keys: Vec<&str> = sheet.specs().map(|spec| spec.key).collect();
            let mut all: BTreeSet<&str> = sheet.kind.keys().iter().copied().collect();
            for (_, key, _) in LEFT_OUT.iter().filter(|(kind, ..)| *kind == sheet.kind) {
                assert!(all.remove(key), "{key}");
            }
            assert_eq!(keys.len(), all.len(), "{:?}", sheet.kind);
            assert_eq!(keys.into_iter().collect::<BTreeSet<_>>(), all);
        }
    }

    #[test]
    fn a_field_is_called_as_its_form_calls_it() {
        assert_eq!(label(Kind::Component, "count"), "How many there are");
        assert_eq!(label(Kind::Visit, "wind_mph"), "Wind mph");
    }
}

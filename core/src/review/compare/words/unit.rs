//! Units as people write them.

use std::sync::LazyLock;

use super::{Phrase, tokens};
use crate::job::Unit;

/// What people write for each unit (common practice, no source).
const WORDS: &[(Unit, &[&str])] = &[
    (
        Unit::Each,
        &[
            "ea", "each", "pc", "pcs", "piece", "pieces", "count", "ct", "unit", "units",
        ],
    ),
    (
        Unit::LinearFoot,
        &[
            "lf",
            "lft",
            "lin ft",
            "linear ft",
            "linear foot",
            "linear feet",
            "lineal foot",
            "lineal feet",
            "lineal ft",
            "ft",
            "foot",
            "feet",
            "l.f.",
            "'",
        ],
    ),
    (
        Unit::SquareFoot,
        &[
            "sf",
            "sft",
            "sq ft",
            "sqft",
            "sq. ft.",
            "square foot",
            "square feet",
            "ft2",
            "ft\u{B2}",
            "s.f.",
        ],
    ),
    (
        Unit::Square,
        &[
            "sq",
            "sqs",
            "square",
            "squares",
            "roofing square",
            "roofing squares",
            "sq.",
        ],
    ),
];

/// The words as they are, and made alike once.
static PHRASES: LazyLock<Vec<(&str, Phrase, Unit)>> = LazyLock::new(|| {
    let words = WORDS
        .iter()
        .flat_map(|(unit, words)| words.iter().map(|word| (*word, *unit)));
    words
        .map(|(word, unit)| (word, Phrase::new(word), unit))
        .collect()
});

/// The unit that some words name; `None` for a unit of another kind, such as hours.
pub(in crate::review::compare) fn unit_of(words: &str) -> Option<Unit> {
    let plain = words.trim().to_lowercase();
    let spoken = tokens(&plain);
    PHRASES
        .iter()
        .find(|(word, phrase, _)| *word == plain || phrase.is(&spoken))
        .map(|(_, _, unit)| *unit)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_unit_is_read_and_no_other() {
        for (words, unit) in [
            ("EA", Some(Unit::Each)),
            ("Lin. Ft.", Some(Unit::LinearFoot)),
            ("L.F.", Some(Unit::LinearFoot)),
            ("'", Some(Unit::LinearFoot)),
            ("Sq. Ft.", Some(Unit::SquareFoot)),
            ("SQ", Some(Unit::Square)),
            ("Squares", Some(Unit::Square)),
            ("HR", None),
            ("", None),
            ("SQ FT LF", None),
        ] {
            assert_eq!(unit_of(words), unit, "{words}");
        }
        for unit in Unit::ALL {
            assert_eq!(unit_of(unit.code()), Some(*unit));
        }
    }
}

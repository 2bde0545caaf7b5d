//! What came of holding lines and rows side by side.

use serde::Serialize;

/// What came of one entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// Both state the same, within the tolerance.
    Same,
    /// Ours has it and no row of theirs was matched to it.
    Missing,
    /// Theirs states less than ours.
    Short,
    /// Theirs states more than ours.
    Over,
    /// Theirs has it and ours does not.
    Extra,
    /// The same item and quantity in another size or kind.
    OtherKind,
    /// Matched, but the quantities cannot be held side by side: other units, or one not stated.
    UnitMismatch,
    /// It is not clear what stands for what: left to a person.
    NotMatched,
}

impl Outcome {
    /// Every outcome.
    pub const ALL: &'static [Outcome] = &[
        Outcome::Same,
        Outcome::Missing,
        Outcome::Short,
        Outcome::Over,
        Outcome::Extra,
        Outcome::OtherKind,
        Outcome::UnitMismatch,
        Outcome::NotMatched,
    ];

    /// The words that people read.
    pub const fn label(self) -> &'static str {
        match self {
            Outcome::Same => "same",
            Outcome::Missing => "missing in theirs",
            Outcome::Short => "less in theirs",
            Outcome::Over => "more in theirs",
            Outcome::Extra => "only in theirs",
            Outcome::OtherKind => "other size or kind",
            Outcome::UnitMismatch => "quantities cannot be compared",
            Outcome::NotMatched => "not matched",
        }
    }

    /// The code that is stored and written to files.
    pub const fn code(self) -> &'static str {
        match self {
            Outcome::Same => "same",
            Outcome::Missing => "missing",
            Outcome::Short => "short",
            Outcome::Over => "over",
            Outcome::Extra => "extra",
            Outcome::OtherKind => "other_kind",
            Outcome::UnitMismatch => "unit_mismatch",
            Outcome::NotMatched => "not_matched",
        }
    }
}

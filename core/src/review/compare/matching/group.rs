//! Lines and rows that belong together.

use crate::review::compare::Certainty;

/// Why lines and rows stand together, or stand alone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::review::compare) enum Tie {
    /// The rows stand for the lines.
    Matched(Certainty),
    /// A line without a row.
    OnlyOurs,
    /// A row without a line.
    OnlyTheirs,
    /// They may belong together; a person has to say.
    Unclear,
}

/// Lines and rows that are looked at together, by index.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::review::compare) struct Group {
    pub(in crate::review::compare) tie: Tie,
    pub(in crate::review::compare) lines: Vec<usize>,
    pub(in crate::review::compare) rows: Vec<usize>,
    /// Why, a sentence each.
    pub(in crate::review::compare) reasons: Vec<String>,
    /// Lines that the rows could stand for, beside those of the group, with the reason.
    pub(in crate::review::compare) candidates: Vec<(usize, String)>,
    /// A person said so.
    pub(in crate::review::compare) by_person: bool,
}

impl Group {
    pub(super) fn new(tie: Tie, lines: Vec<usize>, rows: Vec<usize>, reasons: Vec<String>) -> Self {
        Self {
            tie,
            lines,
            rows,
            reasons,
            candidates: Vec::new(),
            by_person: false,
        }
    }
}

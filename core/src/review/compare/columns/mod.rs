//! Which column of another's file means what: guessed with a stated certainty, shown, overridden
//! by a person, remembered for the next file with the same head.

mod guess;
mod head;
mod meaning;
mod numbers;
mod stated;

#[cfg(test)]
mod tests;

use serde::{Deserialize, Serialize};

use crate::review::compare::Certainty;

pub use meaning::Meaning;
pub use stated::MappingError;

pub(super) use guess::is_place;
pub(super) use head::head_words;

/// Where a mapping comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MappedBy {
    /// Guessed from the head's words and the cells.
    Guess,
    /// Taken from an earlier file with the same head.
    Earlier,
    /// Stated by a person, in part at least.
    Person,
}

/// Which column means what.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Columns {
    /// Line of the head in the file; `None` where the file has none.
    pub head_line: Option<u32>,
    /// BLAKE3 of the head's words made alike, in hexadecimal: files with the same head have the
    /// same. Empty without a head.
    pub fingerprint: String,
    /// Where the mapping comes from.
    pub by: MappedBy,
    /// Every column, from the left.
    pub columns: Vec<Column>,
    /// What a person should look at, a sentence each.
    pub notes: Vec<String>,
}

/// One column.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Column {
    /// Its number, 1 for the leftmost.
    pub number: u32,
    /// What its head says.
    pub title: String,
    /// What it means; `None` where it is not used.
    pub meaning: Option<Meaning>,
    /// How sure that is, in hundredths.
    pub score: u8,
    /// How sure that is, in words.
    pub certainty: Certainty,
    /// From what it was read.
    pub why: String,
}

impl Columns {
    /// The index of the column with a meaning, from 0.
    pub fn index(&self, meaning: Meaning) -> Option<usize> {
        self.columns
            .iter()
            .position(|column| column.meaning == Some(meaning))
    }
}

//! Our scope beside one that somebody else wrote.
//!
//! A file is read into cells ([`table`]), its columns are given meanings ([`columns`]), its rows
//! are matched to our lines, and each difference is stated with our evidence. A match has a reason
//! and a certainty; what is not clear is left to a person. The result states what was observed,
//! measured and counted, never what an insurer covers or owes.

pub mod columns;
mod disputes;
mod evidence;
mod matching;
mod outcome;
mod quantities;
mod result;
mod rows;
mod sentence;
mod stored;
pub mod table;
mod totals;
mod words;

#[cfg(test)]
mod tests;

use serde::{Deserialize, Serialize};

pub use disputes::{Dispute, DisputeList, disputes, disputes_csv};
pub use evidence::{Evidence, Requirement};
pub use outcome::Outcome;
pub use quantities::{Amounts, Tolerance};
pub use result::{Candidate, Comparison, Entry, Options, OurLine, compare};
pub use rows::{SkippedRow, TakenFor, TheirRow, TheirScope, read_rows};
pub use stored::{TakeInError, TakenIn, TheirFile, kept, take_in};
pub use totals::{ItemTotal, Money};

/// How sure a reading or a match is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Certainty {
    /// It could be otherwise: look at it.
    Unsure,
    /// Good reasons, and something that was not said.
    Likely,
    /// Everything that counts was said.
    Sure,
}

impl Certainty {
    /// The word that people read.
    pub const fn label(self) -> &'static str {
        match self {
            Certainty::Unsure => "unsure",
            Certainty::Likely => "likely",
            Certainty::Sure => "sure",
        }
    }
}

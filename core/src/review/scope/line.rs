//! One line of a scope, and what stands beside the lines.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::{Item, Quantity};
use crate::job::{
    Audience, Length, Place, RecordId, RecordRef, ScopeChangeKind, Stamp, Unit, WorkAction,
};

/// What a line is known by: its place, item, action and, where a code asks for it, that it does.
/// It does not change with the order or number of lines.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct LineKey(String);

impl LineKey {
    /// The key of a line that is worked out from the record.
    pub fn of(place: Option<&Place>, item: &Item, action: WorkAction, required: bool) -> Self {
        let place = place.map_or_else(|| "house".to_owned(), ToString::to_string);
        let required = if required { "|required" } else { "" };
        Self(format!(
            "{place}|{}|{}{required}",
            item.key(),
            action.code()
        ))
    }

    /// A key as a change or a match names it.
    pub fn named(text: &str) -> Self {
        Self(text.trim().to_owned())
    }

    /// The key as it is stored.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for LineKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// What a line rests on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Basis {
    /// What was found at the house.
    ExistingCondition,
    /// A section of a building code, to be confirmed with the local authority.
    Requirement {
        /// The section.
        section: String,
        /// The code and its edition.
        edition: String,
        /// What it asks for, in our words, with what triggered it.
        words: String,
    },
    /// An estimator added it, with the reason that stands in [`LineChange`].
    Estimator,
}

/// A value of a line before an estimator changed it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Earlier {
    /// The work.
    pub action: WorkAction,
    /// How much.
    pub quantity: Option<Quantity>,
    /// Who may read it.
    pub audience: Audience,
    /// The change that had set it; `None` for what was worked out from the record.
    pub by: Option<Stamp>,
    /// That change's reason.
    pub reason: Option<String>,
}

/// What an estimator did to a line.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LineChange {
    /// What was done.
    pub kind: ScopeChangeKind,
    /// The record of the change.
    pub record: RecordRef,
    /// Who and when.
    pub by: Stamp,
    /// Why.
    pub reason: String,
    /// The values before, the oldest first.
    pub was: Vec<Earlier>,
}

/// One line of a scope.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ScopeLine {
    /// What it is known by.
    pub key: LineKey,
    /// Where; `None` for the house as a whole.
    pub place: Option<Place>,
    /// Where, in words.
    pub place_words: String,
    /// What.
    pub item: Item,
    /// What, in words, with material, size and the like.
    pub item_words: String,
    /// The size that tells one such item from another, such as a gutter's width.
    pub size: Option<Length>,
    /// The work.
    pub action: WorkAction,
    /// How much; `None` where it is not known, with the reason in `unsure`.
    pub quantity: Option<Quantity>,
    /// How the quantity was worked out, in words.
    pub how: String,
    /// The findings it rests on.
    pub findings: Vec<RecordRef>,
    /// The other records it rests on: counts, edges, slopes, measurements, eave openings, squares.
    pub records: Vec<RecordRef>,
    /// The photos that show them, in the order of the records and by time.
    pub photos: Vec<RecordId>,
    /// Existing condition or requirement.
    pub basis: Basis,
    /// What is still unsure, a sentence each.
    pub unsure: Vec<String>,
    /// Who may read it.
    pub audience: Audience,
    /// What an estimator did to it.
    pub change: Option<LineChange>,
}

impl ScopeLine {
    /// Its unit, as far as it is known.
    pub fn unit(&self) -> Option<Unit> {
        self.quantity.map(Quantity::unit).or(self.item.unit())
    }
}

/// A finding that makes no line, and why.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Withheld {
    /// The finding.
    pub finding: RecordRef,
    /// Who may read of it.
    pub audience: Audience,
    /// What it is and why it makes no line, a sentence.
    pub words: String,
}

/// A change of an estimator that does not fit any line that stands now.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Orphan {
    /// The record of the change.
    pub record: RecordRef,
    /// The key it names.
    pub line: LineKey,
    /// Who and when.
    pub by: Stamp,
    /// Who may read of it.
    pub audience: Audience,
    /// What it asked for and why, in words.
    pub words: String,
}

/// The sum of the lines with the same item, action and unit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Total {
    /// What.
    pub item: Item,
    /// The work.
    pub action: WorkAction,
    /// The sum of the quantities that are known.
    pub quantity: Quantity,
    /// Lines added up.
    pub lines: u32,
    /// Lines of the same item and action whose quantity is not known.
    pub without_quantity: u32,
}

/// The scope of a job.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Scope {
    /// The lines, in walk order.
    pub lines: Vec<ScopeLine>,
    /// Lines that an estimator left out, with the reason.
    pub left_out: Vec<ScopeLine>,
    /// Findings that make no line, with the reason.
    pub withheld: Vec<Withheld>,
    /// Changes whose line no longer stands.
    pub orphaned: Vec<Orphan>,
    /// Sums of `lines` by item, action and unit.
    pub totals: Vec<Total>,
}

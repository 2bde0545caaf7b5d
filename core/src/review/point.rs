//! One open point of the leave-site check.

use std::fmt;

use serde::Serialize;

use crate::job::RecordRef;
use crate::trade::Source;

/// How much an open point matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Urgency {
    /// The record does not stand without it.
    Must,
    /// The office will ask for it.
    Should,
    /// Worth a thought.
    Consider,
}

impl fmt::Display for Urgency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Urgency::Must => "must",
            Urgency::Should => "should",
            Urgency::Consider => "consider",
        })
    }
}

/// One thing that is missing or does not fit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OpenPoint {
    /// The id of the rule.
    pub rule: &'static str,
    /// How much it matters.
    pub urgency: Urgency,
    /// What is missing, for the crew.
    pub sentence: String,
    /// Why it matters.
    pub why: &'static str,
    /// Where the rule comes from.
    pub source: Source,
    /// The records that raised it; empty where it is the absence of any.
    pub triggered_by: Vec<RecordRef>,
    /// What would settle it, and so what a second visit would be for.
    pub settles: &'static str,
    /// The office could settle it without a second visit.
    pub office_can_settle: bool,
}

//! The rules of the leave-site check. `table` is the one place that lists them; the small
//! functions beside it find what raises each.

mod eave;
mod findings;
mod gutters;
mod interior;
mod pattern;
mod photos;
mod roof;
mod sides;
mod table;
mod visit;

#[cfg(test)]
mod cases;
#[cfg(test)]
mod near_misses;

use super::view::View;
use super::{OpenPoint, Source, Urgency};
use crate::job::RecordRef;

pub use table::RULES;

/// One rule: what is said of it, and the function that finds what raises it.
pub struct Rule {
    /// Its id, ours; it never changes.
    pub id: &'static str,
    /// How much it matters.
    pub urgency: Urgency,
    /// Why it matters.
    pub why: &'static str,
    /// What would settle it.
    pub settles: &'static str,
    /// The office could settle it without a second visit.
    pub office_can_settle: bool,
    /// Where it comes from.
    pub source: Source,
    find: fn(&View<'_>, &mut Raise<'_>),
}

impl std::fmt::Debug for Rule {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_tuple("Rule").field(&self.id).finish()
    }
}

impl Rule {
    /// Adds the points that this rule finds.
    pub(super) fn look(&self, view: &View<'_>, points: &mut Vec<OpenPoint>) {
        (self.find)(view, &mut Raise { rule: self, points });
    }
}

/// Where a rule's function puts what it finds.
struct Raise<'a> {
    rule: &'a Rule,
    points: &'a mut Vec<OpenPoint>,
}

impl Raise<'_> {
    fn point(&mut self, sentence: impl Into<String>, triggered_by: Vec<RecordRef>) {
        self.points.push(OpenPoint {
            rule: self.rule.id,
            urgency: self.rule.urgency,
            sentence: sentence.into(),
            why: self.rule.why,
            source: self.rule.source,
            triggered_by,
            settles: self.rule.settles,
            office_can_settle: self.rule.office_can_settle,
        });
    }
}

//! The check before the crew leaves: what is missing, why it matters, what would settle it.

use super::rules::RULES;
use super::view::View;
use super::{Facts, OpenPoint};
use crate::job::Job;
use crate::sorted::Sorted;

/// Every open point, the urgent ones first, then in the order of the table of rules. The same job
/// and facts give the same points.
pub fn check(job: &Job, facts: &Facts) -> Vec<OpenPoint> {
    let view = View::new(job, facts);
    let mut points = Vec::new();
    for rule in RULES {
        rule.look(&view, &mut points);
    }
    points.order_by_key(|point| point.urgency);
    points
}

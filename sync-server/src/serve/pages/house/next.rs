//! What the office has to do next, from what the record says.

use chalkwalk_core::job::Role;
use chalkwalk_core::review::State;

use super::super::at_job::AtJob;
use super::super::counted;
use super::super::jobs::{Missing, Stage};
use super::found::Found;

/// One thing to do.
pub(super) struct Step {
    pub(super) words: String,
    /// Below the job's path.
    pub(super) path: &'static str,
    pub(super) icon: &'static str,
}

/// What to do next, in the order in which it is done.
pub(super) fn steps(
    at: &AtJob,
    found: &Found<'_>,
    missing: Missing,
    stage: Stage,
    open: usize,
) -> Vec<Step> {
    let mut steps = Vec::new();
    let mut add = |words: String, path, icon| steps.push(Step { words, path, icon });
    let summary = at.status.summary.clone().unwrap_or_default();
    let count = |n: usize, one: &str, many: &str| counted(n as u64, one, many);
    if stage == Stage::HandedOn {
        return steps;
    }
    if stage == Stage::Expected {
        let words = "See that whoever is coming has the job on the phone".to_owned();
        add(
            words,
            if at.may(Role::Estimator) {
                "/access"
            } else {
                ""
            },
            "smartphone",
        );
        return steps;
    }
    if summary.photos > 0 && missing.thumbnails < at.status.photos {
        add(
            "Walk round the house in its photos".to_owned(),
            "/walk",
            "footprints",
        );
    }
    if summary.questions > 0 {
        let n = summary.questions as usize;
        let words = format!(
            "See whether {} answered",
            count(n, "question is", "questions are")
        );
        add(words, "/open", "message-circle-question-mark");
    }
    let conflicts = at.disputed().len();
    if conflicts > 0 {
        let words = format!(
            "Settle {}",
            count(
                conflicts,
                "field with two statements",
                "fields with two statements"
            )
        );
        add(words, "/open", "split");
    }
    let unsure = found.total(State::Unsure) + found.total(State::Open);
    if unsure > 0 {
        let words = format!(
            "Decide {} left unsure",
            count(unsure, "finding", "findings")
        );
        add(words, "/findings", "circle-question-mark");
    }
    if open > 0 {
        let words = format!("Look through {}", count(open, "open point", "open points"));
        add(words, "/open", "circle-dashed");
    }
    if at.may(Role::Estimator) && found.total(State::Damaged) > 0 {
        add("Write the scope".to_owned(), "/scope", "clipboard-list");
    }
    steps
}

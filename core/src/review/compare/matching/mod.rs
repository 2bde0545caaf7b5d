//! Which of their rows stand for which of our lines. Never guessed: a match has a stated reason
//! and a certainty, and what could be read in two ways is left to a person.

mod automatic;
mod components;
mod group;
mod person;
mod reading;
mod unclear;

use std::collections::BTreeSet;

use super::rows::TheirRow;
use super::words::{Items, Places};
use crate::job::{Job, RecordRef};
use crate::review::scope::ScopeLine;
use crate::sorted::Keyed;

pub(super) use group::{Group, Tie};
pub(super) use reading::{Reading, WorkFamily, family_of_action};

/// The lines and rows that are left to match, by index.
pub(super) struct Matching<'a> {
    lines: &'a [&'a ScopeLine],
    rows: &'a [TheirRow],
    readings: Vec<Reading>,
    free_lines: BTreeSet<usize>,
    free_rows: BTreeSet<usize>,
    groups: Vec<Group>,
    notes: Vec<String>,
}

/// The groups, each line and row in one of them, and notes for the whole.
pub(super) struct Matched {
    pub(super) groups: Vec<Group>,
    pub(super) readings: Vec<Reading>,
    pub(super) notes: Vec<String>,
}

/// Matches rows to lines: first as persons say, then by item, work and place.
pub(super) fn groups(
    job: &Job,
    lines: &[&ScopeLine],
    rows: &[TheirRow],
    other: Option<&RecordRef>,
) -> Matched {
    let places = Places::of(job);
    let items = Items::with(lines.iter().map(|line| &line.item));
    let readings = rows
        .iter()
        .map(|row| Reading::of(row, &items, &places))
        .collect();
    let mut matching = Matching {
        lines,
        rows,
        readings,
        free_lines: (0..lines.len()).keyed(),
        free_rows: (0..rows.len()).keyed(),
        groups: Vec::new(),
        notes: Vec::new(),
    };
    if places.without_bearings() && rows.iter().any(|row| !row.place.is_empty()) {
        matching.notes.push(
            "No bearing of the house is recorded: places named by points of the compass are not matched."
                .to_owned(),
        );
    }
    if let Some(other) = other {
        matching.by_person(job, other);
    }
    matching.by_item_work_and_place();
    matching.leave_to_a_person();
    matching.rest();
    Matched {
        groups: matching.groups,
        readings: matching.readings,
        notes: matching.notes,
    }
}

//! What persons say stands before anything that is worked out.

use std::collections::{BTreeMap, BTreeSet};

use super::components::components;
use super::{Group, Matching, Tie};
use crate::job::{Job, Record, RecordRef, ScopeMatch};
use crate::review::compare::Certainty;
use crate::review::scope::LineKey;
use crate::sorted::Keyed;

impl Matching<'_> {
    /// Takes the words of persons on this scope of another. Words that contradict each other, or
    /// name what is not there, are noted and count for nothing.
    pub(super) fn by_person(&mut self, job: &Job, other: &RecordRef) {
        let said: Vec<&Record<ScopeMatch>> = job
            .records
            .scope_matches
            .values()
            .filter(|word| word.stands() && word.other.as_ref() == Some(other))
            .collect();
        let keys: BTreeMap<&LineKey, usize> = self
            .lines
            .iter()
            .enumerate()
            .map(|(at, line)| (&line.key, at))
            .keyed();
        let numbers: BTreeMap<u32, usize> = self
            .rows
            .iter()
            .enumerate()
            .map(|(at, row)| (row.row, at))
            .keyed();
        let mut covers: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
        let mut alone: BTreeSet<usize> = BTreeSet::new();
        let mut reasons: BTreeMap<usize, BTreeSet<String>> = BTreeMap::new();
        for word in said {
            if !word.conflicts.is_empty() {
                self.notes.push(format!(
                    "Two people said different things of row {}: settle it, until then the word does not count.",
                    word.row.unwrap_or(0)
                ));
                continue;
            }
            let Some(row) = word.row.and_then(|row| numbers.get(&row).copied()) else {
                self.notes.push(format!(
                    "A person matched row {}, which is not in this file: strike the match or name another row.",
                    word.row.unwrap_or(0)
                ));
                continue;
            };
            let line = word.line.as_deref().unwrap_or("").trim();
            if line.is_empty() {
                alone.insert(row);
            } else if let Some(line) = keys.get(&LineKey::named(line)) {
                covers.entry(row).or_default().insert(*line);
            } else {
                self.notes.push(format!(
                    "A person matched row {} to a line that our scope has no more: look at it again.",
                    word.row.unwrap_or(0)
                ));
                continue;
            }
            if let Some(reason) = word
                .reason
                .as_deref()
                .filter(|reason| !reason.trim().is_empty())
            {
                reasons
                    .entry(row)
                    .or_default()
                    .insert(reason.trim().to_owned());
            }
        }
        for row in alone.clone() {
            if covers.remove(&row).is_some() {
                alone.remove(&row);
                let number = self.rows.get(row).map_or(0, |row| row.row);
                self.notes.push(format!(
                    "Row {number} was matched to a line and to none: strike one of the two, until then neither counts."
                ));
            }
        }
        for component in components(&covers) {
            self.take_word(
                component.lines,
                component.rows,
                &reasons,
                Tie::Matched(Certainty::Sure),
            );
        }
        for row in alone {
            self.take_word(
                BTreeSet::new(),
                BTreeSet::from([row]),
                &reasons,
                Tie::OnlyTheirs,
            );
        }
    }

    fn take_word(
        &mut self,
        lines: BTreeSet<usize>,
        rows: BTreeSet<usize>,
        reasons: &BTreeMap<usize, BTreeSet<String>>,
        tie: Tie,
    ) {
        let said: BTreeSet<&String> = rows
            .iter()
            .filter_map(|row| reasons.get(row))
            .flatten()
            .keyed();
        let said: Vec<&str> = said.into_iter().map(String::as_str).collect();
        let reason = if said.is_empty() {
            "A person said so.".to_owned()
        } else {
            format!(
                "A person said so: {}.",
                said.join("; ").trim_end_matches('.')
            )
        };
        let mut group = Group::new(
            tie,
            Vec::from_iter(lines),
            Vec::from_iter(rows),
            vec![reason],
        );
        group.by_person = true;
        self.close(group);
    }
}

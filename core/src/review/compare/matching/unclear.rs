//! What is left: rows that could stand for one line or another, rows that ours has nothing for,
//! lines that theirs has nothing for.

use std::collections::{BTreeMap, BTreeSet};

use super::automatic::counted;
use super::components::components;
use super::reading::{family_of_action, family_of_item};
use super::{Group, Matching, Tie};
use crate::review::compare::words::{ActionWords, Cover, ItemWords, tokens};
use crate::review::scope::Item;
use crate::sorted::Keyed;

/// Most candidates that a row shows.
const CANDIDATES: usize = 8;

impl Matching<'_> {
    /// Groups rows with the free lines they could stand for. Which of them they do is not said.
    pub(super) fn leave_to_a_person(&mut self) {
        let mut covers: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
        for row in &self.free_rows {
            let possible = self
                .lines_of(*row)
                .into_iter()
                .filter(|line| self.free_lines.contains(line));
            covers.insert(*row, possible.keyed());
        }
        for component in components(&covers) {
            let reasons = component
                .rows
                .iter()
                .map(|row| self.why_unclear(*row))
                .collect();
            let lines = Vec::from_iter(component.lines);
            let rows = Vec::from_iter(component.rows);
            let mut group = Group::new(Tie::Unclear, lines, rows, reasons);
            group.candidates = group
                .lines
                .iter()
                .map(|line| {
                    (
                        *line,
                        "the same part at a place that the row may mean".to_owned(),
                    )
                })
                .take(CANDIDATES)
                .collect();
            self.close(group);
        }
    }

    /// Every line with an item and a place that a row may mean, free or not.
    fn lines_of(&self, row: usize) -> BTreeSet<usize> {
        let families = self
            .readings
            .get(row)
            .map(|reading| reading.families())
            .unwrap_or_default();
        (0..self.lines.len())
            .filter(|line| self.covers(row, *line))
            .filter(|line| {
                let item = self.lines.get(*line).map(|line| family_of_item(&line.item));
                item.is_some_and(|item| families.contains(&item))
            })
            .keyed()
    }

    /// Why a row was not matched by itself, a sentence.
    fn why_unclear(&self, row: usize) -> String {
        let (Some(reading), Some(theirs)) = (self.readings.get(row), self.rows.get(row)) else {
            return String::new();
        };
        let number = theirs.row;
        let said = format!("Row {number}: \"{}\"", theirs.item);
        if let ItemWords::Several(items) = &reading.items {
            return format!("{said} names {}.", list(items));
        }
        match (&reading.cover, reading.action) {
            (Cover::Unknown(place), _) => {
                format!("{said} stands at \"{place}\", which is no place of this job.")
            }
            (Cover::Unclear(_, place), _) => {
                format!("{said} stands at \"{place}\", which could be more than one side.")
            }
            (_, ActionWords::Several) => format!("{said} names more than one kind of work."),
            (_, ActionWords::Unsaid) => {
                format!("{said} states no work, and ours has more than one kind of work there.")
            }
            (Cover::Unsaid, _) => {
                format!("{said} states no place, and other rows of theirs for the same item do.")
            }
            (_, ActionWords::Said(action)) => {
                format!("{said} asks for another work than ours: {action}.")
            }
        }
    }

    /// Rows that ours has nothing for, and lines that theirs has nothing for.
    pub(super) fn rest(&mut self) {
        let rows: Vec<usize> = self.free_rows.iter().copied().collect();
        for row in rows {
            let group = self.row_alone(row);
            self.close(group);
        }
        let lines: Vec<usize> = self.free_lines.iter().copied().collect();
        let unread = self
            .readings
            .iter()
            .filter(|reading| reading.items == ItemWords::None)
            .count();
        for line in lines {
            let mut reasons = vec!["No row of theirs was matched to this line.".to_owned()];
            if unread > 0 {
                reasons.push(format!(
                    "{} of theirs could not be read as an item: look there too.",
                    counted(unread, "row")
                ));
            }
            self.close(Group::new(Tie::OnlyOurs, vec![line], Vec::new(), reasons));
        }
    }

    fn row_alone(&self, row: usize) -> Group {
        let (Some(reading), Some(theirs)) = (self.readings.get(row), self.rows.get(row)) else {
            return Group::new(Tie::Unclear, Vec::new(), vec![row], Vec::new());
        };
        if reading.items == ItemWords::None {
            let reason = format!(
                "Row {}: \"{}\" names no item that is known.",
                theirs.row, theirs.item
            );
            let mut group = Group::new(Tie::Unclear, Vec::new(), vec![row], vec![reason]);
            group.candidates = self.alike(row);
            return group;
        }
        let there = self.lines_of(row);
        let place_is_clear = matches!(reading.cover, Cover::These { .. } | Cover::Whole(_));
        let work_is_clear = reading.said().is_some();
        let same_work = there
            .iter()
            .filter_map(|line| self.lines.get(*line))
            .any(|line| {
                reading
                    .said()
                    .is_none_or(|said| family_of_action(said) == family_of_action(line.action))
            });
        let clear =
            reading.item().is_some() && place_is_clear && (work_is_clear || there.is_empty());
        if there.is_empty() || clear && !same_work {
            let mut reason = format!("Row {}: ours has no such line there.", theirs.row);
            if let Some(elsewhere) = self.elsewhere(reading.item()) {
                reason += &format!(" Ours has this item elsewhere: {elsewhere}.");
            }
            return Group::new(Tie::OnlyTheirs, Vec::new(), vec![row], vec![reason]);
        }
        let reason =
            self.why_unclear(row) + " The lines it could stand for are matched to other rows.";
        let mut group = Group::new(Tie::Unclear, Vec::new(), vec![row], vec![reason]);
        group.candidates = there
            .into_iter()
            .map(|line| (line, "the same part, matched to another row".to_owned()))
            .take(CANDIDATES)
            .collect();
        group
    }

    /// Where ours has an item, in words.
    fn elsewhere(&self, item: Option<&Item>) -> Option<String> {
        let family = family_of_item(item?);
        let places: Vec<&str> = self
            .lines
            .iter()
            .filter(|line| family_of_item(&line.item) == family)
            .map(|line| line.place_words.as_str())
            .collect();
        let distinct: BTreeSet<&str> = places.iter().copied().keyed();
        let shown: Vec<&str> = distinct.into_iter().take(CANDIDATES).collect();
        (!shown.is_empty()).then(|| shown.join(", "))
    }

    /// Free lines at the row's place that share a word with it.
    fn alike(&self, row: usize) -> Vec<(usize, String)> {
        const DULL: &[&str] = &[
            ",", "and", "the", "of", "for", "in", "to", "with", "remove", "replace",
        ];
        let words: BTreeSet<String> = self
            .rows
            .get(row)
            .map(|row| tokens(&row.item))
            .unwrap_or_default()
            .into_iter()
            .keyed();
        let mut found = Vec::new();
        for line in self
            .free_lines
            .iter()
            .filter(|line| self.covers(row, **line))
        {
            let Some(ours) = self.lines.get(*line) else {
                continue;
            };
            let own = tokens(&ours.item_words);
            let shared = own.iter().find(|word| {
                words.contains(*word) && !DULL.contains(&word.as_str()) && word.len() > 2
            });
            if let Some(shared) = shared {
                found.push((*line, format!("both have the word \"{shared}\"")));
            }
        }
        found.truncate(CANDIDATES);
        found
    }
}

fn list(items: &[Item]) -> String {
    let labels: Vec<&str> = items.iter().map(Item::label).collect();
    match labels.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        Some((last, _)) => (*last).to_owned(),
        None => String::new(),
    }
}

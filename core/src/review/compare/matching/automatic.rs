//! Matches by item, work and place, where all three can mean one thing only.

use std::collections::{BTreeMap, BTreeSet};

use super::components::{Component, components};
use super::reading::{WorkFamily, family_of_action, family_of_item};
use super::{Group, Matching, Tie};
use crate::review::compare::Certainty;
use crate::review::compare::words::{ActionWords, Cover, ItemWords};
use crate::review::scope::Item;
use crate::sorted::Keyed;

/// The part of the house and what is done to it.
type Bucket = (Item, WorkFamily);

impl Matching<'_> {
    /// Matches what is clear.
    pub(super) fn by_item_work_and_place(&mut self) {
        let mut buckets: BTreeMap<Bucket, Vec<usize>> = BTreeMap::new();
        let stated = self.stated_lines();
        for row in &self.free_rows {
            if let Some(bucket) = self.bucket(*row, &stated) {
                buckets.entry(bucket).or_default().push(*row);
            }
        }
        for (bucket, rows) in buckets {
            self.match_bucket(&bucket, &rows);
        }
    }

    /// The bucket of a row; `None` where its item or work is not clear.
    fn bucket(&self, row: usize, stated: &BTreeSet<usize>) -> Option<Bucket> {
        let reading = self.readings.get(row)?;
        let item = family_of_item(reading.item()?);
        match reading.action {
            ActionWords::Said(action) => Some((item, family_of_action(action))),
            ActionWords::Several => None,
            ActionWords::Unsaid => {
                let work = self.only_work(row, &item, stated)?;
                Some((item, work))
            }
        }
    }

    /// Free lines whose item and work a row that covers them states in so many words.
    fn stated_lines(&self) -> BTreeSet<usize> {
        let mut stated = BTreeSet::new();
        for row in &self.free_rows {
            let Some(reading) = self.readings.get(*row) else {
                continue;
            };
            let (Some(item), Some(said)) = (reading.item(), reading.said()) else {
                continue;
            };
            let (item, work) = (family_of_item(item), family_of_action(said));
            stated.extend(self.free_lines.iter().copied().filter(|line| {
                self.lines.get(*line).is_some_and(|line| {
                    family_of_action(line.action) == work && family_of_item(&line.item) == item
                }) && self.covers(*row, *line)
            }));
        }
        stated
    }

    /// The one kind of work that our free lines of an item ask for where the row stands, apart
    /// from lines whose work another row states.
    fn only_work(&self, row: usize, item: &Item, stated: &BTreeSet<usize>) -> Option<WorkFamily> {
        let works: BTreeSet<WorkFamily> = self
            .free_lines
            .difference(stated)
            .filter_map(|line| Some((*line, self.lines.get(*line)?)))
            .filter(|(line, ours)| &family_of_item(&ours.item) == item && self.covers(row, *line))
            .map(|(_, ours)| family_of_action(ours.action))
            .keyed();
        let mut works = works.into_iter();
        works.next().filter(|_| works.next().is_none())
    }

    pub(super) fn covers(&self, row: usize, line: usize) -> bool {
        let (Some(reading), Some(line)) = (self.readings.get(row), self.lines.get(line)) else {
            return false;
        };
        reading.cover.covers(line.place.as_ref())
    }

    fn match_bucket(&mut self, (item, work): &Bucket, rows: &[usize]) {
        let with_waste = item == &Item::Shingles && self.waste_is_inside(rows);
        let lines: BTreeSet<usize> = self
            .free_lines
            .iter()
            .copied()
            .filter(|line| {
                self.lines.get(*line).is_some_and(|line| {
                    let same = &family_of_item(&line.item) == item;
                    let waste = with_waste && line.item == Item::ShingleWaste;
                    (same || waste) && family_of_action(line.action) == *work
                })
            })
            .keyed();
        let unsaid = |row: &usize| matches!(self.cover(*row), Some(Cover::Unsaid));
        let unplaced = rows.iter().filter(|row| unsaid(row)).count();
        // A row without a place stands for all of ours only where no other row says a place.
        let all_unplaced = unplaced == rows.len();
        let mut covers: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
        for row in rows {
            let clear = match self.cover(*row) {
                Some(Cover::These { .. } | Cover::Whole(_)) => true,
                Some(Cover::Unsaid) => all_unplaced,
                _ => false,
            };
            if clear {
                let covered = lines
                    .iter()
                    .copied()
                    .filter(|line| self.covers(*row, *line));
                covers.insert(*row, covered.keyed());
            }
        }
        for component in components(&covers) {
            self.take_component(component, with_waste);
        }
    }

    pub(super) fn cover(&self, row: usize) -> Option<&Cover> {
        self.readings.get(row).map(|reading| &reading.cover)
    }

    /// Their shingles have the waste in them and no row states it by itself.
    fn waste_is_inside(&self, rows: &[usize]) -> bool {
        let inside = rows
            .iter()
            .filter_map(|row| self.readings.get(*row))
            .any(|reading| reading.with_waste);
        let apart = self
            .readings
            .iter()
            .any(|reading| reading.item() == Some(&Item::ShingleWaste));
        inside && !apart
    }

    fn take_component(&mut self, component: Component, with_waste: bool) {
        let rows = Vec::from_iter(component.rows);
        let lines = Vec::from_iter(component.lines);
        if !component.even {
            let reason = "Their rows cover overlapping places of ours, so that it is not clear which stands for which.";
            self.close(Group::new(
                Tie::Unclear,
                lines,
                rows,
                vec![reason.to_owned()],
            ));
            return;
        }
        let mut certainty = Certainty::Sure;
        let mut reasons = Vec::new();
        for row in &rows {
            let (good, words) = self.reason(*row, &lines);
            certainty = certainty.min(good);
            reasons.push(words);
        }
        if rows.len() > 1 || lines.len() > 1 {
            reasons.push(format!(
                "Compared as sums: {} of theirs with {} of ours.",
                counted(rows.len(), "row"),
                counted(lines.len(), "line")
            ));
            certainty = certainty.min(Certainty::Likely);
        }
        if with_waste {
            reasons.push(
                "Their quantity says that waste is in it: our line of waste is added to ours."
                    .to_owned(),
            );
        }
        self.close(Group::new(Tie::Matched(certainty), lines, rows, reasons));
    }

    /// Why a row stands for lines, and how sure that is.
    fn reason(&self, row: usize, lines: &[usize]) -> (Certainty, String) {
        let mut certainty = Certainty::Sure;
        let (Some(reading), Some(theirs)) = (self.readings.get(row), self.rows.get(row)) else {
            return (Certainty::Unsure, String::new());
        };
        let label = reading.item().map_or("", |item| item.label());
        let mut words = format!("Row {}: \"{}\" is read as {label}", theirs.row, theirs.item);
        if let ItemWords::One { sure: false, .. } = reading.items {
            certainty = Certainty::Likely;
            words += ", the item it names first";
        }
        match reading.action {
            ActionWords::Said(action) => {
                words += &format!("; work: {action}");
                let other = lines
                    .iter()
                    .filter_map(|line| self.lines.get(*line))
                    .any(|line| line.action != action);
                if other {
                    certainty = Certainty::Likely;
                    words += ", compared part by part with ours";
                }
            }
            _ => {
                certainty = Certainty::Likely;
                words += "; it states no work, and ours has one kind of work left there";
            }
        }
        match &reading.cover {
            Cover::These { why, one, .. } => {
                words += &format!("; place: {why}");
                if !one && lines.len() > 1 {
                    certainty = certainty.min(Certainty::Likely);
                }
            }
            Cover::Whole(said) => words += &format!("; place: \"{said}\" is the house as a whole"),
            _ => {
                certainty = Certainty::Likely;
                words +=
                    "; it states no place, nor does another row of theirs for this item and work";
            }
        }
        (certainty, words + ".")
    }

    /// Closes a group: its lines and rows are free no more.
    pub(super) fn close(&mut self, group: Group) {
        for line in &group.lines {
            self.free_lines.remove(line);
        }
        for row in &group.rows {
            self.free_rows.remove(row);
        }
        self.groups.push(group);
    }
}

/// `1 row`, `3 rows`.
pub(super) fn counted(count: usize, what: &str) -> String {
    if count == 1 {
        format!("1 {what}")
    } else {
        format!("{count} {what}s")
    }
}

//! Sums by item, work and unit, and in money. Theirs is shown as theirs.

use std::collections::BTreeMap;

use rust_decimal::Decimal;
use serde::Serialize;

use super::matching::Reading;
use super::outcome::Outcome;
use super::quantities::{in_unit, total};
use super::result::{Entry, Options};
use super::rows::TheirRow;
use crate::job::{Unit, WorkAction};
use crate::review::scope::Item;
use crate::sorted::Keyed;

/// The sums of one item, work and unit on both sides.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ItemTotal {
    /// What.
    pub item: Item,
    /// The work; `None` for rows of theirs that state none and were not matched.
    pub action: Option<WorkAction>,
    /// The unit.
    pub unit: Unit,
    /// Ours.
    pub ours: Decimal,
    /// Theirs, as far as their rows could be read.
    pub theirs: Decimal,
    /// Theirs less ours.
    pub difference: Decimal,
    /// Our lines in it.
    pub lines: u32,
    /// Their rows in it.
    pub rows: u32,
    /// Of their rows, those that were not matched to a line.
    pub rows_not_matched: u32,
}

#[derive(Default)]
struct Sides {
    ours: Vec<Decimal>,
    theirs: Vec<Decimal>,
    rows_not_matched: u32,
}

/// Sums by item, work and unit. A row that was matched counts under the item and work of the line
/// it stands for, squares and square feet in the line's unit; one that names no known item is in
/// no sum.
pub(super) fn item_totals(
    entries: &[Entry],
    readings: &[Reading],
    rows: &[TheirRow],
) -> Vec<ItemTotal> {
    let by_number: BTreeMap<u32, &Reading> = rows.iter().map(|row| row.row).zip(readings).keyed();
    let mut sums: BTreeMap<(Item, Option<WorkAction>, Unit), Sides> = BTreeMap::new();
    for entry in entries {
        for line in &entry.ours {
            if let (Some(quantity), Some(unit)) = (line.quantity, line.unit) {
                let key = (line.item.clone(), Some(line.action), unit);
                sums.entry(key).or_default().ours.push(quantity);
            }
        }
        let matched = !matches!(
            entry.outcome,
            Outcome::NotMatched | Outcome::Extra | Outcome::Missing
        );
        for row in &entry.theirs {
            let (Some(quantity), Some(unit)) = (row.quantity, row.unit) else {
                continue;
            };
            let line = entry.ours.first().filter(|_| matched);
            let reading = by_number.get(&row.row);
            let Some(item) = line.map(|line| &line.item).or_else(|| reading?.item()) else {
                continue;
            };
            let action = line.map(|line| line.action).or_else(|| reading?.said());
            let in_ours = line
                .and_then(|line| line.unit)
                .and_then(|ours| Some((in_unit(quantity, unit, ours)?, ours)));
            let (quantity, unit) = in_ours.unwrap_or((quantity, unit));
            let sides = sums.entry((item.clone(), action, unit)).or_default();
            sides.theirs.push(quantity);
            sides.rows_not_matched += u32::from(!matched);
        }
    }
    let made = sums
        .into_iter()
        .filter_map(|((item, action, unit), sides)| {
            let ours = total(sides.ours.iter().copied())?;
            let theirs = total(sides.theirs.iter().copied())?;
            Some(ItemTotal {
                item,
                action,
                unit,
                ours,
                theirs,
                difference: theirs.checked_sub(ours)?,
                lines: count(sides.ours.len()),
                rows: count(sides.theirs.len()),
                rows_not_matched: sides.rows_not_matched,
            })
        });
    made.collect()
}

/// Sums of money: ours at the user's own prices, theirs as their file states it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Money {
    /// Ours; `None` without a price list.
    pub ours: Option<Decimal>,
    /// Entries of ours without a price or quantity: they are not in the sum.
    pub ours_without: u32,
    /// Theirs; `None` where no row states money.
    pub theirs: Option<Decimal>,
    /// Entries of theirs without money: they are not in the sum.
    pub theirs_without: u32,
}

impl Money {
    pub(super) fn of(entries: &[Entry], options: &Options<'_>) -> Self {
        let ours: Vec<Option<Decimal>> = entries
            .iter()
            .filter(|entry| !entry.ours.is_empty())
            .map(|entry| entry.our_money)
            .collect();
        let theirs: Vec<Option<Decimal>> = entries
            .iter()
            .filter(|entry| !entry.theirs.is_empty())
            .map(|entry| entry.their_money)
            .collect();
        let without = |amounts: &[Option<Decimal>]| {
            count(amounts.iter().filter(|amount| amount.is_none()).count())
        };
        let stated = theirs.iter().any(Option::is_some);
        Self {
            ours: options
                .prices
                .and_then(|_| total(ours.iter().copied().flatten())),
            ours_without: options.prices.map_or(0, |_| without(&ours)),
            theirs: if stated {
                total(theirs.iter().copied().flatten())
            } else {
                None
            },
            theirs_without: if stated { without(&theirs) } else { 0 },
        }
    }
}

fn count(number: usize) -> u32 {
    u32::try_from(number).unwrap_or(u32::MAX)
}

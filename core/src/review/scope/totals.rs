//! Sums of a scope, by item, action and unit.

use std::collections::BTreeMap;

use super::{Item, Quantity, ScopeLine, Total};
use crate::job::{Unit, WorkAction};

/// The sums of the lines. Quantities are added as they stand on the lines, so that a reader can
/// add them up too.
pub(super) fn totals(lines: &[ScopeLine]) -> Vec<Total> {
    let mut sums: BTreeMap<(Item, WorkAction, Unit), (f64, u32)> = BTreeMap::new();
    let mut unknown: BTreeMap<(Item, WorkAction), u32> = BTreeMap::new();
    for line in lines {
        match line.quantity {
            Some(quantity) => {
                let key = (line.item.clone(), line.action, quantity.unit());
                let sum = sums.entry(key).or_default();
                sum.0 += quantity.value();
                sum.1 += 1;
            }
            None => *unknown.entry((line.item.clone(), line.action)).or_default() += 1,
        }
    }
    sums.into_iter()
        .filter_map(|((item, action, unit), (sum, lines))| {
            let without_quantity = unknown.get(&(item.clone(), action)).copied().unwrap_or(0);
            Some(Total {
                quantity: Quantity::new(sum, unit)?,
                item,
                action,
                lines,
                without_quantity,
            })
        })
        .collect()
}

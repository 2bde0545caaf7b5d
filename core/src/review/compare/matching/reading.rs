//! What one of their rows says: item, work, place.

use crate::job::WorkAction;
use crate::review::compare::rows::TheirRow;
use crate::review::compare::words::{
    ActionWords, Cover, ItemWords, Items, Places, action_of, item_of,
};
use crate::review::scope::Item;
use crate::sorted::Sorted;

/// Work of one family changes the same thing: taking off and putting new is remove and replace.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(in crate::review::compare) enum WorkFamily {
    /// Removing, installing, or both.
    Renew,
    /// Any other work by itself.
    Other(WorkAction),
}

/// The family of some work.
pub(in crate::review::compare) fn family_of_action(action: WorkAction) -> WorkFamily {
    match action {
        WorkAction::RemoveAndReplace | WorkAction::RemoveOnly | WorkAction::Install => {
            WorkFamily::Renew
        }
        other => WorkFamily::Other(other),
    }
}

/// The item that stands for all that are the same part of a house: a valley is one, however lined.
pub(in crate::review::compare) fn family_of_item(item: &Item) -> Item {
    match item {
        Item::ValleyOpenMetal
        | Item::ValleyClosedCut
        | Item::ValleyWoven
        | Item::ValleyRollRoofing => Item::Valley,
        other => other.clone(),
    }
}

/// One row, read.
#[derive(Clone, Debug)]
pub(in crate::review::compare) struct Reading {
    pub(in crate::review::compare) items: ItemWords,
    pub(in crate::review::compare) action: ActionWords,
    pub(in crate::review::compare) cover: Cover,
    /// The words say that cutting waste is in the quantity.
    pub(in crate::review::compare) with_waste: bool,
}

impl Reading {
    pub(super) fn of(row: &TheirRow, items: &Items, places: &Places) -> Self {
        let action = match action_of(&row.action) {
            ActionWords::Unsaid => action_of(&row.item),
            said => said,
        };
        let cover = match places.read(&row.place) {
            Cover::Unsaid => places.read_in_item(&row.item),
            // "Roof" above and "left slope" in the row: the row is the finer word.
            Cover::Whole(words) => match places.read_in_item(&row.item) {
                Cover::Unsaid => Cover::Whole(words),
                finer => finer,
            },
            read => read,
        };
        let words = item_of(items, &row.item);
        let shingles = matches!(
            &words,
            ItemWords::One {
                item: Item::Shingles,
                ..
            }
        );
        let with_waste = shingles && says_waste(&format!("{} {}", row.item, row.remarks));
        Self {
            items: words,
            action,
            cover,
            with_waste,
        }
    }

    /// The one item, where the row names one.
    pub(in crate::review::compare) fn item(&self) -> Option<&Item> {
        match &self.items {
            ItemWords::One { item, .. } => Some(item),
            _ => None,
        }
    }

    /// The families of the items that the row names.
    pub(super) fn families(&self) -> Vec<Item> {
        let mut families: Vec<Item> = match &self.items {
            ItemWords::One { item, .. } => vec![family_of_item(item)],
            ItemWords::Several(items) => items.iter().map(family_of_item).collect(),
            ItemWords::None => Vec::new(),
        };
        families.order();
        families.dedup();
        families
    }

    /// The work, where the row states one.
    pub(in crate::review::compare) fn said(&self) -> Option<WorkAction> {
        match self.action {
            ActionWords::Said(action) => Some(action),
            _ => None,
        }
    }
}

fn says_waste(words: &str) -> bool {
    let spoken = crate::review::compare::words::tokens(words);
    let at = spoken.iter().position(|word| word == "waste");
    let before = at.and_then(|at| spoken.get(..at)).unwrap_or_default();
    at.is_some() && !before.iter().any(|word| word == "without" || word == "not")
}

//! The item that a row names.

use super::{Phrase, tokens};
use crate::review::scope::Item;
use crate::sorted::Sorted;

/// Words behind which a text tells more of the item and no longer which item it is.
const BEHIND: &[&str] = &[
    ",",
    "for",
    "at",
    "on",
    "in",
    "over",
    "under",
    "with",
    "including",
    "without",
    "per",
    "to",
    "from",
    "behind",
    "around",
    "along",
    "near",
    "by",
    "above",
    "below",
    "beside",
    "against",
];

/// What some words say of the item.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::review::compare) enum ItemWords {
    /// One item; `sure` where the words name no other anywhere.
    One {
        /// The item.
        item: Item,
        /// The words name no other item behind it.
        sure: bool,
    },
    /// More than one with equal right.
    Several(Vec<Item>),
    /// None that is known.
    None,
}

/// The synonyms of every item, made alike once.
pub(in crate::review::compare) struct Items(Vec<(Phrase, Item)>);

/// Reads the item from words. The longest words count: a gutter guard is no gutter. Of several
/// items the one counts that stands before the first "for", "at", comma and the like.
pub(in crate::review::compare) fn item_of(items: &Items, words: &str) -> ItemWords {
    let spoken = tokens(words);
    let mut hits: Vec<(usize, usize, &Item)> = Vec::new();
    for (phrase, item) in &items.0 {
        hits.extend(phrase.places(&spoken).map(|at| (at, phrase.len(), item)));
    }
    hits.order_by_key(|(at, length, item)| (std::cmp::Reverse(*length), *at, *item));
    let mut kept: Vec<(usize, usize, &Item)> = Vec::new();
    for (at, length, item) in hits {
        let inside = kept
            .iter()
            .any(|(start, long, _)| at < start + long && *start < at + length);
        if !inside {
            kept.push((at, length, item));
        }
    }
    let part = |at: usize| {
        let before = spoken.get(..at).unwrap_or_default();
        // Words of a longer name part nothing: "ice barrier in valley" is one item.
        let in_name = |index: usize| {
            kept.iter()
                .any(|(start, long, _)| index > *start && index < start + long)
        };
        before
            .iter()
            .enumerate()
            .filter(|(index, word)| {
                BEHIND.contains(&word.as_str()) && !in_name(*index) && !is_inch(&spoken, *index)
            })
            .count()
    };
    let first = kept.iter().map(|(at, _, _)| part(*at)).min();
    let mut named: Vec<Item> = kept
        .iter()
        .filter(|(at, _, _)| Some(part(*at)) == first)
        .map(|(_, _, item)| (*item).clone())
        .collect();
    named.order();
    named.dedup();
    match named.as_slice() {
        [] => ItemWords::None,
        [item] => ItemWords::One {
            item: item.clone(),
            sure: kept.iter().all(|(_, _, other)| *other == item),
        },
        _ => ItemWords::Several(named),
    }
}

/// "in" behind a number is an inch.
fn is_inch(words: &[String], at: usize) -> bool {
    let before = at.checked_sub(1).and_then(|at| words.get(at));
    words.get(at).is_some_and(|word| word == "in")
        && before.is_some_and(|word| word.starts_with(|c: char| c.is_ascii_digit()))
}

impl Items {
    /// The items of the table.
    pub(in crate::review::compare) fn of_the_table() -> Self {
        let mut all: Vec<(Phrase, Item)> = Vec::new();
        for item in Item::ALL {
            for words in std::iter::once(item.label()).chain(item.synonyms().iter().copied()) {
                all.push((Phrase::new(words), item.clone()));
            }
        }
        all.order();
        all.dedup();
        Self(all)
    }

    /// The items of the table, and those that somebody added in words of their own.
    pub(in crate::review::compare) fn with<'a>(others: impl IntoIterator<Item = &'a Item>) -> Self {
        let mut items = Self::of_the_table();
        for item in others {
            if matches!(item, Item::Other(_)) {
                items.0.push((Phrase::new(item.label()), item.clone()));
            }
        }
        items.0.order();
        items.0.dedup();
        items
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(words: &str) -> ItemWords {
        item_of(&Items::of_the_table(), words)
    }

    #[test]
    fn every_synonym_names_its_item() {
        for item in Item::ALL {
            for words in std::iter::once(item.label()).chain(item.synonyms().iter().copied()) {
                let ItemWords::One { item: read, .. } = read(words) else {
                    panic!("\"{words}\" of {item} is read as {:?}", read(words));
                };
                assert_eq!(&read, item, "{words}");
            }
        }
    }

    #[test]
    fn the_longest_words_before_the_first_turn_count() {
        let one = |words: &str| match read(words) {
            ItemWords::One { item, .. } => item,
            other => panic!("{words}: {other:?}"),
        };
        assert_eq!(one("R&R Gutter guard for 5\" gutter"), Item::GutterGuard);
        assert_eq!(one("Step flashing at chimney"), Item::StepFlashing);
        assert_eq!(one("5 in. K-style gutter with hangers"), Item::Gutter);
        assert_eq!(one("Remove add'l layer of shingles"), Item::SecondLayer);
        assert_eq!(one("Ice & Water Shield in valleys"), Item::IceBarrier);
    }

    #[test]
    fn two_items_in_one_row_are_left_to_a_person() {
        assert_eq!(
            read("Gutters / downspouts"),
            ItemWords::Several(vec![Item::Gutter, Item::Downspout])
        );
        assert_eq!(read("General conditions"), ItemWords::None);
        assert_eq!(read(""), ItemWords::None);
    }
}

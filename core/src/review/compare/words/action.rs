//! The work that a row asks for.

use std::sync::LazyLock;

use super::{Phrase, tokens};
use crate::job::WorkAction;
use crate::sorted::Sorted;

/// What people write for each kind of work (common practice, no source).
const WORDS: &[(WorkAction, &[&str])] = &[
    (
        WorkAction::RemoveAndReplace,
        &[
            "remove and replace",
            "remove & replace",
            "r&r",
            "tear off and replace",
            "remove replace",
            "replace",
            "replacement",
            "tear out and replace",
        ],
    ),
    (
        WorkAction::RemoveOnly,
        &[
            "remove only",
            "remove",
            "removal",
            "tear off",
            "tear-off",
            "tearoff",
            "demolish",
            "tear out",
        ],
    ),
    (
        WorkAction::Install,
        &[
            "install",
            "furnish and install",
            "supply and install",
            "installation",
            "new",
        ],
    ),
    (
        WorkAction::DetachAndReset,
        &[
            "detach and reset",
            "d&r",
            "take off and put back",
            "remove and reset",
            "remove and reinstall",
            "detach",
            "reset",
            "remove and put back",
            "take down and put back",
        ],
    ),
    (
        WorkAction::Repair,
        &["repair", "spot repair", "minor repair", "patch"],
    ),
    (
        WorkAction::StraightenFins,
        &[
            "straighten fins",
            "straighten",
            "comb fins",
            "comb and straighten fins",
            "comb",
            "comb and straighten",
            "fin straightening",
        ],
    ),
    (
        WorkAction::Clean,
        &["clean", "wash", "pressure wash", "cleaning"],
    ),
    (
        WorkAction::Paint,
        &[
            "paint",
            "prime and paint",
            "repaint",
            "painting",
            "paint to match",
            "prime and paint to match",
        ],
    ),
    (
        WorkAction::Stain,
        &[
            "stain",
            "stain and seal",
            "seal and stain",
            "staining",
            "stain/finish",
            "stain to match",
        ],
    ),
    (WorkAction::Inspect, &["inspect", "inspection"]),
    (
        WorkAction::Charge,
        &["charge", "additional charge", "surcharge", "extra charge"],
    ),
];

/// The phrases, made alike once.
static PHRASES: LazyLock<Vec<(Phrase, WorkAction)>> = LazyLock::new(|| {
    let words = WORDS
        .iter()
        .flat_map(|(action, words)| words.iter().map(|word| (*word, *action)));
    words
        .map(|(word, action)| (Phrase::new(word), action))
        .collect()
});

/// What some words say of the work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::review::compare) enum ActionWords {
    /// One kind of work.
    Said(WorkAction),
    /// Nothing.
    Unsaid,
    /// More than one kind.
    Several,
}

/// Reads the work from words. Removing here and installing there, in one row, is remove and
/// replace.
pub(in crate::review::compare) fn action_of(words: &str) -> ActionWords {
    let spoken = tokens(words);
    let mut hits: Vec<(usize, usize, WorkAction)> = Vec::new();
    for (phrase, action) in PHRASES.iter() {
        hits.extend(phrase.places(&spoken).map(|at| (at, phrase.len(), *action)));
    }
    // The longest hit first; a shorter one inside of it says nothing of its own.
    hits.order_by_key(|(at, length, action)| (std::cmp::Reverse(*length), *at, *action));
    let mut kept: Vec<(usize, usize, WorkAction)> = Vec::new();
    for (at, length, action) in hits {
        let inside = kept
            .iter()
            .any(|(start, long, _)| at < start + long && *start < at + length);
        if !inside {
            kept.push((at, length, action));
        }
    }
    let mut said: Vec<WorkAction> = kept.iter().map(|(_, _, action)| *action).collect();
    said.order();
    said.dedup();
    use WorkAction as W;
    match said.as_slice() {
        [] => ActionWords::Unsaid,
        [one] => ActionWords::Said(*one),
        [W::RemoveAndReplace, W::RemoveOnly]
        | [W::RemoveAndReplace, W::Install]
        | [W::RemoveOnly, W::Install]
        | [W::RemoveAndReplace, W::RemoveOnly, W::Install] => {
            ActionWords::Said(W::RemoveAndReplace)
        }
        _ => ActionWords::Several,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_of_work_is_read_from_its_label() {
        for action in WorkAction::ALL {
            assert_eq!(
                action_of(action.label()),
                ActionWords::Said(*action),
                "{action}"
            );
        }
    }

    #[test]
    fn words_of_the_trade_are_read() {
        use ActionWords::*;
        for (words, read) in [
            ("R&R gutter", Said(WorkAction::RemoveAndReplace)),
            ("Detach & reset guards", Said(WorkAction::DetachAndReset)),
            ("Remove and reset dish", Said(WorkAction::DetachAndReset)),
            (
                "Tear off shingles, install new",
                Said(WorkAction::RemoveAndReplace),
            ),
            ("Tear off, haul away", Said(WorkAction::RemoveOnly)),
            (
                "Comb and straighten condenser fins",
                Said(WorkAction::StraightenFins),
            ),
            ("Additional charge for steep roof", Said(WorkAction::Charge)),
            ("Clean and paint", Several),
            ("Gutter", Unsaid),
        ] {
            assert_eq!(action_of(words), read, "{words}");
        }
    }
}

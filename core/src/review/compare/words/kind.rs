//! Sizes and kinds that tell one such item from another: a gutter's width, the kind of shingle.

use super::{Phrase, tokens};
use crate::job::Length;
use crate::review::scope::Item;

/// A kind, and the words that name it.
type Kind = (&'static str, &'static [&'static str]);

/// Kinds of which a part is one or the other (common practice, no source).
const KINDS: &[(Item, &[Kind])] = &[
    (
        Item::Shingles,
        &[
            ("three-tab", &["three-tab", "3-tab", "3 tab", "three tab"]),
            (
                "laminated",
                &["laminated", "architectural", "dimensional", "laminate"],
            ),
        ],
    ),
    (
        Item::Underlayment,
        &[
            ("15 lb felt", &["15 lb", "#15", "15#", "15 pound"]),
            ("30 lb felt", &["30 lb", "#30", "30#", "30 pound"]),
            ("synthetic", &["synthetic"]),
        ],
    ),
];

/// The kinds of an item that some words name.
pub(in crate::review::compare) fn kinds_in(item: &Item, words: &str) -> Vec<&'static str> {
    let spoken = tokens(words);
    KINDS
        .iter()
        .filter(|(of, _)| of == item)
        .flat_map(|(_, kinds)| kinds.iter())
        .filter(|(_, words)| words.iter().any(|words| Phrase::new(words).is_in(&spoken)))
        .map(|(kind, _)| *kind)
        .collect()
}

/// The one size in inches that some words name; `None` for none or for several that differ.
pub(in crate::review::compare) fn size_in(words: &str) -> Option<Length> {
    let spoken = tokens(words);
    let mut sizes = spoken
        .windows(2)
        .filter(|pair| pair[1] == "in")
        .filter_map(|pair| {
            let inches: f64 = pair[0].parse().ok()?;
            (inches > 0.0 && inches < 120.0).then(|| Length::from_inches_f64(inches))
        });
    let first = sizes.next()?;
    sizes.all(|size| size == first).then_some(first)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_and_kinds_are_read() {
        assert_eq!(size_in("Gutter, aluminum, 5\""), Some(Length::inches(5)));
        assert_eq!(size_in("6 inch gutter"), Some(Length::inches(6)));
        assert_eq!(size_in("6in gutter"), Some(Length::inches(6)));
        assert_eq!(size_in("gutter 5 in to 6 in"), None);
        assert_eq!(size_in("gutter"), None);
        assert_eq!(
            kinds_in(&Item::Shingles, "3-tab shingles, 25 yr"),
            ["three-tab"]
        );
        assert_eq!(kinds_in(&Item::Underlayment, "Felt #15"), ["15 lb felt"]);
        assert!(kinds_in(&Item::Gutter, "three tab").is_empty());
    }
}

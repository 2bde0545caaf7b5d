//! Hail sizes told by likeness: "golf ball" is 1.75 in.
//!
//! The lists do not agree on every object. A reading therefore keeps what the reporter said, and
//! gives a range where lists differ.

use serde::Serialize;

/// One object that hail is likened to.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SizeWord {
    /// The object.
    pub word: &'static str,
    /// Other names for it.
    pub also: &'static [&'static str],
    /// Diameter most lists give, inches.
    pub inches: f64,
    /// Smallest and largest diameter that lists give, inches.
    pub range: (f64, f64),
    /// How lists differ; empty where they agree.
    pub differs: &'static str,
}

const fn word(word: &'static str, also: &'static [&'static str], inches: f64) -> SizeWord {
    SizeWord {
        word,
        also,
        inches,
        range: (inches, inches),
        differs: "",
    }
}

const fn disputed(row: SizeWord, range: (f64, f64), differs: &'static str) -> SizeWord {
    SizeWord {
        range,
        differs,
        ..row
    }
}

/// The objects, by size. Source: size lists of the US National Weather Service and its Storm
/// Prediction Center; lists of single forecast offices where a row says that lists differ.
pub const SIZE_WORDS: &[SizeWord] = &[
    disputed(
        word("pea", &[], 0.25),
        (0.25, 0.5),
        "lists say 1/4 in, 1/4 to 3/8 in, or nothing at all because peas differ",
    ),
    disputed(
        word("marble", &["mothball", "moth ball", "small marble"], 0.50),
        (0.50, 0.75),
        "most lists say 1/2 in; a shooter marble is 3/4 in",
    ),
    word("penny", &["dime"], 0.75),
    word("nickel", &[], 0.88),
    word("quarter", &[], 1.00),
    word("half dollar", &[], 1.25),
    word(
        "walnut",
        &["ping pong ball", "ping pong", "table tennis ball"],
        1.50,
    ),
    word("golf ball", &[], 1.75),
    word("hen egg", &["egg", "lime"], 2.00),
    word("tennis ball", &[], 2.50),
    word("baseball", &[], 2.75),
    word("tea cup", &["large apple"], 3.00),
    disputed(
        word("grapefruit", &[], 4.00),
        (4.00, 4.50),
        "national lists say 4 in; some forecast offices 4-1/2 in",
    ),
    disputed(
        word("softball", &[], 4.50),
        (4.00, 4.50),
        "national lists say 4-1/2 in; some forecast offices 4 in",
    ),
];

/// A reporter's word and what it stands for.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SizeReading {
    /// What the reporter said, unchanged: it is kept beside the number.
    pub said: String,
    /// The object it was read as.
    pub word: &'static str,
    /// Diameter most lists give, inches.
    pub inches: f64,
    /// Smallest and largest diameter that lists give, inches.
    pub range: (f64, f64),
    /// How lists differ; empty where they agree.
    pub differs: &'static str,
}

/// Reads a reporter's word such as "Golf ball", "quarters" or "golfball-sized hail". `None` where
/// no list has it: ask for a diameter then.
pub fn inches_from_word(said: &str) -> Option<SizeReading> {
    let key = key(said);
    let row = SIZE_WORDS.iter().find(|row| {
        std::iter::once(&row.word)
            .chain(row.also)
            .any(|name| self::key(name) == key)
    })?;
    Some(SizeReading {
        said: said.to_owned(),
        word: row.word,
        inches: row.inches,
        range: row.range,
        differs: row.differs,
    })
}

/// Letters alone, without "size", "sized", "hail" and the plural.
fn key(said: &str) -> String {
    const FILLERS: &[&str] = &[
        "size",
        "sized",
        "hail",
        "hailstone",
        "hailstones",
        "a",
        "of",
    ];
    let lower = said.to_lowercase();
    let mut letters = String::new();
    for part in lower.split(|c: char| !c.is_alphanumeric()) {
        if !FILLERS.contains(&part) {
            letters.push_str(part);
        }
    }
    let plural = |ending: &str, instead: &str| {
        letters
            .strip_suffix(ending)
            .map(|stem| format!("{stem}{instead}"))
    };
    plural("ies", "y")
        .or_else(|| plural("s", ""))
        .unwrap_or_else(|| letters.clone())
}

/// The object nearest to a diameter, with the neighbours on both sides.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NearestWord {
    /// The diameter, inches.
    pub inches: f64,
    /// The nearest object; the smaller one where two are as near.
    pub nearest: &'static SizeWord,
    /// The largest object that is no larger.
    pub below: Option<&'static SizeWord>,
    /// The smallest object that is no smaller.
    pub above: Option<&'static SizeWord>,
    /// All of it in words.
    pub words: String,
}

/// The objects nearest to a diameter in inches. `None` for what is no size (zero, negative, not a
/// number, over 12 in).
pub fn words_for(inches: f64) -> Option<NearestWord> {
    if !(inches > 0.0 && inches <= 12.0) {
        return None;
    }
    let below = SIZE_WORDS.iter().rev().find(|row| row.inches <= inches);
    let above = SIZE_WORDS.iter().find(|row| row.inches >= inches);
    let nearest = match (below, above) {
        (Some(low), Some(high)) if high.inches - inches < inches - low.inches => high,
        (Some(low), _) => low,
        (None, high) => high?,
    };
    let words = match (below, above) {
        (Some(low), Some(high)) if low.word == high.word => low.word.to_owned(),
        (Some(low), Some(high)) => format!(
            "between {} ({:.2} in) and {} ({:.2} in), nearest to {}",
            low.word, low.inches, high.word, high.inches, nearest.word
        ),
        (None, _) => format!("smaller than {} ({:.2} in)", nearest.word, nearest.inches),
        (_, None) => format!("larger than {} ({:.2} in)", nearest.word, nearest.inches),
    };
    Some(NearestWord {
        inches,
        nearest,
        below,
        above,
        words,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Size lists of the US National Weather Service.
    #[test]
    fn words_have_the_inches_of_the_lists() {
        for (said, inches) in [
            ("pea", 0.25),
            ("Marbles", 0.50),
            ("penny", 0.75),
            ("pennies", 0.75),
            ("nickel size", 0.88),
            ("quarter-sized hail", 1.00),
            ("Half Dollar", 1.25),
            ("half-dollars", 1.25),
            ("walnut", 1.50),
            ("ping-pong balls", 1.50),
            ("GOLFBALL", 1.75),
            ("hen egg", 2.00),
            ("tennis ball", 2.50),
            ("baseballs", 2.75),
            ("teacup", 3.00),
        ] {
            let reading = inches_from_word(said).unwrap_or_else(|| panic!("{said} was not read"));
            assert_eq!(reading.inches, inches, "{said}");
            assert_eq!(reading.said, said);
        }
        for said in ["", "hail", "big", "quarters and dimes", "éclair", "\u{0}"] {
            assert_eq!(inches_from_word(said), None, "{said:?}");
        }
    }

    #[test]
    fn words_on_which_lists_differ_have_a_range() {
        for said in ["pea", "marble", "grapefruit", "softball"] {
            let reading = inches_from_word(said).unwrap();
            assert!(reading.range.0 < reading.range.1, "{said}");
            assert!(!reading.differs.is_empty(), "{said}");
        }
        let golf = inches_from_word("golf ball").unwrap();
        assert_eq!((golf.range, golf.differs), ((1.75, 1.75), ""));
    }

    #[test]
    fn a_diameter_between_two_words_names_both() {
        assert_eq!(
            words_for(1.6).unwrap().words,
            "between walnut (1.50 in) and golf ball (1.75 in), nearest to walnut"
        );
        assert_eq!(words_for(1.75).unwrap().words, "golf ball");
        assert_eq!(words_for(0.1).unwrap().words, "smaller than pea (0.25 in)");
        assert_eq!(
            words_for(8.0).unwrap().words,
            "larger than softball (4.50 in)"
        );
        // As far from one as from the other: the smaller one, and both are named.
        assert_eq!(words_for(1.625).unwrap().nearest.word, "walnut");
        for none in [0.0, -1.0, f64::NAN, f64::INFINITY, 13.0] {
            assert_eq!(words_for(none), None);
        }
    }

    #[test]
    fn the_table_rises_and_reads_back() {
        for pair in SIZE_WORDS.windows(2) {
            assert!(pair[0].inches < pair[1].inches);
        }
        for row in SIZE_WORDS {
            for name in std::iter::once(&row.word).chain(row.also) {
                assert_eq!(inches_from_word(name).unwrap().word, row.word);
            }
            assert!(row.range.0 <= row.inches && row.inches <= row.range.1);
            assert_eq!(words_for(row.inches).unwrap().nearest.word, row.word);
        }
    }
}

//! Sides and bearings in words.

use crate::job::Side;

/// What one word says of a side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum SideWord {
    /// A side by its name.
    Side(Side),
    /// A letter that two sides begin with.
    Unclear,
    /// A bearing, degrees clockwise from north.
    Bearing(f64),
}

/// Words that may stand between or behind the names of sides.
const BEHIND_A_SIDE: &[&str] = &[
    "elevation",
    "slope",
    "side",
    "wall",
    "face",
    "facing",
    "eave",
];

const BEARINGS: &[(&[&str], f64)] = &[
    (&["n", "north"], 0.0),
    (&["ne", "northeast"], 45.0),
    (&["e", "east"], 90.0),
    (&["se", "southeast"], 135.0),
    (&["s", "south"], 180.0),
    (&["sw", "southwest"], 225.0),
    (&["w", "west"], 270.0),
    (&["nw", "northwest"], 315.0),
];

/// The sides that some words name and the words that are left. Words of an item name a side only
/// before "elevation", "slope" and the like: a front door is no side.
pub(super) fn sides_in(words: &[String], of_a_place: bool) -> (Vec<SideWord>, Vec<String>) {
    let words = joined(words);
    let mut sides = Vec::new();
    let mut left = Vec::new();
    for (at, word) in words.iter().enumerate() {
        let follows = |index: usize| words.get(index).map(String::as_str);
        let before_side = follows(at + 1).is_some_and(|next| {
            BEHIND_A_SIDE.contains(&next)
                || next == "and"
                    && follows(at + 3).is_some_and(|next| BEHIND_A_SIDE.contains(&next))
        });
        match side_word(word).filter(|_| of_a_place || before_side) {
            Some(side) => sides.push(side),
            None => left.push(word.clone()),
        }
    }
    (sides, left)
}

/// "north east" and "south-west" become one word.
fn joined(words: &[String]) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for word in words {
        match out.last_mut() {
            Some(last)
                if (last == "north" || last == "south") && (word == "east" || word == "west") =>
            {
                last.push_str(word);
            }
            _ => out.push(word.clone()),
        }
    }
    out
}

fn side_word(word: &str) -> Option<SideWord> {
    match word {
        "front" | "f" => return Some(SideWord::Side(Side::Front)),
        "right" => return Some(SideWord::Side(Side::Right)),
        "rear" | "b" => return Some(SideWord::Side(Side::Rear)),
        "left" | "l" => return Some(SideWord::Side(Side::Left)),
        "r" => return Some(SideWord::Unclear),
        _ => {}
    }
    BEARINGS
        .iter()
        .find(|(words, _)| words.contains(&word))
        .map(|(_, degrees)| SideWord::Bearing(*degrees))
}

/// Degrees between two bearings, 0 to 180; infinite where one is no number.
pub(super) fn apart(one: f64, other: f64) -> f64 {
    let turn = (one - other).rem_euclid(360.0);
    let apart = turn.min(360.0 - turn);
    if apart.is_finite() {
        apart
    } else {
        f64::INFINITY
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::review::compare::words::tokens;

    #[test]
    fn sides_are_read_from_places_and_hardly_from_items() {
        let read = |words: &str, of_a_place| sides_in(&tokens(words), of_a_place).0;
        assert_eq!(read("F slope", true), [SideWord::Side(Side::Front)]);
        assert_eq!(read("Back", true), [SideWord::Side(Side::Rear)]);
        assert_eq!(read("R elevation", true), [SideWord::Unclear]);
        assert_eq!(read("South-West side", true), [SideWord::Bearing(225.0)]);
        assert_eq!(
            read("front and left elevations", false),
            [SideWord::Side(Side::Front), SideWord::Side(Side::Left)]
        );
        assert!(read("front door", false).is_empty());
    }

    #[test]
    fn bearings_wrap_at_north() {
        assert_eq!(apart(350.0, 10.0), 20.0);
        assert_eq!(apart(0.0, 180.0), 180.0);
        assert!(apart(f64::NAN, 0.0).is_infinite());
        assert!(apart(f64::INFINITY, 0.0).is_infinite());
    }
}

//! One cell as a measure: bare numbers take the unit of their column's head.

use super::columns::words_of;
use crate::job::{Area, EdgeKind, Length, Pitch};

/// An area: "429", "429 sq ft", "4.29 SQ"; bare numbers are square feet unless the head says
/// squares.
pub(super) fn area(text: &str, head: &str) -> Result<Area, String> {
    let squares = words_of(head).any(|word| word == "squares")
        || (words_of(head).any(|word| word == "sq") && !words_of(head).any(|word| is_foot(&word)));
    let metric = words_of(head).any(|word| matches!(word.as_str(), "m2" | "sqm" | "m²"));
    let plain = plain(text);
    let read = if number(&plain) && metric {
        return Err(format!("\"{text}\" is in square metres: give square feet"));
    } else if number(&plain) {
        format!("{plain} {}", if squares { "sq" } else { "sq ft" }).parse()
    } else {
        let lower = plain.to_lowercase().replace("sqft", "sq ft");
        lower.replace("square feet", "sq ft").parse()
    };
    read.map_err(|_| format!("\"{text}\" is no area: write 429 sq ft or 4.29 SQ"))
}

/// A pitch: "6/12", "6:12", "6 in 12", "6"; with degrees in the head or the cell, an angle.
pub(super) fn pitch(text: &str, head: &str) -> Result<Pitch, String> {
    let lower = text.to_lowercase();
    let spoken = lower.replace(" in ", "/").replace(':', "/");
    let spoken: String = spoken.split_whitespace().collect();
    let degrees = words_of(head).any(|word| matches!(word.as_str(), "deg" | "degrees" | "angle"));
    let angle = lower
        .trim_end_matches("degrees")
        .trim_end_matches("deg")
        .trim_end_matches('°')
        .trim();
    let read = if (degrees || angle.len() < lower.len()) && number(angle) {
        let radians = angle.parse::<f64>().ok().map(f64::to_radians);
        radians.and_then(|angle| Pitch::from_rise(angle.tan() * 12.0))
    } else if number(&spoken) {
        spoken.parse().ok().and_then(Pitch::from_rise)
    } else {
        spoken.parse().ok()
    };
    read.ok_or_else(|| format!("\"{text}\" is no pitch from 0/12 to 40/12: write 6/12"))
}

/// A length: "24", "24 ft", "24' 6\""; bare numbers are feet unless the head says inches.
pub(super) fn length(text: &str, head: &str) -> Result<Length, String> {
    let inches = words_of(head).any(|word| matches!(word.as_str(), "in" | "inch" | "inches"));
    let metric = words_of(head).any(|word| matches!(word.as_str(), "m" | "metre" | "meters"));
    let plain = plain(text);
    let read = if number(&plain) && metric {
        return Err(format!("\"{text}\" is in metres: give feet"));
    } else if number(&plain) {
        format!("{plain} {}", if inches { "in" } else { "ft" }).parse::<Length>()
    } else {
        plain
            .replace("LF", "ft")
            .replace("lf", "ft")
            .parse::<Length>()
    };
    match read {
        Ok(length) if length.as_64ths() >= 0 => Ok(length),
        _ => Err(format!("\"{text}\" is no length: write 24 ft or 24' 6\"")),
    }
}

/// The kind of edge that a cell names, in the words of the trade.
pub(super) fn edge_kind(text: &str) -> Option<EdgeKind> {
    const WORDS: &[(&str, EdgeKind)] = &[
        ("headwall", EdgeKind::Headwall),
        ("sidewall", EdgeKind::Sidewall),
        ("step", EdgeKind::Sidewall),
        ("eave", EdgeKind::Eave),
        ("rake", EdgeKind::Rake),
        ("ridge", EdgeKind::Ridge),
        ("hip", EdgeKind::Hip),
        ("valley", EdgeKind::Valley),
    ];
    let mut found = None;
    for word in words_of(text) {
        let single = word.strip_suffix('s').unwrap_or(&word);
        let kind = WORDS.iter().find(|(known, _)| *known == single);
        match (kind, found) {
            (Some((_, kind)), Some(before)) if before != *kind => return None,
            (Some((_, kind)), _) => found = Some(*kind),
            _ => {}
        }
    }
    found
}

/// True for the sums that reports put below their rows.
pub(super) fn is_total(text: &str) -> bool {
    words_of(text).any(|word| matches!(word.as_str(), "total" | "totals" | "sum" | "subtotal"))
}

fn is_foot(word: &str) -> bool {
    matches!(word, "ft" | "feet" | "foot")
}

fn number(text: &str) -> bool {
    let digits = |c: char| c.is_ascii_digit() || c == '.';
    !text.is_empty() && text.chars().all(digits) && text.parse::<f64>().is_ok()
}

/// Without the commas between thousands.
fn plain(text: &str) -> String {
    let text = text.trim();
    let mut groups = text.split(',');
    let first = groups.next().unwrap_or_default();
    let head = !first.is_empty() && first.len() <= 3;
    let thousands = head
        && first.bytes().all(|b| b.is_ascii_digit())
        && text.contains(',')
        && groups.all(|group| {
            group.len() >= 3
                && group.bytes().take(3).all(|b| b.is_ascii_digit())
                && !group.as_bytes().get(3).is_some_and(u8::is_ascii_digit)
        });
    if thousands {
        text.replace(',', "")
    } else {
        text.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_are_read_as_people_write_them() {
        let square_feet = |text, head| area(text, head).map(|a| a.to_square_feet());
        assert_eq!(square_feet("429", "Area"), Ok(429.0));
        assert_eq!(square_feet("1,429.5", "Area (sq ft)"), Ok(1429.5));
        assert_eq!(square_feet("4.29", "Squares"), Ok(429.0));
        assert_eq!(square_feet("4.29 SQ", "Area"), Ok(429.0));
        assert_eq!(square_feet("429 square feet", ""), Ok(429.0));
        assert!(area("40", "Area m2").is_err() && area("-4", "Area").is_err());
        for text in ["6/12", "6:12", "6 in 12", "6", "6.0", "6 / 12"] {
            assert_eq!(pitch(text, "Pitch").map(Pitch::rise), Ok(6.0), "{text}");
        }
        assert_eq!(pitch("26.565", "angle deg").map(Pitch::rise), Ok(6.0));
        assert_eq!(pitch("45°", "Pitch").map(Pitch::rise), Ok(12.0));
        assert!(pitch("steep", "Pitch").is_err() && pitch("90", "Angle").is_err());
        let feet = |text, head| length(text, head).map(Length::to_feet);
        assert_eq!(feet("24", "Length"), Ok(24.0));
        assert_eq!(feet("24.5 LF", "Length"), Ok(24.5));
        assert_eq!(feet("288", "length, in"), Ok(24.0));
        assert_eq!(feet("24' 6\"", ""), Ok(24.5));
        assert!(length("-3", "Length").is_err() && length("7", "Length m").is_err());
        assert_eq!(edge_kind("Eaves / starter"), Some(EdgeKind::Eave));
        assert_eq!(edge_kind("Step flashing"), Some(EdgeKind::Sidewall));
        assert_eq!(edge_kind("ridge or hip"), None);
        assert_eq!(edge_kind("drip"), None);
    }
}

//! File names that every system can carry.

/// Longest readable part of a file name, bytes.
const READABLE: usize = 60;

/// `front-elevation-gutter-standoff`: small ASCII letters, digits and dashes, never empty.
pub(super) fn readable<'a>(words: impl IntoIterator<Item = &'a str>) -> String {
    let mut name = String::new();
    for word in words {
        for c in word.chars().chain(std::iter::once('-')) {
            if c.is_ascii_alphanumeric() {
                name.push(c.to_ascii_lowercase());
            } else if !name.ends_with('-') && !name.is_empty() {
                name.push('-');
            }
        }
    }
    name.truncate(READABLE);
    let name = name.trim_end_matches('-');
    if name.is_empty() {
        "photo".to_owned()
    } else {
        name.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_hold_nothing_odd() {
        assert_eq!(
            readable(["front elevation", "gutter"]),
            "front-elevation-gutter"
        );
        assert_eq!(readable(["../../etc/passwd", "CON?"]), "etc-passwd-con");
        assert_eq!(readable(["Überdachung, \"hinten\""]), "berdachung-hinten");
        assert_eq!(readable(["\u{202e}", ""]), "photo");
        assert!(readable([&*"long ".repeat(40)]).len() <= READABLE);
    }
}

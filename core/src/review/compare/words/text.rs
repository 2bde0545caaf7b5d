//! Words made alike, so that "Gutters, 5\"" and "gutter 5 in" can be held side by side.

/// A run of words that is looked for in others.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(in crate::review::compare) struct Phrase(Vec<String>);

impl Phrase {
    /// A phrase from words as people write them.
    pub(in crate::review::compare) fn new(words: &str) -> Self {
        Self(tokens(words))
    }

    /// Words in it.
    pub(in crate::review::compare) fn len(&self) -> usize {
        self.0.len()
    }

    /// True where these words are the phrase and nothing else.
    pub(in crate::review::compare) fn is(&self, words: &[String]) -> bool {
        !self.0.is_empty() && self.0 == words
    }

    /// Where it stands in these words, each time.
    pub(in crate::review::compare) fn places<'a>(
        &'a self,
        words: &'a [String],
    ) -> impl Iterator<Item = usize> + 'a {
        let length = self.0.len();
        words
            .windows(length.max(1))
            .enumerate()
            .filter(move |(_, window)| length > 0 && *window == self.0.as_slice())
            .map(|(at, _)| at)
    }

    /// True where it stands somewhere in these words.
    pub(in crate::review::compare) fn is_in(&self, words: &[String]) -> bool {
        self.places(words).next().is_some()
    }
}

/// The words of a text: lower case, without signs, plural endings taken off, short forms written
/// out. A comma, a dash between blanks, a bracket and the like become the word `,`.
pub(in crate::review::compare) fn tokens(text: &str) -> Vec<String> {
    let mut words = Vec::new();
    let mut word = String::new();
    let lower = text.to_lowercase();
    let lower = lower
        .replace("w/o", " without ")
        .replace("w/", " with ")
        .replace("add'l", "additional")
        .replace("a/c", "ac");
    let mut before = ' ';
    let mut rest = lower.chars().peekable();
    while let Some(c) = rest.next() {
        let after = rest.peek().copied().unwrap_or(' ');
        match c {
            _ if c.is_alphanumeric() => {
                // "5in" and "24lf" are two words, "r905" is one.
                if before.is_ascii_digit()
                    && c.is_alphabetic()
                    && word.starts_with(|d: char| d.is_ascii_digit())
                    && !is_ordinal(c, after)
                {
                    push(&mut words, &mut word);
                }
                word.push(c);
            }
            '.' if before.is_ascii_digit() && after.is_ascii_digit() => word.push('.'),
            '\'' | '\u{2019}' if before.is_alphabetic() && after.is_alphabetic() => {}
            _ => {
                push(&mut words, &mut word);
                match c {
                    '&' | '+' => words.push("and".to_owned()),
                    '"' | '\u{201D}' | '\u{2033}' if before.is_ascii_digit() => {
                        words.push("in".to_owned())
                    }
                    '#' => words.push("number".to_owned()),
                    ',' | ';' | ':' | '(' | ')' | '[' | ']' | '|' | '\n' => {
                        words.push(",".to_owned())
                    }
                    '-' | '\u{2013}' | '\u{2014}' if before == ' ' && after == ' ' => {
                        words.push(",".to_owned())
                    }
                    _ => {}
                }
            }
        }
        before = c;
    }
    push(&mut words, &mut word);
    words
}

/// `1st`, `2nd`, `3rd` and `4th` stay one word.
fn is_ordinal(c: char, after: char) -> bool {
    matches!(
        (c, after),
        ('s', 't') | ('n', 'd') | ('r', 'd') | ('t', 'h')
    )
}

fn push(words: &mut Vec<String>, word: &mut String) {
    let word = std::mem::take(word);
    if word.is_empty() {
        return;
    }
    // Short forms and spellings that stand for one word.
    const SAME: &[(&str, &str)] = &[
        ("2nd", "second"),
        ("1st", "first"),
        ("elev", "elevation"),
        ("elevs", "elevation"),
        ("back", "rear"),
        ("story", "storey"),
        ("stories", "storey"),
        ("aluminum", "aluminium"),
        ("gray", "grey"),
        ("inch", "in"),
        ("inches", "in"),
        ("lbs", "lb"),
        ("qty", "quantity"),
        ("desc", "description"),
        ("no", "number"),
        ("shingle", "shingle"),
        ("incl", "including"),
        ("excl", "without"),
        ("excluding", "without"),
    ];
    let same = SAME.iter().find(|(from, _)| *from == word);
    words.push(match same {
        Some((_, to)) => (*to).to_owned(),
        None => singular(word),
    });
}

/// The word without a plural ending.
fn singular(mut word: String) -> String {
    let keep = ["ss", "us", "is", "as"]
        .iter()
        .any(|end| word.ends_with(end));
    if word.len() > 3 && word.ends_with('s') && !keep {
        word.pop();
    }
    word
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_made_alike() {
        for (text, words) in [
            ("R&R Gutters, 5\"", "r and r gutter , 5 in"),
            ("5in gutter / downspouts", "5 in gutter downspout"),
            ("2nd layer - add'l", "second layer , additional"),
            ("Hip/Ridge caps w/o vents", "hip ridge cap without vent"),
            ("3-tab", "3 tab"),
            ("Back elev.", "rear elevation"),
            ("R905.2.8.5", "r905.2.8.5"),
            ("Item No.", "item number"),
            ("", ""),
        ] {
            assert_eq!(tokens(text).join(" "), words, "{text}");
        }
    }

    #[test]
    fn a_phrase_is_found_word_by_word() {
        let words = tokens("Remove & replace drip edge");
        assert_eq!(
            Phrase::new("drip edges").places(&words).collect::<Vec<_>>(),
            [3]
        );
        assert!(!Phrase::new("edge drip").is_in(&words));
        assert!(!Phrase::new("").is_in(&words));
    }
}

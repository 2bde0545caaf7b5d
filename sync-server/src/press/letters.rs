//! Words as they can be set: PDF/UA-1 takes no letter that its fonts do not have, and a report must
//! not fail for one.

use serde_json::Value as Json;

use super::shop::has_letter;

/// Stands for a letter that no font has.
const LACKING: char = '?';

/// Makes every text below a value one that can be set; the answer is how many letters could not.
pub(super) fn settle(value: &mut Json) -> usize {
    match value {
        Json::String(text) => {
            let (settled, lacking) = settled(text);
            *text = settled;
            lacking
        }
        Json::Array(list) => list.iter_mut().map(settle).sum(),
        Json::Object(map) => map.values_mut().map(settle).sum(),
        _ => 0,
    }
}

/// The text with `?` for letters that no font has, and without what is no letter: controls, marks
/// that turn the direction of writing.
pub(super) fn settled(text: &str) -> (String, usize) {
    let mut out = String::with_capacity(text.len());
    let mut lacking = 0;
    for letter in text.chars() {
        match letter {
            '\n' => out.push('\n'),
            '\t' => out.push(' '),
            letter if is_no_letter(letter) => {}
            letter if letter.is_whitespace() || has_letter(letter) => out.push(letter),
            _ => {
                out.push(LACKING);
                lacking += 1;
            }
        }
    }
    (out, lacking)
}

/// Controls and the invisible formats of Unicode (general categories Cc and Cf, those in use).
fn is_no_letter(letter: char) -> bool {
    letter.is_control()
        || matches!(letter,
            '\u{ad}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{206f}'
            | '\u{fe00}'..='\u{fe0f}' | '\u{feff}' | '\u{e0000}'..='\u{e0fff}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_no_font_has_is_said_to_be_lacking() {
        assert_eq!(
            settled("Zoë's 4½\" dent – ok"),
            ("Zoë's 4½\" dent – ok".to_owned(), 0)
        );
        assert_eq!(settled("屋根 \u{202e}\u{0}x"), ("?? x".to_owned(), 2));
        let mut value = serde_json::json!({"a": ["\u{1f600}", 1], "b": "plain"});
        assert_eq!(settle(&mut value), 1);
        assert_eq!(value, serde_json::json!({"a": ["?", 1], "b": "plain"}));
    }
}

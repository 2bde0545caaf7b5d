//! Numbers as people type them: thousands separators, currency signs, parentheses for negative
//! ones, a unit behind them.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

/// Which sign parts the fraction from the whole in one file.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum AmountStyle {
    /// `1,234.50`
    #[default]
    Point,
    /// `1.234,50`
    Comma,
}

impl AmountStyle {
    /// The style in which a file writes its numbers: with a comma only where some number can be
    /// read in no other way and none says the contrary.
    pub fn of<'a>(cells: impl IntoIterator<Item = &'a str>) -> Self {
        let (mut point, mut comma) = (0u32, 0u32);
        for cell in cells {
            let reads = |style| amount(cell, style).is_ok_and(|a| a.is_some());
            match (reads(AmountStyle::Point), reads(AmountStyle::Comma)) {
                (true, false) => point += 1,
                (false, true) => comma += 1,
                _ => {}
            }
        }
        if comma > 0 && point == 0 {
            AmountStyle::Comma
        } else {
            AmountStyle::Point
        }
    }
}

/// A number and the words behind it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Amount {
    /// The number, exactly as written.
    pub number: Decimal,
    /// What stands behind it, such as a unit; empty for none.
    pub behind: String,
    /// It has a currency sign.
    pub money: bool,
}

/// Reads one cell; `None` for a cell that states nothing: empty, a dash, "n/a".
///
/// # Errors
/// The cell's text, where it is no number.
pub fn amount(cell: &str, style: AmountStyle) -> Result<Option<Amount>, String> {
    let text = cell.trim();
    let nothing = [
        "", "-", "--", "\u{2013}", "\u{2014}", "n/a", "N/A", "na", "NA",
    ];
    if nothing.contains(&text) {
        return Ok(None);
    }
    let error = || text.chars().take(40).collect::<String>();
    read(text, style).map(Some).ok_or_else(error)
}

fn read(text: &str, style: AmountStyle) -> Option<Amount> {
    let mut rest = text;
    let mut negative = false;
    let mut money = false;
    if let Some(inside) = rest.strip_prefix('(') {
        let (inside, behind) = inside.split_once(')')?;
        let amount = read(inside, style)?;
        let double = amount.number.is_sign_negative() || !amount.behind.is_empty();
        if double {
            return None;
        }
        return Some(Amount {
            number: -amount.number,
            behind: behind.trim().to_owned(),
            money: amount.money,
        });
    }
    loop {
        rest = rest.trim_start();
        if let Some(after) = currency(rest).filter(|_| !money) {
            (rest, money) = (after, true);
        } else if let Some(after) = rest.strip_prefix(['-', '\u{2212}']).filter(|_| !negative) {
            (rest, negative) = (after, true);
        } else {
            break;
        }
    }
    let ends = rest
        .char_indices()
        .find(|(at, c)| !is_part(rest, *at, *c))
        .map_or(rest.len(), |(at, _)| at);
    let (digits, behind) = rest.split_at_checked(ends)?;
    let mut behind = behind.trim();
    if let Some(after) = currency(behind).filter(|_| !money) {
        (behind, money) = (after.trim(), true);
    }
    if let Some(after) = behind.strip_prefix('-').filter(|_| !negative) {
        (behind, negative) = (after.trim(), true);
    }
    // A second number behind the first is no unit: a date, a range, a size.
    let letters_first = behind.chars().next().is_none_or(|c| {
        !c.is_ascii_digit() && c != '.' && c != ',' && c != '/' && c != '%' && c != ':'
    });
    if !letters_first {
        return None;
    }
    let mut number = plain(digits, style)?;
    if negative {
        number.set_sign_negative(true);
    }
    if number.is_zero() {
        number.set_sign_positive(true);
    }
    Some(Amount {
        number,
        behind: behind.to_owned(),
        money,
    })
}

/// What follows a currency sign.
fn currency(text: &str) -> Option<&str> {
    ["US$", "USD", "$", "\u{20AC}", "\u{A3}"]
        .iter()
        .find_map(|sign| text.strip_prefix(sign))
}

/// A blank between two digits parts thousands; elsewhere it ends the number.
fn is_part(text: &str, at: usize, c: char) -> bool {
    match c {
        '0'..='9' | '.' | ',' => true,
        ' ' | '\u{A0}' | '\u{202F}' | '\u{2009}' => {
            let after = text.get(at + c.len_utf8()..).unwrap_or_default();
            let group = after.chars().take_while(char::is_ascii_digit).count();
            at > 0 && group == 3
        }
        _ => false,
    }
}

/// Digits with separators; groups of thousands must have three digits and one kind of separator.
fn plain(text: &str, style: AmountStyle) -> Option<Decimal> {
    let (decimal, thousands) = match style {
        AmountStyle::Point => ('.', ','),
        AmountStyle::Comma => (',', '.'),
    };
    let (whole, fraction) = match text.split_once(decimal) {
        Some((whole, fraction)) => (whole, Some(fraction)),
        None => (text, None),
    };
    let separator = whole.chars().find(|c| !c.is_ascii_digit());
    if separator.is_some_and(|c| c == '.' || c == ',') && separator != Some(thousands) {
        return None;
    }
    let mut digits = String::with_capacity(whole.len());
    for (index, group) in whole.split(|c| Some(c) == separator).enumerate() {
        let good = group.bytes().all(|b| b.is_ascii_digit());
        let full = match (separator, index) {
            (None, _) => true,
            (Some(_), 0) => (1..=3).contains(&group.len()),
            (Some(_), _) => group.len() == 3,
        };
        if !good || !full {
            return None;
        }
        digits.push_str(group);
    }
    if let Some(fraction) = fraction {
        let good = fraction.bytes().all(|b| b.is_ascii_digit());
        if !good || (digits.is_empty() && fraction.is_empty()) {
            return None;
        }
        if digits.is_empty() {
            digits.push('0');
        }
        if !fraction.is_empty() {
            digits.push('.');
            digits.push_str(fraction);
        }
    }
    if digits.is_empty() {
        return None;
    }
    Decimal::from_str_exact(&digits).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn number(text: &str, style: AmountStyle) -> Option<String> {
        amount(text, style).ok()?.map(|a| a.number.to_string())
    }

    #[test]
    fn amounts_are_read_as_people_write_them() {
        for (text, value) in [
            ("13.42", "13.42"),
            ("1,234.50", "1234.50"),
            ("$1,234.50", "1234.50"),
            ("($1,234.50)", "-1234.50"),
            ("$(20)", "-20"),
            ("-$20", "-20"),
            ("20.00-", "-20.00"),
            ("$-20", "-20"),
            ("1 234.5", "1234.5"),
            ("1\u{A0}234", "1234"),
            (".5", "0.5"),
            ("5.", "5"),
            ("-0", "0"),
            ("1234 USD", "1234"),
        ] {
            let read = number(text, AmountStyle::Point);
            // A sign inside and outside of parentheses is refused, all else is read.
            if text == "$(20)" {
                assert_eq!(read, None, "{text}");
            } else {
                assert_eq!(read.as_deref(), Some(value), "{text}");
            }
        }
        for (text, value) in [
            ("1.234,50", "1234.50"),
            ("13,42", "13.42"),
            ("1.234", "1234"),
        ] {
            assert_eq!(
                number(text, AmountStyle::Comma).as_deref(),
                Some(value),
                "{text}"
            );
        }
    }

    #[test]
    fn a_unit_may_stand_behind() {
        let read = amount("13.42 SQ", AmountStyle::Point).unwrap().unwrap();
        assert_eq!(
            (read.number.to_string().as_str(), read.behind.as_str()),
            ("13.42", "SQ")
        );
        let read = amount("24LF", AmountStyle::Point).unwrap().unwrap();
        assert_eq!(read.behind, "LF");
        assert_eq!(amount(" - ", AmountStyle::Point), Ok(None));
    }

    #[test]
    fn what_is_no_number_is_refused() {
        for text in [
            "abc",
            "1,23",
            "12,34,567",
            "1,2345",
            "1.2.3",
            "4/12",
            "2026-01-02",
            "5%",
            "((5))",
            "(-5)",
            "--5",
            ",",
            ".",
            "12:30",
            "99999999999999999999999999999999999",
        ] {
            assert!(number(text, AmountStyle::Point).is_none(), "{text}");
        }
        assert!(number("13.42", AmountStyle::Comma).is_none());
    }

    #[test]
    fn the_style_is_that_of_the_whole_file() {
        assert_eq!(AmountStyle::of(["1,234", "13,42"]), AmountStyle::Comma);
        assert_eq!(AmountStyle::of(["1,234", "13.42"]), AmountStyle::Point);
        assert_eq!(AmountStyle::of(["13,42", "13.42"]), AmountStyle::Point);
        assert_eq!(AmountStyle::of(["1,234"]), AmountStyle::Point);
    }
}

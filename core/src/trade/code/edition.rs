//! Editions of the code, and how the edition that a person wrote down is read.

use serde::Serialize;

/// An edition of the International Residential Code, by the year on its cover.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub enum Edition {
    /// 2006.
    #[serde(rename = "2006")]
    Of2006,
    /// 2009.
    #[serde(rename = "2009")]
    Of2009,
    /// 2012.
    #[serde(rename = "2012")]
    Of2012,
    /// 2015.
    #[serde(rename = "2015")]
    Of2015,
    /// 2018.
    #[serde(rename = "2018")]
    Of2018,
    /// 2021.
    #[serde(rename = "2021")]
    Of2021,
    /// 2024.
    #[serde(rename = "2024")]
    Of2024,
}

impl Edition {
    /// Every edition in the table, oldest first.
    pub const ALL: &'static [Edition] = &[
        Edition::Of2006,
        Edition::Of2009,
        Edition::Of2012,
        Edition::Of2015,
        Edition::Of2018,
        Edition::Of2021,
        Edition::Of2024,
    ];

    /// Taken where nobody says which edition is in force.
    pub const ASSUMED: Edition = Edition::Of2021;

    /// The year on the cover.
    pub const fn year(self) -> u16 {
        match self {
            Edition::Of2006 => 2006,
            Edition::Of2009 => 2009,
            Edition::Of2012 => 2012,
            Edition::Of2015 => 2015,
            Edition::Of2018 => 2018,
            Edition::Of2021 => 2021,
            Edition::Of2024 => 2024,
        }
    }

    /// The newest edition that is not younger than a year; the oldest for years before it.
    fn of_year(year: u16) -> Self {
        let older = Self::ALL.iter().rev().find(|e| e.year() <= year);
        older.copied().unwrap_or(Edition::Of2006)
    }
}

impl std::fmt::Display for Edition {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "IRC {}", self.year())
    }
}

/// What was read from the edition that a person wrote down.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct EditionRead {
    /// The edition that the answers use.
    pub edition: Edition,
    /// True where the text does not name it, so that somebody has to ask.
    pub assumed: bool,
    /// How the edition was found, for people.
    pub words: String,
}

impl EditionRead {
    /// Reads free text such as "IRC 2018", "2018 International Residential Code, amended" or
    /// "irc-21". A text that names no edition leads to an assumed one, and says so.
    pub fn of(text: Option<&str>) -> Self {
        let Some(text) = text.map(str::trim).filter(|text| !text.is_empty()) else {
            return Self::assumed(
                Edition::ASSUMED,
                "nobody recorded which edition is in force".to_owned(),
            );
        };
        let lower = text.to_lowercase();
        let short: String = text.chars().take(60).collect();
        let residential = ["irc", "residential"].iter().any(|w| lower.contains(w));
        match year_in(&lower) {
            None => Self::assumed(Edition::ASSUMED, format!("\"{short}\" names no year")),
            Some(year) => {
                let edition = Edition::of_year(year);
                if edition.year() != year {
                    let why = format!("\"{short}\" names {year}, which is no edition in the table");
                    Self::assumed(edition, why)
                } else if residential {
                    Self {
                        edition,
                        assumed: false,
                        words: format!("{edition}, as recorded: \"{short}\""),
                    }
                } else {
                    let why = format!("\"{short}\" does not say that it is the residential code");
                    Self::assumed(edition, why)
                }
            }
        }
    }

    fn assumed(edition: Edition, why: String) -> Self {
        Self {
            edition,
            assumed: true,
            words: format!("{edition} is assumed: {why}; ask the local authority"),
        }
    }
}

/// The year that stands nearest to the code's name; a year of two digits counts right beside it.
fn year_in(lower: &str) -> Option<u16> {
    let words: Vec<&str> = lower
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .collect();
    let names: Vec<usize> = (0..words.len())
        .filter(|at| words.get(*at).is_some_and(|w| is_name(w)))
        .collect();
    let mut found: Vec<(usize, usize, u16)> = Vec::new();
    for (at, word) in words.iter().enumerate() {
        let near = names.iter().map(|name| name.abs_diff(at)).min();
        let digits = word.trim_start_matches(|c: char| c.is_ascii_alphabetic());
        let glued = is_name(word.trim_end_matches(|c: char| c.is_ascii_digit()));
        let beside = glued || near == Some(1);
        let year = match (digits.len(), digits.parse::<u16>()) {
            (4, Ok(year)) if (1900..2100).contains(&year) => year,
            (2, Ok(short)) if beside => 2000 + short,
            _ => continue,
        };
        found.push((near.unwrap_or(usize::MAX), at, year));
    }
    found.iter().min().map(|(_, _, year)| *year)
}

fn is_name(word: &str) -> bool {
    matches!(word, "irc" | "residential")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_edition_is_read_from_what_people_write() {
        for (text, edition) in [
            ("IRC 2018", Edition::Of2018),
            ("2012 International Residential Code", Edition::Of2012),
            ("irc-21", Edition::Of2021),
            ("IRC'15 as amended 2017", Edition::Of2015),
            ("IRC2009", Edition::Of2009),
            ("adopted 2019: 2018 IRC, Ord. 1204", Edition::Of2018),
        ] {
            let read = EditionRead::of(Some(text));
            assert_eq!((read.edition, read.assumed), (edition, false), "{text}");
            assert!(read.words.contains(text), "{}", read.words);
        }
    }

    #[test]
    fn what_names_no_edition_is_assumed_and_says_so() {
        for (text, edition) in [
            (None, Edition::ASSUMED),
            (Some("  "), Edition::ASSUMED),
            (Some("as the town has adopted it"), Edition::ASSUMED),
            (Some("IRC 2016"), Edition::Of2015),
            (Some("IRC 2000"), Edition::Of2006),
            (Some("IRC 2099"), Edition::Of2024),
            (Some("building code 2018"), Edition::Of2018),
        ] {
            let read = EditionRead::of(text);
            assert_eq!((read.edition, read.assumed), (edition, true), "{text:?}");
            assert!(read.words.contains("is assumed") && read.words.contains("ask"));
        }
    }
}

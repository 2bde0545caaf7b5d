//! What the list of jobs is asked for: words, dates, a stage, a page.

use chrono::NaiveDate;
use serde::Deserialize;

use super::super::escaped;
use super::stage::Stage;
use crate::limits;
use crate::store::Summary;

/// As it stands in the address.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::serve) struct Query {
    pub(super) q: String,
    pub(super) from: String,
    pub(super) to: String,
    pub(super) stage: String,
    page: String,
}

/// What is looked for.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Search {
    words: Vec<String>,
    from: Option<NaiveDate>,
    to: Option<NaiveDate>,
    pub(super) stage: Option<Stage>,
    /// From 0.
    pub(super) page: usize,
}

impl Query {
    /// What cannot be read is not looked for.
    pub(super) fn search(&self) -> Search {
        let date = |text: &str| text.trim().parse::<NaiveDate>().ok();
        let mut end = self.q.len().min(limits::SEARCH_BYTES);
        while !self.q.is_char_boundary(end) {
            end -= 1;
        }
        let words = self.q.get(..end).unwrap_or_default().to_lowercase();
        Search {
            words: words.split_whitespace().map(str::to_owned).collect(),
            from: date(&self.from),
            to: date(&self.to),
            stage: Stage::from_code(&self.stage),
            page: self.page.parse::<usize>().unwrap_or(1).max(1) - 1,
        }
    }

    /// The same search in another stage or on another page (from 0).
    pub(super) fn address(&self, base: &str, stage: Option<Stage>, page: usize) -> String {
        let page = if page > 0 {
            (page + 1).to_string()
        } else {
            String::new()
        };
        let fields = [
            ("q", self.q.as_str()),
            ("from", self.from.as_str()),
            ("to", self.to.as_str()),
            ("stage", stage.map_or("", Stage::code)),
            ("page", page.as_str()),
        ];
        let said: Vec<String> = fields
            .iter()
            .filter(|(_, value)| !value.is_empty())
            .map(|(name, value)| format!("{name}={}", escaped(value)))
            .collect();
        match said.is_empty() {
            true => format!("{base}/"),
            false => format!("{base}/?{}", said.join("&")),
        }
    }

    pub(super) fn narrows(&self) -> bool {
        !(self.q.is_empty() && self.from.is_empty() && self.to.is_empty())
    }
}

impl Search {
    /// Whether a job is one of those looked for, whatever its stage: every word stands in the
    /// address, the owner's name or the date of loss.
    pub(super) fn finds(&self, summary: &Summary) -> bool {
        let date = summary.date_of_loss;
        let within = |from: Option<NaiveDate>, to: Option<NaiveDate>| match date {
            Some(date) => from.is_none_or(|from| date >= from) && to.is_none_or(|to| date <= to),
            None => from.is_none() && to.is_none(),
        };
        let owner = summary.owner.as_deref().unwrap_or_default();
        let said = date.map(|date| date.format("%Y-%m-%d %-d %B %Y").to_string());
        let text = format!("{} {owner} {}", summary.title, said.unwrap_or_default());
        let text = text.to_lowercase();
        within(self.from, self.to) && self.words.iter().all(|word| text.contains(word))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn query(q: &str, from: &str, to: &str) -> Search {
        Query {
            q: q.into(),
            from: from.into(),
            to: to.into(),
            ..Query::default()
        }
        .search()
    }

    #[test]
    fn jobs_are_found_by_address_owner_and_date() {
        let house = Summary {
            title: "14 Larkmeadow Lane, Tessel Ford".into(),
            owner: Some("Odalys Fenn".into()),
            date_of_loss: NaiveDate::from_ymd_opt(2026, 4, 21),
            ..Summary::default()
        };
        for words in [
            "",
            "LARKMEADOW",
            "fenn lark",
            "2026-04",
            "21 april",
            "  tessel  ",
        ] {
            assert!(query(words, "", "").finds(&house), "{words}");
        }
        assert!(!query("fenn elm", "", "").finds(&house));
        assert!(query("", "2026-04-21", "2026-04-21").finds(&house));
        assert!(!query("", "2026-04-22", "").finds(&house));
        assert!(!query("", "", "2026-04-20").finds(&house));
        let undated = Summary {
            date_of_loss: None,
            ..house
        };
        assert!(
            query("fenn", "", "").finds(&undated) && !query("", "2026-01-01", "").finds(&undated)
        );
    }

    #[test]
    fn what_does_not_read_is_not_looked_for() {
        let odd = Query {
            q: "é".repeat(limits::SEARCH_BYTES),
            from: "soon".into(),
            to: "2026-13-01".into(),
            stage: "<b>".into(),
            page: "-4".into(),
        };
        let search = odd.search();
        assert_eq!(
            (search.from, search.to, search.stage, search.page),
            (None, None, None, 0)
        );
        assert!(search.words[0].len() <= limits::SEARCH_BYTES);
        let again = odd.address("/at/x", Some(Stage::Ready), 2);
        assert!(again.starts_with("/at/x/?q=%C3%A9") && again.ends_with("&stage=ready&page=3"));
        assert_eq!(Query::default().address("", None, 0), "/");
    }
}

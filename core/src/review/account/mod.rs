//! The owner's account: a plain account of the visit for the person who lives there.
//!
//! What was looked at, what was observed side by side, what was there before, what is unsure, what
//! happens next. Nothing that is for the office only is ever in it. It promises nothing of an
//! insurer: free words that speak of cover or payment are held back, and the account says that
//! they are not its matter.

mod told;
mod words;

#[cfg(test)]
mod tests;

use serde::Serialize;

use super::evidence::photos_of_all;
use super::findings_list::{FindingRow, FindingsList, PlaceGroup, findings_list};
use super::view::{View, standing};
use super::{Facts, Reader, State, tear_off};
use crate::job::*;
pub use told::{NO_PROMISE, OWNER_CAUTIONS, SIGNATURE_MEANS};
pub(crate) use words::speaks_of_cover;

/// One line of the account.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AccountLine {
    /// What the owner reads.
    pub text: String,
    /// The records it rests on.
    pub from: Vec<RecordRef>,
    /// Photos of them that the owner may see, by time.
    pub photos: Vec<RecordId>,
}

/// What was observed at one side, slope, room or other place.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AccountPlace {
    /// Its name.
    pub name: String,
    /// What was observed there.
    pub lines: Vec<AccountLine>,
}

/// The signature and what it means.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AccountSignature {
    /// Who signed, with the part they signed in; empty where nobody has.
    pub signed_by: Vec<String>,
    /// What a signature means.
    pub means: &'static str,
}

/// The account.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OwnersAccount {
    /// Street and town.
    pub address: String,
    /// Days of the visits, as recorded.
    pub days: Vec<String>,
    /// What was looked at, and what was not.
    pub looked_at: Vec<AccountLine>,
    /// What was observed, in the order of a walk round the house.
    pub observed: Vec<AccountPlace>,
    /// What was there before.
    pub before: Vec<AccountLine>,
    /// What is unsure or could not be seen.
    pub unsure: Vec<AccountLine>,
    /// What happens next.
    pub next: Vec<String>,
    /// Cautions.
    pub cautions: &'static [&'static str],
    /// The signature.
    pub signature: AccountSignature,
    /// Stands at the end, always.
    pub no_promise: &'static str,
    /// Records with free words that were held back because they speak of cover or payment; for the
    /// office, not for the owner.
    #[serde(skip)]
    pub held_back: Vec<RecordRef>,
}

/// The owner's account of a job. The same job gives the same account.
pub fn owners_account(job: &Job) -> OwnersAccount {
    let facts = Facts::default();
    let view = View::new(job, &facts);
    let list = findings_list(job, Reader::Anyone);
    let mut teller = Teller {
        view: &view,
        held_back: Vec::new(),
    };
    let observed = teller.observed(&list);
    let before = teller.of_state(&list, &[State::Prior]);
    let mut unsure = teller.of_state(&list, &[State::Unsure, State::Open]);
    unsure.extend(teller.could_not_see());
    let next = teller.next();
    OwnersAccount {
        address: told::address(job),
        days: told::days(job),
        looked_at: teller.looked_at(&list),
        observed,
        before,
        unsure,
        next,
        cautions: OWNER_CAUTIONS,
        signature: told::signature(job),
        no_promise: NO_PROMISE,
        held_back: teller.held_back,
    }
}

/// Tells the record in plain words.
struct Teller<'a> {
    view: &'a View<'a>,
    held_back: Vec<RecordRef>,
}

impl Teller<'_> {
    fn line(&self, text: String, from: Vec<RecordRef>) -> AccountLine {
        AccountLine {
            text,
            photos: photos_of_all(self.view, &from, Reader::Anyone),
            from,
        }
    }

    fn observed(&mut self, list: &FindingsList) -> Vec<AccountPlace> {
        let mut places = Vec::new();
        for group in &list.groups {
            let mut lines = Vec::new();
            for row in &group.findings {
                if row.state == State::Damaged {
                    lines.push(self.finding(row));
                }
            }
            lines.extend(self.squares(group));
            lines.extend(self.cleared(group));
            if !lines.is_empty() {
                places.push(AccountPlace {
                    name: group.name.clone(),
                    lines,
                });
            }
        }
        places
    }

    fn of_state(&mut self, list: &FindingsList, states: &[State]) -> Vec<AccountLine> {
        let mut lines = Vec::new();
        for group in &list.groups {
            for row in group
                .findings
                .iter()
                .filter(|row| states.contains(&row.state))
            {
                let mut line = self.finding(row);
                line.text = format!("{}: {}", group.name, words::lower_first(&line.text));
                lines.push(line);
            }
        }
        lines
    }

    fn finding(&mut self, row: &FindingRow) -> AccountLine {
        let at = RecordRef::new(Kind::Finding, row.id.clone());
        let mut text = words::finding(&row.finding, row.hits);
        if let Some(reason) = self.free(row.finding.cause_reason.as_ref(), &at) {
            text = format!("{text} Why the crew thinks so: {reason}.");
        }
        self.line(text, vec![at])
    }

    /// Free words without their full stop; held back where they speak of cover or payment.
    fn free(&mut self, words: Option<&String>, at: &RecordRef) -> Option<String> {
        let words = words?.trim().trim_end_matches('.');
        if speaks_of_cover(words) {
            if !self.held_back.contains(at) {
                self.held_back.push(at.clone());
            }
            return None;
        }
        (!words.is_empty()).then(|| words.to_owned())
    }

    fn squares(&self, group: &PlaceGroup) -> Vec<AccountLine> {
        let squares = standing(Kind::TestSquare, &self.view.job.records.test_squares);
        let here = squares.filter(|(_, square)| square.slope == group.place);
        let lines = here.filter_map(|(at, square)| {
            let hits = square.hits()?;
            let size = match (square.width, square.height) {
                (Some(width), Some(height)) => format!("{width} by {height}"),
                _ => "size not recorded".to_owned(),
            };
            let text = format!("Test square ({size}): {} counted.", words::hits(hits));
            Some(self.line(text, vec![at]))
        });
        lines.collect()
    }

    /// Parts in order, in one line.
    fn cleared(&self, group: &PlaceGroup) -> Option<AccountLine> {
        let mut names: Vec<&str> = Vec::new();
        let mut from = Vec::new();
        let findings = group.findings.iter().filter(|r| r.state == State::Cleared);
        let parts = group
            .parts
            .iter()
            .filter(|row| row.struck.is_none() && row.part.condition == Some(Condition::Cleared));
        let cleared = findings
            .map(|row| (row.finding.component, Kind::Finding, &row.id))
            .chain(parts.map(|row| (row.part.component, Kind::Component, &row.id)));
        for (component, kind, id) in cleared {
            let name = component.map_or("a part without a name", Component::label);
            if !names.contains(&name) {
                names.push(name);
            }
            from.push(RecordRef::new(kind, id.clone()));
        }
        let text = format!("Looked at and in order: {}.", names.join(", "));
        (!names.is_empty()).then(|| self.line(text, from))
    }

    fn could_not_see(&mut self) -> Vec<AccountLine> {
        let lines = tear_off(self.view.job).into_iter().map(|line| {
            let text = format!(
                "{}: the {} could not be seen for certain without opening the roof, and nothing \
                 was broken to look.",
                line.place, line.what
            );
            self.line(text, vec![line.from])
        });
        lines.collect()
    }
}

//! The differences as a list that an adjuster can follow, item by item.

use rust_decimal::Decimal;
use serde::Serialize;

use super::evidence::Requirement;
use super::outcome::Outcome;
use super::quantities::shown;
use super::result::{Comparison, Entry};
use crate::job::RecordId;
use crate::review::harmless;

/// The differences, numbered, in walk order.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DisputeList {
    /// What the list is and is not, a sentence.
    pub about: &'static str,
    /// The differences.
    pub disputes: Vec<Dispute>,
}

/// What stands above every list.
const ABOUT: &str = "Differences between two scopes, with what was observed, measured and counted \
at the house. The list states no opinion on what a policy pays for.";

/// One difference.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Dispute {
    /// Its number, from 1.
    pub number: u32,
    /// What came of the comparison.
    pub outcome: Outcome,
    /// Where.
    pub place: String,
    /// What.
    pub item: String,
    /// What theirs states.
    pub theirs: String,
    /// What ours states.
    pub ours: String,
    /// By how much they differ.
    pub difference: String,
    /// The whole in plain sentences, with what was observed, measured and counted.
    pub reason: String,
    /// Photos that show it, in walk order.
    pub photos: Vec<RecordId>,
    /// Sections of codes, each to be confirmed with the local authority.
    pub requirements: Vec<Requirement>,
    /// What is still unsure on our side.
    pub unsure: Vec<String>,
    /// Rows of their file.
    pub rows: Vec<u32>,
    /// Their money for it, as theirs.
    pub their_money: Option<Decimal>,
    /// Our money for it, at the user's own prices.
    pub our_money: Option<Decimal>,
    /// Where the talk stands; every difference begins open.
    pub status: &'static str,
}

/// The list of everything that is not the same. Compare for [`Reader::Anyone`] where it leaves the
/// office.
///
/// [`Reader::Anyone`]: crate::review::Reader::Anyone
pub fn disputes(comparison: &Comparison) -> DisputeList {
    let differing = comparison
        .entries
        .iter()
        .filter(|entry| entry.outcome != Outcome::Same);
    DisputeList {
        about: ABOUT,
        disputes: (1u32..)
            .zip(differing)
            .map(|(number, entry)| dispute(number, entry))
            .collect(),
    }
}

fn dispute(number: u32, entry: &Entry) -> Dispute {
    let joined = |words: Vec<String>| {
        let mut seen: Vec<String> = Vec::new();
        for word in words {
            if !word.is_empty() && !seen.contains(&word) {
                seen.push(word);
            }
        }
        seen.join("; ")
    };
    let ours = |word: fn(&super::OurLine) -> String| joined(entry.ours.iter().map(word).collect());
    let theirs =
        |word: fn(&super::TheirRow) -> String| joined(entry.theirs.iter().map(word).collect());
    let or = |first: String, second: String| if first.is_empty() { second } else { first };
    Dispute {
        number,
        outcome: entry.outcome,
        place: or(
            ours(|line| line.place.clone()),
            theirs(|row| row.place.clone()),
        ),
        item: or(
            ours(|line| format!("{}, {}", line.item_words, line.action)),
            theirs(|row| row.item.clone()),
        ),
        theirs: theirs(|row| {
            let unit = row
                .unit
                .map_or(row.unit_words.clone(), |unit| unit.label().to_owned());
            let amount = row.quantity.map_or_else(
                || "no quantity".to_owned(),
                |number| format!("{} {unit}", number.normalize()),
            );
            format!("{}: {}", row.item, amount.trim_end())
        }),
        ours: ours(|line| match line.quantity.zip(line.unit) {
            Some((number, unit)) => format!("{}: {}", line.place, shown(number, unit)),
            None => format!("{}: quantity not known", line.place),
        }),
        difference: difference(entry),
        reason: reason(entry),
        photos: entry.evidence.photos.clone(),
        requirements: entry.evidence.requirements.clone(),
        unsure: entry.evidence.unsure.clone(),
        rows: entry.theirs.iter().map(|row| row.row).collect(),
        their_money: entry.their_money,
        our_money: entry.our_money,
        status: "open",
    }
}

/// The difference in a few words.
fn difference(entry: &Entry) -> String {
    let Some(amounts) = &entry.amounts else {
        return entry.outcome.label().to_owned();
    };
    let by = shown(amounts.difference.abs(), amounts.unit);
    let mut words = match amounts.difference {
        none if none.is_zero() => "none in quantity".to_owned(),
        less if less.is_sign_negative() => format!("{by} less in theirs"),
        _ => format!("{by} more in theirs"),
    };
    if !entry.other_kind.is_empty() {
        words += ", other size or kind";
    }
    words
}

fn reason(entry: &Entry) -> String {
    let mut text = entry.sentence.clone();
    let evidence = &entry.evidence;
    for (label, words) in [
        ("Observed", &evidence.observed),
        ("Quantity", &evidence.measured),
    ] {
        if !words.is_empty() {
            let sentences: Vec<String> = words
                .iter()
                .map(|words| super::evidence::sentence(words))
                .collect();
            text += &format!(" {label}: {}", sentences.join(" "));
        }
    }
    for requirement in &evidence.requirements {
        text += &format!(" {}", super::evidence::sentence(&in_words(requirement)));
    }
    text
}

/// A requirement in words, with who has the last word on it said once.
fn in_words(requirement: &Requirement) -> String {
    let words = requirement.words.trim_end_matches('.');
    let said = words.to_lowercase().contains(requirement.confirm);
    let confirm = if said {
        String::new()
    } else {
        format!("; {}", requirement.confirm)
    };
    format!(
        "{} {}: {words}{confirm}",
        requirement.edition, requirement.section
    )
}

const COLUMNS: &[&str] = &[
    "number",
    "outcome",
    "place",
    "item",
    "theirs",
    "ours",
    "difference",
    "reason",
    "photos",
    "requirement",
    "unsure",
    "rows",
    "their_money",
    "our_money",
    "status",
];

/// The list as CSV (RFC 4180), safe to open in a spreadsheet.
pub fn disputes_csv(list: &DisputeList) -> Vec<u8> {
    let mut csv = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    // Writing into memory fails for no row: all have the same number of cells.
    let mut written = csv.write_record(COLUMNS);
    for dispute in &list.disputes {
        let money =
            |amount: Option<Decimal>| amount.map(|amount| amount.to_string()).unwrap_or_default();
        let photos: Vec<&str> = dispute.photos.iter().map(RecordId::as_str).collect();
        let requirements: Vec<String> = dispute.requirements.iter().map(in_words).collect();
        let rows: Vec<String> = dispute.rows.iter().map(u32::to_string).collect();
        let texts = [
            dispute.outcome.label(),
            &dispute.place,
            &dispute.item,
            &dispute.theirs,
            &dispute.ours,
        ];
        let mut cells = vec![dispute.number.to_string()];
        cells.extend(texts.iter().map(|text| harmless(text)));
        cells.extend([
            harmless(&dispute.difference),
            harmless(&dispute.reason),
            photos.join(" "),
            harmless(&requirements.join(" ")),
            harmless(&dispute.unsure.join(" ")),
            rows.join(" "),
            money(dispute.their_money),
            money(dispute.our_money),
            dispute.status.to_owned(),
        ]);
        written = written.and_then(|()| csv.write_record(&cells));
    }
    match written {
        Ok(()) => csv.into_inner().unwrap_or_default(),
        Err(_) => Vec::new(),
    }
}

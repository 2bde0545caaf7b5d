//! The comparison as plain structs.

use std::collections::BTreeMap;

use rust_decimal::Decimal;
use serde::Serialize;

use super::evidence::{Evidence, Witness};
use super::matching::{Group, Matched, Tie, groups};
use super::outcome::Outcome;
use super::quantities::{Amounts, Tolerance, amounts, decimal, money, total};
use super::rows::{TheirRow, TheirScope};
use super::sentence;
use super::table::BrokenRow;
use super::totals::{ItemTotal, Money, item_totals};
use super::words::{kinds_in, size_in};
use super::{Certainty, SkippedRow};
use crate::job::*;
use crate::review::Reader;
use crate::review::scope::{Item, LineKey, Scope, ScopeLine};
use crate::sorted::{Keyed, Sorted};

/// What the comparison is told beside the scopes.
#[derive(Clone, Copy, Debug)]
pub struct Options<'a> {
    /// Who reads it: for anyone, lines and photos of the office are left out.
    pub reader: Reader,
    /// By how much quantities may differ.
    pub tolerance: Tolerance,
    /// Money for one unit, by the key of our line, from the user's own price list.
    pub prices: Option<&'a BTreeMap<LineKey, Decimal>>,
}

impl Default for Options<'_> {
    fn default() -> Self {
        Self {
            reader: Reader::Office,
            tolerance: Tolerance::default(),
            prices: None,
        }
    }
}

/// Our scope beside another's. Every one of our lines and every one of their rows stands in one
/// entry.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Comparison {
    /// The tolerance that was used.
    pub tolerance: Tolerance,
    /// How many entries of each outcome.
    pub counts: BTreeMap<Outcome, u32>,
    /// The entries: ours in the order of our scope, then theirs by row.
    pub entries: Vec<Entry>,
    /// Sums by item, work and unit.
    pub totals: Vec<ItemTotal>,
    /// Sums of money.
    pub money: Money,
    /// Rows of theirs that are no items.
    pub skipped: Vec<SkippedRow>,
    /// Rows of theirs that could not be read: they are in no entry.
    pub broken: Vec<BrokenRow>,
    /// What a person should know of the whole, a sentence each.
    pub notes: Vec<String>,
}

/// Lines and rows that were looked at together.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Entry {
    /// What came of it.
    pub outcome: Outcome,
    /// Our lines.
    pub ours: Vec<OurLine>,
    /// Their rows.
    pub theirs: Vec<TheirRow>,
    /// How sure the match is; `None` where nothing was matched.
    pub certainty: Option<Certainty>,
    /// Why they stand together, or alone; a sentence each.
    pub reasons: Vec<String>,
    /// A person said so.
    pub by_person: bool,
    /// Sums of several lines or rows were compared, not each by itself.
    pub as_sums: bool,
    /// The quantities, where they can be compared.
    pub amounts: Option<Amounts>,
    /// What differs in size or kind, a sentence each.
    pub other_kind: Vec<String>,
    /// Lines that the rows could stand for, where it is not clear.
    pub candidates: Vec<Candidate>,
    /// Our money for the lines, at the user's own prices; `None` where one has no price.
    pub our_money: Option<Decimal>,
    /// Their money for the rows, as theirs; `None` where one states none.
    pub their_money: Option<Decimal>,
    /// What our lines rest on.
    pub evidence: Evidence,
    /// The whole in a plain sentence or two.
    pub sentence: String,
}

/// One of our lines, in short.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OurLine {
    /// What it is known by.
    pub key: LineKey,
    /// Where, in words.
    pub place: String,
    /// What.
    pub item: Item,
    /// What, in words.
    pub item_words: String,
    /// The work.
    pub action: WorkAction,
    /// How much.
    pub quantity: Option<Decimal>,
    /// In which unit.
    pub unit: Option<Unit>,
}

/// A line that a row could stand for.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Candidate {
    /// The line.
    pub line: LineKey,
    /// It, in words.
    pub words: String,
    /// Why.
    pub reason: String,
}

impl OurLine {
    fn of(line: &ScopeLine) -> Self {
        Self {
            key: line.key.clone(),
            place: line.place_words.clone(),
            item: line.item.clone(),
            item_words: line.item_words.clone(),
            action: line.action,
            quantity: line.quantity.map(decimal),
            unit: line.quantity.map(|quantity| quantity.unit()),
        }
    }
}

/// Compares our scope with another's. `other` names the record that the other scope is kept in;
/// persons' matches are read from the job by it.
pub fn compare(
    job: &Job,
    scope: &Scope,
    their: &TheirScope,
    other: Option<&RecordRef>,
    options: &Options<'_>,
) -> Comparison {
    let lines: Vec<&ScopeLine> = scope
        .lines
        .iter()
        .filter(|line| options.reader == Reader::Office || line.audience == Audience::Shared)
        .collect();
    let Matched {
        mut groups,
        readings,
        notes,
    } = groups(job, &lines, &their.rows, other);
    groups.order_by_key(|group| {
        (
            group.lines.first().copied().unwrap_or(usize::MAX),
            group.rows.first().copied(),
        )
    });
    let witness = Witness::new(job, &lines, options.reader);
    let entries: Vec<Entry> = groups
        .into_iter()
        .map(|group| {
            let ours: Vec<&ScopeLine> = group
                .lines
                .iter()
                .filter_map(|at| lines.get(*at).copied())
                .collect();
            let theirs: Vec<(&TheirRow, Option<WorkAction>, Option<&Item>)> = group
                .rows
                .iter()
                .filter_map(|at| {
                    let reading = readings.get(*at)?;
                    Some((their.rows.get(*at)?, reading.said(), reading.item()))
                })
                .collect();
            entry(&group, &ours, &theirs, &lines, &witness, options)
        })
        .collect();
    let mut counts: BTreeMap<Outcome, u32> =
        Outcome::ALL.iter().map(|outcome| (*outcome, 0)).keyed();
    for entry in &entries {
        *counts.entry(entry.outcome).or_default() += 1;
    }
    Comparison {
        tolerance: options.tolerance,
        counts,
        totals: item_totals(&entries, &readings, &their.rows),
        money: Money::of(&entries, options),
        entries,
        skipped: their.skipped.clone(),
        broken: their.broken.clone(),
        notes,
    }
}

fn entry(
    group: &Group,
    ours: &[&ScopeLine],
    theirs: &[(&TheirRow, Option<WorkAction>, Option<&Item>)],
    lines: &[&ScopeLine],
    witness: &Witness<'_>,
    options: &Options<'_>,
) -> Entry {
    let rows: Vec<(&TheirRow, Option<WorkAction>)> =
        theirs.iter().map(|(row, said, _)| (*row, *said)).collect();
    let matched = matches!(group.tie, Tie::Matched(_));
    let compared = matched.then(|| amounts(ours, &rows, options.tolerance));
    let other_kind = if matched {
        other_kind(ours, theirs)
    } else {
        Vec::new()
    };
    let outcome = outcome(&group.tie, compared.as_ref(), !other_kind.is_empty());
    let candidates = group.candidates.iter().filter_map(|(at, reason)| {
        let line = lines.get(*at)?;
        Some(Candidate {
            line: line.key.clone(),
            words: sentence::line_in_words(line),
            reason: reason.clone(),
        })
    });
    let mut reasons = group.reasons.clone();
    if group.by_person && options.reader == Reader::Anyone {
        reasons = vec!["A person said so.".to_owned()];
    }
    if let Some(Err(cannot)) = &compared {
        reasons.push(cannot.clone());
    }
    let mut entry = Entry {
        outcome,
        ours: ours.iter().map(|line| OurLine::of(line)).collect(),
        theirs: rows.iter().map(|(row, _)| (*row).clone()).collect(),
        certainty: match group.tie {
            Tie::Matched(certainty) => Some(certainty),
            _ => None,
        },
        reasons,
        by_person: group.by_person,
        as_sums: matched && (ours.len() > 1 || rows.len() > 1),
        amounts: compared.and_then(Result::ok),
        other_kind,
        candidates: candidates.collect(),
        our_money: our_money(ours, options),
        their_money: their_money(&rows),
        evidence: witness.of(ours),
        sentence: String::new(),
    };
    entry.sentence = sentence::of(&entry, options.tolerance);
    entry
}

fn outcome(tie: &Tie, compared: Option<&Result<Amounts, String>>, other_kind: bool) -> Outcome {
    match (tie, compared) {
        (Tie::OnlyOurs, _) => Outcome::Missing,
        (Tie::OnlyTheirs, _) => Outcome::Extra,
        (Tie::Unclear, _) | (Tie::Matched(_), None) => Outcome::NotMatched,
        (Tie::Matched(_), Some(Err(_))) => Outcome::UnitMismatch,
        (Tie::Matched(_), Some(Ok(amounts))) if !amounts.within_tolerance => {
            if amounts.difference.is_sign_negative() {
                Outcome::Short
            } else {
                Outcome::Over
            }
        }
        _ if other_kind => Outcome::OtherKind,
        _ => Outcome::Same,
    }
}

/// Where their words name another size or kind than ours, a sentence each.
fn other_kind(
    ours: &[&ScopeLine],
    theirs: &[(&TheirRow, Option<WorkAction>, Option<&Item>)],
) -> Vec<String> {
    let mut found = Vec::new();
    for line in ours.iter().filter(|line| line.item != Item::ShingleWaste) {
        for (row, _, item) in theirs {
            let number = row.row;
            if let (Some(own), Some(said)) = (line.size, size_in(&row.item))
                && own != said
            {
                found.push(format!(
                    "Row {number} says {said}; ours is {own} at {}.",
                    line.place_words
                ));
            }
            let own = kinds_in(&line.item, &line.item_words);
            let said = kinds_in(&line.item, &row.item);
            if !own.is_empty() && !said.is_empty() && !own.iter().any(|kind| said.contains(kind)) {
                found.push(format!(
                    "Row {number} says {}; ours is {} at {}.",
                    said.join(", "),
                    own.join(", "),
                    line.place_words
                ));
            }
            let generic = |item: &Item| *item == Item::Valley;
            if let Some(item) =
                item.filter(|item| **item != line.item && !generic(item) && !generic(&line.item))
            {
                found.push(format!(
                    "Row {number} names {item}; ours is {} at {}.",
                    line.item, line.place_words
                ));
            }
        }
    }
    found.order();
    found.dedup();
    found
}

fn our_money(ours: &[&ScopeLine], options: &Options<'_>) -> Option<Decimal> {
    let prices = options.prices?;
    let mut amounts = Vec::with_capacity(ours.len());
    for line in ours {
        amounts.push(money(decimal(line.quantity?), *prices.get(&line.key)?)?);
    }
    if amounts.is_empty() {
        None
    } else {
        total(amounts)
    }
}

fn their_money(rows: &[(&TheirRow, Option<WorkAction>)]) -> Option<Decimal> {
    let mut amounts = Vec::with_capacity(rows.len());
    for (row, _) in rows {
        let worked_out = || money(row.quantity?, row.unit_price?);
        amounts.push(row.total.or_else(worked_out)?);
    }
    if amounts.is_empty() {
        None
    } else {
        total(amounts)
    }
}

//! The head of a table: which row it is, what its words mean, and its fingerprint.

use std::collections::BTreeSet;
use std::sync::LazyLock;

use super::meaning::{MEANINGS, Meaning};
use crate::job::hex;
use crate::limits::SCOPE_HEAD_ROWS;
use crate::review::compare::table::{AmountStyle, Table, amount};
use crate::review::compare::words::{Phrase, tokens};
use crate::sorted::{Keyed, Sorted};

/// Points for a title that is a word of the table, and for one that has it among others.
pub(super) const EXACT: u8 = 70;
pub(super) const AMONG: u8 = 45;

/// The words of heads, made alike once.
static PHRASES: LazyLock<Vec<(Phrase, Meaning)>> = LazyLock::new(|| {
    let heads = MEANINGS
        .iter()
        .flat_map(|words| words.heads.iter().map(|head| (*head, words.meaning)));
    heads
        .map(|(head, meaning)| (Phrase::new(head), meaning))
        .collect()
});

/// What a title means: the longest known words in it count.
pub(super) fn meanings_of(title: &str) -> Vec<(Meaning, u8)> {
    let spoken = tokens(title);
    let mut hits: Vec<(usize, Meaning, u8)> = Vec::new();
    for (head, meaning) in PHRASES.iter() {
        if head.is(&spoken) {
            hits.push((head.len(), *meaning, EXACT));
        } else if head.is_in(&spoken) {
            hits.push((head.len(), *meaning, AMONG));
        }
    }
    let longest = hits.iter().map(|(length, ..)| *length).max();
    let mut best: Vec<(Meaning, u8)> = hits
        .into_iter()
        .filter(|(length, ..)| Some(*length) == longest)
        .map(|(_, meaning, points)| (meaning, points))
        .collect();
    best.order();
    best.dedup();
    best
}

/// How many columns a row names if it is a head: distinct meanings of short cells. A row with
/// numbers is none.
pub(in crate::review::compare) fn head_words(cells: &[&str]) -> usize {
    const LONGEST: usize = 40;
    let is_number = |cell: &&str| matches!(amount(cell, AmountStyle::Point), Ok(Some(_)));
    if cells.iter().any(is_number) {
        return 0;
    }
    let found: BTreeSet<Meaning> = cells
        .iter()
        .filter(|cell| cell.len() <= LONGEST)
        .flat_map(|cell| meanings_of(cell))
        .map(|(meaning, _)| meaning)
        .keyed();
    found.len()
}

/// The index of the head among the rows: the one that names the most columns, two at least, the
/// upper one among equals.
pub(super) fn head_row(table: &Table) -> Option<usize> {
    let mut best: Option<(usize, usize)> = None;
    for (index, row) in table.rows.iter().take(SCOPE_HEAD_ROWS).enumerate() {
        let cells: Vec<&str> = row.cells.iter().map(String::as_str).collect();
        let named = head_words(&cells);
        if named > 1 && best.is_none_or(|(most, _)| named > most) {
            best = Some((named, index));
        }
    }
    best.map(|(_, index)| index)
}

/// BLAKE3 of the head's cells made alike: capitals, signs and plural endings do not count.
pub(super) fn fingerprint(head: &[String]) -> String {
    let mut hasher = blake3::Hasher::new();
    for cell in head {
        let words: Vec<String> = tokens(cell)
            .into_iter()
            .filter(|word| word != ",")
            .collect();
        hasher.update(words.join(" ").as_bytes());
        hasher.update(b"\x1f");
    }
    hex(hasher.finalize().as_bytes())
}

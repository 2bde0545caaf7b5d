//! An entry in plain sentences: what each side states, and by how much they differ.

use rust_decimal::Decimal;

use super::outcome::Outcome;
use super::quantities::{Amounts, Tolerance, decimal, shown};
use super::result::{Entry, OurLine};
use super::rows::TheirRow;
use crate::review::scope::ScopeLine;

/// A line in words: `30 LF of gutter, remove and replace, left elevation`.
pub(super) fn line_in_words(line: &ScopeLine) -> String {
    let amount = line
        .quantity
        .map(|quantity| (decimal(quantity), quantity.unit()));
    words(
        amount,
        &line.item_words,
        line.action.label(),
        &line.place_words,
    )
}

fn our_words(line: &OurLine) -> String {
    let amount = line.quantity.zip(line.unit);
    words(amount, &line.item_words, line.action.label(), &line.place)
}

fn words(
    amount: Option<(Decimal, crate::job::Unit)>,
    item: &str,
    action: &str,
    place: &str,
) -> String {
    match amount {
        Some((number, unit)) => format!("{} of {item}, {action}, {place}", shown(number, unit)),
        None => format!("{item}, {action}, {place}"),
    }
}

/// What a row states: `row 7, "Gutter 5 in", 20 LF`.
fn their_words(row: &TheirRow) -> String {
    let mut words = format!("row {}, \"{}\"", row.row, row.item);
    if let Some(quantity) = row.quantity {
        let unit = row
            .unit
            .map_or(row.unit_words.as_str(), |unit| unit.label());
        words += &format!(", {} {unit}", quantity.normalize());
    }
    words.trim_end().to_owned()
}

/// The entry in a sentence or two.
pub(super) fn of(entry: &Entry, tolerance: Tolerance) -> String {
    let ours: Vec<String> = entry.ours.iter().map(our_words).collect();
    let theirs: Vec<String> = entry.theirs.iter().map(their_words).collect();
    let (ours, theirs) = (ours.join("; "), theirs.join("; "));
    let mut text = match (entry.outcome, &entry.amounts) {
        (Outcome::Missing, _) => format!("Ours has {ours}. No row of theirs was matched to it."),
        (Outcome::Extra, _) => format!("Theirs has {theirs}. Ours has no line for it."),
        (Outcome::NotMatched, _) if ours.is_empty() => {
            format!("Theirs has {theirs}. What it stands for is not clear.")
        }
        (Outcome::NotMatched, _) => {
            format!("Theirs has {theirs}. Ours has {ours}. Which stands for which is not clear.")
        }
        (Outcome::UnitMismatch, _) | (_, None) => {
            format!("Ours has {ours}. Theirs has {theirs}. The quantities cannot be compared.")
        }
        (_, Some(amounts)) => format!(
            "{} Ours: {ours}. Theirs: {theirs}.",
            difference(amounts, tolerance)
        ),
    };
    if matches!(entry.outcome, Outcome::UnitMismatch | Outcome::NotMatched)
        && let Some(reason) = entry.reasons.last()
    {
        text += &format!(" {reason}");
    }
    for words in entry.other_kind.iter().chain(
        entry
            .amounts
            .as_ref()
            .and_then(|amounts| amounts.converted.as_ref()),
    ) {
        text += &format!(" {words}");
    }
    text
}

fn difference(amounts: &Amounts, tolerance: Tolerance) -> String {
    let show = |number: Decimal| shown(number, amounts.unit);
    let part = amounts
        .part
        .map(|part| format!(" for {part}"))
        .unwrap_or_default();
    let both = format!(
        "Theirs states {}{part}, ours {}",
        show(amounts.theirs),
        show(amounts.ours)
    );
    if amounts.difference.is_zero() {
        return format!("Both state {}{part}.", show(amounts.ours));
    }
    let by = show(amounts.difference.abs());
    if amounts.within_tolerance {
        let percent = tolerance.percent.normalize();
        return format!("{both}: {by} apart, within the stated tolerance of {percent} %.");
    }
    let word = if amounts.difference.is_sign_negative() {
        "less"
    } else {
        "more"
    };
    format!("{both}: {by} {word}.")
}

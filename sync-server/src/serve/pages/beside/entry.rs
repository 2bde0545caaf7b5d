//! One entry of the comparison: the state, both sides, the difference, what it rests on.

use chalkwalk_core::review::compare::{Entry, OurLine, Outcome, TheirRow};
use maud::{Markup, html};

use super::super::at_job::AtJob;
use super::super::escaped;
use super::super::estimate::money;
use super::super::shots::Shots;
use super::opened::Held;
use crate::serve::icons::icon;

/// Photos beside an entry.
const BESIDE: usize = 3;

/// The outcome as shape, word and colour.
pub(super) fn state(outcome: Outcome) -> Markup {
    let (class, name) = match outcome {
        Outcome::Same => ("cleared", "circle-check"),
        Outcome::Missing => ("missing", "circle-slash"),
        Outcome::Short => ("damaged", "chevron-down"),
        Outcome::Over => ("prior", "plus"),
        Outcome::Extra => ("prior", "square"),
        Outcome::OtherKind => ("unsure", "split"),
        Outcome::UnitMismatch => ("unsure", "ruler"),
        Outcome::NotMatched => ("unsure", "circle-question-mark"),
    };
    html! { span class={ "state " (class) } { (icon(name)) (outcome.label()) } }
}

/// One row of the table.
pub(super) fn row(at: &AtJob, held: &Held, entry: &Entry, pictures: &Shots) -> Markup {
    html! {
        tr {
            th scope="row" { (state(entry.outcome)) }
            td data-label="Ours" { (ours(at, entry)) }
            td data-label="Theirs" { (theirs(entry)) }
            td data-label="Difference" { (difference(entry)) }
            td {
                (pictures.row(&at.job, &entry.evidence.photos, BESIDE))
                (why(entry))
                (ways(at, held, entry))
            }
        }
    }
}

fn ours(at: &AtJob, entry: &Entry) -> Markup {
    html! {
        @if entry.ours.is_empty() { span.soft { "no line" } }
        @for line in &entry.ours {
            div.side-line {
                a href={ (at.path()) "/scope/line?key=" (escaped(line.key.as_str())) } { (line.item_words) }
                ", " (line.action.label())
                div { strong { (our_amount(line)) } span.soft { " · " (line.place) } }
            }
        }
        @if let Some(amount) = entry.our_money { div.soft.small { (money(amount)) " at your prices" } }
    }
}

fn our_amount(line: &OurLine) -> String {
    match line.quantity.zip(line.unit) {
        Some((number, unit)) => format!("{} {}", number.normalize(), unit.label()),
        None => "quantity not known".to_owned(),
    }
}

fn theirs(entry: &Entry) -> Markup {
    html! {
        @if entry.theirs.is_empty() { span.soft { "no row" } }
        @for row in &entry.theirs {
            div.side-line {
                (row.item)
                @if !row.action.is_empty() { ", " (row.action) }
                div { strong { (their_amount(row)) }
                    span.soft { " · row " (row.row) @if !row.place.is_empty() { " · " (row.place) } } }
                @if !row.remarks.is_empty() { div.soft.small { (row.remarks) } }
            }
        }
        @if let Some(amount) = entry.their_money { div.soft.small { (money(amount)) " as theirs" } }
    }
}

/// The quantity of a row, as far as it says one.
pub(super) fn their_amount(row: &TheirRow) -> String {
    match row.quantity {
        Some(number) => {
            let unit = row
                .unit
                .map_or(row.unit_words.as_str(), |unit| unit.label());
            format!("{} {unit}", number.normalize())
                .trim_end()
                .to_owned()
        }
        None => "no quantity".to_owned(),
    }
}

fn difference(entry: &Entry) -> Markup {
    html! {
        @if let Some(amounts) = &entry.amounts {
            @if amounts.difference.is_zero() {
                span.soft { "none in quantity" }
            } @else {
                strong.nowrap { (amounts.difference.abs().normalize()) " " (amounts.unit.label()) }
                @if amounts.difference.is_sign_negative() { " less" } @else { " more" }
                @if let Some(part) = amounts.part { span.soft { " for " (part) } }
            }
            @if let Some(words) = &amounts.converted { div.soft.small { (words) } }
        } @else {
            span.soft { "–" }
        }
        @for words in &entry.other_kind { div.small { (words) } }
    }
}

fn why(entry: &Entry) -> Markup {
    html! {
        details.small {
            summary { @if entry.by_person { "A person said so" } @else { "Why" } }
            ul.quiet {
                @for reason in &entry.reasons { li { (reason) } }
                @if let Some(certainty) = entry.certainty { li { "How sure the match is: " (certainty.label()) } }
                @for words in &entry.evidence.observed { li { "Observed: " (words) } }
                @for words in &entry.evidence.measured { li { "Quantity: " (words) } }
                @for required in &entry.evidence.requirements {
                    li { (required.edition) " " (required.section) ": " (required.words) "; " (required.confirm) }
                }
                @for words in &entry.evidence.unsure { li { "Unsure: " (words) } }
            }
        }
    }
}

fn ways(at: &AtJob, held: &Held, entry: &Entry) -> Markup {
    let join = format!("{}/beside/join?of={}", at.path(), held.id);
    html! {
        div.ways.no-print {
            @for row in &entry.theirs {
                a.button.small href={ (join) "&row=" (row.row) } {
                    @if entry.ours.is_empty() { "Join row " (row.row) } @else { "Part or join row " (row.row) }
                }
            }
            @if entry.theirs.is_empty() {
                @for line in &entry.ours {
                    a.button.small href={ (join) "&line=" (escaped(line.key.as_str())) } { "Join to a row" }
                }
            }
        }
    }
}

//! `GET /jobs/{job}/beside/join`: a row of theirs, and the lines of ours that it may stand for.

use axum::Extension;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::Response;
use chalkwalk_core::job::{Job, Kind, RecordId, RecordRef};
use chalkwalk_core::review::Reader;
use chalkwalk_core::review::compare::{Comparison, Entry, TheirRow};
use chalkwalk_core::review::scope::ScopeLine;
use maud::{Markup, html};

use super::super::at_job::AtJob;
use super::super::estimate::NotDone;
use super::super::fields::{Asked, Fields};
use super::super::form::Field;
use super::super::layout::Part;
use super::super::nothing_here;
use super::entry::{state, their_amount};
use super::opened::{Beside, Held};
use crate::limits;
use crate::serve::Shared;
use crate::serve::guard::SignedIn;

/// `GET /jobs/{job}/beside/join`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    Asked(asked): Asked,
) -> Response {
    shown(&shared, &who, &id, &asked, None).await
}

/// The page, with what went wrong above it where something did.
pub(super) async fn shown(
    shared: &Shared,
    who: &SignedIn,
    id: &str,
    asked: &Fields,
    not_done: Option<&NotDone>,
) -> Response {
    let opened = Beside::open(shared, who, id, asked.get("of"), Reader::Office).await;
    let beside = match opened {
        Ok(beside) => beside,
        Err(response) => return response,
    };
    let held = beside.held.as_ref();
    let Some((held, comparison)) = held.and_then(|held| Some((held, held.comparison.as_ref()?)))
    else {
        return nothing_here(shared);
    };
    let number = asked.get("row").parse::<u32>().ok();
    let entries = comparison.entries.iter();
    let found = number.and_then(|number| {
        entries
            .flat_map(|entry| entry.theirs.iter().map(move |row| (entry, row)))
            .find(|(_, row)| row.row == number)
    });
    let main = match found {
        Some((entry, row)) => one_row(&beside, held, entry, row, asked, not_done),
        None if number.is_none() => choose_row(&beside, held, comparison, asked),
        None => return nothing_here(shared),
    };
    let mut response = beside.at.page(Part::Beside, &[], &main);
    *response.status_mut() = not_done.map_or(StatusCode::OK, NotDone::status);
    response
}

fn up(at: &AtJob, held: &Held) -> Markup {
    html! { p.up { a href={ (at.path()) "/beside?of=" (held.id) } { "Insurer's scope" } } }
}

fn choose_row(beside: &Beside, held: &Held, comparison: &Comparison, asked: &Fields) -> Markup {
    let at = &beside.at;
    let line = beside
        .reckoned
        .scope
        .lines
        .iter()
        .find(|line| line.key.as_str() == asked.get("line"));
    let mut rows: Vec<&TheirRow> = comparison
        .entries
        .iter()
        .flat_map(|entry| &entry.theirs)
        .collect();
    rows.sort_by_key(|row| row.row);
    html! {
        (up(at, held))
        h2 { "Which row of theirs is it?" }
        @if let Some(line) = line { p.under { (in_words(line)) } }
        form.card.narrow method="get" action={ (at.path()) "/beside/join" } {
            input type="hidden" name="of" value=(held.id);
            input type="hidden" name="line" value=(asked.get("line"));
            div.field {
                label for="row" { "Row" }
                select id="row" name="row" required {
                    @for row in rows {
                        option value=(row.row) { (row.row) ": " (row.item) ", " (their_amount(row))
                            @if !row.place.is_empty() { ", " (row.place) } }
                    }
                }
            }
            button.main { "Go on" }
        }
    }
}

fn in_words(line: &ScopeLine) -> String {
    let amount = line.quantity.map_or_else(
        || "quantity not known".to_owned(),
        |quantity| quantity.to_string(),
    );
    format!(
        "{}: {}, {}, {amount}",
        line.place_words,
        line.item_words,
        line.action.label()
    )
}

/// The words of persons on a row that stand, in the order of their ids.
pub(super) fn said(job: &Job, other: &RecordId, row: u32) -> Vec<RecordId> {
    let other = RecordRef::new(Kind::OtherScope, other.clone());
    let words = job.records.scope_matches.iter();
    words
        .filter(|(_, word)| {
            word.stands() && word.row == Some(row) && word.other.as_ref() == Some(&other)
        })
        .map(|(id, _)| id.clone())
        .collect()
}

/// What names these words in a form.
pub(super) fn seen(words: &[RecordId]) -> String {
    let ids: Vec<&str> = words.iter().map(RecordId::as_str).collect();
    ids.join(" ")
}

fn one_row(
    beside: &Beside,
    held: &Held,
    entry: &Entry,
    row: &TheirRow,
    asked: &Fields,
    not_done: Option<&NotDone>,
) -> Markup {
    let at = &beside.at;
    let words = said(&at.job, &held.id, row.row);
    let now = seen(&words);
    let shown_with = match not_done {
        None | Some(NotDone::Clash(_)) => now.as_str(),
        Some(_) => asked.get("seen"),
    };
    let joined: Vec<&str> = entry.ours.iter().map(|line| line.key.as_str()).collect();
    let wanted: Vec<&str> = match asked.all("line").collect::<Vec<_>>() {
        none if none.is_empty() && not_done.is_none() => joined.clone(),
        lines => lines,
    };
    let close: Vec<&str> = entry
        .candidates
        .iter()
        .map(|found| found.line.as_str())
        .collect();
    let near = |line: &&ScopeLine| {
        let key = line.key.as_str();
        joined.contains(&key) || close.contains(&key) || wanted.contains(&key)
    };
    let lines = &beside.reckoned.scope.lines;
    let (first, rest): (Vec<&ScopeLine>, Vec<&ScopeLine>) = lines.iter().partition(near);
    html! {
        (up(at, held))
        h2 { "Row " (row.row) ": " (row.item) }
        p.under {
            (their_amount(row)) @if !row.place.is_empty() { " · " (row.place) }
            " · now " (state(entry.outcome)) @if entry.by_person { " by a person's word" }
        }
        @if let Some(not_done) = not_done { (not_done.shown()) }
        @for reason in &entry.reasons { p.soft { (reason) } }
        form.card method="post" action={ (at.path()) "/beside/say" } {
            input type="hidden" name="of" value=(held.id);
            input type="hidden" name="row" value=(row.row);
            input type="hidden" name="seen" value=(shown_with);
            fieldset {
                legend { "Lines of ours that it stands for" }
                @if first.is_empty() { p.soft { "None is close. Choose among all lines." } }
                @for line in &first { (tick(line, &wanted)) }
                @if !rest.is_empty() {
                    details open[first.is_empty()] {
                        summary { "All other lines" }
                        @for line in &rest { (tick(line, &wanted)) }
                    }
                }
            }
            (Field {
                name: "reason", label: "Why", value: asked.get("reason"), most: Some(limits::REASON_BYTES),
                wrong: not_done.and_then(|not_done| not_done.with_field("reason")), ..Field::default()
            }.line("text"))
            div.row {
                button.main name="do" value="join" { "Join with the ticked lines" }
                button name="do" value="alone" { "Ours has none of it" }
                @if !words.is_empty() { button name="do" value="back" { "Take the word of a person back" } }
            }
        }
    }
}

fn tick(line: &ScopeLine, wanted: &[&str]) -> Markup {
    html! {
        label.choice {
            input type="checkbox" name="line" value=(line.key) checked[wanted.contains(&line.key.as_str())];
            (in_words(line))
        }
    }
}

//! `GET /jobs/{job}/beside`: their scope beside ours, entry by entry.

use axum::Extension;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::Response;
use chalkwalk_core::review::Reader;
use chalkwalk_core::review::compare::{Comparison, Entry, Outcome, SkippedRow, TakenFor};
use maud::{Markup, html};

use super::super::at_job::AtJob;
use super::super::counted;
use super::super::estimate::money;
use super::super::fields::{Asked, Fields};
use super::super::form::{Field, Tone, notice};
use super::super::layout::Part;
use super::super::shots::Shots;
use super::entry::{row, state};
use super::opened::{Beside, Held, name};
use crate::limits;
use crate::serve::Shared;
use crate::serve::guard::SignedIn;
use crate::serve::icons::icon;

/// `GET /jobs/{job}/beside`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    Asked(asked): Asked,
) -> Response {
    shown(&shared, &who, &id, &asked, None).await
}

/// The page once more, with what went wrong above it.
pub(super) async fn again(
    shared: &Shared,
    who: &SignedIn,
    id: &str,
    asked: &Fields,
    words: &str,
) -> Response {
    shown(shared, who, id, asked, Some(words)).await
}

async fn shown(
    shared: &Shared,
    who: &SignedIn,
    id: &str,
    asked: &Fields,
    trouble: Option<&str>,
) -> Response {
    let read = async {
        let beside = Beside::open(shared, who, id, asked.get("of"), Reader::Office).await?;
        let pictures = Shots::of(&beside.at).await?;
        Ok::<_, Response>((beside, pictures))
    };
    let (beside, pictures) = match read.await {
        Ok(read) => read,
        Err(response) => return response,
    };
    let main = body(&beside, &pictures, asked, trouble);
    let mut response = beside.at.page(Part::Beside, &["print.js"], &main);
    if trouble.is_some() {
        *response.status_mut() = StatusCode::UNPROCESSABLE_ENTITY;
    }
    response
}

fn body(beside: &Beside, pictures: &Shots, asked: &Fields, trouble: Option<&str>) -> Markup {
    let at = &beside.at;
    html! {
        h2 { "Insurer's scope" }
        @if let Some(words) = trouble {
            (notice(Tone::Bad, &html! { p { strong { "The file was not taken. " } (words) } }))
        }
        @match &beside.held {
            None => {
                p.under { "No scope of anybody else is here yet. Hand theirs in, and see what differs, row by row." }
                (hand_in(at, asked, true))
            }
            Some(held) => {
                (which(beside, held))
                @match (&held.read, &held.comparison) {
                    (_, Some(comparison)) => (compared(beside, held, comparison, pictures, asked)),
                    (Err(words), None) => (notice(Tone::Bad, &html! { p { "The kept scope does not read: " (words) "." } })),
                    _ => {}
                }
                (hand_in(at, asked, trouble.is_some()))
                (strike(at, held))
            }
        }
        footer { p {
            "Both sides are shown as they state it, with what was observed, measured and counted. \
             Nothing here is a word on what a policy pays for."
        } }
    }
}

fn which(beside: &Beside, held: &Held) -> Markup {
    let (at, path) = (&beside.at, beside.at.path());
    let record = &held.record;
    html! {
        p.under {
            strong { (held.name()) } " · " (record.file_name.as_deref().unwrap_or("a file"))
            " · handed in by " (at.job.who(record.made.device)) ", " (at.when(record.made.at))
        }
        @if beside.all.len() > 1 {
            nav aria-label="Scopes of others" { ul.choices { @for (id, other) in &beside.all { li {
                a href={ (path) "/beside?of=" (id) } aria-current=[(*id == held.id).then_some("true")] {
                    (name(other)) ", " (at.when(other.made.at))
                }
            } } } }
        }
    }
}

fn compared(
    beside: &Beside,
    held: &Held,
    comparison: &Comparison,
    pictures: &Shots,
    asked: &Fields,
) -> Markup {
    let (at, path) = (&beside.at, beside.at.path());
    let only = Outcome::ALL
        .iter()
        .find(|outcome| outcome.code() == asked.get("show"));
    let shown: Vec<&Entry> = comparison
        .entries
        .iter()
        .filter(|entry| only.is_none_or(|only| entry.outcome == *only))
        .collect();
    let here = format!("{path}/beside?of={}", held.id);
    html! {
        nav.outcomes aria-label="Show" { ul {
            li { a href=(here) aria-current=[only.is_none().then_some("true")] {
                b { (comparison.entries.len()) } " all" } }
            @for outcome in Outcome::ALL {
                @let count = comparison.counts.get(outcome).copied().unwrap_or(0);
                @if count > 0 { li {
                    a href={ (here) "&show=" (outcome.code()) } aria-current=[(only == Some(outcome)).then_some("true")] {
                        b { (count) } " " (state(*outcome))
                    }
                } }
            }
        } }
        div.row.no-print {
            a.button.main href={ (path) "/beside/disputes?of=" (held.id) } { (icon("file-text")) "List of differences" }
            a.button href={ (path) "/beside/disputes.csv?of=" (held.id) } download { (icon("download")) "CSV" }
            (columns_link(at, held))
            button type="button" data-print hidden { (icon("printer")) "Print" }
        }
        p.hint { "Lengths and areas count as the same within " (comparison.tolerance.percent.normalize())
            " %; counts must be the same. The tolerance is common practice, no source." }
        (notes(comparison))
        div.sheet { table.stack.beside {
            thead { tr {
                th scope="col" { "State" } th scope="col" { "Ours" } th scope="col" { "Theirs" }
                th scope="col" { "Difference" } th scope="col" { "What it rests on" }
            } }
            tbody { @for entry in shown { (row(at, held, entry, pictures)) } }
        } }
        (sums(comparison))
        (skipped(&comparison.skipped))
    }
}

fn columns_link(at: &AtJob, held: &Held) -> Markup {
    let record = &held.record;
    let asked = Fields::default()
        .with("file", record.file_hash.as_deref().unwrap_or_default())
        .with("name", held.name())
        .with("as", record.file_name.as_deref().unwrap_or_default());
    html! {
        @if record.file_hash.is_some() {
            a.button href={ (at.path()) "/beside/read" (asked.as_query()) } { (icon("settings")) "Its columns" }
        }
    }
}

fn notes(comparison: &Comparison) -> Markup {
    html! {
        @if !comparison.notes.is_empty() {
            (notice(Tone::Warn, &html! { ul { @for note in &comparison.notes { li { (note) } } } }))
        }
        @if !comparison.broken.is_empty() {
            (notice(Tone::Bad, &html! {
                p { (counted(comparison.broken.len() as u64, "row of theirs could not be read and is compared with nothing:",
                    "rows of theirs could not be read and are compared with nothing:")) }
                ul { @for row in &comparison.broken { li { "line " (row.line) ": " (row.reason) } } }
            }))
        }
    }
}

fn sums(comparison: &Comparison) -> Markup {
    let sums = &comparison.money;
    html! {
        details.sums {
            summary { "Sums by item, work and unit" }
            div.sheet { table.stack {
                thead { tr {
                    th scope="col" { "Item" } th scope="col" { "Work" } th.count scope="col" { "Ours" }
                    th.count scope="col" { "Theirs" } th.count scope="col" { "Theirs less ours" }
                } }
                tbody { @for total in &comparison.totals { tr {
                    th scope="row" { (total.item.label()) }
                    td data-label="Work" { @match total.action { Some(action) => (action.label()), None => "not stated" } }
                    td.count data-label="Ours" { (total.ours.normalize()) " " (total.unit.label()) }
                    td.count data-label="Theirs" { (total.theirs.normalize()) " " (total.unit.label()) }
                    td.count data-label="Theirs less ours" { (total.difference.normalize()) " " (total.unit.label()) }
                } } }
            } }
        }
        @if sums.ours.is_some() || sums.theirs.is_some() {
            dl.facts {
                @if let Some(ours) = sums.ours { div { dt { "Ours at your own prices" } dd { (money(ours)) } } }
                @if let Some(theirs) = sums.theirs { div { dt { "Theirs as they state it" } dd { (money(theirs)) } } }
            }
        }
    }
}

fn skipped(rows: &[SkippedRow]) -> Markup {
    let word = |taken: TakenFor| match taken {
        TakenFor::Title => "above the head",
        TakenFor::Head => "the head",
        TakenFor::Section => "a heading",
        TakenFor::Sum => "a sum",
        TakenFor::Remark => "a remark",
    };
    html! {
        @if !rows.is_empty() {
            details.sums {
                summary { (counted(rows.len() as u64, "row that is no item", "rows that are no items")) }
                ul.quiet { @for row in rows { li { "line " (row.line) ", " (word(row.taken_for)) ": " (row.words) } } }
            }
        }
    }
}

fn hand_in(at: &AtJob, asked: &Fields, open: bool) -> Markup {
    html! {
        details.card.no-print open[open] {
            summary { "Hand in a scope" }
            form method="post" action={ (at.path()) "/beside" } enctype="multipart/form-data" {
                (Field {
                    name: "name", label: "Whose it is", hint: "Such as the insurer, or a name and a date.",
                    value: match asked.get("name") { "" => "the insurer", name => name },
                    required: true, most: Some(limits::SHARE_NOTE_BYTES), ..Field::default()
                }.line("text"))
                div.field {
                    label for="file" { "Their scope as CSV or XLSX" }
                    p.hint id="file-hint" { "With whatever columns it has: you see them before it is kept. A PDF has to be exported first." }
                    input id="file" name="file" type="file" required aria-describedby="file-hint"
                        accept=".csv,.tsv,.txt,.xlsx,text/csv";
                }
                button.main { (icon("upload")) "Look at it" }
            }
        }
    }
}

fn strike(at: &AtJob, held: &Held) -> Markup {
    html! {
        details.card.no-print {
            summary { "Strike this scope" }
            form method="post" action={ (at.path()) "/beside/strike" } {
                p.hint { "It stays in the record with your reason, and is shown here no more." }
                input type="hidden" name="of" value=(held.id);
                (Field { name: "reason", label: "Why", required: true, most: Some(limits::REASON_BYTES), ..Field::default() }.line("text"))
                button.risky { "Strike it" }
            }
        }
    }
}

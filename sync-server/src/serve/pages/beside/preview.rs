//! `GET /jobs/{job}/beside/read`: a file of theirs before it is kept: which column means what, and
//! how its rows read.

use axum::Extension;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::Response;
use chalkwalk_core::review::compare::columns::{Columns, Meaning};
use chalkwalk_core::review::compare::{Certainty, TheirScope};
use maud::{Markup, html};

use super::super::at_job::AtJob;
use super::super::counted;
use super::super::estimate::aside;
use super::super::fields::{Asked, Fields};
use super::super::form::{Tone, notice};
use super::super::layout::Part;
use super::entry::their_amount;
use super::look::{Look, bytes, look, turn};
use crate::limits;
use crate::serve::Shared;
use crate::serve::guard::SignedIn;

/// `GET /jobs/{job}/beside/read`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    Asked(asked): Asked,
) -> Response {
    let at = match AtJob::open(&shared, &who, &id).await {
        Ok(at) => at,
        Err(response) => return response,
    };
    shown(&at, &asked, None).await
}

/// The page, with what went wrong above it where something did.
pub(super) async fn shown(
    at: &AtJob,
    asked: &Fields,
    trouble: Option<(StatusCode, String)>,
) -> Response {
    let read = async {
        let bytes = bytes(at, asked).await?;
        let (job, fields) = (at.job.clone(), asked.clone());
        let _turn = match turn(&at.shared).await {
            Ok(turn) => turn,
            Err(words) => return Ok(Err(words.to_owned())),
        };
        aside(&at.shared, move || look(&job, &bytes, &fields)).await
    };
    let look = match read.await {
        Ok(look) => look,
        Err(response) => return response,
    };
    let main = match &look {
        Ok(look) => body(
            at,
            look,
            asked,
            trouble.as_ref().map(|(_, words)| words.as_str()),
        ),
        Err(words) => html! {
            h2 { "Their file" }
            (notice(Tone::Bad, &html! { p { (words) } }))
            p { a href={ (at.path()) "/beside" } { "Hand in another" } }
        },
    };
    let mut response = at.page(Part::Beside, &[], &main);
    if let Some((code, _)) = trouble {
        *response.status_mut() = code;
    }
    response
}

fn body(at: &AtJob, look: &Look, asked: &Fields, trouble: Option<&str>) -> Markup {
    let path = at.path();
    let head = look
        .columns
        .head_line
        .map_or_else(|| "none".to_owned(), |line| line.to_string());
    let hidden = |name: &str, value: &str| html! { input type="hidden" name=(name) value=(value); };
    html! {
        p.up { a href={ (path) "/beside" } { "Insurer's scope" } }
        h2 { "What stands in " (asked.get("as")) }
        p.under { (look.table.read_as) ". Nothing of it is recorded until you keep it." }
        @for words in trouble.into_iter().chain(look.trouble.as_deref()) {
            (notice(Tone::Bad, &html! { p { (words) } }))
        }
        @for words in &look.columns.notes { (notice(Tone::Warn, &html! { p { (words) } })) }
        form method="post" action={ (path) "/beside/keep" } {
            (hidden("file", asked.get("file")))
            (hidden("name", asked.get("name")))
            (hidden("as", asked.get("as")))
            (hidden("said", "yes"))
            (hidden("was-sheet", asked.get("sheet")))
            (hidden("was-head", &head))
            div.card {
                h3 { "Which column means what" }
                (where_it_begins(look, asked, &head))
                div.fields { @for meaning in Meaning::ALL { (choice(&look.columns, *meaning)) } }
                div.row {
                    button formmethod="get" formaction={ (path) "/beside/read" } { "Look again" }
                    @if look.rows.is_ok() { button.main { "Keep it and compare" } }
                }
            }
        }
        (as_it_came(look))
        @match &look.rows {
            Ok(rows) => (as_read(rows)),
            Err(words) => (notice(Tone::Warn, &html! { p { (words) } })),
        }
    }
}

fn where_it_begins(look: &Look, asked: &Fields, head: &str) -> Markup {
    html! {
        div.fields {
            @if look.table.sheets.len() > 1 {
                div.field {
                    label for="sheet" { "Sheet" }
                    select id="sheet" name="sheet" {
                        option value="" selected[asked.get("sheet").is_empty()] { "the first that names an item" }
                        @for sheet in &look.table.sheets {
                            option value=(sheet) selected[asked.get("sheet") == sheet] { (sheet) }
                        }
                    }
                }
            }
            div.field {
                label for="head" { "Line of the head" }
                p.hint id="head-hint" { "The line of the file that names the columns." }
                select id="head" name="head" aria-describedby="head-hint" {
                    option value="none" selected[head == "none"] { "there is none" }
                    @for row in look.table.rows.iter().take(chalkwalk_core::limits::SCOPE_HEAD_ROWS) {
                        @let line = row.line.to_string();
                        option value=(line) selected[line == head] { (line) ": " (short(&row.cells.join(" | "))) }
                    }
                }
            }
        }
    }
}

fn short(text: &str) -> String {
    text.chars().take(60).collect()
}

fn choice(columns: &Columns, meaning: Meaning) -> Markup {
    let (id, at) = (meaning.code(), columns.index(meaning));
    let column = at.and_then(|at| columns.columns.get(at));
    let needed = matches!(meaning, Meaning::Item | Meaning::Quantity);
    html! {
        div.field {
            label for=(id) { (meaning.label()) @if !needed { span.soft.small { " (optional)" } } }
            select id=(id) name=(id) aria-describedby=[column.map(|_| format!("{id}-why"))] {
                option value="" selected[at.is_none()] { "no column" }
                @for (index, column) in columns.columns.iter().enumerate() {
                    option value=(column.number) selected[at == Some(index)] {
                        (column.number) ": " @if column.title.is_empty() { "without a title" } @else { (short(&column.title)) }
                    }
                }
            }
            @if let Some(column) = column {
                p.hint id={ (id) "-why" } {
                    @if column.certainty == Certainty::Unsure { strong { "Unsure, look at it: " } }
                    (column.why)
                }
            }
        }
    }
}

fn as_it_came(look: &Look) -> Markup {
    let width = look
        .table
        .rows
        .iter()
        .take(limits::PREVIEW_ROWS)
        .map(|row| row.cells.len())
        .max()
        .unwrap_or(0);
    html! {
        h3 { "The file as it came" }
        div.sheet tabindex="0" role="region" aria-label="The file as it came" { table.cells {
            thead { tr {
                th scope="col" { "Line" }
                @for at in 0..width { th scope="col" {
                    "Column " (at + 1)
                    @if let Some(meaning) = look.columns.columns.get(at).and_then(|column| column.meaning) {
                        div.pill { (meaning.label()) }
                    }
                } }
            } }
            tbody { @for row in look.table.rows.iter().take(limits::PREVIEW_ROWS) { tr {
                th scope="row" { (row.line) }
                @for at in 0..width { td { (row.cells.get(at).map_or("", String::as_str)) } }
            } } }
        } }
        @if look.table.rows.len() > limits::PREVIEW_ROWS {
            p.soft { "and " (look.table.rows.len() - limits::PREVIEW_ROWS) " rows more" }
        }
    }
}

fn as_read(rows: &TheirScope) -> Markup {
    html! {
        h3 { "How it reads" }
        p {
            (counted(rows.rows.len() as u64, "row is an item", "rows are items")) ", "
            (counted(rows.skipped.len() as u64, "is none", "are none")) ", "
            (counted(rows.broken.len() as u64, "could not be read", "could not be read")) "."
        }
        @if !rows.broken.is_empty() {
            (notice(Tone::Warn, &html! { ul { @for row in &rows.broken { li { "line " (row.line) ": " (row.reason) } } } }))
        }
        div.sheet { table.stack {
            thead { tr {
                th scope="col" { "Row" } th scope="col" { "Item" } th scope="col" { "Where" }
                th.count scope="col" { "Quantity" } th.count scope="col" { "Money" }
            } }
            tbody { @for row in rows.rows.iter().take(limits::PREVIEW_ROWS) { tr {
                th scope="row" { (row.row) }
                td data-label="Item" { (row.item) @if !row.action.is_empty() { ", " (row.action) } }
                td data-label="Where" { (row.place) }
                td.count data-label="Quantity" { (their_amount(row)) }
                td.count data-label="Money" { @if let Some(total) = row.total { (total) } }
            } } }
        } }
    }
}

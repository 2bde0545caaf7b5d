//! The list of jobs: how far each has come, what is still on a phone, and a search. It reads the
//! lines that storage keeps and opens no job that it has a line of.

mod lines;
mod mark;
pub(in crate::serve) mod missing;
mod search;
mod stage;

use axum::Extension;
use axum::extract::{Query as Asked, State};
use axum::response::{IntoResponse, Response};
use chalkwalk_core::job::Role;
use maud::{Markup, html};

use super::super::Shared;
use super::super::guard::{SignedIn, rank};
use super::super::icons::icon;
use super::form::Field;
use super::layout;
use super::{counted, moment, unwell};
use lines::{Line, Lines};
use search::Query;

pub(in crate::serve) use mark::{code as mark_code, mark};
pub(in crate::serve) use missing::Missing;
pub(in crate::serve) use stage::Stage;

/// `GET /`.
pub(in crate::serve) async fn list(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Asked(query): Asked<Query>,
) -> Response {
    match lines::read(&shared.hub, who.person.role, &query.search()).await {
        Ok(lines) => {
            let company = &shared.hub.office().company().name;
            let may_prepare = rank(who.person.role) >= rank(Role::Estimator);
            let body = body(&shared, company, &query, &lines, may_prepare);
            let title = format!("Jobs · {company}");
            layout::page(&shared, Some(&who.person), &title, &["live.js"], &body).into_response()
        }
        Err(refusal) => unwell(&shared, &refusal),
    }
}

fn body(shared: &Shared, company: &str, query: &Query, lines: &Lines, may_prepare: bool) -> Markup {
    let base = &shared.base;
    html! {
        main.apart id="main" tabindex="-1" {
            header.jobs-head {
                div {
                    h1 { "Jobs" }
                    p.under { (company) ", " (counted(lines.all as u64, "job", "jobs")) " at the office" }
                }
                @if may_prepare {
                    a.button.main href={ (base) "/jobs/new" } { (icon("plus")) "Prepare a job" }
                }
            }
            @if lines.all == 0 { (nothing_yet(base, may_prepare)) } @else {
                (form(base, query))
                div data-live="jobs" data-news={ (base) "/live" } { (found(base, query, lines)) }
                p.small.soft { span.heard { "What comes in is shown at once." }
                    span.unheard { a href=(query.address(base, query.search().stage, query.search().page)) {
                        "Load again" } " to see what has come in since." } }
            }
            footer { p { "Shown as recorded by the crews. Times are in UTC." } }
        }
    }
}

fn form(base: &str, query: &Query) -> Markup {
    let field = |name, label, value| Field {
        name,
        label,
        value,
        required: true,
        ..Field::default()
    };
    html! {
        form.search role="search" action={ (base) "/" } {
            div.row {
                div.grow { (optional(&field("q", "Address, owner or date", &query.q), "search")) }
                (optional(&field("from", "Loss from", &query.from), "date"))
                (optional(&field("to", "to", &query.to), "date"))
                @if !query.stage.is_empty() { input type="hidden" name="stage" value=(query.stage); }
                button { (icon("search")) "Search" }
            }
        }
    }
}

/// A field of a search: nothing of it has to be filled, which goes without saying.
fn optional(field: &Field<'_>, kind: &str) -> Markup {
    html! {
        div.field {
            label for=(field.name) { (field.label) }
            input id=(field.name) name=(field.name) type=(kind) value=(field.value);
        }
    }
}

fn found(base: &str, query: &Query, lines: &Lines) -> Markup {
    let search = query.search();
    html! {
        ul.stages aria-label="Stages" {
            li { a href=(query.address(base, None, 0))
                aria-current=[search.stage.is_none().then_some("true")] { "all " b { (lines.found) } } }
            @for (stage, count) in &lines.stages { @if *count > 0 || search.stage == Some(*stage) {
                li { a href=(query.address(base, Some(*stage), 0))
                    aria-current=[(search.stage == Some(*stage)).then_some("true")] {
                    (stage.shown()) b { (count) } } }
            } }
        }
        @if lines.shown.is_empty() {
            div.sheet.empty {
                strong { "No job is like that." }
                p { a href={ (base) "/" } { "Show all jobs" }
                    @if query.narrows() { ", or search for less." } }
            }
        } @else {
            div.sheet { table.jobs.stack {
                thead { tr {
                    th scope="col" { "House" } th scope="col" { "Stage" }
                    th scope="col" { "Date of loss" }
                    th.count scope="col" { "Findings" } th.count scope="col" { "Photos" }
                    th scope="col" { "Still on a phone" } th scope="col" { "Last news" }
                } }
                tbody { @for line in &lines.shown { (row(base, line)) } }
            } }
        }
        (turn(base, query, lines))
    }
}

fn row(base: &str, line: &Line) -> Markup {
    let status = &line.status;
    let summary = status.summary.clone().unwrap_or_default();
    html! {
        tr {
            th scope="row" {
                a href={ (base) "/jobs/" (status.job) } { (summary.title) }
                @if let Some(owner) = &summary.owner { div.owner { (owner) } }
            }
            td data-label="Stage" {
                (line.stage.shown())
                @if summary.questions > 0 {
                    div.small.soft { (counted(u64::from(summary.questions), "question", "questions")) " open" }
                }
                @if line.news_since { div.small.missing { "news since" } }
            }
            td.nowrap data-label="Date of loss" {
                @match summary.date_of_loss {
                    Some(date) => (date),
                    None => span.soft { "not recorded" },
                }
            }
            td.count data-label="Findings" { (summary.findings) }
            td.count data-label="Photos" { (summary.photos) }
            td data-label="Still on a phone" { (line.missing.shown()) }
            td data-label="Last news" { (moment(status.last_news)) }
        }
    }
}

fn turn(base: &str, query: &Query, lines: &Lines) -> Markup {
    let search = query.search();
    let at = |page| query.address(base, search.stage, page);
    html! {
        @if lines.pages > 1 {
            nav.turn aria-label="Pages" {
                @if lines.page > 0 {
                    a.button href=(at(lines.page - 1)) rel="prev" { (icon("chevron-left")) "Before" }
                }
                span { "Page " (lines.page + 1) " of " (lines.pages) }
                @if lines.page + 1 < lines.pages {
                    a.button href=(at(lines.page + 1)) rel="next" { "After" (icon("chevron-right")) }
                }
            }
        }
    }
}

fn nothing_yet(base: &str, may_prepare: bool) -> Markup {
    html! {
        div.sheet.empty {
            strong { "No job has come in yet." }
            ol {
                @if may_prepare {
                    li { "Make a code for each phone among the " a href={ (base) "/devices" } { "devices" }
                        ", or on this machine: " code { "chalkwalk invite" } "." }
                    li { "On the phone, enrol with this server's address and the code." }
                    li { a href={ (base) "/jobs/new" } { "Prepare a job" }
                        ", or let the crew begin one at the house and sync: its line appears here." }
                } @else {
                    li { "Begin a job on a phone that the office has enrolled, and sync: its line appears here." }
                    li { "A new phone needs a code from the office: " code { "chalkwalk invite" } "." }
                }
            }
        }
    }
}

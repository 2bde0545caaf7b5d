//! `GET /jobs/{job}/scope`: every line of the scope, place by place.

use axum::Extension;
use axum::extract::{Path, State};
use axum::response::Response;
use chalkwalk_core::review::scope::{LineKey, ScopeLine};
use maud::{Markup, html};

use super::super::at_job::AtJob;
use super::super::form::{Tone, notice};
use super::super::layout::Part;
use super::super::shots::Shots;
use super::super::words::called;
use super::super::{counted, escaped};
use super::reckoned::{Reckoned, money};
use super::stands::{changed, quantity, rests_on, unsure};
use crate::serve::Shared;
use crate::serve::guard::SignedIn;
use crate::serve::icons::icon;

/// Photos beside a line.
const BESIDE: usize = 3;

/// `GET /jobs/{job}/scope`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
) -> Response {
    let read = async {
        let at = AtJob::open(&shared, &who, &id).await?;
        let reckoned = Reckoned::of(&at).await?;
        let pictures = Shots::of(&at).await?;
        Ok::<_, Response>((at, reckoned, pictures))
    };
    match read.await {
        Ok((at, reckoned, pictures)) => {
            let main = body(&at, &reckoned, &pictures);
            at.page(Part::Scope, &["print.js"], &main)
        }
        Err(response) => response,
    }
}

fn body(at: &AtJob, reckoned: &Reckoned, pictures: &Shots) -> Markup {
    let (scope, path) = (&reckoned.scope, at.path());
    let open = scope.lines.iter().filter(|line| !line.unsure.is_empty());
    let changed = scope.lines.iter().filter(|line| line.change.is_some());
    html! {
        h2 { "Scope" }
        ul.tally {
            li { b { (scope.lines.len()) } span { (plural(scope.lines.len(), "line", "lines")) } }
            li { b { (open.count()) } span { "with something unsure" } }
            li { b { (changed.count()) } span { "changed or added by the office" } }
            li { b { (scope.withheld.len()) } span { "findings that make no line" } }
            @if let Some(priced) = &reckoned.priced {
                li { b { (money(priced.total)) } span { "at your own prices" } }
            }
        }
        div.row.no-print {
            a.button.main href={ (path) "/scope/line/new" } { (icon("plus")) "Add a line" }
            a.button href={ (path) "/scope/inputs" } { (icon("settings")) "What it is made with" }
            a.button href={ (at.shared.base) "/prices" } { (icon("coins")) "Price list" }
            a.button href={ (path) "/scope.csv" } download { (icon("download")) "CSV" }
            a.button href={ (path) "/scope.json" } download { (icon("download")) "JSON" }
            button type="button" data-print hidden { (icon("printer")) "Print" }
        }
        (made_with(at, reckoned))
        @if scope.lines.is_empty() { (nothing(at)) } @else { (lines(at, reckoned, pictures)) }
        (left_out(at, &scope.left_out))
        (withheld(at, reckoned))
        (orphans(at, reckoned))
        (sums(reckoned))
        footer { p {
            "A line says what was found and what a code asks for, to be confirmed with the local \
             authority. It is no word on what a policy pays for."
        } }
    }
}

pub(super) fn plural(count: usize, one: &'static str, many: &'static str) -> &'static str {
    if count == 1 { one } else { many }
}

fn made_with(at: &AtJob, reckoned: &Reckoned) -> Markup {
    let set = &reckoned.set;
    html! {
        p.under {
            "Code: "
            @match reckoned.edition(&at.job) {
                Some(edition) => (edition),
                None => strong { "no edition is stated, so none is held against the roof" },
            }
            " · waste: "
            @match set.inputs.waste_percent {
                Some(percent) => { (percent) " %" },
                None => "not stated",
            }
            @if let Some(by) = &set.set { " · set by " (by.by) ", " (at.when(by.at)) }
            @match &reckoned.prices {
                Some(prices) => { " · prices of " (prices.head.file) ", " (at.when(prices.head.set.at)) }
                None => " · no price list",
            }
        }
    }
}

fn nothing(at: &AtJob) -> Markup {
    html! {
        div.sheet.empty {
            strong { "The record makes no line yet." }
            p { "A line comes from a finding that is damaged and has a cause, from a slope to be \
                 replaced, or from a count. See the "
                a href={ (at.path()) "/findings" } { "findings" } ", or add a line yourself." }
        }
    }
}

fn lines(at: &AtJob, reckoned: &Reckoned, pictures: &Shots) -> Markup {
    let priced = reckoned.priced.is_some();
    let mut groups: Vec<(&str, Vec<&ScopeLine>)> = Vec::new();
    for line in &reckoned.scope.lines {
        match groups.last_mut() {
            Some((place, lines)) if *place == line.place_words => lines.push(line),
            _ => groups.push((&line.place_words, vec![line])),
        }
    }
    html! {
        @for (place, lines) in groups {
            section {
                h3.place { (place) }
                div.sheet { table.stack.scope {
                    thead { tr {
                        th scope="col" { "Work" } th.count scope="col" { "Quantity" }
                        th scope="col" { "Rests on" }
                        @if priced { th.count scope="col" { "Money" } }
                        th scope="col" { span.out-of-sight { "What to do" } }
                    } }
                    tbody { @for line in lines { (row(at, reckoned, pictures, line)) } }
                } }
            }
        }
    }
}

fn row(at: &AtJob, reckoned: &Reckoned, pictures: &Shots, line: &ScopeLine) -> Markup {
    html! {
        tr id=(anchor(&line.key)) {
            th scope="row" {
                a href=(href(at, line)) { (line.item_words) }
                div.soft { (line.action.label()) }
                (changed(at, line))
            }
            td.count data-label="Quantity" { (quantity(line)) }
            td data-label="Rests on" {
                (rests_on(at, line))
                (unsure(line))
                (pictures.row(&at.job, &line.photos, BESIDE))
            }
            @if let Some(priced) = &reckoned.priced {
                td.count data-label="Money" {
                    @match priced.lines.iter().find(|money| money.key == line.key) {
                        Some(priced) => {
                            (money(priced.amount))
                            div.soft.small { (priced.unit_price) " a unit" }
                        }
                        None => span.soft { "no price" },
                    }
                }
            }
            td.no-print { a.button.small href=(href(at, line)) { "Open" } }
        }
    }
}

/// Where a line is looked at and changed.
pub(super) fn href(at: &AtJob, line: &ScopeLine) -> String {
    format!(
        "{}/scope/line?key={}",
        at.path(),
        escaped(line.key.as_str())
    )
}

/// The place of a line on the page of the scope.
pub(super) fn anchor(key: &LineKey) -> String {
    format!(
        "line-{}",
        &blake3::hash(key.as_str().as_bytes()).to_hex()[..12]
    )
}

fn left_out(at: &AtJob, lines: &[ScopeLine]) -> Markup {
    html! {
        @if !lines.is_empty() {
            h2 { "Left out by the office" }
            div.sheet { table.stack {
                thead { tr {
                    th scope="col" { "Work" } th scope="col" { "Where" }
                    th.count scope="col" { "Quantity" } th scope="col" { "Why" }
                } }
                tbody { @for line in lines { tr id=(anchor(&line.key)) {
                    th scope="row" { a href=(href(at, line)) { (line.item_words) }
                        div.soft { (line.action.label()) } }
                    td data-label="Where" { (line.place_words) }
                    td.count data-label="Quantity" { (quantity(line)) }
                    td data-label="Why" { (changed(at, line)) }
                } } }
            } }
        }
    }
}

fn withheld(at: &AtJob, reckoned: &Reckoned) -> Markup {
    let held = &reckoned.scope.withheld;
    html! {
        @if !held.is_empty() {
            h2 { "Findings that make no line" }
            ul.card.plain-list { @for held in held { li {
                (held.words)
                div { (called(at, &held.finding)) }
            } } }
        }
    }
}

fn orphans(at: &AtJob, reckoned: &Reckoned) -> Markup {
    let orphans = &reckoned.scope.orphaned;
    html! {
        @if !orphans.is_empty() {
            h2 { "Changes whose line no longer stands" }
            (notice(Tone::Warn, &html! { p {
                "The record changed under these. Look at each: its line may stand elsewhere now."
            } }))
            ul.card.plain-list { @for orphan in orphans { li {
                (orphan.words)
                div.soft { (at.job.who(orphan.by.device)) ", " (at.when(orphan.by.at)) }
            } } }
        }
    }
}

fn sums(reckoned: &Reckoned) -> Markup {
    let scope = &reckoned.scope;
    html! {
        @if !scope.totals.is_empty() {
            details.sums {
                summary { "Sums by item and work" }
                div.sheet { table.stack {
                    thead { tr {
                        th scope="col" { "Item" } th scope="col" { "Work" }
                        th.count scope="col" { "Sum" } th.count scope="col" { "Lines" }
                    } }
                    tbody { @for total in &scope.totals { tr {
                        th scope="row" { (total.item.label()) }
                        td data-label="Work" { (total.action.label()) }
                        td.count data-label="Sum" { (total.quantity) }
                        td.count data-label="Lines" {
                            (total.lines)
                            @if total.without_quantity > 0 {
                                " and " (total.without_quantity) " without a quantity"
                            }
                        }
                    } } }
                } }
            }
        }
        @if let Some(priced) = &reckoned.priced {
            h2 { "Money at your own prices" }
            div.sheet { table {
                tbody {
                    tr { th scope="row" { "Lines from what was found" } td.count { (money(priced.existing)) } }
                    tr { th scope="row" { "Lines that a code asks for" } td.count { (money(priced.required)) } }
                    tr { th scope="row" { "Lines that the office added" } td.count { (money(priced.added)) } }
                }
                tfoot { tr { th scope="row" { "Sum of the lines with a price" } td.count { (money(priced.total)) } } }
            } }
            @if !priced.unpriced.is_empty() {
                (notice(Tone::Warn, &html! {
                    p { strong { (counted(priced.unpriced.len() as u64, "line has no price", "lines have no price")) }
                        " and stand in no sum:" }
                    ul { @for line in &priced.unpriced { li { (line.words) ": " (line.reason) } } }
                }))
            }
        }
    }
}

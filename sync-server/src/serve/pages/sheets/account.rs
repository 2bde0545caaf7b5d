//! `GET /jobs/{job}/account`: the plain account of the visit for the owner.

use std::sync::Arc;

use axum::Extension;
use axum::extract::{Path, State};
use axum::response::Response;
use chalkwalk_core::review::account::{AccountLine, OwnersAccount, owners_account};
use maud::{Markup, html};

use super::super::at_job::AtJob;
use super::super::estimate::aside;
use super::super::form::{Tone, notice};
use super::super::layout::Part;
use super::super::memo::Worked;
use super::super::shots::Shots;
use super::super::words::called;
use crate::serve::Shared;
use crate::serve::guard::SignedIn;
use crate::serve::icons::icon;

/// Photos beside a line.
const BESIDE: usize = 4;

/// `GET /jobs/{job}/account`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
) -> Response {
    let read = async {
        let at = AtJob::open(&shared, &who, &id).await?;
        let worked = at.worked();
        let account = aside(&at.shared, move || told(&worked)).await?;
        let pictures = Shots::of(&at).await?;
        Ok::<_, Response>((at, account, pictures))
    };
    match read.await {
        Ok((at, account, pictures)) => at.page(
            Part::Account,
            &["print.js"],
            &body(&at, &account, &pictures),
        ),
        Err(response) => response,
    }
}

/// The account of a reading of a job.
pub(in crate::serve) fn told(worked: &Worked) -> Arc<OwnersAccount> {
    worked.once("owner", owners_account)
}

fn body(at: &AtJob, account: &OwnersAccount, pictures: &Shots) -> Markup {
    html! {
        h2 { "Owner's account" }
        p.under {
            (account.address)
            @if !account.days.is_empty() { " · visited " (account.days.join(", ")) }
        }
        div.row.no-print {
            button type="button" data-print hidden { (icon("printer")) "Print" }
            a.button href={ (at.path()) "/access" } { (icon("link")) "Send a link instead" }
        }
        (held_back(at, account))
        div.letter {
            (part(at, pictures, "What was looked at", &account.looked_at))
            @if !account.observed.is_empty() {
                h3 { "What was observed" }
                @for place in &account.observed {
                    h4 { (place.name) }
                    (lines(at, pictures, &place.lines))
                }
            }
            (part(at, pictures, "What was there before", &account.before))
            (part(at, pictures, "What is unsure", &account.unsure))
            @if !account.next.is_empty() {
                h3 { "What happens next" }
                ul { @for words in &account.next { li { (words) } } }
            }
            h3 { "Take care" }
            ul { @for words in account.cautions { li { (words) } } }
            h3 { "The signature" }
            @if account.signature.signed_by.is_empty() { p { "Nobody has signed." } }
            @else { p { "Signed by " (account.signature.signed_by.join(", ")) "." } }
            p { (account.signature.means) }
            p { strong { (account.no_promise) } }
        }
    }
}

fn held_back(at: &AtJob, account: &OwnersAccount) -> Markup {
    html! {
        @if !account.held_back.is_empty() {
            div.no-print { (notice(Tone::Warn, &html! {
                p { "Words that speak of cover or payment are held back from this account. They stand with:" }
                ul { @for record in &account.held_back { li { (called(at, record)) } } }
            })) }
        }
    }
}

fn part(at: &AtJob, pictures: &Shots, title: &str, all: &[AccountLine]) -> Markup {
    html! { @if !all.is_empty() { h3 { (title) } (lines(at, pictures, all)) } }
}

fn lines(at: &AtJob, pictures: &Shots, lines: &[AccountLine]) -> Markup {
    html! {
        ul.sheet-lines { @for line in lines { li {
            p { (line.text) }
            (pictures.row(&at.job, &line.photos, BESIDE))
        } } }
    }
}

//! The list of differences, for whoever works on the claim: a page to print, and CSV. Nothing that
//! is for the office only is on it.

use axum::Extension;
use axum::extract::{Path, State};
use axum::response::Response;
use chalkwalk_core::review::Reader;
use chalkwalk_core::review::compare::{self, Dispute};
use maud::{Markup, html};

use super::super::at_job::AtJob;
use super::super::estimate::{given, money};
use super::super::fields::Asked;
use super::super::layout::Part;
use super::super::nothing_here;
use super::super::shots::Shots;
use super::entry::state;
use super::opened::{Beside, Held};
use crate::serve::Shared;
use crate::serve::guard::SignedIn;
use crate::serve::icons::icon;

async fn opened(
    shared: &Shared,
    who: &SignedIn,
    id: &str,
    of: &str,
) -> Result<(Beside, compare::DisputeList), Response> {
    let beside = Beside::open(shared, who, id, of, Reader::Anyone).await?;
    let held = beside.held.as_ref();
    let comparison = held.and_then(|held| held.comparison.as_ref());
    match comparison.map(compare::disputes) {
        Some(list) => Ok((beside, list)),
        None => Err(nothing_here(shared)),
    }
}

/// `GET /jobs/{job}/beside/disputes`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    Asked(asked): Asked,
) -> Response {
    let read = async {
        let (beside, list) = opened(&shared, &who, &id, asked.get("of")).await?;
        let pictures = Shots::of(&beside.at).await?;
        Ok::<_, Response>((beside, list, pictures))
    };
    let (beside, list, pictures) = match read.await {
        Ok(read) => read,
        Err(response) => return response,
    };
    let Some(held) = &beside.held else {
        return nothing_here(&shared);
    };
    let at = &beside.at;
    let main = html! {
        (head(at, held))
        p { (list.about) }
        @if list.disputes.is_empty() { p { strong { "The two scopes state the same." } } }
        ol.disputes { @for dispute in &list.disputes { (one(at, &pictures, dispute)) } }
    };
    at.page(Part::Beside, &["print.js"], &main)
}

fn head(at: &AtJob, held: &Held) -> Markup {
    let path = at.path();
    html! {
        p.up.no-print { a href={ (path) "/beside?of=" (held.id) } { "Insurer's scope" } }
        h2 { "Differences with the scope of " (held.name()) }
        p.under {
            (held.record.file_name.as_deref().unwrap_or("their file")) " · as of " (at.when(at.shared.hub.now()))
            " · " (at.shared.hub.office().company().name)
        }
        div.row.no-print {
            a.button href={ (path) "/beside/disputes.csv?of=" (held.id) } download { (icon("download")) "CSV" }
            button type="button" data-print hidden { (icon("printer")) "Print" }
        }
    }
}

fn one(at: &AtJob, pictures: &Shots, dispute: &Dispute) -> Markup {
    html! {
        li.card value=(dispute.number) {
            h3 { (dispute.number) ". " (dispute.item) }
            p.under { (dispute.place) " · " (state(dispute.outcome)) }
            dl.facts {
                div { dt { "Theirs" } dd { @if dispute.theirs.is_empty() { "no row" } @else { (dispute.theirs) } } }
                div { dt { "Ours" } dd { @if dispute.ours.is_empty() { "no line" } @else { (dispute.ours) } } }
                div { dt { "Difference" } dd { (dispute.difference) } }
                @if let Some(amount) = dispute.their_money { div { dt { "Their money" } dd { (money(amount)) } } }
                @if let Some(amount) = dispute.our_money { div { dt { "At our own prices" } dd { (money(amount)) } } }
            }
            p { (dispute.reason) }
            @for words in &dispute.unsure { p { span.state.unsure { (icon("circle-question-mark")) "unsure" } " " (words) } }
            (pictures.all(&at.job, &dispute.photos))
        }
    }
}

/// `GET /jobs/{job}/beside/disputes.csv`.
pub(in crate::serve) async fn csv(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    Asked(asked): Asked,
) -> Response {
    match opened(&shared, &who, &id, asked.get("of")).await {
        Ok((beside, list)) => {
            let bytes = compare::disputes_csv(&list);
            given(
                &beside.at,
                "differences.csv",
                "text/csv; charset=utf-8",
                bytes,
            )
            .await
        }
        Err(response) => response,
    }
}

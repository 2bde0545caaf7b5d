//! The office's plain pages. They work without scripts and load nothing from elsewhere.

mod job;
mod list;

use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use chalkwalk_core::document::Refusal;
use chalkwalk_core::job::{JobId, Millis};
use chrono::DateTime;
use maud::{DOCTYPE, Markup, html};

use super::Shared;

/// Every job.
pub(super) async fn list(State(shared): State<Shared>) -> Response {
    match list::lines(&shared.hub).await {
        Ok(lines) => list::page(&shared.hub.office().company().name, &lines).into_response(),
        Err(refusal) => unwell(&refusal),
    }
}

/// One job.
pub(super) async fn job(State(shared): State<Shared>, Path(id): Path<String>) -> Response {
    let Ok(id) = id.parse::<JobId>() else {
        return not_found().await;
    };
    match job::read(&shared.hub, id).await {
        Ok(Some(view)) => job::page(&view).into_response(),
        Ok(None) => not_found().await,
        Err(refusal) => unwell(&refusal),
    }
}

/// Nothing stands at this address.
pub(super) async fn not_found() -> Response {
    let body = html! {
        header { h1 { "Nothing is here" } }
        main { p { "No page stands at this address. " a href="/" { "All jobs" } } }
    };
    (StatusCode::NOT_FOUND, frame("Nothing is here", &body)).into_response()
}

fn unwell(refusal: &Refusal) -> Response {
    tracing::error!(%refusal, "a page could not be read");
    let body = html! {
        header { h1 { "The record cannot be read now" } }
        main {
            p { "Nothing that was kept is lost by this. Try again in a moment; the server's log \
                 says why." }
        }
    };
    let page = frame("The record cannot be read now", &body);
    (StatusCode::SERVICE_UNAVAILABLE, page).into_response()
}

fn frame(title: &str, body: &Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) }
                link rel="stylesheet" href="/style.css";
            }
            body { (body) }
        }
    }
}

/// A moment as people read it, in UTC.
fn moment(at: Millis) -> String {
    DateTime::from_timestamp_millis(at).map_or_else(
        || "at an unknown time".to_owned(),
        |at| at.format("%Y-%m-%d %H:%M UTC").to_string(),
    )
}

/// `1 photo`, `2 photos`.
fn counted(count: u64, one: &str, many: &str) -> String {
    match count {
        1 => format!("1 {one}"),
        _ => format!("{count} {many}"),
    }
}

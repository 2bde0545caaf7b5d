//! Whether the server is well: for people and for machines that watch it.

use std::time::Duration;

use axum::Json;
use axum::extract::State;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use chalkwalk_core::limits;
use serde::Serialize;

use super::Shared;

/// A store that does not answer for so long is not well.
const PATIENCE: Duration = Duration::from_secs(3);

#[derive(Serialize)]
struct Health {
    status: &'static str,
    version: &'static str,
    live_sessions: usize,
}

/// `GET /health`: the process runs and answers. As JSON where that is asked for.
pub(super) async fn health(State(shared): State<Shared>, headers: HeaderMap) -> Response {
    answer(&shared, &headers, StatusCode::OK, "ok")
}

/// `GET /ready`: `200` where storage takes writes and the server does not stop, else `503`.
pub(super) async fn ready(State(shared): State<Shared>, headers: HeaderMap) -> Response {
    if *shared.stop.borrow() {
        let code = StatusCode::SERVICE_UNAVAILABLE;
        return answer(&shared, &headers, code, "the server stops");
    }
    let answered = tokio::time::timeout(PATIENCE, shared.hub.records().ping()).await;
    match answered {
        Ok(Ok(())) => return answer(&shared, &headers, StatusCode::OK, "ready"),
        Ok(Err(error)) => tracing::error!(error = error.chain(), "storage does not answer"),
        Err(_) => tracing::error!("storage does not answer in time"),
    }
    let code = StatusCode::SERVICE_UNAVAILABLE;
    answer(&shared, &headers, code, "storage does not answer")
}

fn answer(
    shared: &Shared,
    headers: &HeaderMap,
    code: StatusCode,
    status: &'static str,
) -> Response {
    let accept = headers
        .get(header::ACCEPT)
        .and_then(|accept| accept.to_str().ok());
    if accept.is_some_and(|accept| accept.contains("application/json")) {
        let free = shared.sessions.available_permits();
        let health = Health {
            status,
            version: env!("CARGO_PKG_VERSION"),
            live_sessions: limits::LIVE_SESSIONS.saturating_sub(free),
        };
        return (code, Json(health)).into_response();
    }
    (code, format!("{status}\n")).into_response()
}

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

/// `200` and `ok` where storage takes writes, else `503`. As JSON where that is asked for.
pub(super) async fn health(State(shared): State<Shared>, headers: HeaderMap) -> Response {
    let answer = tokio::time::timeout(PATIENCE, shared.hub.records().ping()).await;
    let well = match answer {
        Ok(Ok(())) => true,
        Ok(Err(error)) => {
            tracing::error!(error = error.chain(), "storage does not answer");
            false
        }
        Err(_) => {
            tracing::error!("storage does not answer in time");
            false
        }
    };
    let (code, status) = if well {
        (StatusCode::OK, "ok")
    } else {
        (StatusCode::SERVICE_UNAVAILABLE, "storage does not answer")
    };
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

//! `POST /enrol`: a code for a certificate.

use axum::Json;
use axum::body::Bytes;
use axum::extract::{ConnectInfo, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};

use super::Shared;
use super::front::Peer;
use super::guard::{call_unwell, refusal as no, too_many};
use super::tries::{Guess, network};
use crate::enrol::{EnrolError, EnrolRequest};

pub(super) async fn enrol(
    State(shared): State<Shared>,
    ConnectInfo(peer): ConnectInfo<Peer>,
    headers: HeaderMap,
    body: Bytes,
) -> Response {
    let now = shared.hub.now();
    let guess = Guess::Code(network(shared.house.front.client(&headers, peer)));
    match shared.may_try(guess, now).await {
        Ok(true) => {}
        Ok(false) => return too_many("too many wrong codes: wait a minute and try again"),
        Err(error) => return call_unwell(&error),
    }
    let wrong = async |code: StatusCode, words: &str| match shared.count_try(guess, now).await {
        Ok(_) => no(code, words),
        Err(error) => call_unwell(&error),
    };
    let Ok(request) = serde_json::from_slice::<EnrolRequest>(&body) else {
        return wrong(StatusCode::BAD_REQUEST, "the request is not an enrolment").await;
    };
    let hub = &shared.hub;
    match crate::enrol::enrol(hub.records(), hub.office(), &request, now).await {
        Ok(answer) => {
            tracing::info!(device = %request.device, role = request.role.code(), "enrolled");
            Json(answer).into_response()
        }
        Err(error @ (EnrolError::Code(_) | EnrolError::Role)) => {
            wrong(StatusCode::FORBIDDEN, &error.to_string()).await
        }
        Err(error @ EnrolError::Malformed(_)) => {
            wrong(StatusCode::BAD_REQUEST, &error.to_string()).await
        }
        Err(error) => {
            tracing::error!(%error, "a device could not be enrolled");
            no(
                StatusCode::SERVICE_UNAVAILABLE,
                "the office cannot answer now: try again later",
            )
        }
    }
}

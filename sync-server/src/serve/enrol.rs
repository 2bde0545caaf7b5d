//! `POST /enrol`: a code for a certificate.

use axum::Json;
use axum::body::Bytes;
use axum::extract::{ConnectInfo, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};

use super::Shared;
use super::front::Peer;
use super::guard::{refusal as no, too_many};
use super::tries::network;
use crate::enrol::{EnrolError, EnrolRequest};

pub(super) async fn enrol(
    State(shared): State<Shared>,
    ConnectInfo(peer): ConnectInfo<Peer>,
    headers: HeaderMap,
    body: Bytes,
) -> Response {
    let now = shared.hub.now();
    let from = network(shared.house.front.client(&headers, peer));
    let tries = &shared.house.tries.codes;
    if !tries.may_try(&from, now) {
        return too_many("too many wrong codes: wait a minute and try again");
    }
    let Ok(request) = serde_json::from_slice::<EnrolRequest>(&body) else {
        tries.count(from, now);
        return no(StatusCode::BAD_REQUEST, "the request is not an enrolment");
    };
    let hub = &shared.hub;
    match crate::enrol::enrol(hub.records(), hub.office(), &request, now).await {
        Ok(answer) => {
            tracing::info!(device = %request.device, role = request.role.code(), "enrolled");
            Json(answer).into_response()
        }
        Err(error @ (EnrolError::Code(_) | EnrolError::Role)) => {
            tries.count(from, now);
            no(StatusCode::FORBIDDEN, &error.to_string())
        }
        Err(error @ EnrolError::Malformed(_)) => {
            tries.count(from, now);
            no(StatusCode::BAD_REQUEST, &error.to_string())
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

//! `POST /enrol`: a code for a certificate.

use std::collections::BTreeMap;
use std::net::{IpAddr, Ipv6Addr, SocketAddr};
use std::sync::{Mutex, PoisonError};

use axum::Json;
use axum::body::Bytes;
use axum::extract::{ConnectInfo, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use chalkwalk_core::job::Millis;
use chalkwalk_core::limits;
use serde::Serialize;

use super::Shared;
use crate::enrol::{EnrolError, EnrolRequest};

/// Wrong codes are counted for so long, milliseconds.
const WINDOW: Millis = 60_000;

/// What a device is told when it is not enrolled.
#[derive(Serialize)]
struct No {
    error: String,
}

pub(super) async fn enrol(
    State(shared): State<Shared>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    body: Bytes,
) -> Response {
    let now = shared.hub.now();
    if !shared.tries.may_try(from.ip(), now) {
        let mut response = no(
            StatusCode::TOO_MANY_REQUESTS,
            "too many wrong codes: wait a minute and try again",
        );
        let wait = header::HeaderValue::from_static("60");
        response.headers_mut().insert(header::RETRY_AFTER, wait);
        return response;
    }
    if body.len() > limits::ENROL_BYTES {
        return no(StatusCode::PAYLOAD_TOO_LARGE, "the request is too long");
    }
    let Ok(request) = serde_json::from_slice::<EnrolRequest>(&body) else {
        shared.tries.failed(from.ip(), now);
        return no(StatusCode::BAD_REQUEST, "the request is not an enrolment");
    };
    let hub = &shared.hub;
    match crate::enrol::enrol(hub.records(), hub.office(), &request, now).await {
        Ok(answer) => {
            tracing::info!(device = %request.device, role = request.role.code(), "enrolled");
            Json(answer).into_response()
        }
        Err(error @ (EnrolError::Code(_) | EnrolError::Role)) => {
            shared.tries.failed(from.ip(), now);
            no(StatusCode::FORBIDDEN, &error.to_string())
        }
        Err(error @ EnrolError::Malformed(_)) => {
            shared.tries.failed(from.ip(), now);
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

fn no(code: StatusCode, words: &str) -> Response {
    let error = words.to_owned();
    (code, Json(No { error })).into_response()
}

/// Counts wrong codes by address, a minute at a time. It never grows past the limit for all.
#[derive(Default)]
pub(crate) struct Tries(Mutex<Counts>);

#[derive(Default)]
struct Counts {
    since: Millis,
    all: u32,
    by_address: BTreeMap<IpAddr, u32>,
}

impl Tries {
    fn may_try(&self, address: IpAddr, now: Millis) -> bool {
        let counts = self.counts(now);
        let here = counts
            .by_address
            .get(&network(address))
            .copied()
            .unwrap_or(0);
        here < limits::ENROL_TRIES && counts.all < limits::ENROL_TRIES_OF_ALL
    }

    fn failed(&self, address: IpAddr, now: Millis) {
        let mut counts = self.counts(now);
        counts.all += 1;
        *counts.by_address.entry(network(address)).or_default() += 1;
    }

    fn counts(&self, now: Millis) -> std::sync::MutexGuard<'_, Counts> {
        let mut counts = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if now - counts.since >= WINDOW || now < counts.since {
            *counts = Counts {
                since: now,
                ..Counts::default()
            };
        }
        counts
    }
}

/// One household has many version 6 addresses and one network of 64 bits.
fn network(address: IpAddr) -> IpAddr {
    match address.to_canonical() {
        IpAddr::V6(v6) => IpAddr::V6(Ipv6Addr::from_bits(v6.to_bits() >> 64 << 64)),
        v4 => v4,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wrong_codes_are_counted_by_network_and_minute() {
        let tries = Tries::default();
        let home: IpAddr = "2001:db8:1:2::7".parse().unwrap();
        let beside: IpAddr = "2001:db8:1:2:ffff::1".parse().unwrap();
        let other: IpAddr = "192.0.2.9".parse().unwrap();
        for _ in 0..limits::ENROL_TRIES {
            assert!(tries.may_try(home, 1_000_000));
            tries.failed(home, 1_000_000);
        }
        assert!(!tries.may_try(home, 1_000_000));
        assert!(!tries.may_try(beside, 1_059_999));
        assert!(tries.may_try(other, 1_059_999));
        assert!(tries.may_try(home, 1_060_000));
    }

    #[test]
    fn all_wrong_codes_together_have_a_limit() {
        let tries = Tries::default();
        for n in 0..limits::ENROL_TRIES_OF_ALL {
            let address = IpAddr::V4(std::net::Ipv4Addr::from_bits(n));
            assert!(tries.may_try(address, 5));
            tries.failed(address, 5);
        }
        assert!(!tries.may_try("192.0.2.9".parse().unwrap(), 6));
    }
}

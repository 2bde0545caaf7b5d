//! What keeps pages to those who may see them, and browsers to what the pages are.

use axum::extract::Request;
use axum::http::header::{self, HeaderName, HeaderValue};
use axum::http::{HeaderMap, StatusCode, Uri};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

/// Nothing but the server's own pictures, style, letters, scripts and forms, and no frame.
const POLICY: &str = "default-src 'none'; img-src 'self'; style-src 'self'; font-src 'self'; \
                      script-src 'self'; connect-src 'self'; base-uri 'none'; \
                      form-action 'self'; frame-ancestors 'none'";

/// Headers that every answer bears.
pub(super) async fn headers(request: Request, next: Next) -> Response {
    let mut response = next.run(request).await;
    let headers = response.headers_mut();
    let mut set = |name: HeaderName, value: &'static str| {
        headers
            .entry(name)
            .or_insert(HeaderValue::from_static(value));
    };
    set(header::CONTENT_SECURITY_POLICY, POLICY);
    set(header::X_CONTENT_TYPE_OPTIONS, "nosniff");
    set(header::X_FRAME_OPTIONS, "DENY");
    // Browsers name a form's own page only where this allows it.
    set(header::REFERRER_POLICY, "same-origin");
    set(header::CACHE_CONTROL, "no-store");
    set(
        HeaderName::from_static("cross-origin-resource-policy"),
        "same-origin",
    );
    response
}

/// Pages whose passwords would cross a network in the clear answer this machine alone: not a proxy that passes on for others, and
/// not a foreign page whose name was pointed at this machine.
pub(super) async fn this_machine_only(request: Request, next: Next) -> Response {
    if asked_here(request.headers(), request.uri()) && !passed_on(request.headers()) {
        return next.run(request).await;
    }
    let words = "Without TLS these pages are shown on the server itself alone, by 127.0.0.1 or \
                 localhost: start the server with --tls-cert and --tls-key, or behind a proxy \
                 with --behind-proxy.\n";
    (StatusCode::FORBIDDEN, words).into_response()
}

fn asked_here(headers: &HeaderMap, uri: &Uri) -> bool {
    let host = headers
        .get(header::HOST)
        .and_then(|host| host.to_str().ok());
    let Some(host) = host.or(uri.authority().map(|authority| authority.as_str())) else {
        return false;
    };
    let name = match host.rsplit_once(':') {
        Some((name, port)) if port.bytes().all(|b| b.is_ascii_digit()) => name,
        _ => host,
    };
    if name.eq_ignore_ascii_case("localhost") {
        return true;
    }
    let address = name.trim_start_matches('[').trim_end_matches(']');
    address
        .parse::<std::net::IpAddr>()
        .is_ok_and(|address| address.is_loopback())
}

pub(super) fn passed_on(headers: &HeaderMap) -> bool {
    [
        "forwarded",
        "x-forwarded-for",
        "x-forwarded-host",
        "x-real-ip",
        "via",
    ]
    .iter()
    .any(|name| headers.contains_key(*name))
}

//! How the pages look: one file of the server's own.

use axum::http::header;
use axum::response::{IntoResponse, Response};

pub(super) async fn style() -> Response {
    let kind = [
        (header::CONTENT_TYPE, "text/css; charset=utf-8"),
        (header::CACHE_CONTROL, "private, max-age=300"),
    ];
    (kind, include_str!("style.css")).into_response()
}

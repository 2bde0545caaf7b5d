//! What pages are made of beside their words: style, letters, scripts, the little pictures. All of
//! it is in the program; nothing is loaded from elsewhere.

use axum::extract::Path;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};

const CSS: &str = "text/css; charset=utf-8";
const SCRIPT: &str = "text/javascript; charset=utf-8";
const WOFF2: &str = "font/woff2";
const SVG: &str = "image/svg+xml";

/// The style of all pages, then what single chapters add.
const STYLE: &str = concat!(
    include_str!("../../assets/style.css"),
    include_str!("../../assets/estimate.css"),
);

/// Name, kind, bytes. A script is named by the pages that need it.
const FILES: &[(&str, &str, &[u8])] = &[
    (
        "text.woff2",
        WOFF2,
        include_bytes!("../../assets/fonts/text.woff2"),
    ),
    (
        "head.woff2",
        WOFF2,
        include_bytes!("../../assets/fonts/head.woff2"),
    ),
    (
        "chalk-line.svg",
        SVG,
        include_bytes!("../../assets/chalk-line.svg"),
    ),
    ("icon.svg", SVG, include_bytes!("../../assets/icon.svg")),
    (
        "print.js",
        SCRIPT,
        include_bytes!("../../assets/script/print.js"),
    ),
];

/// `GET /style.css`.
pub(super) async fn style() -> Response {
    given(CSS, STYLE.as_bytes())
}

/// `GET /assets/{file}`.
pub(super) async fn file(Path(name): Path<String>) -> Response {
    match FILES.iter().find(|(known, ..)| *known == name) {
        Some((_, kind, bytes)) => given(kind, bytes),
        None => (StatusCode::NOT_FOUND, "Nothing stands at this address.\n").into_response(),
    }
}

fn given(kind: &'static str, bytes: &'static [u8]) -> Response {
    let headers = [
        (header::CONTENT_TYPE, kind),
        (header::CACHE_CONTROL, "private, max-age=300"),
    ];
    (headers, bytes).into_response()
}

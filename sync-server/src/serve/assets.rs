//! What pages are made of beside their words: style, letters, scripts, the little pictures. All of
//! it is in the program; nothing is loaded from elsewhere.

use std::sync::LazyLock;

use axum::extract::Path;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};

const CSS: &str = "text/css; charset=utf-8";
const SCRIPT: &str = "text/javascript; charset=utf-8";
const WOFF2: &str = "font/woff2";
const SVG: &str = "image/svg+xml";

/// The style of all pages, then what single chapters add.
const STYLE: &[&str] = &[
    include_str!("../../assets/style.css"),
    include_str!("../../assets/estimate.css"),
    include_str!("../../assets/record.css"),
    include_str!("../../assets/house.css"),
];

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
    (
        "walk.js",
        SCRIPT,
        include_bytes!("../../assets/script/walk.js"),
    ),
    (
        "marks.js",
        SCRIPT,
        include_bytes!("../../assets/script/marks.js"),
    ),
    (
        "live.js",
        SCRIPT,
        include_bytes!("../../assets/script/live.js"),
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
    static WHOLE: LazyLock<String> = LazyLock::new(|| STYLE.concat());
    given(CSS, WHOLE.as_bytes())
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

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;

    /// Classes that a rule of this sheet names alone: `.strip { … }`.
    fn alone(sheet: &str) -> impl Iterator<Item = &str> {
        sheet
            .split(['{', '}'])
            .step_by(2)
            .flat_map(|selectors| selectors.split(','))
            .filter_map(|selector| selector.trim().strip_prefix('.'))
            .filter(|name| name.chars().all(|c| c.is_ascii_lowercase() || c == '-'))
    }

    #[test]
    fn no_two_chapters_lay_out_the_same_class() {
        let mut owner: BTreeMap<&str, usize> = BTreeMap::new();
        // What all pages share may be added to by a chapter.
        for (sheet, css) in STYLE.iter().enumerate().skip(1) {
            for class in alone(css) {
                let first = *owner.entry(class).or_insert(sheet);
                assert_eq!(first, sheet, ".{class} stands in two sheets");
            }
        }
        assert!(owner.len() > 20, "{owner:?}");
    }
}

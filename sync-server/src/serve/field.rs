//! The crew's page: what a phone loads once and then works from with no signal.
//!
//! Its files are made by `bindings/web/build` and are in the program where that was done before
//! it was built; where not, the page says what is missing.

use axum::extract::{Path, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use include_dir::{Dir, include_dir};

use super::Shared;

/// What lies below `/field/`; without an `index.html` where the page was not built.
static FILES: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/../bindings/web/dist");

/// Its own scripts, one of them wasm, its own worker and sync, and pictures that it makes itself.
const POLICY: &str = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; \
                      worker-src 'self'; connect-src 'self'; style-src 'self'; font-src 'self'; \
                      img-src 'self' blob:; manifest-src 'self'; base-uri 'none'; \
                      form-action 'none'; frame-ancestors 'none'";

const MISSING: &str = "This server was built without the crew's page.\n\n\
    Everything else works: the office's pages, and phones that sync by an app or by the chalkwalk \
    command. To have the page, run bindings/web/build in the source folder (it says which tools it \
    needs), then build the server again.\n";

/// `GET /field`.
pub(super) async fn to_folder(State(shared): State<Shared>) -> Response {
    Redirect::permanent(&format!("{}/field/", shared.base)).into_response()
}

/// `GET /field/`.
pub(super) async fn index() -> Response {
    given("index.html")
}

/// `GET /field/{*file}`.
pub(super) async fn file(Path(name): Path<String>) -> Response {
    given(&name)
}

fn given(name: &str) -> Response {
    if !FILES.contains("index.html") {
        return (StatusCode::NOT_FOUND, MISSING).into_response();
    }
    // Words for who builds it lie beside it.
    let Some(file) = FILES.get_file(name).filter(|_| !name.ends_with(".md")) else {
        return (StatusCode::NOT_FOUND, "Nothing stands at this address.\n").into_response();
    };
    let headers = [
        (header::CONTENT_TYPE, kind(name)),
        (header::CONTENT_SECURITY_POLICY, POLICY),
        // The worker of the page keeps the files and asks for news of them itself.
        (header::CACHE_CONTROL, "no-cache"),
    ];
    (headers, file.contents()).into_response()
}

fn kind(name: &str) -> &'static str {
    match name.rsplit_once('.').map(|(_, kind)| kind) {
        Some("html") => "text/html; charset=utf-8",
        Some("js") => "text/javascript; charset=utf-8",
        Some("css") => "text/css; charset=utf-8",
        Some("wasm") => "application/wasm",
        Some("webmanifest") => "application/manifest+json",
        Some("svg") => "image/svg+xml",
        Some("png") => "image/png",
        Some("woff2") => "font/woff2",
        _ => "application/octet-stream",
    }
}

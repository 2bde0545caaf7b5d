//! The scope as files: CSV and JSON.

use axum::Extension;
use axum::extract::{Path, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use chalkwalk_core::document::Refusal;
use chalkwalk_core::review::Reader;
use serde_json::json;

use super::super::at_job::AtJob;
use super::super::{store_unwell, unwell};
use super::reckoned::Reckoned;
use crate::serve::Shared;
use crate::serve::guard::SignedIn;
use crate::store::{Actor, DeedKind};

/// `GET /jobs/{job}/scope.csv`.
pub(in crate::serve) async fn csv(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
) -> Response {
    match opened(&shared, &who, &id).await {
        Ok((at, reckoned)) => match reckoned.scope.to_csv(&at.job, Reader::Office) {
            Ok(bytes) => given(&at, "scope.csv", "text/csv; charset=utf-8", bytes).await,
            Err(error) => unwell(&shared, &Refusal::Storage(error.to_string())),
        },
        Err(response) => response,
    }
}

/// `GET /jobs/{job}/scope.json`.
pub(in crate::serve) async fn json(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
) -> Response {
    match opened(&shared, &who, &id).await {
        Ok((at, reckoned)) => {
            let value = json!({
                "inputs": reckoned.set.inputs, "scope": *reckoned.scope, "money": reckoned.priced,
            });
            let mut text = format!("{value:#}");
            text.push('\n');
            given(&at, "scope.json", "application/json", text.into_bytes()).await
        }
        Err(response) => response,
    }
}

async fn opened(shared: &Shared, who: &SignedIn, id: &str) -> Result<(AtJob, Reckoned), Response> {
    let at = AtJob::open(shared, who, id).await?;
    let reckoned = Reckoned::of(&at).await?;
    Ok((at, reckoned))
}

/// Hands out a file, and writes down who took it.
pub(in crate::serve) async fn given(
    at: &AtJob,
    name: &str,
    kind: &'static str,
    bytes: Vec<u8>,
) -> Response {
    let actor = Actor::Person(at.person.id);
    let noted = at.shared.note(actor, DeedKind::TookCopy, Some(at.id), name);
    if let Err(error) = noted.await {
        return store_unwell(&at.shared, &error);
    }
    let headers = [
        (header::CONTENT_TYPE, kind.to_owned()),
        (
            header::CONTENT_DISPOSITION,
            format!("attachment; filename=\"{name}\""),
        ),
    ];
    (headers, bytes).into_response()
}

//! The files of photos, as pages show them.

use axum::body::{Body, Bytes};
use axum::extract::{Path, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use chalkwalk_core::job::{BlobKind, JobId, PhotoHash};
use futures_util::stream;

use super::{Shared, pages};
use crate::hub::Hub;
use crate::store::{BlobEntry, BlobKey, StoreError};

/// Bytes read at a time.
const PIECE: usize = 1 << 20;

pub(super) async fn thumbnail(
    State(shared): State<Shared>,
    Path((job, hash)): Path<(String, String)>,
) -> Response {
    file(&shared, &job, &hash, BlobKind::Thumbnail).await
}

pub(super) async fn original(
    State(shared): State<Shared>,
    Path((job, hash)): Path<(String, String)>,
) -> Response {
    file(&shared, &job, &hash, BlobKind::Original).await
}

async fn file(shared: &Shared, job: &str, hash: &str, kind: BlobKind) -> Response {
    let (Ok(job), Ok(hash)) = (job.parse::<JobId>(), hash.parse::<PhotoHash>()) else {
        return pages::not_found().await;
    };
    match find(&shared.hub, job, BlobKey { kind, hash }).await {
        Ok(Some((entry, first))) => answer(shared.hub.clone(), entry, first),
        Ok(None) => pages::not_found().await,
        Err(error) => {
            tracing::error!(error = error.chain(), "a photo could not be read");
            (
                StatusCode::SERVICE_UNAVAILABLE,
                "The photo cannot be read now.\n",
            )
                .into_response()
        }
    }
}

/// A file that is whole and that a photo of this job names, with its first piece.
async fn find(
    hub: &Hub,
    job: JobId,
    key: BlobKey,
) -> Result<Option<(BlobEntry, Vec<u8>)>, StoreError> {
    if hub.records().photo(job, key.hash).await?.is_none() {
        return Ok(None);
    }
    let Some(entry) = hub.records().blob(key).await? else {
        return Ok(None);
    };
    let first = hub.blobs().range(key, 0, PIECE).await?;
    Ok(Some((entry, first)))
}

fn answer(hub: Hub, entry: BlobEntry, first: Vec<u8>) -> Response {
    let kind = content_type(&first);
    let mut response = Response::builder()
        .header(
            header::CONTENT_TYPE,
            kind.unwrap_or("application/octet-stream"),
        )
        .header(header::CONTENT_LENGTH, entry.size)
        .header(
            header::CACHE_CONTROL,
            "private, max-age=31536000, immutable",
        );
    if kind.is_none() {
        response = response.header(header::CONTENT_DISPOSITION, "attachment");
    }
    let key = BlobKey {
        kind: entry.kind,
        hash: entry.hash,
    };
    let start = (hub, 0u64, Some(first));
    let pieces = stream::try_unfold(start, move |(hub, offset, first)| async move {
        let piece = match first {
            Some(first) => first,
            None => hub.blobs().range(key, offset, PIECE).await?,
        };
        if piece.is_empty() {
            return Ok::<_, StoreError>(None);
        }
        let next = offset + piece.len() as u64;
        Ok(Some((Bytes::from(piece), (hub, next, None))))
    });
    match response.body(Body::from_stream(pieces)) {
        Ok(response) => response,
        Err(error) => {
            tracing::error!(%error, "an answer could not be made");
            StatusCode::INTERNAL_SERVER_ERROR.into_response()
        }
    }
}

/// The kind of picture, from its first bytes; anything else is never shown, only handed out.
fn content_type(first: &[u8]) -> Option<&'static str> {
    let heic = first.get(4..8) == Some(b"ftyp")
        && matches!(
            first.get(8..12),
            Some(b"heic" | b"heix" | b"mif1" | b"msf1" | b"heif")
        );
    if first.starts_with(&[0xff, 0xd8, 0xff]) {
        Some("image/jpeg")
    } else if first.starts_with(b"\x89PNG\r\n\x1a\n") {
        Some("image/png")
    } else if first.starts_with(b"RIFF") && first.get(8..12) == Some(b"WEBP") {
        Some("image/webp")
    } else if heic {
        Some("image/heic")
    } else {
        None
    }
}

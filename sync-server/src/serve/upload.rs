//! Photos over HTTP: which are lacking, whole files from their start, and more of one from an
//! offset. Phones upload in the background only this way.
//!
//! The job stands in the query, `?job=ID`: a photo is taken for a job that the device sees and
//! that names it. Offsets stand in `Upload-Offset`.

use axum::body::{Body, Bytes};
use axum::extract::{Path, RawQuery, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::{Extension, Json};
use chalkwalk_core::job::{BlobKind, JobId, PhotoHash};
use chalkwalk_core::limits as shared_limits;
use serde::{Deserialize, Serialize};
use tokio::runtime::Handle;
use tokio::sync::mpsc;

use super::guard::{ByDevice, call_unwell, refusal};
use super::intake::{AHEAD, Pace, busy, feed, stalled, take_whole, unread};
use super::{Shared, photos};
use crate::hub::{UploadError, Wanted};
use crate::limits;
use crate::store::BlobKey;
use crate::store::here::wait_for;

const OFFSET: HeaderName = HeaderName::from_static("upload-offset");
const LENGTH: HeaderName = HeaderName::from_static("upload-length");
const COMPLETE: HeaderName = HeaderName::from_static("upload-complete");

/// What a device is told of a file.
#[derive(Serialize)]
struct Held {
    /// Bytes from the start that are durable.
    held: u64,
    /// The file is whole, checked and durable.
    whole: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct AskLacking {
    job: JobId,
    #[serde(default)]
    thumbnails: bool,
    hashes: Vec<PhotoHash>,
}

#[derive(Serialize)]
struct Lacking {
    lacking: Vec<Lack>,
    unknown: Vec<PhotoHash>,
}

#[derive(Serialize)]
struct Lack {
    hash: PhotoHash,
    held: u64,
}

/// `POST /photos/lacking`.
pub(super) async fn lacking(
    State(shared): State<Shared>,
    Extension(by): Extension<ByDevice>,
    body: Bytes,
) -> Response {
    let Ok(asked) = serde_json::from_slice::<AskLacking>(&body) else {
        let words = "send {\"job\": ID, \"hashes\": [HASH, ...]}, with \"thumbnails\": true for \
                     the small pictures";
        return refusal(StatusCode::BAD_REQUEST, words);
    };
    if asked.hashes.len() > limits::LACKING_HASHES {
        let most = limits::LACKING_HASHES;
        let words = format!("ask for at most {most} hashes at a time");
        return refusal(StatusCode::PAYLOAD_TOO_LARGE, &words);
    }
    if let Err(response) = may(&shared, &by, asked.job).await {
        return response;
    }
    let kind = kind_of(asked.thumbnails);
    match shared
        .hub
        .which_lacking(asked.job, kind, &asked.hashes)
        .await
    {
        Ok((lacking, unknown)) => {
            let lacking = lacking
                .into_iter()
                .map(|(hash, held)| Lack { hash, held })
                .collect();
            Json(Lacking { lacking, unknown }).into_response()
        }
        Err(error) => no(&error),
    }
}

const fn kind_of(thumbnails: bool) -> BlobKind {
    if thumbnails {
        BlobKind::Thumbnail
    } else {
        BlobKind::Original
    }
}

/// Sees that the device sees the job.
async fn may(shared: &Shared, by: &ByDevice, job: JobId) -> Result<(), Response> {
    match shared.hub.sees(by.0.device, by.0.role, job).await {
        Ok(true) => Ok(()),
        Ok(false) => Err(refusal(
            StatusCode::FORBIDDEN,
            "this job is not one that the device sees: ask the office to assign it",
        )),
        Err(error) => Err(call_unwell(&error)),
    }
}

/// The file that a request is about.
struct About {
    job: JobId,
    key: BlobKey,
    wanted: Wanted,
}

async fn about(
    shared: &Shared,
    by: &ByDevice,
    kind: BlobKind,
    hash: &str,
    query: Option<&str>,
) -> Result<About, Response> {
    let job = query
        .unwrap_or_default()
        .split('&')
        .find_map(|pair| pair.strip_prefix("job="))
        .and_then(|job| job.parse::<JobId>().ok());
    let (Some(job), Ok(hash)) = (job, hash.parse::<PhotoHash>()) else {
        let words = "name the photo by its BLAKE3 hash in the path and its job as ?job=ID";
        return Err(refusal(StatusCode::BAD_REQUEST, words));
    };
    let key = BlobKey { kind, hash };
    let (site, device, runtime) = (shared.clone(), by.clone(), Handle::current());
    // Several reads: on one thread that may block, instead of one for each.
    let asked = tokio::task::spawn_blocking(move || {
        wait_for(&runtime, async {
            may(&site, &device, job).await?;
            let wanted = site.hub.wanted_size(job, key).await;
            wanted.map_err(|error| no(&error))
        })
        .map_err(Box::new)
    });
    let wanted = match asked.await {
        Ok(wanted) => wanted.map_err(|response| *response)?,
        Err(error) => return Err(call_unwell(&error.into())),
    };
    Ok(About { job, key, wanted })
}

pub(super) fn no(error: &UploadError) -> Response {
    let code = match error {
        UploadError::Unknown => StatusCode::NOT_FOUND,
        UploadError::Refused(refusal) => {
            tracing::warn!(%refusal, "an upload was refused");
            return self::refusal(StatusCode::SERVICE_UNAVAILABLE, &refusal.to_string());
        }
        UploadError::TooLarge(_) => StatusCode::PAYLOAD_TOO_LARGE,
        UploadError::Size { expected, sent } if sent > expected => StatusCode::PAYLOAD_TOO_LARGE,
        UploadError::Size { .. } => StatusCode::BAD_REQUEST,
        UploadError::Hash => StatusCode::UNPROCESSABLE_ENTITY,
        UploadError::NoRoom(_) => StatusCode::INSUFFICIENT_STORAGE,
        UploadError::Store(error) => return call_unwell(error),
    };
    refusal(code, &error.to_string())
}

pub(super) fn held(code: StatusCode, held: u64, whole: bool) -> Response {
    let mut response = (code, Json(Held { held, whole })).into_response();
    response.headers_mut().insert(OFFSET, held.into());
    response
}

/// `PUT /photos/{hash}`.
pub(super) async fn put_original(
    State(shared): State<Shared>,
    Extension(by): Extension<ByDevice>,
    Path(hash): Path<String>,
    RawQuery(query): RawQuery,
    headers: HeaderMap,
    body: Body,
) -> Response {
    let about = about(&shared, &by, BlobKind::Original, &hash, query.as_deref()).await;
    let About { job, key, wanted } = match about {
        Ok(about) => about,
        Err(response) => return unread(response, body).await,
    };
    if wanted.whole {
        return unread(held(StatusCode::OK, wanted.held, true), body).await;
    }
    let expected = wanted.size.unwrap_or(0);
    let said = number(&headers, &header::CONTENT_LENGTH);
    if let Some(sent) = said.filter(|said| *said != expected) {
        return unread(no(&UploadError::Size { expected, sent }), body).await;
    }
    take_whole(&shared, &by, job, key, expected, body).await
}

/// `PUT /photos/{hash}/thumbnail`.
pub(super) async fn put_thumbnail(
    State(shared): State<Shared>,
    Extension(by): Extension<ByDevice>,
    Path(hash): Path<String>,
    RawQuery(query): RawQuery,
    headers: HeaderMap,
    body: Body,
) -> Response {
    let about = about(&shared, &by, BlobKind::Thumbnail, &hash, query.as_deref()).await;
    let About { job, key, wanted } = match about {
        Ok(about) => about,
        Err(response) => return response,
    };
    if wanted.whole {
        return held(StatusCode::OK, wanted.held, true);
    }
    let Some(said) = number(&headers, &header::CONTENT_LENGTH) else {
        return refusal(StatusCode::LENGTH_REQUIRED, "say how long the file is");
    };
    if said == 0 || said > shared_limits::THUMBNAIL_BYTES {
        let most = shared_limits::THUMBNAIL_BYTES;
        return no(&UploadError::TooLarge(most));
    }
    let Ok(bytes) = axum::body::to_bytes(body, usize::try_from(said).unwrap_or(0)).await else {
        return refusal(
            StatusCode::BAD_REQUEST,
            "the file did not come whole: send it again",
        );
    };
    if !chalkwalk_core::photo::is_thumbnail(&bytes) {
        let most = shared_limits::THUMBNAIL_SIDE;
        let words = format!(
            "the small picture is not one that phones take: send a whole JPEG of at most {most} \
             pixels a side"
        );
        return refusal(StatusCode::UNSUPPORTED_MEDIA_TYPE, &words);
    }
    take_whole(&shared, &by, job, key, said, Body::from(bytes)).await
}

/// `PATCH /photos/{hash}`. What came before a link broke is kept.
pub(super) async fn patch_original(
    State(shared): State<Shared>,
    Extension(by): Extension<ByDevice>,
    Path(hash): Path<String>,
    RawQuery(query): RawQuery,
    headers: HeaderMap,
    body: Body,
) -> Response {
    let about = about(&shared, &by, BlobKind::Original, &hash, query.as_deref()).await;
    let About { job, key, wanted } = match about {
        Ok(about) => about,
        Err(response) => return unread(response, body).await,
    };
    if wanted.whole {
        return unread(held(StatusCode::OK, wanted.held, true), body).await;
    }
    let size = wanted.size.unwrap_or(0);
    let Some(offset) = number(&headers, &OFFSET) else {
        let words = "say in Upload-Offset where these bytes begin";
        return unread(refusal(StatusCode::BAD_REQUEST, words), body).await;
    };
    if offset != wanted.held {
        return unread(held(StatusCode::CONFLICT, wanted.held, false), body).await;
    }
    let said = number(&headers, &header::CONTENT_LENGTH).unwrap_or(0);
    if offset.saturating_add(said) > size {
        let sent = offset.saturating_add(said);
        let error = UploadError::Size {
            expected: size,
            sent,
        };
        return unread(no(&error), body).await;
    }
    let Ok(turn) = std::sync::Arc::clone(&shared.house.uploads).try_acquire_owned() else {
        return busy();
    };
    let (parts, mut coming) = mpsc::channel::<Bytes>(AHEAD);
    let (hub, runtime) = (shared.hub.clone(), Handle::current());
    let writer = tokio::task::spawn_blocking(move || {
        let mut at = offset;
        let mut buffer = Vec::with_capacity(limits::UPLOAD_PIECE);
        loop {
            let bytes = coming.blocking_recv();
            let end = bytes.is_none();
            buffer.extend_from_slice(&bytes.unwrap_or_default());
            if at.saturating_add(buffer.len() as u64) > size {
                let sent = at.saturating_add(buffer.len() as u64);
                return Err(UploadError::Size {
                    expected: size,
                    sent,
                });
            }
            if buffer.len() >= limits::UPLOAD_PIECE || end {
                let progress = hub.add_upload(&runtime, job, key, size, at, &buffer)?;
                at = progress.held;
                buffer.clear();
                if end || progress.complete {
                    return Ok(progress);
                }
            }
        }
    });
    let pace = feed(body, |bytes| parts.send(bytes)).await;
    drop(parts);
    let written = writer.await;
    drop(turn);
    match written {
        Ok(Ok(progress)) => {
            let taken = progress.held.saturating_sub(offset);
            shared.house.metrics.took_in(taken);
            if pace == Pace::Stalled {
                return stalled(pace);
            }
            held(StatusCode::OK, progress.held, progress.complete)
        }
        Ok(Err(error)) => no(&error),
        Err(error) => {
            tracing::error!(%error, "an upload failed");
            busy()
        }
    }
}

/// `HEAD /photos/{hash}`: how much is held.
pub(super) async fn head_original(
    State(shared): State<Shared>,
    Extension(by): Extension<ByDevice>,
    Path(hash): Path<String>,
    RawQuery(query): RawQuery,
) -> Response {
    let about = about(&shared, &by, BlobKind::Original, &hash, query.as_deref()).await;
    let wanted = match about {
        Ok(about) => about.wanted,
        Err(response) => return response,
    };
    let mut response = StatusCode::OK.into_response();
    let headers = response.headers_mut();
    headers.insert(OFFSET, wanted.held.into());
    if let Some(size) = wanted.size {
        headers.insert(LENGTH, size.into());
    }
    let complete = if wanted.whole { "?1" } else { "?0" };
    headers.insert(COMPLETE, HeaderValue::from_static(complete));
    response
}

/// `GET /photos/{hash}`.
pub(super) async fn get_original(
    State(shared): State<Shared>,
    Extension(by): Extension<ByDevice>,
    Path(hash): Path<String>,
    RawQuery(query): RawQuery,
    headers: HeaderMap,
) -> Response {
    fetch(
        &shared,
        &by,
        BlobKind::Original,
        &hash,
        query.as_deref(),
        &headers,
    )
    .await
}

/// `GET /photos/{hash}/thumbnail`.
pub(super) async fn get_thumbnail(
    State(shared): State<Shared>,
    Extension(by): Extension<ByDevice>,
    Path(hash): Path<String>,
    RawQuery(query): RawQuery,
    headers: HeaderMap,
) -> Response {
    fetch(
        &shared,
        &by,
        BlobKind::Thumbnail,
        &hash,
        query.as_deref(),
        &headers,
    )
    .await
}

async fn fetch(
    shared: &Shared,
    by: &ByDevice,
    kind: BlobKind,
    hash: &str,
    query: Option<&str>,
    headers: &HeaderMap,
) -> Response {
    let about = match about(shared, by, kind, hash, query).await {
        Ok(about) => about,
        Err(response) => return response,
    };
    match photos::find(&shared.hub, about.job, about.key).await {
        Ok(Some(entry)) => photos::give(&shared.hub, entry, headers).await,
        Ok(None) => {
            let words = "the office does not hold this file whole yet";
            refusal(StatusCode::NOT_FOUND, words)
        }
        Err(error) => call_unwell(&error),
    }
}

fn number(headers: &HeaderMap, name: &HeaderName) -> Option<u64> {
    headers.get(name)?.to_str().ok()?.parse().ok()
}

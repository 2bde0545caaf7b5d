//! The files of photos: found by job and hash, given whole or in a range, never rewritten.

use std::ops::Range;

use axum::Extension;
use axum::body::{Body, Bytes};
use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use chalkwalk_core::job::{BlobKind, JobId, PhotoHash};
use futures_util::stream;

use super::guard::SignedIn;
use super::{Shared, pages};
use crate::hub::Hub;
use crate::store::{Actor, BlobEntry, BlobKey, DeedKind, StoreError};

/// A browser that is shown a picture by itself lays it out with a style of its own.
const PICTURE: &str = "default-src 'none'; img-src 'self'; style-src 'unsafe-inline'; base-uri \
                       'none'; form-action 'none'; frame-ancestors 'none'";
/// Bytes read at a time.
const PIECE: usize = 1 << 20;

pub(super) async fn thumbnail(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((job, hash)): Path<(String, String)>,
    headers: HeaderMap,
) -> Response {
    shown(&shared, &who, &job, &hash, BlobKind::Thumbnail, &headers).await
}

pub(super) async fn original(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((job, hash)): Path<(String, String)>,
    headers: HeaderMap,
) -> Response {
    shown(&shared, &who, &job, &hash, BlobKind::Original, &headers).await
}

async fn shown(
    shared: &Shared,
    who: &SignedIn,
    job: &str,
    hash: &str,
    kind: BlobKind,
    headers: &HeaderMap,
) -> Response {
    let (Ok(job), Ok(hash)) = (job.parse::<JobId>(), hash.parse::<PhotoHash>()) else {
        return pages::nothing_here(shared);
    };
    let sees = shared.hub.person_sees(who.person.role, job).await;
    let found = match sees {
        Ok(true) => find(&shared.hub, job, BlobKey { kind, hash }).await,
        Ok(false) => Ok(None),
        Err(error) => Err(error),
    };
    match found {
        Ok(Some(entry)) => {
            if kind == BlobKind::Original {
                let actor = Actor::Person(who.person.id);
                let about = hash.to_string();
                let noted = shared.note(actor, DeedKind::SawOriginal, Some(job), &about);
                if let Err(error) = noted.await {
                    return unreadable(&error);
                }
            }
            give(&shared.hub, entry, headers).await
        }
        Ok(None) => pages::nothing_here(shared),
        Err(error) => unreadable(&error),
    }
}

/// A file that is whole and that a photo of this job names.
pub(super) async fn find(
    hub: &Hub,
    job: JobId,
    key: BlobKey,
) -> Result<Option<BlobEntry>, StoreError> {
    if hub.records().photo(job, key.hash).await?.is_none() {
        // What was recorded a moment ago may not be written down yet.
        let fresh = hub.freshen(job).await;
        if fresh.is_err() || hub.records().photo(job, key.hash).await?.is_none() {
            return Ok(None);
        }
    }
    hub.records().blob(key).await
}

pub(super) fn unreadable(error: &StoreError) -> Response {
    tracing::error!(error = error.chain(), "a photo could not be read");
    let words = "The photo cannot be read now.\n";
    (StatusCode::SERVICE_UNAVAILABLE, words).into_response()
}

/// Gives a file, or the range of it that is asked for.
pub(super) async fn give(hub: &Hub, entry: BlobEntry, headers: &HeaderMap) -> Response {
    let key = BlobKey {
        kind: entry.kind,
        hash: entry.hash,
    };
    let mark = format!("\"{}-{}\"", BlobKey::folder(entry.kind), entry.hash);
    if text(headers, header::IF_NONE_MATCH).is_some_and(|known| known.contains(&mark)) {
        return (StatusCode::NOT_MODIFIED, [(header::ETAG, mark)]).into_response();
    }
    let same = text(headers, header::IF_RANGE).is_none_or(|known| known == mark);
    let asked = text(headers, header::RANGE).filter(|_| same);
    let range = match asked.map_or(Asked::Whole, |asked| range(asked, entry.size)) {
        Asked::Whole => None,
        Asked::Part(range) => Some(range),
        Asked::Nowhere => {
            let all = [(header::CONTENT_RANGE, format!("bytes */{}", entry.size))];
            let words = "The file ends before that range.\n";
            return (StatusCode::RANGE_NOT_SATISFIABLE, all, words).into_response();
        }
    };
    let first = match hub.blobs().range(key, 0, 16).await {
        Ok(first) => first,
        Err(error) => return unreadable(&error),
    };
    answer(hub.clone(), entry, &first, range, mark)
}

fn answer(
    hub: Hub,
    entry: BlobEntry,
    first: &[u8],
    range: Option<Range<u64>>,
    mark: String,
) -> Response {
    let kind = content_type(first);
    let whole = 0..entry.size;
    let part = range.clone().unwrap_or(whole);
    let mut response = Response::builder()
        .header(
            header::CONTENT_TYPE,
            kind.unwrap_or("application/octet-stream"),
        )
        .header(header::CONTENT_LENGTH, part.end - part.start)
        .header(header::ACCEPT_RANGES, "bytes")
        .header(header::ETAG, mark)
        .header(header::CONTENT_SECURITY_POLICY, PICTURE)
        .header(
            header::CACHE_CONTROL,
            "private, max-age=31536000, immutable",
        );
    if kind.is_none() {
        response = response.header(header::CONTENT_DISPOSITION, "attachment");
    }
    if range.is_some() {
        let of = format!("bytes {}-{}/{}", part.start, part.end - 1, entry.size);
        response = response
            .status(StatusCode::PARTIAL_CONTENT)
            .header(header::CONTENT_RANGE, of);
    }
    let key = BlobKey {
        kind: entry.kind,
        hash: entry.hash,
    };
    let pieces = stream::try_unfold((hub, part.start), move |(hub, offset)| async move {
        let left = part.end.saturating_sub(offset);
        if left == 0 {
            return Ok::<_, StoreError>(None);
        }
        let max = usize::try_from(left).unwrap_or(PIECE).min(PIECE);
        let piece = hub.blobs().range(key, offset, max).await?;
        if piece.is_empty() {
            return Err(StoreError::Corrupt("a file is shorter than it was"));
        }
        let next = offset + piece.len() as u64;
        Ok(Some((Bytes::from(piece), (hub, next))))
    });
    match response.body(Body::from_stream(pieces)) {
        Ok(response) => response,
        Err(error) => {
            tracing::error!(%error, "an answer could not be made");
            StatusCode::INTERNAL_SERVER_ERROR.into_response()
        }
    }
}

fn text(headers: &HeaderMap, name: header::HeaderName) -> Option<&str> {
    headers.get(name)?.to_str().ok()
}

#[derive(Debug, PartialEq, Eq)]
enum Asked {
    Whole,
    Part(Range<u64>),
    Nowhere,
}

/// One range of bytes (RFC 9110, section 14.1.2). Several, or one that does not read, count as
/// none: the whole file is given.
fn range(asked: &str, size: u64) -> Asked {
    let Some((first, last)) = asked
        .strip_prefix("bytes=")
        .filter(|ranges| !ranges.contains(','))
        .and_then(|range| range.trim().split_once('-'))
    else {
        return Asked::Whole;
    };
    let part = match (first.parse::<u64>(), last.parse::<u64>()) {
        (Ok(first), Ok(last)) if first <= last => first..last.saturating_add(1).min(size),
        (Ok(first), Err(_)) if last.is_empty() => first..size,
        (Err(_), Ok(last)) if first.is_empty() => size.saturating_sub(last)..size,
        _ => return Asked::Whole,
    };
    if part.start < part.end {
        Asked::Part(part)
    } else {
        Asked::Nowhere
    }
}

/// The kind of picture, from its first bytes; anything else is never shown, only handed out.
pub(super) fn content_type(first: &[u8]) -> Option<&'static str> {
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

#[cfg(test)]
mod tests {
    use super::*;

    /// The examples of RFC 9110, section 14.1.2, for a representation of 10,000 bytes, and what
    /// section 14.2 lets a server ignore.
    #[test]
    fn ranges_are_those_of_the_rfc() {
        for (asked, part) in [
            ("bytes=0-499", 0..500),
            ("bytes=500-999", 500..1_000),
            ("bytes=-500", 9_500..10_000),
            ("bytes=9500-", 9_500..10_000),
            ("bytes=0-0", 0..1),
            ("bytes=-20000", 0..10_000),
            ("bytes=9999-20000", 9_999..10_000),
        ] {
            assert_eq!(range(asked, 10_000), Asked::Part(part), "{asked}");
        }
        for asked in ["bytes=10000-", "bytes=10000-10001", "bytes=-0"] {
            assert_eq!(range(asked, 10_000), Asked::Nowhere, "{asked}");
        }
        for asked in [
            "bytes=0-0,-1",
            "bytes=5-4",
            "lines=1-2",
            "bytes=a-b",
            "bytes=-",
            "",
        ] {
            assert_eq!(range(asked, 10_000), Asked::Whole, "{asked}");
        }
        assert_eq!(range("bytes=0-", 0), Asked::Nowhere);
    }
}

//! Taking the body of an upload: at its pace, onto the disk, and kindly where it is refused.

use std::future::Future;
use std::time::Duration;

use axum::body::{Body, Bytes};
use axum::http::StatusCode;
use axum::response::Response;
use chalkwalk_core::job::JobId;
use futures_util::StreamExt;
use tokio::runtime::Handle;
use tokio::sync::mpsc;

use super::Shared;
use super::guard::{ByDevice, refusal};
use super::upload::{held, no};
use crate::limits;
use crate::store::BlobKey;

/// Pieces of a body read ahead of the disk.
pub(super) const AHEAD: usize = 8;

/// The office has its hands full.
pub(super) fn busy() -> Response {
    let words = "the office takes as many uploads as it can: try again soon";
    refusal(StatusCode::SERVICE_UNAVAILABLE, words)
}

/// What comes of a body, piece by piece.
enum Part {
    Bytes(Bytes),
    End,
}

pub(super) async fn take_whole(
    shared: &Shared,
    by: &ByDevice,
    job: JobId,
    key: BlobKey,
    size: u64,
    body: Body,
) -> Response {
    let Ok(turn) = std::sync::Arc::clone(&shared.house.uploads).try_acquire_owned() else {
        return busy();
    };
    let (parts, mut coming) = mpsc::channel::<Part>(AHEAD);
    let (hub, runtime, by) = (shared.hub.clone(), Handle::current(), by.0.device);
    let writer = tokio::task::spawn_blocking(move || {
        let mut upload = hub.begin_upload(&runtime, job, key, size)?;
        loop {
            match coming.blocking_recv() {
                Some(Part::Bytes(bytes)) => upload.write(&bytes)?,
                Some(Part::End) => return upload.finish(&runtime, by).map(Some),
                // The link broke: what came is dropped with the upload.
                None => return Ok(None),
            }
        }
    });
    let pace = feed(body, |bytes| parts.send(Part::Bytes(bytes))).await;
    if pace == Pace::Whole {
        // Where nobody takes it, the writer has ended with a reason.
        let _ = parts.send(Part::End).await;
    }
    drop(parts);
    let written = writer.await;
    drop(turn);
    match written {
        Ok(Ok(Some(bytes))) => {
            shared.house.metrics.took_in(bytes);
            held(StatusCode::CREATED, bytes, true)
        }
        Ok(Ok(None)) => stalled(pace),
        Ok(Err(error)) => no(&error),
        Err(error) => {
            tracing::error!(%error, "an upload failed");
            refusal(
                StatusCode::SERVICE_UNAVAILABLE,
                "the office cannot take it now: try again",
            )
        }
    }
}

pub(super) fn stalled(pace: Pace) -> Response {
    match pace {
        Pace::Stalled => refusal(
            StatusCode::REQUEST_TIMEOUT,
            "nothing came for a minute: send the file again",
        ),
        _ => refusal(
            StatusCode::BAD_REQUEST,
            "the file did not come whole: send it again",
        ),
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Pace {
    Whole,
    Stalled,
    Broken,
}

/// Passes a body on, piece by piece, until it ends or nobody takes it.
pub(super) async fn feed<E, F>(body: Body, take: impl FnMut(Bytes) -> F) -> Pace
where
    F: Future<Output = Result<(), E>>,
{
    feed_for(Duration::from_millis(limits::UPLOAD_STALL_MS), body, take).await
}

/// As [`feed`], cut where nothing comes for so long.
async fn feed_for<E, F>(patience: Duration, body: Body, mut take: impl FnMut(Bytes) -> F) -> Pace
where
    F: Future<Output = Result<(), E>>,
{
    let mut stream = body.into_data_stream();
    loop {
        match tokio::time::timeout(patience, stream.next()).await {
            Ok(Some(Ok(bytes))) => {
                if take(bytes).await.is_err() {
                    return Pace::Broken;
                }
            }
            Ok(Some(Err(_))) => return Pace::Broken,
            Ok(None) => return Pace::Whole,
            Err(_) => return Pace::Stalled,
        }
    }
}

/// Answers before a body was read: some of it is read first, because a sender who is cut off in
/// mid sentence may never see the answer.
pub(super) async fn unread(response: Response, body: Body) -> Response {
    unread_for(Duration::from_millis(limits::REFUSED_MS), response, body).await
}

async fn unread_for(patience: Duration, response: Response, body: Body) -> Response {
    let read = async {
        let mut left = limits::REFUSED_BYTES;
        let mut stream = body.into_data_stream();
        while let Some(Ok(bytes)) = stream.next().await {
            left = left.saturating_sub(bytes.len() as u64);
            if left == 0 {
                return;
            }
        }
    };
    // Whoever sends longer than that is answered all the same.
    let _ = tokio::time::timeout(patience, read).await;
    response
}

#[cfg(test)]
mod tests {
    use std::convert::Infallible;
    use std::sync::Arc;
    use std::sync::atomic::{AtomicU64, Ordering};
    use std::time::Instant;

    use futures_util::stream;

    use super::*;

    /// Both times shortened, so that the tests need not wait.
    const STALL: Duration = Duration::from_millis(limits::UPLOAD_STALL_MS / 200);
    const REFUSED: Duration = Duration::from_millis(limits::REFUSED_MS / 50);

    /// A body that sends `count` pieces of so many bytes, each after a pause, and then ends or
    /// sends nothing more.
    fn body(count: u64, bytes: usize, pause: Duration, ends: bool) -> (Body, Arc<AtomicU64>) {
        let sent = Arc::new(AtomicU64::new(0));
        let counted = Arc::clone(&sent);
        let pieces = stream::unfold(0, move |n| {
            let sent = Arc::clone(&counted);
            async move {
                if n == count && ends {
                    return None;
                }
                if n == count {
                    std::future::pending::<()>().await;
                }
                tokio::time::sleep(pause).await;
                sent.fetch_add(bytes as u64, Ordering::Relaxed);
                Some((Ok::<_, Infallible>(Bytes::from(vec![0; bytes])), n + 1))
            }
        });
        (Body::from_stream(pieces), sent)
    }

    #[tokio::test]
    async fn a_body_is_cut_once_nothing_came_for_so_long_and_not_before() {
        let take = |_| async { Ok::<(), ()>(()) };
        let (slow, _) = body(4, 10, STALL / 3, true);
        assert_eq!(feed_for(STALL, slow, take).await, Pace::Whole);
        let (stalls, _) = body(1, 10, Duration::ZERO, false);
        let began = Instant::now();
        assert_eq!(feed_for(STALL, stalls, take).await, Pace::Stalled);
        assert!(began.elapsed() >= STALL);
    }

    #[tokio::test]
    async fn of_a_refused_body_so_much_is_read_and_no_more() {
        let piece = 64 << 10;
        let most = limits::REFUSED_BYTES / piece as u64;
        for (count, read) in [
            (most - 1, most - 1),
            (most, most),
            (most + 1, most),
            (9 * most, most),
        ] {
            let (coming, sent) = body(count, piece, Duration::ZERO, true);
            let response = unread(busy(), coming).await;
            assert_eq!(response.status(), StatusCode::SERVICE_UNAVAILABLE);
            assert_eq!(sent.load(Ordering::Relaxed), read * piece as u64, "{count}");
        }
    }

    #[tokio::test]
    async fn a_refused_body_that_comes_slowly_is_answered_in_time() {
        let (slow, sent) = body(u64::MAX, 1, REFUSED / 4, true);
        let began = Instant::now();
        unread_for(REFUSED, busy(), slow).await;
        assert!(began.elapsed() >= REFUSED);
        assert!(sent.load(Ordering::Relaxed) < 5);
    }
}

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
pub(super) async fn feed<E, F>(body: Body, mut take: impl FnMut(Bytes) -> F) -> Pace
where
    F: Future<Output = Result<(), E>>,
{
    let patience = Duration::from_millis(limits::UPLOAD_STALL_MS);
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
    let _ = tokio::time::timeout(Duration::from_millis(limits::REFUSED_MS), read).await;
    response
}

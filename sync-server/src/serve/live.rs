//! `GET /live`: a word to an open page whenever something comes in, as server-sent events (WHATWG
//! HTML, section 9.2). The word says that there is news, not what: the page asks for that itself,
//! as the person who looks.

use std::convert::Infallible;
use std::time::Duration;

use axum::Extension;
use axum::extract::{Query, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use chalkwalk_core::job::{JobId, Role};
use futures_util::stream;
use serde::Deserialize;
use tokio::sync::broadcast::Receiver;
use tokio::sync::broadcast::error::RecvError;
use tokio::sync::{OwnedSemaphorePermit, watch};
use tokio::time::Instant;

use super::Shared;
use super::guard::SignedIn;
use crate::hub::{Hub, News};
use crate::limits;

#[derive(Deserialize)]
pub(super) struct Asked {
    job: Option<String>,
}

/// News of one job, or of any that the person sees.
pub(super) async fn live(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Query(asked): Query<Asked>,
    headers: HeaderMap,
) -> Response {
    let accepts = headers
        .get(header::ACCEPT)
        .and_then(|kinds| kinds.to_str().ok());
    if !accepts.is_some_and(|kinds| kinds.contains("text/event-stream")) {
        let words = "This address speaks to pages that listen: ask for text/event-stream.\n";
        return (StatusCode::NOT_ACCEPTABLE, words).into_response();
    }
    let Ok(permit) = std::sync::Arc::clone(&shared.house.pages).try_acquire_owned() else {
        let words = "As many pages listen as the server takes: load the page again to see news.\n";
        return (StatusCode::SERVICE_UNAVAILABLE, words).into_response();
    };
    let ear = Ear {
        news: shared.hub.news(),
        stop: shared.stop.clone(),
        hub: shared.hub.clone(),
        role: who.person.role,
        only: asked.job.and_then(|job| job.parse().ok()),
        // The browser asks again, and the guard looks again at who it is.
        until: Instant::now() + Duration::from_millis(limits::LIVE_MS),
        _permit: permit,
    };
    let events = stream::unfold(ear, |mut ear| async move {
        let news = ear.next().await?;
        Some((Ok::<_, Infallible>(news), ear))
    });
    let beat = KeepAlive::new().interval(Duration::from_millis(limits::LIVE_BEAT_MS));
    Sse::new(events).keep_alive(beat).into_response()
}

struct Ear {
    news: Receiver<News>,
    stop: watch::Receiver<bool>,
    hub: Hub,
    role: Role,
    only: Option<JobId>,
    until: Instant,
    _permit: OwnedSemaphorePermit,
}

impl Ear {
    /// The next word; `None` where the stream is to end.
    async fn next(&mut self) -> Option<Event> {
        loop {
            let heard = tokio::select! {
                heard = self.news.recv() => heard,
                _ = self.stop.wait_for(|stop| *stop) => return None,
                () = tokio::time::sleep_until(self.until) => return None,
            };
            let concerns = match heard {
                Ok(News::Job { job, .. }) => self.concerns(job).await,
                Ok(News::Everything) | Err(RecvError::Lagged(_)) => true,
                Ok(News::Revoked(_)) => false,
                Err(RecvError::Closed) => return None,
            };
            if concerns {
                return Some(Event::default().event("news").data("1"));
            }
        }
    }

    async fn concerns(&self, job: JobId) -> bool {
        if self.only.is_some_and(|only| only != job) {
            return false;
        }
        // Where it cannot be told now, the page asks for itself and is answered as it may see.
        self.hub.person_sees(self.role, job).await.unwrap_or(true)
    }
}

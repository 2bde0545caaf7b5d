//! `GET /sync`: one session over a WebSocket.
//!
//! The session itself reads and writes storage, which blocks: each step of it runs on a thread
//! that may block, and no thread waits with an idle session.

use std::collections::BTreeMap;
use std::time::Duration;

use axum::extract::State;
use axum::extract::ws::{CloseFrame, Message, WebSocket, WebSocketUpgrade, close_code};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use chalkwalk_core::env::Env;
use chalkwalk_core::job::{DeviceId, JobId, Millis};
use chalkwalk_core::limits;
use chalkwalk_core::sync::{Event, Session, SessionConfig, SessionError};
use futures_util::stream::{SplitSink, SplitStream};
use futures_util::{SinkExt, StreamExt};
use tokio::runtime::Handle;
use tokio::sync::broadcast::error::RecvError;
use tokio::sync::{OwnedSemaphorePermit, broadcast, mpsc};

use super::Shared;
use crate::env::{SystemEnv, now};
use crate::hub::{Hub, HubReplica, News};
use crate::transport::{PATIENCE, QUEUE};

/// How long a peer is given to close its side.
const LINGER: Duration = Duration::from_secs(1);
/// Frames made ahead of the network.
const AHEAD: usize = 4;

/// Takes a device in, unless the server is full or stops.
pub(super) async fn sync(State(shared): State<Shared>, upgrade: WebSocketUpgrade) -> Response {
    let Ok(permit) = std::sync::Arc::clone(&shared.sessions).try_acquire_owned() else {
        let words = "The server has as many sessions as it takes: try again soon.\n";
        return (StatusCode::SERVICE_UNAVAILABLE, words).into_response();
    };
    upgrade
        .max_message_size(limits::FRAME_BYTES)
        .max_frame_size(limits::FRAME_BYTES)
        .on_upgrade(move |socket| converse(shared, socket, permit))
}

async fn converse(shared: Shared, socket: WebSocket, permit: OwnedSemaphorePermit) {
    let live = match Live::begin(&shared.hub) {
        Ok(live) => live,
        Err(error) => {
            tracing::error!(%error, "a session could not begin");
            return;
        }
    };
    let number = live.replica.session();
    tracing::info!(session = number, "a session begins");
    let (sink, stream) = socket.split();
    let (came, incoming) = mpsc::channel(QUEUE);
    let (outgoing, to_send) = mpsc::channel(AHEAD);
    let mut reader = tokio::spawn(read(stream, came));
    let writer = tokio::spawn(write(sink, to_send));
    let news = shared.hub.news();
    // The server may end once this is dropped: not before the goodbye is sent.
    let alive = shared.alive.clone();
    Conversation {
        shared,
        live: Some(Box::new(live)),
        incoming,
        outgoing,
        news,
        hungry: true,
    }
    .finish()
    .await;
    // The writer ends with its queue.
    if tokio::time::timeout(PATIENCE, writer).await.is_err() {
        tracing::warn!(session = number, "the last frames were not taken");
    }
    // A socket that is closed unread takes the last words with it.
    if tokio::time::timeout(LINGER, &mut reader).await.is_err() {
        reader.abort();
    }
    drop(permit);
    drop(alive);
    tracing::info!(session = number, "a session is over");
}

async fn read(mut stream: SplitStream<WebSocket>, came: mpsc::Sender<Vec<u8>>) {
    while let Some(Ok(message)) = stream.next().await {
        match message {
            Message::Binary(frame) => {
                // An error means that the session is over: what still comes is passed over.
                let _ = came.send(frame.into()).await;
            }
            Message::Ping(_) | Message::Pong(_) => {}
            Message::Text(_) | Message::Close(_) => return,
        }
    }
}

async fn write(mut sink: SplitSink<WebSocket, Message>, mut frames: mpsc::Receiver<Vec<u8>>) {
    while let Some(frame) = frames.recv().await {
        let sent = tokio::time::timeout(PATIENCE, sink.send(Message::Binary(frame.into()))).await;
        if !matches!(sent, Ok(Ok(()))) {
            return;
        }
    }
    let farewell = CloseFrame {
        code: close_code::NORMAL,
        reason: "".into(),
    };
    // The peer may be gone already.
    let _ = sink.send(Message::Close(Some(farewell))).await;
}

/// A session and its side of the hub.
struct Live {
    session: Session,
    replica: HubReplica,
    peer: Option<DeviceId>,
}

impl Live {
    fn begin(hub: &Hub) -> Result<Self, SessionError> {
        let office = hub.office();
        let mut nonce = [0; 32];
        SystemEnv.random(&mut nonce);
        let config = SessionConfig {
            certificate: office.server_signed().clone(),
            key: office.server_key().clone(),
            office: office.public_key(),
            nonce,
            initiator: false,
            jobs: None,
            thumbnails: true,
            originals: true,
            live: true,
        };
        Ok(Self {
            session: Session::new(config, now())?,
            replica: hub.replica(Handle::current()),
            peer: None,
        })
    }

    fn hear_events(&mut self) {
        let number = self.replica.session();
        while let Some(event) = self.session.poll_event() {
            match event {
                Event::Connected { peer } => {
                    tracing::info!(session = number, device = %peer.device, "connected");
                    self.peer = Some(peer.device);
                }
                Event::Took {
                    job, new_changes, ..
                } => {
                    tracing::info!(session = number, %job, new_changes, "took changes");
                }
                Event::FileRefused { kind, hash, .. } => {
                    let hash = hash.short();
                    tracing::warn!(session = number, ?kind, hash, "a file was refused");
                }
                Event::FileUnreadable { kind, hash } => {
                    let hash = hash.short();
                    tracing::error!(session = number, ?kind, hash, "a file could not be read");
                }
                Event::Ended(ending) => {
                    let (reason, by_peer) = (ending.reason, ending.by_peer);
                    tracing::info!(session = number, ?reason, by_peer, "ended");
                }
                _ => {}
            }
        }
    }
}

/// What moves a session on.
enum Step {
    Frame(Vec<u8>),
    Make,
    /// Jobs with news, and whether of files too.
    Wake(BTreeMap<JobId, bool>),
    WakeAll,
    Time,
    Leave,
}

struct Conversation {
    shared: Shared,
    live: Option<Box<Live>>,
    incoming: mpsc::Receiver<Vec<u8>>,
    outgoing: mpsc::Sender<Vec<u8>>,
    news: broadcast::Receiver<News>,
    /// The session may have a frame to send.
    hungry: bool,
}

impl Conversation {
    async fn finish(mut self) {
        while let Some(step) = self.next().await {
            // Nobody else fills the queue: what is made has room in it.
            let room = self.outgoing.capacity();
            let Some(frames) = self.take(step, room).await else {
                return;
            };
            self.hungry = frames.len() == room;
            for frame in frames {
                if self.outgoing.send(frame).await.is_err() {
                    return;
                }
            }
            let ended = |live: &Live| live.session.has_ended();
            if !self.hungry && self.live.as_deref().is_none_or(ended) {
                return;
            }
        }
    }

    /// What comes next; `None` where the link is gone.
    async fn next(&mut self) -> Option<Step> {
        let live = self.live.as_ref()?;
        if self.outgoing.is_closed() {
            return None;
        }
        let ended = live.session.has_ended();
        let due = wait(live.session.poll_timeout());
        let mut stop = self.shared.stop.clone();
        let news = tokio::select! {
            biased;
            frame = self.incoming.recv(), if !ended => return frame.map(Step::Frame),
            news = self.news.recv(), if !ended => news,
            _ = stop.wait_for(|stop| *stop), if !ended => return Some(Step::Leave),
            room = self.outgoing.reserve(), if self.hungry => return room.ok().map(|_| Step::Make),
            () = tokio::time::sleep(due), if !ended => return Some(Step::Time),
            else => return None,
        };
        Some(self.hear(news))
    }

    /// Gathers what has happened, so that many files of one job wake the session once.
    fn hear(&mut self, first: Result<News, RecvError>) -> Step {
        let (own, peer) = match &self.live {
            Some(live) => (live.replica.session(), live.peer),
            None => return Step::Leave,
        };
        let mut jobs: BTreeMap<JobId, bool> = BTreeMap::new();
        let mut next = first;
        loop {
            match next {
                Ok(News::Job {
                    job,
                    session,
                    files,
                }) if session != own => {
                    *jobs.entry(job).or_default() |= files;
                }
                Ok(News::Job { .. }) => {}
                Ok(News::Revoked(device)) if Some(device) == peer => return Step::Leave,
                Ok(News::Revoked(_)) => {}
                Ok(News::Everything) => return Step::WakeAll,
                Err(RecvError::Lagged(_)) => return Step::WakeAll,
                Err(RecvError::Closed) => return Step::Leave,
            }
            next = match self.news.try_recv() {
                Ok(news) => Ok(news),
                Err(broadcast::error::TryRecvError::Empty) => return Step::Wake(jobs),
                Err(broadcast::error::TryRecvError::Lagged(n)) => Err(RecvError::Lagged(n)),
                Err(broadcast::error::TryRecvError::Closed) => Err(RecvError::Closed),
            };
        }
    }

    /// Moves the session on, on a thread that may block, and makes the frames that it then has to
    /// send, as many as there is room for. `None` where it failed.
    async fn take(&mut self, step: Step, room: usize) -> Option<Vec<Vec<u8>>> {
        let all = match step {
            Step::WakeAll => self.shared.hub.records().job_ids().await.ok()?,
            _ => Vec::new(),
        };
        let mut live = self.live.take()?;
        let done = tokio::task::spawn_blocking(move || {
            let Live {
                session, replica, ..
            } = &mut *live;
            match step {
                Step::Frame(frame) => session.receive(replica, &frame, now()),
                Step::Make => {}
                Step::Wake(jobs) => jobs.into_iter().for_each(|(job, files)| {
                    if files {
                        session.wake(job);
                    } else {
                        session.wake_changes(job);
                    }
                }),
                Step::WakeAll => all.iter().for_each(|job| session.wake(*job)),
                Step::Time => session.handle_timeout(now()),
                Step::Leave => session.leave(),
            }
            let made: Vec<_> = std::iter::from_fn(|| session.poll_outgoing(replica))
                .take(room)
                .collect();
            live.hear_events();
            (live, made)
        });
        match done.await {
            Ok((live, made)) => {
                self.live = Some(live);
                Some(made)
            }
            Err(error) => {
                tracing::error!(%error, "a session failed");
                None
            }
        }
    }
}

fn wait(due: Option<Millis>) -> Duration {
    let left = due.map_or(0, |due| due.saturating_sub(now()));
    Duration::from_millis(u64::try_from(left).unwrap_or(0))
}

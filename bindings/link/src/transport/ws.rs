//! From a device to the office: one frame a WebSocket message, over TLS where the address says so.

use std::sync::Arc;
use std::sync::mpsc::{self, RecvTimeoutError};
use std::thread;
use std::time::Duration;

use chalkwalk_core::contain::contained;
use chalkwalk_core::limits;
use chalkwalk_core::sync::{Event, Replica, SessionConfig};
use futures_util::{SinkExt, StreamExt};
use rustls::ClientConfig;
use rustls::pki_types::ServerName;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::sync::{mpsc as queue, oneshot};
use tokio_tungstenite::tungstenite::Message;
use tokio_tungstenite::tungstenite::protocol::WebSocketConfig;
use tokio_tungstenite::{WebSocketStream, client_async_with_config};

use super::{
    Close, Control, Link, LinkError, Outcome, PATIENCE, QUEUE, Signal, Then, Trust, run_with,
};
use crate::client::Address;

/// What a WebSocket stands on.
trait Stream: AsyncRead + AsyncWrite + Send + Unpin {}
impl<T: AsyncRead + AsyncWrite + Send + Unpin> Stream for T {}

type Socket = WebSocketStream<Box<dyn Stream>>;

/// Exchanges with the office, to the end of the session, believing whom the system believes.
/// Blocks.
pub fn sync_ws(
    address: &str,
    replica: &mut dyn Replica,
    config: SessionConfig,
    told: &mut dyn FnMut(&Event) -> Then,
) -> Result<Outcome, LinkError> {
    sync_ws_by(&Trust::System, address, replica, config, told)
}

/// As [`sync_ws`], saying whom to believe where the address is `https` or `wss`.
pub fn sync_ws_by(
    trust: &Trust,
    address: &str,
    replica: &mut dyn Replica,
    config: SessionConfig,
    told: &mut dyn FnMut(&Event) -> Then,
) -> Result<Outcome, LinkError> {
    sync_ws_with(address, trust, &Control::default(), replica, config, told)
}

/// As [`sync_ws_by`], while other threads may stop it or tell it of news.
pub fn sync_ws_with(
    address: &str,
    trust: &Trust,
    control: &Control,
    replica: &mut dyn Replica,
    config: SessionConfig,
    told: &mut dyn FnMut(&Event) -> Then,
) -> Result<Outcome, LinkError> {
    let address: Address = address.parse()?;
    let tls = address.is_tls().then(|| trust.rustls()).transpose()?;
    let link = link(To { address, tls }, control)?;
    run_with(link, control, replica, config, told)
}

/// Where a link goes.
struct To {
    address: Address,
    tls: Option<Arc<ClientConfig>>,
}

fn link(to: To, control: &Control) -> Result<Link, LinkError> {
    let address = to.address.clone();
    let (outgoing, to_send) = mpsc::sync_channel::<Vec<u8>>(QUEUE);
    let (came, inbox) = mpsc::sync_channel(QUEUE);
    let (cut, is_cut) = oneshot::channel();
    let (opened, is_open) = mpsc::sync_channel(1);
    let door = came.clone();
    let thread = thread::Builder::new()
        .name("link".to_owned())
        .spawn(move || {
            let (last, opened) = (came.clone(), &opened);
            let carried = contained(move || {
                let runtime = tokio::runtime::Builder::new_multi_thread()
                    .worker_threads(1)
                    .enable_all()
                    .build();
                match runtime {
                    Ok(runtime) => {
                        runtime.block_on(carry(&to, opened, to_send, came, is_cut));
                        runtime.shutdown_background();
                    }
                    // The one who waits for the word is still there.
                    Err(error) => drop(opened.send(Err(error.into()))),
                }
            });
            if carried.is_err() {
                // What it held may stay held, so that nobody else says it.
                drop(last.send(Signal::Gone));
            }
        })?;
    loop {
        match is_open.recv_timeout(LOOK) {
            Ok(Ok(())) => break,
            Ok(Err(cause)) => return Err(not_opened(&address, cause)),
            // The thread gives up by itself.
            Err(RecvTimeoutError::Timeout) if control.is_stopped() => {
                return Err(LinkError::Stopped);
            }
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => return Err(LinkError::Broken),
        }
    }
    Ok(Link::new(outgoing, inbox, door, move |how| {
        if how == Close::Cut {
            // Already gone where this fails.
            let _ = cut.send(());
        }
        let _ = thread.join();
    }))
}

type Cause = Box<dyn std::error::Error + Send + Sync>;

/// Why there is no link: nobody there, or nobody who is believed.
pub(crate) fn not_opened(address: &Address, cause: Cause) -> LinkError {
    let address = address.to_string();
    let mut next: Option<&(dyn std::error::Error + 'static)> = Some(&*cause);
    while let Some(error) = next {
        let tls = error.downcast_ref::<rustls::Error>();
        // An error of the system may hold one that is no source of it.
        let within = error
            .downcast_ref::<std::io::Error>()
            .and_then(std::io::Error::get_ref)
            .and_then(|inner| inner.downcast_ref::<rustls::Error>());
        if let Some(error @ rustls::Error::InvalidCertificate(_)) = tls.or(within) {
            let cause = error.to_string();
            return LinkError::NotBelieved { address, cause };
        }
        next = error.source();
    }
    LinkError::Unreachable { address, cause }
}

/// A stream to the server, with TLS where it is asked for.
async fn open(to: &To) -> Result<Socket, Cause> {
    let (host, port) = to.address.host_and_port();
    let tcp = tokio::net::TcpStream::connect((host, port)).await?;
    tcp.set_nodelay(true)?;
    let stream: Box<dyn Stream> = match &to.tls {
        None => Box::new(tcp),
        Some(tls) => {
            let name = ServerName::try_from(host.to_owned())?;
            let connector = tokio_rustls::TlsConnector::from(Arc::clone(tls));
            Box::new(connector.connect(name, tcp).await?)
        }
    };
    let config = WebSocketConfig::default()
        .max_message_size(Some(limits::FRAME_BYTES))
        .max_frame_size(Some(limits::FRAME_BYTES));
    let url = to.address.socket("/sync");
    let (socket, _) = client_async_with_config(url, stream, Some(config)).await?;
    Ok(socket)
}

async fn carry(
    to: &To,
    opened: &mpsc::SyncSender<Result<(), Cause>>,
    to_send: mpsc::Receiver<Vec<u8>>,
    came: mpsc::SyncSender<Signal>,
    is_cut: oneshot::Receiver<()>,
) {
    let socket = match tokio::time::timeout(PATIENCE, open(to)).await {
        Ok(Ok(socket)) => socket,
        Ok(Err(error)) => return drop(opened.send(Err(error))),
        Err(late) => return drop(opened.send(Err(late.into()))),
    };
    if opened.send(Ok(())).is_err() {
        return;
    }
    let (frames, queued) = queue::channel(QUEUE);
    // A thread that waits on the session's queue; it ends when the session closes it.
    let room = came.clone();
    let forward = move || {
        while let Ok(frame) = to_send.recv() {
            // A full inbox wakes the session as well.
            let _ = room.try_send(Signal::Room);
            if frames.blocking_send(frame).is_err() {
                return;
            }
        }
    };
    tokio::task::spawn_blocking(forward);
    tokio::select! {
        () = both_ways(socket, queued, came) => {}
        Ok(()) = is_cut => {}
    }
}

/// Reads and writes at once, until the session has closed its queue and the office has answered
/// the farewell, or the link breaks.
async fn both_ways(
    socket: Socket,
    mut queued: queue::Receiver<Vec<u8>>,
    came: mpsc::SyncSender<Signal>,
) {
    let (mut sink, mut stream) = socket.split();
    let (pass, mut passed) = queue::channel::<Vec<u8>>(QUEUE);
    tokio::task::spawn_blocking(move || {
        while let Some(frame) = passed.blocking_recv() {
            if came.send(Signal::Frame(frame)).is_err() {
                return;
            }
        }
        // An error means that the session is over.
        drop(came.send(Signal::Gone));
    });
    let write = async {
        while let Some(frame) = queued.recv().await {
            let sent = tokio::time::timeout(PATIENCE, sink.send(Message::binary(frame))).await;
            if !matches!(sent, Ok(Ok(()))) {
                return;
            }
        }
        // The office may be gone already.
        let _ = sink.close().await;
    };
    let read = async {
        while let Some(Ok(message)) = stream.next().await {
            match message {
                Message::Binary(frame) => {
                    if pass.send(frame.to_vec()).await.is_err() {
                        // The session is over; what still comes is passed over.
                        continue;
                    }
                }
                Message::Ping(_) | Message::Pong(_) => {}
                _ => break,
            }
        }
    };
    tokio::pin!(read);
    tokio::select! {
        () = write => {
            // The last words of the office, if they come soon: also where it takes no more.
            let _ = tokio::time::timeout(FAREWELL, &mut read).await;
        }
        () = &mut read => {}
    }
}

/// How long the office is given to answer a farewell.
const FAREWELL: Duration = Duration::from_secs(2);
/// How often one who waits looks whether the wait was stopped.
const LOOK: Duration = Duration::from_millis(50);

//! Where connections come in, with TLS or without.

use std::net::SocketAddr;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use axum::extract::connect_info::Connected;
use axum::serve::{IncomingStream, Listener};
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{Semaphore, mpsc};
use tokio_rustls::TlsAcceptor;
use tokio_rustls::rustls::ServerConfig;
use tokio_rustls::rustls::crypto::ring;
use tokio_rustls::rustls::pki_types::pem::PemObject;
use tokio_rustls::rustls::pki_types::{CertificateDer, PrivateKeyDer};

use super::front::Peer;
use crate::{ServerError, limits};

/// After a failed accept, such as too many open files, so long is waited.
const PAUSE: Duration = Duration::from_millis(200);

/// A connection, with TLS or without.
pub(crate) trait Wire: AsyncRead + AsyncWrite + Unpin + Send {}
impl<T: AsyncRead + AsyncWrite + Unpin + Send> Wire for T {}

/// Where connections come in.
pub(crate) enum Entrance {
    Plain(TcpListener),
    Tls {
        ready: mpsc::Receiver<(Box<dyn Wire>, SocketAddr)>,
        address: SocketAddr,
    },
}

impl Entrance {
    /// An entrance with TLS where an acceptor is given.
    pub(crate) fn new(listener: TcpListener, tls: Option<&TlsAcceptor>) -> std::io::Result<Self> {
        let Some(acceptor) = tls.cloned() else {
            return Ok(Self::Plain(listener));
        };
        let address = listener.local_addr()?;
        let (shaken, ready) = mpsc::channel(32);
        tokio::spawn(shake_hands(listener, acceptor, shaken));
        Ok(Self::Tls { ready, address })
    }
}

/// Handshakes run beside one another, so that a slow one holds nobody up.
async fn shake_hands(
    listener: TcpListener,
    acceptor: TlsAcceptor,
    shaken: mpsc::Sender<(Box<dyn Wire>, SocketAddr)>,
) {
    let at_once = Arc::new(Semaphore::new(limits::HANDSHAKES));
    loop {
        let Ok(turn) = Arc::clone(&at_once).acquire_owned().await else {
            return;
        };
        let (stream, from) = tokio::select! {
            accepted = accept(&listener) => accepted,
            () = shaken.closed() => return,
        };
        let (acceptor, shaken) = (acceptor.clone(), shaken.clone());
        tokio::spawn(async move {
            let patience = Duration::from_millis(limits::HANDSHAKE_MS);
            if let Ok(Ok(stream)) = tokio::time::timeout(patience, acceptor.accept(stream)).await {
                // Nobody takes it any more where the server stops.
                let _ = shaken.send((Box::new(stream), from)).await;
            }
            drop(turn);
        });
    }
}

async fn accept(listener: &TcpListener) -> (TcpStream, SocketAddr) {
    loop {
        match listener.accept().await {
            Ok((stream, from)) => {
                if let Err(error) = stream.set_nodelay(true) {
                    tracing::debug!(%error, "small packets may wait");
                }
                return (stream, from);
            }
            Err(error) => {
                tracing::debug!(%error, "a connection could not be taken");
                tokio::time::sleep(PAUSE).await;
            }
        }
    }
}

impl Listener for Entrance {
    type Io = Box<dyn Wire>;
    type Addr = SocketAddr;

    async fn accept(&mut self) -> (Self::Io, Self::Addr) {
        match self {
            Self::Plain(listener) => {
                let (stream, from) = accept(listener).await;
                (Box::new(stream), from)
            }
            Self::Tls { ready, .. } => match ready.recv().await {
                Some(taken) => taken,
                None => std::future::pending().await,
            },
        }
    }

    fn local_addr(&self) -> std::io::Result<Self::Addr> {
        match self {
            Self::Plain(listener) => listener.local_addr(),
            Self::Tls { address, .. } => Ok(*address),
        }
    }
}

impl Connected<IncomingStream<'_, Entrance>> for Peer {
    fn connect_info(stream: IncomingStream<'_, Entrance>) -> Self {
        Peer(*stream.remote_addr())
    }
}

/// TLS with the certificates and key of two PEM files.
pub(crate) fn tls(certificates: &Path, key: &Path) -> Result<TlsAcceptor, ServerError> {
    let bad = |file: &Path| ServerError::Tls(file.to_owned());
    let chain: Vec<CertificateDer<'static>> = CertificateDer::pem_file_iter(certificates)
        .and_then(Iterator::collect)
        .map_err(|_| bad(certificates))?;
    if chain.is_empty() {
        return Err(bad(certificates));
    }
    let secret = PrivateKeyDer::from_pem_file(key).map_err(|_| bad(key))?;
    let config = ServerConfig::builder_with_provider(Arc::new(ring::default_provider()))
        .with_safe_default_protocol_versions()
        .map_err(|_| bad(certificates))?
        .with_no_client_auth()
        .with_single_cert(chain, secret)
        .map_err(|_| bad(key))?;
    Ok(TlsAcceptor::from(Arc::new(config)))
}

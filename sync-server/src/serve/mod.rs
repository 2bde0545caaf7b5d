//! The office server as it runs: addresses, pages, enrolment and sessions.
//!
//! Devices speak to `/enrol` and `/sync`, anybody may ask `/health`. The pages have no sign-in
//! yet, so they are shown on this machine alone unless another address is chosen for them. Let a
//! proxy in front pass on nothing but those three.

mod enrol;
mod health;
mod pages;
mod photos;
mod shield;
mod socket;
mod style;

use std::future::Future;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::middleware::from_fn;
use axum::routing::{any, get, post};
use chalkwalk_core::limits;
use tokio::net::TcpListener;
use tokio::sync::{Semaphore, mpsc, watch};

use crate::env::SystemEnv;
use crate::hub::Hub;
use crate::office::Office;
use crate::storage::Storage;
use crate::store::Staging;
use crate::{ServerError, folder};

/// How long sessions and requests are given to end.
const FAREWELL: Duration = Duration::from_secs(5);

/// How to run the server.
#[derive(Clone, Debug)]
pub struct ServeConfig {
    /// The folder where all is kept; made at the first start.
    pub data: PathBuf,
    /// Where changes and files are kept, where that is not the folder.
    pub storage: Storage,
    /// Where devices speak to it. Port 0 takes a free one.
    pub listen: SocketAddr,
    /// Where the pages are.
    pub pages: Pages,
    /// The company's name: needed at the first start, not looked at later.
    pub company: Option<String>,
}

/// Where the pages are.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Pages {
    /// On the devices' address where that is of this machine alone, else on a free port of
    /// 127.0.0.1.
    #[default]
    ThisMachine,
    /// On an address of their own. Whoever reaches it reads everything: there is no sign-in yet.
    At(SocketAddr),
    /// Nowhere.
    Off,
}

/// A server that takes connections.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ready {
    /// Where devices speak to it.
    pub listen: SocketAddr,
    /// Where the pages are.
    pub pages: Option<SocketAddr>,
    /// The office key's pin.
    pub pin: String,
    /// The company's name.
    pub company: String,
}

/// What the routes share.
#[derive(Clone)]
pub(crate) struct Shared {
    hub: Hub,
    stop: watch::Receiver<bool>,
    sessions: Arc<Semaphore>,
    tries: Arc<enrol::Tries>,
    /// Held by every session until its last frame is sent; the server waits for all of them.
    alive: mpsc::Sender<()>,
}

/// Opens the hub of a data folder, making office and keys at the first start.
pub async fn open_hub(data: &Path, company: Option<&str>) -> Result<Hub, ServerError> {
    open_hub_on(data, &Storage::default(), company).await
}

/// As [`open_hub`], on this storage. The data folder keeps the office's keys, the same on every
/// node, and the files on their way in to this one.
pub async fn open_hub_on(
    data: &Path,
    storage: &Storage,
    company: Option<&str>,
) -> Result<Hub, ServerError> {
    std::fs::create_dir_all(data).map_err(ServerError::Folder)?;
    let records = storage.open_records(data).await?;
    let office = Office::open(data, &*records, company, &mut SystemEnv).await?;
    let blobs = storage.open_blobs(data)?;
    let staging = Staging::open(&folder::staging(data))?;
    Ok(Hub::new(records, blobs, staging, office))
}

/// Runs the server until `shutdown` is done, then lets sessions end. Calls `ready` once it takes
/// connections.
pub async fn serve(
    config: ServeConfig,
    ready: impl FnOnce(Ready) + Send,
    shutdown: impl Future<Output = ()> + Send,
) -> Result<(), ServerError> {
    std::fs::create_dir_all(&config.data).map_err(ServerError::Folder)?;
    let _lock = folder::Lock::take(&config.data)?;
    let hub = open_hub_on(&config.data, &config.storage, config.company.as_deref()).await?;
    // Before the first session: what it does not read itself, it hears.
    let feed = hub.feed().await?;
    let following = feed.map(|feed| tokio::spawn(hub.clone().follow(feed)));
    let (stop, stopping) = watch::channel(false);
    let (alive, mut all_gone) = mpsc::channel(1);
    let shared = Shared {
        hub,
        stop: stopping,
        sessions: Arc::new(Semaphore::new(limits::LIVE_SESSIONS)),
        tries: Arc::default(),
        alive,
    };

    let devices = bind(config.listen).await?;
    let listen = devices.local_addr().map_err(ServerError::Folder)?;
    let beside = config.pages == Pages::ThisMachine && listen.ip().is_loopback();
    let pages = match config.pages {
        Pages::At(address) => Some(bind(address).await?),
        Pages::ThisMachine if !beside => {
            Some(bind(SocketAddr::new(IpAddr::V4(Ipv4Addr::LOCALHOST), 0)).await?)
        }
        Pages::ThisMachine | Pages::Off => None,
    };
    let pages_at = match &pages {
        Some(pages) => Some(pages.local_addr().map_err(ServerError::Folder)?),
        None => beside.then_some(listen),
    };

    let mut tasks = tokio::task::JoinSet::new();
    let mut start = |listener: TcpListener, router: Router| {
        let mut stopping = stop.subscribe();
        tasks.spawn(async move {
            let service = router.into_make_service_with_connect_info::<SocketAddr>();
            axum::serve(listener, service)
                .with_graceful_shutdown(async move {
                    // An error means that the sender is gone: stop as well.
                    let _ = stopping.wait_for(|stop| *stop).await;
                })
                .await
        });
    };
    let routes = if beside {
        device_routes(&shared).merge(page_routes(&shared, true))
    } else {
        device_routes(&shared)
    };
    start(devices, finish(routes));
    if let (Some(listener), Some(at)) = (pages, pages_at) {
        let routes = page_routes(&shared, at.ip().is_loopback())
            .route("/health", get(health::health).with_state(shared.clone()));
        start(listener, finish(routes));
    }
    let office = shared.hub.office();
    tracing::info!(%listen, pages = ?pages_at, "the server takes connections");
    ready(Ready {
        listen,
        pages: pages_at,
        pin: crate::enrol::pin_of(&office.public_key()),
        company: office.company().name.clone(),
    });

    shutdown.await;
    tracing::info!("the server stops");
    // Nobody listens any more where this fails.
    let _ = stop.send(true);
    if let Some(following) = following {
        following.abort();
    }
    drop(shared);
    let farewell = async {
        while tasks.join_next().await.is_some() {}
        let _ = all_gone.recv().await;
    };
    if tokio::time::timeout(FAREWELL, farewell).await.is_err() {
        tracing::warn!("some connections did not end in time and are cut");
    }
    Ok(())
}

/// Runs the server on threads of its own until the process is told to stop (Ctrl-C, SIGTERM).
pub fn serve_until_told(
    config: ServeConfig,
    ready: impl FnOnce(Ready) + Send,
) -> Result<(), ServerError> {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .map_err(ServerError::Stopped)?;
    let result = runtime.block_on(serve(config, ready, told_to_stop()));
    runtime.shutdown_timeout(FAREWELL);
    result
}

/// Done when the process is told to stop.
pub async fn told_to_stop() {
    let interrupt = async {
        if let Err(error) = tokio::signal::ctrl_c().await {
            tracing::error!(%error, "Ctrl-C is not heard");
            std::future::pending::<()>().await;
        }
    };
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        match signal(SignalKind::terminate()) {
            Ok(mut terminate) => {
                tokio::select! {
                    () = interrupt => {}
                    _ = terminate.recv() => {}
                }
            }
            Err(error) => {
                tracing::error!(%error, "SIGTERM is not heard");
                interrupt.await;
            }
        }
    }
    #[cfg(not(unix))]
    interrupt.await;
}

async fn bind(address: SocketAddr) -> Result<TcpListener, ServerError> {
    TcpListener::bind(address)
        .await
        .map_err(|cause| ServerError::Listen { address, cause })
}

fn device_routes(shared: &Shared) -> Router {
    Router::new()
        .route("/health", get(health::health))
        .route("/enrol", post(enrol::enrol))
        .route("/sync", any(socket::sync))
        .with_state(shared.clone())
}

fn page_routes(shared: &Shared, this_machine: bool) -> Router {
    let routes = Router::new()
        .route("/", get(pages::list))
        .route("/style.css", get(style::style))
        .route("/jobs/{job}", get(pages::job))
        .route("/jobs/{job}/thumbnail/{hash}", get(photos::thumbnail))
        .route("/jobs/{job}/original/{hash}", get(photos::original))
        .with_state(shared.clone());
    if this_machine {
        routes.layer(from_fn(shield::this_machine_only))
    } else {
        routes
    }
}

fn finish(routes: Router) -> Router {
    routes
        .fallback(pages::not_found)
        .layer(from_fn(shield::headers))
}

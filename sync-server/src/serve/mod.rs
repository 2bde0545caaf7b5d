//! The office server as it runs: addresses, companies, routes and sessions.
//!
//! The table in `routes` says who may ask what; the router is built from it. Pages stand behind a
//! sign-in. Where neither the server nor a proxy speaks TLS, they are shown on this machine alone
//! unless an address is chosen for them, because passwords would cross the network in the clear.

mod ahead;
mod assets;
pub mod companies;
mod enrol;
mod field;
mod front;
mod guard;
mod health;
mod housekeeping;
mod icons;
mod intake;
mod kept;
mod later;
mod listener;
mod live;
mod metrics;
mod openapi;
mod packets;
mod pages;
mod photos;
mod routes;
mod shared;
mod shield;
mod site;
mod socket;
mod token;
mod tries;
mod upload;

use std::collections::BTreeSet;
use std::future::Future;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, SystemTime};

use axum::Router;
use axum::middleware::from_fn;
use tokio::net::TcpListener;
use tokio::sync::{mpsc, watch};
use tokio::task::JoinSet;

pub use openapi::description;
pub use routes::{Door, ROUTES, Route, Takes};

use crate::env::SystemEnv;
use crate::hub::{Hub, Quarantine};
use crate::judge::{Judge, Judging};
use crate::office::Office;
use crate::people::{FirstLink, first_link};
use crate::storage::Storage;
use crate::store::Staging;
use crate::{ServerError, folder};
use front::{Front, Peer};
use later::{Address, Watch};
use listener::Entrance;
use routes::{Which, router};
use site::Opener;
pub(crate) use site::{House, Shared};

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
    /// What stands between the server and the network.
    pub way: Way,
    /// What each company may keep, and what is removed in time.
    pub keeping: Keeping,
    /// The token with which metrics may be read from elsewhere.
    pub metrics_token: Option<String>,
    /// Where the batches of peers are judged first.
    pub judging: Judging,
}

impl Default for ServeConfig {
    /// In the folder `office`, on a free port of this machine alone.
    fn default() -> Self {
        Self {
            data: PathBuf::from("office"),
            storage: Storage::default(),
            listen: SocketAddr::new(IpAddr::V4(Ipv4Addr::LOCALHOST), 0),
            pages: Pages::default(),
            company: None,
            way: Way::default(),
            keeping: Keeping::default(),
            metrics_token: None,
            judging: Judging::Here,
        }
    }
}

/// What stands between the server and the network.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Way {
    /// Nothing: connections are in the clear.
    #[default]
    Plain,
    /// The server speaks TLS itself, with these PEM files.
    Tls {
        /// The certificate and those it hangs from.
        certificates: PathBuf,
        /// Its key.
        key: PathBuf,
    },
    /// A proxy that speaks TLS and sets `X-Forwarded-For`, `-Proto` and `-Host`.
    Proxy,
}

/// What each company may keep, and what is removed in time. By default all is kept.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Keeping {
    /// Most jobs of a company.
    pub jobs: Option<u64>,
    /// Most bytes of photos of a company.
    pub bytes: Option<u64>,
    /// Partial uploads that nobody went on with for so many days are removed.
    pub partial_uploads_days: Option<u32>,
    /// Sign-ins that no longer count and one-time links whose time is over are removed.
    pub ended_sign_ins: bool,
}

/// Where the pages are.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Pages {
    /// On the devices' address where that is of this machine alone or passwords are safe on the
    /// way to it, else on a free port of 127.0.0.1.
    #[default]
    ThisMachine,
    /// On an address of their own.
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
    /// Of each company that has no admin, the path of a one-time link for the first.
    pub first_links: Vec<String>,
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
    let (records, accounts) = storage.open_both(data).await?;
    let office = Office::open(data, &*records, company, &mut SystemEnv).await?;
    let blobs = storage.open_blobs(data)?;
    let staging = Staging::open(&folder::staging(data))?;
    let quarantine = Quarantine::at(folder::quarantine(data));
    Ok(Hub::new(records, blobs, staging, office)
        .with_accounts(accounts)
        .with_quarantine(quarantine))
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
    let started = SystemTime::now();
    let tls = match &config.way {
        Way::Tls { certificates, key } => Some(listener::tls(certificates, key)?),
        Way::Plain | Way::Proxy => None,
    };
    let front = Front {
        tls: tls.is_some(),
        behind_proxy: config.way == Way::Proxy,
        metrics: config
            .metrics_token
            .as_ref()
            .map(|token| *blake3::hash(token.as_bytes()).as_bytes()),
    };
    let safe = front.tls || front.behind_proxy;
    let devices = bind(config.listen).await?;
    let listen = devices.local_addr().map_err(ServerError::Folder)?;
    let (stop, stopping) = watch::channel(false);
    let (alive, mut all_gone) = mpsc::channel(1);
    let house = Arc::new(House::new(front, listen));
    let judge = judge(&config.judging).await;
    let known: BTreeSet<String> = companies::list(&config.data)?.into_iter().collect();
    let opener = Opener::new(config.clone(), house, judge, stopping, alive);
    let sites = opener.all(&known).await?;
    // Before the first session: what it does not read itself, it hears.
    let following = follow(&sites).await?;

    let beside = config.pages == Pages::ThisMachine && (safe || listen.ip().is_loopback());
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

    let mut tasks = JoinSet::new();
    let mut start = |listener: TcpListener, router: Router| -> Result<(), ServerError> {
        let mut stopping = stop.subscribe();
        let entrance = Entrance::new(listener, tls.as_ref()).map_err(ServerError::Folder)?;
        tasks.spawn(async move {
            let service = router.into_make_service_with_connect_info::<Peer>();
            axum::serve(entrance, service)
                .with_graceful_shutdown(async move {
                    // An error means that the sender is gone: stop as well.
                    let _ = stopping.wait_for(|stop| *stop).await;
                })
                .await
        });
        Ok(())
    };
    let address = Address::new(move |sites| {
        let routes = all(sites, Which::Devices);
        if !beside {
            return routes;
        }
        routes.merge(shielded(all(sites, Which::PagesAlone), !safe))
    });
    start(devices, finish(address.routes(&sites)))?;
    let mut addresses = vec![address];
    if let (Some(listener), Some(at)) = (pages, pages_at) {
        let here = at.ip().is_loopback();
        if !here && !safe {
            tracing::warn!("passwords cross the network in the clear: use TLS or a proxy");
        }
        let address = Address::new(move |sites| shielded(all(sites, Which::Pages), here && !safe));
        start(listener, finish(address.routes(&sites)))?;
        addresses.push(address);
    }
    let watch = Watch {
        data: config.data.clone(),
        keeping: config.keeping,
        started,
        opener,
        addresses,
        known,
    };
    let watching = tokio::spawn(watch.run(stop.subscribe()));
    let kept = housekeeping::start(&sites, &stop.subscribe(), config.keeping, started);
    let first_links = match pages_at {
        Some(_) => first_links(&sites).await?,
        None => Vec::new(),
    };
    tracing::info!(%listen, pages = ?pages_at, companies = sites.len(), "takes connections");
    let Some(main) = sites.first() else {
        return Err(ServerError::NoCompany);
    };
    let office = main.hub.office();
    ready(Ready {
        listen,
        pages: pages_at,
        pin: crate::enrol::pin_of(&office.public_key()),
        company: office.company().name.clone(),
        first_links,
    });

    shutdown.await;
    tracing::info!("the server stops");
    // Nobody listens any more where this fails.
    let _ = stop.send(true);
    drop(following);
    drop(sites);
    let farewell = async {
        while tasks.join_next().await.is_some() {}
        kept.finish().await;
        if let Err(error) = watching.await {
            tracing::error!(%error, "looking for new companies failed");
        }
        let _ = all_gone.recv().await;
    };
    if tokio::time::timeout(FAREWELL, farewell).await.is_err() {
        tracing::warn!("some connections did not end in time and are cut");
    }
    Ok(())
}

/// The judge of all companies. Where no worker can be started, batches are judged here: the limits
/// of the gate hold there too.
async fn judge(judging: &Judging) -> Judge {
    let told = judging.clone();
    let started = tokio::task::spawn_blocking(move || Judge::start(&told)).await;
    let judge = started
        .map_err(|error| error.to_string())
        .and_then(|started| started);
    match judge {
        Ok(judge) => {
            match judging {
                Judging::Here => tracing::info!("batches are judged in the server itself"),
                Judging::Workers(config) => tracing::info!(
                    memory = config.memory,
                    millis = config.time.as_millis(),
                    "batches are judged in processes of their own"
                ),
            }
            judge
        }
        Err(reason) => {
            tracing::warn!(
                reason,
                "batches are judged in the server itself: no worker starts"
            );
            Judge::default()
        }
    }
}

/// Follows what other nodes do in each company, until it is dropped.
async fn follow(sites: &[Shared]) -> Result<JoinSet<()>, ServerError> {
    let mut following = JoinSet::new();
    for site in sites {
        if let Some(feed) = site.hub.feed().await? {
            following.spawn(site.hub.clone().follow(feed));
        }
    }
    Ok(following)
}

async fn first_links(sites: &[Shared]) -> Result<Vec<String>, ServerError> {
    let mut links = Vec::new();
    for site in sites {
        if let FirstLink::Link(link) = first_link(site.accounts(), &mut SystemEnv).await? {
            links.push(format!("{}{}", site.base, link.path()));
        }
    }
    Ok(links)
}

fn all(sites: &[Shared], which: Which) -> Router {
    let routers = sites.iter().map(|site| router(site, which));
    routers.fold(Router::new(), Router::merge)
}

fn shielded(routes: Router, this_machine: bool) -> Router {
    if this_machine {
        routes.layer(from_fn(shield::this_machine_only))
    } else {
        routes
    }
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
    let told = {
        let _within = runtime.enter();
        told_to_stop()
    };
    let result = runtime.block_on(serve(config, ready, told));
    runtime.shutdown_timeout(FAREWELL);
    result
}

/// Done when the process is told to stop. The word is heard from the call on, not only once the
/// value is waited for: whoever is told that the server is ready may stop it at once. To be called
/// within a runtime.
pub fn told_to_stop() -> impl Future<Output = ()> + Send {
    #[cfg(unix)]
    let heard = {
        use tokio::signal::unix::{SignalKind, signal};
        [SignalKind::interrupt(), SignalKind::terminate()].map(signal)
    };
    async move {
        #[cfg(unix)]
        {
            let mut words = tokio::task::JoinSet::new();
            for signal in heard {
                match signal {
                    Ok(mut signal) => {
                        words.spawn(async move { signal.recv().await });
                    }
                    Err(error) => tracing::error!(%error, "a word to stop is not heard"),
                }
            }
            if words.join_next().await.is_none() {
                std::future::pending::<()>().await;
            }
        }
        #[cfg(not(unix))]
        if let Err(error) = tokio::signal::ctrl_c().await {
            tracing::error!(%error, "Ctrl-C is not heard");
            std::future::pending::<()>().await;
        }
    }
}

async fn bind(address: SocketAddr) -> Result<TcpListener, ServerError> {
    TcpListener::bind(address)
        .await
        .map_err(|cause| ServerError::Listen { address, cause })
}

fn finish(routes: Router) -> Router {
    routes.layer(from_fn(shield::headers))
}

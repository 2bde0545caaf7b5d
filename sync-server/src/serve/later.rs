//! Companies that are added while the server runs: they stand at every address within seconds.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;
use std::sync::{Arc, PoisonError, RwLock};
use std::time::{Duration, SystemTime};

use axum::Router;
use axum::extract::Request;
use axum::response::Response;
use tokio::sync::watch;
use tokio::task::JoinSet;
use tower::ServiceExt;

use super::housekeeping::{self, Housekeeping};
use super::site::Opener;
use super::{Keeping, Shared, companies, pages};
use crate::limits;

/// How the routes of companies are laid out at one address.
type Layout = Box<dyn Fn(&[Shared]) -> Router + Send + Sync>;

/// One address of the server: the companies that were there at its start, and later ones.
pub(super) struct Address {
    layout: Layout,
    later: RwLock<BTreeMap<String, Router>>,
}

impl Address {
    pub(super) fn new(layout: impl Fn(&[Shared]) -> Router + Send + Sync + 'static) -> Arc<Self> {
        Arc::new(Self {
            layout: Box::new(layout),
            later: RwLock::default(),
        })
    }

    /// The routes of these companies, and of all that come later.
    pub(super) fn routes(self: &Arc<Self>, sites: &[Shared]) -> Router {
        let here = Arc::clone(self);
        (self.layout)(sites).fallback(move |request: Request| here.answer(request))
    }

    async fn answer(self: Arc<Self>, request: Request) -> Response {
        let name = request.uri().path().strip_prefix("/at/");
        let slug = name.and_then(|rest| rest.split('/').next()).unwrap_or("");
        let found = {
            let later = self.later.read().unwrap_or_else(PoisonError::into_inner);
            later.get(slug).cloned()
        };
        match found {
            // A router does not fail.
            Some(router) => router.oneshot(request).await.unwrap_or_else(|e| match e {}),
            None => pages::not_found().await,
        }
    }

    fn add(&self, slug: &str, site: &Shared) {
        let router = (self.layout)(std::slice::from_ref(site)).fallback(pages::not_found);
        let mut later = self.later.write().unwrap_or_else(PoisonError::into_inner);
        later.insert(slug.to_owned(), router);
    }
}

/// Looks for companies that were added.
pub(super) struct Watch {
    pub(super) data: PathBuf,
    pub(super) keeping: Keeping,
    /// When the server began to run.
    pub(super) started: SystemTime,
    pub(super) opener: Opener,
    pub(super) addresses: Vec<Arc<Address>>,
    pub(super) known: BTreeSet<String>,
}

impl Watch {
    /// Looks until the server stops, then lets what it began end.
    pub(super) async fn run(mut self, mut stop: watch::Receiver<bool>) {
        let mut kept: Vec<Housekeeping> = Vec::new();
        let mut following = JoinSet::new();
        let mut well = true;
        while housekeeping::paused(&mut stop, limits::COMPANIES_MS).await {
            match self.look(&mut kept, &mut following, &stop).await {
                Ok(()) => well = true,
                // Said once: the next look comes soon.
                Err(error) if well => {
                    well = false;
                    tracing::error!(%error, "a company that was added cannot be shown yet");
                }
                Err(_) => {}
            }
        }
        drop(self);
        drop(following);
        for kept in kept {
            kept.finish().await;
        }
    }

    async fn look(
        &mut self,
        kept: &mut Vec<Housekeeping>,
        following: &mut JoinSet<()>,
        stop: &watch::Receiver<bool>,
    ) -> Result<(), crate::ServerError> {
        let data = self.data.clone();
        let listed = tokio::task::spawn_blocking(move || companies::list(&data))
            .await
            .map_err(|error| crate::ServerError::Stopped(error.into()))??;
        for slug in listed {
            if self.known.contains(&slug) {
                continue;
            }
            let opened = tokio::time::timeout(OPENING, self.opener.company(&slug)).await;
            let site = opened.map_err(|late| crate::ServerError::Stopped(late.into()))??;
            // Before the first session: what it does not read itself, it hears.
            if let Some(feed) = site.hub.feed().await? {
                following.spawn(site.hub.clone().follow(feed));
            }
            let sites = std::slice::from_ref(&site);
            kept.push(housekeeping::start(sites, stop, self.keeping, self.started));
            for address in &self.addresses {
                address.add(&slug, &site);
            }
            tracing::info!(company = slug, "stands from now on");
            self.known.insert(slug);
        }
        Ok(())
    }
}

/// How long opening a company may take before it is tried again.
const OPENING: Duration = Duration::from_secs(60);

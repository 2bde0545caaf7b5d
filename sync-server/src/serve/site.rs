//! What routes share: one [`House`] for the whole server, one [`Shared`] for each company on it.

use std::net::SocketAddr;
use std::sync::Arc;

use chalkwalk_core::job::JobId;
use chalkwalk_core::limits as core_limits;
use tokio::sync::{Semaphore, mpsc, watch};

use super::front::Front;
use super::metrics::Metrics;
use super::packets::Packets;
use super::shared::Kept;
use super::token::Answered;
use super::tries::AllTries;
use super::{ServeConfig, companies, open_hub_on};
use crate::hub::{Hub, Quota};
use crate::people::Passwords;
use crate::store::{Accounts, Actor, Deed, DeedKind, Share, StoreError};
use crate::{ServerError, folder, limits};

/// What all companies of a server share: its machine.
pub(crate) struct House {
    pub(crate) front: Front,
    pub(crate) passwords: Passwords,
    pub(crate) tries: AllTries,
    pub(crate) answered: Answered,
    pub(crate) metrics: Metrics,
    pub(crate) uploads: Arc<Semaphore>,
    /// Packets are made one at a time.
    pub(crate) packing: Arc<Semaphore>,
    sessions: Arc<Semaphore>,
    listen: SocketAddr,
}

impl House {
    pub(super) fn new(front: Front, listen: SocketAddr) -> Self {
        Self {
            front,
            passwords: Passwords::default(),
            tries: AllTries::default(),
            answered: Answered::default(),
            metrics: Metrics::default(),
            uploads: Arc::new(Semaphore::new(limits::UPLOADS)),
            packing: Arc::new(Semaphore::new(1)),
            sessions: Arc::new(Semaphore::new(core_limits::LIVE_SESSIONS)),
            listen,
        }
    }
}

/// One company, as its routes see it. Nothing of another company can be reached from it but the
/// house.
#[derive(Clone)]
pub(crate) struct Shared {
    pub(crate) hub: Hub,
    /// The path before all its routes: none for the company at the root, else `/at/NAME`.
    pub(crate) base: Arc<str>,
    pub(crate) house: Arc<House>,
    pub(crate) kept: Arc<Kept>,
    pub(crate) packets: Arc<Packets>,
    pub(crate) stop: watch::Receiver<bool>,
    pub(crate) sessions: Arc<Semaphore>,
    /// Held by every session until its last frame is sent; the server waits for all of them.
    pub(crate) alive: mpsc::Sender<()>,
}

impl Shared {
    /// People, and what they may see.
    pub(crate) fn accounts(&self) -> &dyn Accounts {
        self.hub.accounts()
    }

    /// The name of the cookie in which a browser holds its sign-in.
    pub(crate) fn cookie(&self) -> String {
        match self.base.rsplit('/').next() {
            Some(slug) if !slug.is_empty() => format!("chalkwalk-{slug}"),
            _ => "chalkwalk".to_owned(),
        }
    }

    /// Where devices speak to the company, for a browser that named the server `origin`.
    pub(crate) fn devices_at(&self, origin: &str) -> String {
        let front = &self.house.front;
        if front.tls || front.behind_proxy {
            return format!("{origin}{}", self.base);
        }
        let listen = self.house.listen;
        if !listen.ip().is_unspecified() {
            return format!("http://{listen}{}", self.base);
        }
        let host = origin.rsplit_once("://").map_or(origin, |(_, host)| host);
        let name = match host.rsplit_once(':') {
            Some((name, port)) if port.bytes().all(|b| b.is_ascii_digit()) => name,
            _ => host,
        };
        format!("http://{name}:{}{}", listen.port(), self.base)
    }

    /// Writes down what somebody saw or did.
    pub(crate) async fn note(
        &self,
        who: Actor,
        what: DeedKind,
        job: Option<JobId>,
        about: &str,
    ) -> Result<(), StoreError> {
        let mut end = about.len().min(limits::AUDIT_DETAIL_BYTES);
        while !about.is_char_boundary(end) {
            end -= 1;
        }
        let deed = Deed {
            at: self.hub.now(),
            who,
            what,
            job,
            about: about[..end].to_owned(),
        };
        self.accounts().note(&deed).await
    }

    /// Writes down that a link was tried which no longer counts.
    pub(crate) async fn share_refused(&self, share: &Share) {
        let who = Actor::Share(share.id);
        let noted = self.note(who, DeedKind::ShareRefused, Some(share.job), "");
        if let Err(error) = noted.await {
            tracing::warn!(error = error.chain(), "a refusal could not be written down");
        }
    }
}

/// Opens the company at the root and all others of the data folder.
pub(super) async fn open_all(
    config: &ServeConfig,
    house: &Arc<House>,
    stop: &watch::Receiver<bool>,
    alive: &mpsc::Sender<()>,
) -> Result<Vec<Shared>, ServerError> {
    let site = |hub: Hub, base: String| Shared {
        hub: hub.with_quota(Quota::new(config.keeping.jobs, config.keeping.bytes)),
        base: base.into(),
        house: Arc::clone(house),
        kept: Arc::default(),
        packets: Arc::default(),
        stop: stop.clone(),
        sessions: Arc::clone(&house.sessions),
        alive: alive.clone(),
    };
    let storage = &config.storage;
    let main = open_hub_on(&config.data, storage, config.company.as_deref()).await?;
    let mut sites = vec![site(main, String::new())];
    for slug in companies::list(&config.data)? {
        let at = folder::company(&config.data, &slug);
        let hub = open_hub_on(&at, &storage.of_company(&slug)?, None).await?;
        sites.push(site(hub, format!("/at/{slug}")));
    }
    Ok(sites)
}

//! What routes share: one [`House`] for the whole server, one [`Shared`] for each company on it.

use std::collections::BTreeSet;
use std::net::SocketAddr;
use std::path::Path;
use std::sync::Arc;

use chalkwalk_core::job::JobId;
use chalkwalk_core::limits as core_limits;
use tokio::sync::{Semaphore, mpsc, watch};

use super::front::Front;
use super::metrics::Metrics;
use super::packets::Packets;
use super::pages::memo::Memo;
use super::shared::Kept;
use super::tries::AllTries;
use super::{Keeping, ServeConfig, open_hub_on};
use crate::hub::{Hub, Quota};
use crate::judge::Judge;
use crate::papers::Papers;
use crate::people::Passwords;
use crate::store::{Accounts, Actor, Deed, DeedKind, Share, StoreError};
use crate::{ServerError, folder, limits};

/// What all companies of a server share: its machine.
pub(crate) struct House {
    pub(crate) front: Front,
    pub(crate) passwords: Passwords,
    pub(crate) tries: AllTries,
    pub(crate) metrics: Metrics,
    pub(crate) uploads: Arc<Semaphore>,
    /// Turns to read tables that people hand in.
    pub(crate) tables: Arc<Semaphore>,
    /// Turns to make a packet.
    pub(crate) packets: Arc<Semaphore>,
    /// Turns to read large files of forms.
    pub(crate) reading: Arc<Semaphore>,
    /// Pages that listen for news.
    pub(crate) pages: Arc<Semaphore>,
    sessions: Arc<Semaphore>,
    listen: SocketAddr,
}

impl House {
    pub(super) fn new(front: Front, listen: SocketAddr) -> Self {
        Self {
            front,
            passwords: Passwords::default(),
            tries: AllTries::default(),
            metrics: Metrics::default(),
            uploads: Arc::new(Semaphore::new(limits::UPLOADS)),
            tables: Arc::new(Semaphore::new(limits::TABLES_AT_ONCE)),
            packets: Arc::new(Semaphore::new(limits::PACKETS_AT_ONCE)),
            reading: Arc::new(Semaphore::new(limits::FILES_READ)),
            pages: Arc::new(Semaphore::new(limits::LIVE_PAGES)),
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
    /// Papers of the office that are no part of a job's record.
    pub(crate) papers: Papers,
    /// What the company may keep, and what is removed in time.
    pub(crate) keeping: Keeping,
    /// The company's folder.
    pub(crate) folder: Arc<Path>,
    pub(crate) memo: Arc<Memo>,
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
        let deed = Deed {
            at: self.hub.now(),
            who,
            what,
            job,
            about: detail(about).to_owned(),
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

/// As much of a detail as the audit keeps.
fn detail(about: &str) -> &str {
    let mut end = about.len().min(limits::AUDIT_DETAIL_BYTES);
    while !about.is_char_boundary(end) {
        end -= 1;
    }
    &about[..end]
}

/// Opens companies of one server.
pub(super) struct Opener {
    config: ServeConfig,
    house: Arc<House>,
    judge: Judge,
    stop: watch::Receiver<bool>,
    alive: mpsc::Sender<()>,
}

impl Opener {
    pub(super) fn new(
        config: ServeConfig,
        house: Arc<House>,
        judge: Judge,
        stop: watch::Receiver<bool>,
        alive: mpsc::Sender<()>,
    ) -> Self {
        Self {
            config,
            house,
            judge,
            stop,
            alive,
        }
    }

    /// Opens the company at the root and these others.
    pub(super) async fn all(&self, slugs: &BTreeSet<String>) -> Result<Vec<Shared>, ServerError> {
        let config = &self.config;
        let main = open_hub_on(&config.data, &config.storage, config.company.as_deref()).await?;
        let mut sites = vec![self.site(main, String::new(), &config.data).await?];
        for slug in slugs {
            sites.push(self.company(slug).await?);
        }
        Ok(sites)
    }

    /// Opens one further company.
    pub(super) async fn company(&self, slug: &str) -> Result<Shared, ServerError> {
        let at = folder::company(&self.config.data, slug);
        let storage = self.config.storage.of_company(slug)?;
        let hub = open_hub_on(&at, &storage, None).await?;
        self.site(hub, format!("/at/{slug}"), &at).await
    }

    async fn site(&self, hub: Hub, base: String, at: &Path) -> Result<Shared, ServerError> {
        let keeping = self.config.keeping;
        let papers = Papers::beside(hub.accounts_held());
        papers.take_in(&folder::papers(at)).await?;
        Ok(Shared {
            hub: hub
                .with_quota(Quota::new(keeping.jobs, keeping.bytes))
                .with_judge(self.judge.clone())
                .with_follow_up(),
            base: base.into(),
            house: Arc::clone(&self.house),
            kept: Arc::default(),
            papers,
            keeping,
            folder: at.into(),
            memo: Arc::default(),
            packets: Arc::default(),
            stop: self.stop.clone(),
            sessions: Arc::clone(&self.house.sessions),
            alive: self.alive.clone(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_detail_of_one_byte_too_many_is_cut_between_letters() {
        let most = limits::AUDIT_DETAIL_BYTES;
        let fits = "a".repeat(most);
        assert_eq!(detail(&fits), fits);
        assert_eq!(detail(&format!("{fits}b")), fits);
        let wide = format!("{}é", "a".repeat(most - 1));
        assert_eq!(detail(&wide).len(), most - 1);
    }
}

//! Where devices meet: what one brings is judged, made durable, and told to the others.

mod access;
mod custody;
mod describe;
mod desk;
mod files;
mod follow;
mod later;
mod lost;
mod past;
mod pen;
mod photo_source;
mod quarantine;
mod quota;
mod reads;
mod replica;
mod signers;
#[cfg(test)]
mod tests;
mod upload;

use std::sync::{Arc, PoisonError};

use chalkwalk_core::document::Refusal;
use chalkwalk_core::env::Env;
use chalkwalk_core::job::{Certificate, DeviceId, JobId, Role};
use tokio::runtime::Handle;
use tokio::sync::broadcast;

pub use access::office_role;
pub(crate) use access::open_to_all;
pub(crate) use custody::{InCustody, Vouched};
pub use describe::job_title;
pub(crate) use describe::{crew, open_questions};
pub use lost::{JobOnDevice, Lost};
pub use pen::PenError;
pub use photo_source::HubPhotos;
pub use quarantine::Quarantine;
pub use quota::Quota;
pub use replica::HubReplica;
pub use upload::{Upload, UploadError, Wanted};

use crate::env::SystemEnv;
use crate::judge::Judge;
use crate::office::Office;
use crate::store::{
    Accounts, AuditEntry, AuditKind, Blobs, Device, MemoryAccounts, Records, Staging, StoreError,
};
use desk::Desks;

/// News kept for a session that is slow to hear them; one that misses some looks at all its jobs.
const NEWS: usize = 1024;

/// Something that other live sessions want to know.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum News {
    /// A job has changes or files that were not here before.
    Job {
        /// The job.
        job: JobId,
        /// The session they came through.
        session: u64,
        /// Files may be here, or wanted, that were not before.
        files: bool,
    },
    /// A device was shut out.
    Revoked(DeviceId),
    /// So much may have happened on other nodes that every job is to be looked at.
    Everything,
}

/// The session of news that came through another node.
const ELSEWHERE: u64 = 0;

/// The meeting place. Clones are the same one.
#[derive(Clone)]
pub struct Hub(Arc<Inner>);

struct Inner {
    records: Arc<dyn Records>,
    blobs: Arc<dyn Blobs>,
    accounts: Arc<dyn Accounts>,
    quota: Quota,
    judge: Judge,
    quarantine: Option<Quarantine>,
    staging: Staging,
    office: Office,
    desks: Desks,
    reads: reads::Reads,
    pens: pen::Pens,
    later: later::Later,
    news: broadcast::Sender<News>,
    env: std::sync::Mutex<Box<dyn Env>>,
    sessions: std::sync::atomic::AtomicU64,
}

impl Hub {
    /// A meeting place over storage.
    pub fn new(
        records: Arc<dyn Records>,
        blobs: Arc<dyn Blobs>,
        staging: Staging,
        office: Office,
    ) -> Self {
        Self(Arc::new(Inner {
            records,
            blobs,
            accounts: Arc::new(MemoryAccounts::default()),
            quota: Quota::default(),
            judge: Judge::default(),
            quarantine: None,
            staging,
            office,
            desks: Desks::default(),
            reads: reads::Reads::default(),
            pens: pen::Pens::default(),
            later: later::Later::default(),
            news: broadcast::channel(NEWS).0,
            env: std::sync::Mutex::new(Box::new(SystemEnv)),
            sessions: std::sync::atomic::AtomicU64::new(1),
        }))
    }

    /// The same with people and what they may see. To be called before the hub is shared: later
    /// on it changes nothing.
    pub fn with_accounts(mut self, accounts: Arc<dyn Accounts>) -> Self {
        if let Some(inner) = Arc::get_mut(&mut self.0) {
            inner.accounts = accounts;
        }
        self
    }

    /// The same with what the company may keep here. To be called before the hub is shared: later
    /// on it changes nothing.
    pub fn with_quota(mut self, quota: Quota) -> Self {
        if let Some(inner) = Arc::get_mut(&mut self.0) {
            inner.quota = quota;
        }
        self
    }

    /// The same with a judge of batches, which is this process itself by default. To be called
    /// before the hub is shared: later on it changes nothing.
    pub fn with_judge(mut self, judge: Judge) -> Self {
        if let Some(inner) = Arc::get_mut(&mut self.0) {
            inner.judge = judge;
        }
        self
    }

    /// The same with a place for refused batches. To be called before the hub is shared: later on
    /// it changes nothing.
    pub fn with_quarantine(mut self, quarantine: Quarantine) -> Self {
        if let Some(inner) = Arc::get_mut(&mut self.0) {
            inner.quarantine = Some(quarantine);
        }
        self
    }

    /// Who judges the batches.
    pub(crate) fn judge(&self) -> &Judge {
        &self.0.judge
    }

    /// The office.
    pub fn office(&self) -> &Office {
        &self.0.office
    }

    /// Changes, and all that is written about them.
    pub fn records(&self) -> &dyn Records {
        &*self.0.records
    }

    /// The same accounts, to be held.
    pub(crate) fn accounts_held(&self) -> Arc<dyn Accounts> {
        Arc::clone(&self.0.accounts)
    }

    /// People, and who sees which job.
    pub fn accounts(&self) -> &dyn Accounts {
        &*self.0.accounts
    }

    /// Whole files.
    pub fn blobs(&self) -> &dyn Blobs {
        &*self.0.blobs
    }

    /// What happens from now on.
    pub fn news(&self) -> broadcast::Receiver<News> {
        self.0.news.subscribe()
    }

    /// The side of the hub that one session speaks with. Its calls block: they belong on a thread
    /// that may block, of the runtime whose handle is given.
    pub fn replica(&self, runtime: Handle) -> HubReplica {
        let session = self
            .0
            .sessions
            .fetch_add(1, std::sync::atomic::Ordering::Relaxed);
        HubReplica::new(self.clone(), runtime, session)
    }

    /// Shuts a device out: its sessions end, and what it signed is no longer taken. False where
    /// the device is not known.
    pub async fn revoke(&self, device: DeviceId) -> Result<bool, StoreError> {
        let now = self.now();
        let known = self.records().set_revoked(device, Some(now)).await?;
        if known {
            self.audit(AuditKind::Revoked, Some(device), None, "")
                .await?;
            self.tell(News::Revoked(device));
        }
        Ok(known)
    }

    /// Ends the sessions of a device that another process has shut out.
    pub(crate) fn tell_revoked(&self, device: DeviceId) {
        self.tell(News::Revoked(device));
    }

    /// Partial uploads of this node.
    pub(crate) fn staging(&self) -> &Staging {
        &self.0.staging
    }

    /// Lets a device in again. False where the device is not known.
    pub async fn reinstate(&self, device: DeviceId) -> Result<bool, StoreError> {
        let known = self.records().set_revoked(device, None).await?;
        if known {
            self.audit(AuditKind::Reinstated, Some(device), None, "")
                .await?;
        }
        Ok(known)
    }

    pub(crate) fn now(&self) -> chalkwalk_core::job::Millis {
        let mut env = self.0.env.lock().unwrap_or_else(PoisonError::into_inner);
        env.now()
    }

    async fn audit(
        &self,
        what: AuditKind,
        device: Option<DeviceId>,
        job: Option<JobId>,
        detail: &str,
    ) -> Result<(), StoreError> {
        let entry = AuditEntry {
            at: self.now(),
            what,
            device,
            job,
            detail: detail.to_owned(),
        };
        self.records().note(&entry).await
    }

    fn tell(&self, news: News) {
        // Nobody may be listening.
        let _ = self.0.news.send(news);
    }

    /// Whether a device may speak here at all; what is known of it, as it is new otherwise.
    async fn admits(&self, peer: &Certificate) -> Result<Option<Device>, Refusal> {
        if peer.company != self.office().company().id {
            return Err(Refusal::Forbidden("a device of another office".to_owned()));
        }
        match self.records().device(peer.device).await? {
            Some(device) if device.revoked_at.is_some() => Err(shut_out(peer.device)),
            Some(device) if device.key != peer.key.as_slice() => {
                Err(Refusal::Unsigned("a device with two keys".to_owned()))
            }
            known => Ok(known),
        }
    }
}

fn shut_out(device: DeviceId) -> Refusal {
    Refusal::Forbidden(format!("the office has shut out device {device}"))
}

/// Whether somebody in this part may record. The office's server keeps and passes on; it records
/// nothing.
fn may_record(role: Role) -> bool {
    match role {
        Role::Crew | Role::Estimator | Role::Admin => true,
        Role::Office => false,
    }
}

//! People, sign-ins, one-time links, shared links, who sees which job, and what people did.
//!
//! A trait of its own beside [`Records`], so that a place may keep both together or apart. Every implementation passes the same conformance suite.

mod memory;
mod sqlite;
mod types;
pub(in crate::store) mod words;

use std::collections::{BTreeMap, BTreeSet};

use async_trait::async_trait;
use chalkwalk_core::job::{DeviceId, JobId, Millis, Role};

use super::{Records, StoreError};
pub use memory::MemoryAccounts;
pub use sqlite::SqliteAccounts;
pub(crate) use sqlite::{AccountsFile, AccountsHeld};
pub use types::*;

/// What tells one version of a paper from another; empty where there is none.
pub fn paper_mark(bytes: Option<&[u8]>) -> String {
    bytes.map_or_else(String::new, |bytes| {
        blake3::hash(bytes).to_hex()[..16].to_owned()
    })
}

/// What is kept of people. What a call confirms is durable when it returns. Secrets come and are
/// kept as hashes alone.
#[async_trait]
pub trait Accounts: Send + Sync + 'static {
    /// Adds a person, unless the name or mail address is taken.
    async fn add_person(&self, person: &Person) -> Result<Joined, StoreError>;

    /// A person.
    async fn person(&self, id: PersonId) -> Result<Option<Person>, StoreError>;

    /// The person with this name or mail address, whatever the case of its letters.
    async fn person_called(&self, login: &str) -> Result<Option<Person>, StoreError>;

    /// Everybody, by id.
    async fn people(&self) -> Result<Vec<Person>, StoreError>;

    /// Keeps a new password hash. False where the person is not known.
    async fn set_password(&self, id: PersonId, hash: &str) -> Result<bool, StoreError>;

    /// Gives a person another role. False where the person is not known.
    async fn set_role(&self, id: PersonId, role: Role) -> Result<bool, StoreError>;

    /// Shuts a person out and ends all sign-ins, or lets the person in again. False where the
    /// person is not known.
    async fn set_shut_out(&self, id: PersonId, at: Option<Millis>) -> Result<bool, StoreError>;

    /// Keeps a sign-in. Where the person has more than `most`, the longest unused end.
    async fn put_sign_in(&self, sign_in: &SignIn, most: usize) -> Result<(), StoreError>;

    /// A sign-in and its person, whether or not it still counts.
    async fn sign_in(&self, hash: [u8; 32]) -> Result<Option<(SignIn, Person)>, StoreError>;

    /// Writes down that a sign-in was used.
    async fn touch_sign_in(&self, hash: [u8; 32], at: Millis) -> Result<(), StoreError>;

    /// Ends one sign-in.
    async fn end_sign_in(&self, hash: [u8; 32]) -> Result<(), StoreError>;

    /// Ends all sign-ins of a person, but not the one with the hash `but`.
    async fn end_sign_ins(&self, id: PersonId, but: Option<[u8; 32]>) -> Result<(), StoreError>;

    /// Keeps a one-time link.
    async fn put_once(&self, once: &Once) -> Result<(), StoreError>;

    /// A one-time link that was not used yet, whether or not its time is over.
    async fn once(&self, hash: [u8; 32]) -> Result<Option<Once>, StoreError>;

    /// Withdraws all unused links for this purpose.
    async fn withdraw_once(&self, purpose: Purpose) -> Result<(), StoreError>;

    /// Uses a link up: of several calls at once one gets it. `None` where it is used, unknown or
    /// its time is over.
    async fn use_once(&self, hash: [u8; 32], now: Millis) -> Result<Option<Once>, StoreError>;

    /// Uses an invitation up and adds the person, both or neither.
    async fn join(
        &self,
        hash: [u8; 32],
        person: &Person,
        now: Millis,
    ) -> Result<Joined, StoreError>;

    /// Keeps a shared link.
    async fn put_share(&self, share: &Share) -> Result<(), StoreError>;

    /// The shared link with this hash, whether or not it still counts.
    async fn share(&self, hash: [u8; 32]) -> Result<Option<Share>, StoreError>;

    /// The shared links of a job, in the order they were made.
    async fn shares(&self, job: JobId) -> Result<Vec<Share>, StoreError>;

    /// Withdraws a shared link of a job. False where there is none.
    async fn withdraw_share(&self, job: JobId, id: ShareId, at: Millis)
    -> Result<bool, StoreError>;

    /// Who among the devices sees a job, and whether it is open.
    async fn access(&self, job: JobId) -> Result<Access, StoreError>;

    /// The same of every job for which anything was said.
    async fn all_access(&self) -> Result<BTreeMap<JobId, Access>, StoreError>;

    /// Jobs that are closed, or assigned to others than this device: a crew's device does not see
    /// them unless it has written to them.
    async fn hidden(&self, device: DeviceId) -> Result<BTreeSet<JobId>, StoreError>;

    /// The jobs that a crew's device sees, by id: those it is assigned to or has written to, and
    /// open ones that nobody is assigned to. Ids alone are read, and no job one by one.
    async fn jobs_seen(
        &self,
        records: &dyn Records,
        device: DeviceId,
    ) -> Result<Vec<JobId>, StoreError> {
        let hidden = self.hidden(device).await?;
        let written = records.jobs_written_by(device).await?;
        let mut seen = records.job_ids().await?;
        seen.retain(|job| !hidden.contains(job) || written.contains(job));
        Ok(seen)
    }

    /// Assigns a device to a job, or takes it off.
    async fn assign(&self, job: JobId, device: DeviceId, to: bool) -> Result<(), StoreError>;

    /// Closes a job, or opens it again.
    async fn set_closed(&self, job: JobId, at: Option<Millis>) -> Result<(), StoreError>;

    /// Keeps the office's word on a job in place of the one before, or takes it away.
    async fn set_mark(&self, job: JobId, marked: Option<Marked>) -> Result<(), StoreError>;

    /// A paper of the office (see [`paper_mark`] for the versions of one).
    async fn paper(&self, name: &str) -> Result<Option<Vec<u8>>, StoreError>;

    /// Puts a paper in place of the one before, if that one is still the one with the mark `was`;
    /// empty says that there was none. False where another is there: nothing was changed.
    ///
    /// # Errors
    /// [`StoreError::Limit`] past [`limits::PAPERS`](crate::limits::PAPERS).
    async fn replace_paper(&self, name: &str, was: &str, bytes: &[u8]) -> Result<bool, StoreError>;

    /// How many papers there are, and their bytes.
    async fn papers_held(&self) -> Result<(u64, u64), StoreError>;

    /// Adds to what people did. Nothing takes an entry away.
    async fn note(&self, deed: &Deed) -> Result<(), StoreError>;

    /// What people did, as far as it is asked for, newest first; with `before` only what was added
    /// before that number. However long ago it was, no more is read than is answered.
    async fn deeds(
        &self,
        of: DeedsOf,
        before: Option<u64>,
        max: usize,
    ) -> Result<Vec<(u64, Deed)>, StoreError>;

    /// Whether other nodes may work on the same accounts, so that what must be counted for all of
    /// them together is counted here.
    fn between_nodes(&self) -> bool {
        false
    }

    /// Wrong tries that were counted under a key in the window that has not ended yet.
    async fn tries(&self, key: [u8; 32], now: Millis) -> Result<u64, StoreError>;

    /// Adds to the tries under a key, or takes some back; the value is how many there are now. The
    /// first one begins a window, and all are forgotten once it ends.
    async fn count_tries(&self, key: [u8; 32], window: Window, by: i64) -> Result<u64, StoreError>;

    /// Notes that a challenge was answered. False where it was answered before: of several answers
    /// at once, at whatever node, one counts. It is forgotten after `ends`.
    async fn answer(&self, nonce: [u8; 16], ends: Millis, now: Millis) -> Result<bool, StoreError>;

    /// Removes sign-ins that no longer count and one-time links whose time is over; nothing else.
    async fn sweep(&self, now: Millis) -> Result<Swept, StoreError>;
}

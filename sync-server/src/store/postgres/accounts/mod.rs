//! Accounts beside the records, in the same schema: the same on every node.

mod access;
mod papers;
mod people;
mod tries;

use std::collections::{BTreeMap, BTreeSet};

use async_trait::async_trait;
use chalkwalk_core::job::{DeviceId, JobId, Millis, Role};

use super::PostgresRecords;
use crate::store::*;

/// Accounts in one schema of a PostgreSQL database. Clones share it.
#[derive(Clone, Debug)]
pub struct PostgresAccounts(PostgresRecords);

impl PostgresRecords {
    /// The accounts of the same office, over the same connections.
    pub fn accounts(&self) -> PostgresAccounts {
        PostgresAccounts(self.clone())
    }
}

/// Runs one call on a connection, within its time.
macro_rules! call {
    ($self:ident, |$db:ident| $work:expr) => {{
        let lease = $self.0.lease().await?;
        let $db = &lease;
        let done = tokio::time::timeout(limits::CALL, $work).await;
        lease.settle(done).await
    }};
}

#[async_trait]
impl Accounts for PostgresAccounts {
    async fn add_person(&self, person: &Person) -> Result<Joined, StoreError> {
        call!(self, |db| people::add(db, person))
    }

    async fn person(&self, id: PersonId) -> Result<Option<Person>, StoreError> {
        call!(self, |db| people::person(db, id))
    }

    async fn person_called(&self, login: &str) -> Result<Option<Person>, StoreError> {
        call!(self, |db| people::called(db, login))
    }

    async fn people(&self) -> Result<Vec<Person>, StoreError> {
        call!(self, |db| people::all(db))
    }

    async fn set_password(&self, id: PersonId, hash: &str) -> Result<bool, StoreError> {
        call!(self, |db| people::set_password(db, id, hash))
    }

    async fn set_role(&self, id: PersonId, role: Role) -> Result<bool, StoreError> {
        call!(self, |db| people::set_role(db, id, role))
    }

    async fn set_shut_out(&self, id: PersonId, at: Option<Millis>) -> Result<bool, StoreError> {
        call!(self, |db| people::set_shut_out(db, id, at))
    }

    async fn put_sign_in(&self, sign_in: &SignIn, most: usize) -> Result<(), StoreError> {
        call!(self, |db| people::put_sign_in(db, sign_in, most))
    }

    async fn sign_in(&self, hash: [u8; 32]) -> Result<Option<(SignIn, Person)>, StoreError> {
        call!(self, |db| people::sign_in(db, &hash))
    }

    async fn touch_sign_in(&self, hash: [u8; 32], at: Millis) -> Result<(), StoreError> {
        call!(self, |db| people::touch_sign_in(db, &hash, at))
    }

    async fn end_sign_in(&self, hash: [u8; 32]) -> Result<(), StoreError> {
        call!(self, |db| people::end_sign_in(db, &hash))
    }

    async fn end_sign_ins(&self, id: PersonId, but: Option<[u8; 32]>) -> Result<(), StoreError> {
        call!(self, |db| people::end_sign_ins(db, id, but))
    }

    async fn put_once(&self, once: &Once) -> Result<(), StoreError> {
        call!(self, |db| people::put_once(db, once))
    }

    async fn once(&self, hash: [u8; 32]) -> Result<Option<Once>, StoreError> {
        call!(self, |db| people::once(db, &hash, false))
    }

    async fn withdraw_once(&self, purpose: Purpose) -> Result<(), StoreError> {
        call!(self, |db| people::withdraw_once(db, purpose))
    }

    async fn use_once(&self, hash: [u8; 32], now: Millis) -> Result<Option<Once>, StoreError> {
        call!(self, |db| people::use_once(db, &hash, now))
    }

    async fn join(
        &self,
        hash: [u8; 32],
        person: &Person,
        now: Millis,
    ) -> Result<Joined, StoreError> {
        call!(self, |db| people::join(db, &hash, person, now))
    }

    async fn put_share(&self, share: &Share) -> Result<(), StoreError> {
        call!(self, |db| access::put_share(db, share))
    }

    async fn share(&self, hash: [u8; 32]) -> Result<Option<Share>, StoreError> {
        call!(self, |db| access::share(db, &hash))
    }

    async fn shares(&self, job: JobId) -> Result<Vec<Share>, StoreError> {
        call!(self, |db| access::shares(db, job))
    }

    async fn withdraw_share(
        &self,
        job: JobId,
        id: ShareId,
        at: Millis,
    ) -> Result<bool, StoreError> {
        call!(self, |db| access::withdraw_share(db, job, id, at))
    }

    async fn access(&self, job: JobId) -> Result<Access, StoreError> {
        call!(self, |db| access::of(db, job))
    }

    async fn all_access(&self) -> Result<BTreeMap<JobId, Access>, StoreError> {
        call!(self, |db| access::all(db))
    }

    async fn hidden(&self, device: DeviceId) -> Result<BTreeSet<JobId>, StoreError> {
        call!(self, |db| access::hidden(db, device))
    }

    async fn jobs_seen(
        &self,
        _records: &dyn Records,
        device: DeviceId,
    ) -> Result<Vec<JobId>, StoreError> {
        // Records and accounts of an office are in one schema.
        call!(self, |db| access::jobs_seen(db, device))
    }

    async fn assign(&self, job: JobId, device: DeviceId, to: bool) -> Result<(), StoreError> {
        call!(self, |db| access::assign(db, job, device, to))
    }

    async fn set_closed(&self, job: JobId, at: Option<Millis>) -> Result<(), StoreError> {
        call!(self, |db| access::set_closed(db, job, at))
    }

    async fn set_mark(&self, job: JobId, marked: Option<Marked>) -> Result<(), StoreError> {
        call!(self, |db| access::set_mark(db, job, marked))
    }

    async fn paper(&self, name: &str) -> Result<Option<Vec<u8>>, StoreError> {
        call!(self, |db| papers::read(db, name))
    }

    async fn replace_paper(&self, name: &str, was: &str, bytes: &[u8]) -> Result<bool, StoreError> {
        call!(self, |db| papers::replace(db, name, was, bytes))
    }

    async fn papers_held(&self) -> Result<(u64, u64), StoreError> {
        call!(self, |db| papers::held(db))
    }

    async fn note(&self, deed: &Deed) -> Result<(), StoreError> {
        call!(self, |db| access::note(db, deed))
    }

    async fn deeds(
        &self,
        of: DeedsOf,
        before: Option<u64>,
        max: usize,
    ) -> Result<Vec<(u64, Deed)>, StoreError> {
        call!(self, |db| access::deeds(db, of, before, max))
    }

    fn between_nodes(&self) -> bool {
        true
    }

    async fn tries(&self, key: [u8; 32], now: Millis) -> Result<u64, StoreError> {
        call!(self, |db| tries::counted(db, &key, now))
    }

    async fn count_tries(&self, key: [u8; 32], window: Window, by: i64) -> Result<u64, StoreError> {
        call!(self, |db| tries::count(db, &key, window, by))
    }

    async fn answer(&self, nonce: [u8; 16], ends: Millis, now: Millis) -> Result<bool, StoreError> {
        call!(self, |db| tries::answer(db, &nonce, ends, now))
    }

    async fn sweep(&self, now: Millis) -> Result<Swept, StoreError> {
        call!(self, |db| people::sweep(db, now))
    }
}

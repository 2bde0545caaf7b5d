//! Accounts in one SQLite file of their own, `synchronous = FULL`.

mod access;
mod carry;
mod papers;
mod people;
mod tries;

use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use async_trait::async_trait;
use rusqlite::{Connection, Transaction, TransactionBehavior};

use super::*;
use crate::store::here;
use crate::store::sqlite::{STATEMENTS, log};
pub(crate) use carry::{AccountsFile, AccountsHeld};

/// How long a call waits while another process, such as a command on the same folder, writes.
const BUSY: Duration = Duration::from_secs(20);
const LAYOUTS: &[&str] = &[
    include_str!("0001_accounts.sql"),
    include_str!("0002_tries.sql"),
    include_str!("0003_marks.sql"),
    include_str!("0004_papers.sql"),
    include_str!("0005_deeds.sql"),
];

/// Accounts in one SQLite file. Clones share it.
#[derive(Clone, Debug)]
pub struct SqliteAccounts(Arc<Mutex<Connection>>);

impl SqliteAccounts {
    /// Opens the file, or makes it; brings an older layout up to date.
    ///
    /// # Errors
    /// [`StoreError::Newer`] where a newer version wrote it: nothing is touched then.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        let mut file = Connection::open(path)?;
        file.busy_timeout(BUSY)?;
        file.set_prepared_statement_cache_capacity(STATEMENTS);
        let found = layout(&file)?;
        let known = LAYOUTS.len() as u32;
        if found > known {
            return Err(StoreError::Newer { found, known });
        }
        file.pragma_update(None, "journal_mode", "WAL")?;
        file.pragma_update(None, "synchronous", "FULL")?;
        file.pragma_update(None, "foreign_keys", "ON")?;
        lay_out(&mut file)?;
        log::lengthen(&file, path);
        Ok(Self(Arc::new(Mutex::new(file))))
    }

    async fn with<T, F>(&self, how: TransactionBehavior, work: F) -> Result<T, StoreError>
    where
        T: Send + 'static,
        F: FnOnce(&Transaction<'_>) -> Result<T, StoreError> + Send + 'static,
    {
        let shared = Arc::clone(&self.0);
        here::blocking(move || {
            let mut file = shared.lock().unwrap_or_else(PoisonError::into_inner);
            let tx = file.transaction_with_behavior(how)?;
            let done = work(&tx)?;
            tx.commit()?;
            Ok(done)
        })
        .await
    }

    async fn write<T, F>(&self, work: F) -> Result<T, StoreError>
    where
        T: Send + 'static,
        F: FnOnce(&Transaction<'_>) -> Result<T, StoreError> + Send + 'static,
    {
        self.with(TransactionBehavior::Immediate, work).await
    }

    async fn read<T, F>(&self, work: F) -> Result<T, StoreError>
    where
        T: Send + 'static,
        F: FnOnce(&Transaction<'_>) -> Result<T, StoreError> + Send + 'static,
    {
        self.with(TransactionBehavior::Deferred, work).await
    }
}

/// Brings a file up to the newest layout, one layout a transaction.
fn lay_out(file: &mut Connection) -> Result<(), StoreError> {
    loop {
        let tx = file.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let number = layout(&tx)?;
        let Some(next) = LAYOUTS.get(number as usize) else {
            return Ok(());
        };
        tx.execute_batch(next)?;
        tx.pragma_update(None, "user_version", number + 1)?;
        tx.commit()?;
    }
}

fn layout(file: &Connection) -> Result<u32, StoreError> {
    Ok(file.pragma_query_value(None, "user_version", |row| row.get(0))?)
}

#[async_trait]
impl Accounts for SqliteAccounts {
    async fn add_person(&self, person: &Person) -> Result<Joined, StoreError> {
        let person = person.clone();
        self.write(move |tx| people::add(tx, &person)).await
    }

    async fn person(&self, id: PersonId) -> Result<Option<Person>, StoreError> {
        self.read(move |tx| people::person(tx, id)).await
    }

    async fn person_called(&self, login: &str) -> Result<Option<Person>, StoreError> {
        let folded = Person::folded(login);
        self.read(move |tx| people::called(tx, &folded)).await
    }

    async fn people(&self) -> Result<Vec<Person>, StoreError> {
        self.read(people::all).await
    }

    async fn set_password(&self, id: PersonId, hash: &str) -> Result<bool, StoreError> {
        let hash = hash.to_owned();
        self.write(move |tx| people::set(tx, id, "password", &hash))
            .await
    }

    async fn set_role(&self, id: PersonId, role: Role) -> Result<bool, StoreError> {
        self.write(move |tx| people::set(tx, id, "role", &role.code()))
            .await
    }

    async fn set_shut_out(&self, id: PersonId, at: Option<Millis>) -> Result<bool, StoreError> {
        self.write(move |tx| {
            if at.is_some() {
                people::end_sign_ins(tx, id, None)?;
            }
            people::set(tx, id, "shut_out_at", &at)
        })
        .await
    }

    async fn put_sign_in(&self, sign_in: &SignIn, most: usize) -> Result<(), StoreError> {
        let sign_in = *sign_in;
        self.write(move |tx| people::put_sign_in(tx, &sign_in, most))
            .await
    }

    async fn sign_in(&self, hash: [u8; 32]) -> Result<Option<(SignIn, Person)>, StoreError> {
        self.read(move |tx| people::sign_in(tx, &hash)).await
    }

    async fn touch_sign_in(&self, hash: [u8; 32], at: Millis) -> Result<(), StoreError> {
        self.write(move |tx| people::touch_sign_in(tx, &hash, at))
            .await
    }

    async fn end_sign_in(&self, hash: [u8; 32]) -> Result<(), StoreError> {
        self.write(move |tx| {
            tx.execute("DELETE FROM sign_in WHERE hash = ?1", [hash])?;
            Ok(())
        })
        .await
    }

    async fn end_sign_ins(&self, id: PersonId, but: Option<[u8; 32]>) -> Result<(), StoreError> {
        self.write(move |tx| people::end_sign_ins(tx, id, but))
            .await
    }

    async fn put_once(&self, once: &Once) -> Result<(), StoreError> {
        let once = *once;
        self.write(move |tx| people::put_once(tx, &once)).await
    }

    async fn once(&self, hash: [u8; 32]) -> Result<Option<Once>, StoreError> {
        self.read(move |tx| people::once(tx, &hash)).await
    }

    async fn withdraw_once(&self, purpose: Purpose) -> Result<(), StoreError> {
        self.write(move |tx| people::withdraw_once(tx, purpose))
            .await
    }

    async fn use_once(&self, hash: [u8; 32], now: Millis) -> Result<Option<Once>, StoreError> {
        self.write(move |tx| people::use_once(tx, &hash, now)).await
    }

    async fn join(
        &self,
        hash: [u8; 32],
        person: &Person,
        now: Millis,
    ) -> Result<Joined, StoreError> {
        let person = person.clone();
        self.write(move |tx| people::join(tx, &hash, &person, now))
            .await
    }

    async fn put_share(&self, share: &Share) -> Result<(), StoreError> {
        let share = share.clone();
        self.write(move |tx| access::put_share(tx, &share)).await
    }

    async fn share(&self, hash: [u8; 32]) -> Result<Option<Share>, StoreError> {
        self.read(move |tx| access::share(tx, &hash)).await
    }

    async fn shares(&self, job: JobId) -> Result<Vec<Share>, StoreError> {
        self.read(move |tx| access::shares(tx, job)).await
    }

    async fn withdraw_share(
        &self,
        job: JobId,
        id: ShareId,
        at: Millis,
    ) -> Result<bool, StoreError> {
        self.write(move |tx| access::withdraw_share(tx, job, id, at))
            .await
    }

    async fn access(&self, job: JobId) -> Result<Access, StoreError> {
        self.read(move |tx| access::of(tx, job)).await
    }

    async fn all_access(&self) -> Result<BTreeMap<JobId, Access>, StoreError> {
        self.read(access::all).await
    }

    async fn hidden(&self, device: DeviceId) -> Result<BTreeSet<JobId>, StoreError> {
        self.read(move |tx| access::hidden(tx, device)).await
    }

    async fn assign(&self, job: JobId, device: DeviceId, to: bool) -> Result<(), StoreError> {
        self.write(move |tx| access::assign(tx, job, device, to))
            .await
    }

    async fn set_closed(&self, job: JobId, at: Option<Millis>) -> Result<(), StoreError> {
        self.write(move |tx| access::set_closed(tx, job, at)).await
    }

    async fn set_mark(&self, job: JobId, marked: Option<Marked>) -> Result<(), StoreError> {
        self.write(move |tx| access::set_mark(tx, job, marked))
            .await
    }

    async fn paper(&self, name: &str) -> Result<Option<Vec<u8>>, StoreError> {
        let name = name.to_owned();
        self.read(move |tx| papers::read(tx, &name)).await
    }

    async fn replace_paper(&self, name: &str, was: &str, bytes: &[u8]) -> Result<bool, StoreError> {
        let (name, was, bytes) = (name.to_owned(), was.to_owned(), bytes.to_vec());
        self.write(move |tx| papers::replace(tx, &name, &was, &bytes))
            .await
    }

    async fn papers_held(&self) -> Result<(u64, u64), StoreError> {
        self.read(papers::held).await
    }

    async fn note(&self, deed: &Deed) -> Result<(), StoreError> {
        let deed = deed.clone();
        self.write(move |tx| access::note(tx, &deed)).await
    }

    async fn deeds(
        &self,
        of: DeedsOf,
        before: Option<u64>,
        max: usize,
    ) -> Result<Vec<(u64, Deed)>, StoreError> {
        self.read(move |tx| access::deeds(tx, of, before, max))
            .await
    }

    async fn tries(&self, key: [u8; 32], now: Millis) -> Result<u64, StoreError> {
        self.read(move |tx| tries::counted(tx, &key, now)).await
    }

    async fn count_tries(&self, key: [u8; 32], window: Window, by: i64) -> Result<u64, StoreError> {
        self.write(move |tx| tries::count(tx, &key, window, by))
            .await
    }

    async fn answer(&self, nonce: [u8; 16], ends: Millis, now: Millis) -> Result<bool, StoreError> {
        self.write(move |tx| tries::answer(tx, &nonce, ends, now))
            .await
    }

    async fn sweep(&self, now: Millis) -> Result<Swept, StoreError> {
        self.write(move |tx| people::sweep(tx, now)).await
    }
}

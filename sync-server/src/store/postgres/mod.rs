//! Records in one schema of a PostgreSQL database, shared by any number of nodes.
//!
//! A commit is on the database's disk when it returns. Every call has a time after which it is
//! given up; a connection that was lost is an error of the call that had it, and the next call
//! connects again.

mod accounts;
mod carry;
mod changes;
mod error;
mod feed;
mod held;
mod lacking;
mod listener;
mod migrations;
mod people;
mod photos;
mod place;
mod pool;
mod row;

use std::collections::BTreeSet;
use std::sync::Arc;

use async_trait::async_trait;
use chalkwalk_core::document::{ChangeRow, Table};
use chalkwalk_core::job::{DeviceId, JobId, Millis, PhotoHash, SignedCertificate};
use tokio::sync::OnceCell;
use tokio_postgres_rustls::MakeRustlsConnect;

use super::*;
pub use accounts::PostgresAccounts;
pub(crate) use carry::{Entry, Still};
use feed::{Own, PostgresFeed};
pub use place::{PlaceError, PostgresPlace};
use pool::{Connections, Lease};

/// Records in one schema of a PostgreSQL database. Clones share it.
#[derive(Clone)]
pub struct PostgresRecords(Arc<Shared>);

struct Shared {
    place: PostgresPlace,
    schema: Arc<str>,
    connections: Connections,
    laid_out: OnceCell<()>,
    own: Arc<Own>,
}

impl PostgresRecords {
    /// The records of this place. Nothing is connected yet: the first call does it, and brings the
    /// layout up to date.
    ///
    /// # Errors
    /// [`StoreError::Setting`] where the certificates cannot be read.
    pub fn new(place: PostgresPlace) -> Result<Self, StoreError> {
        let connections = Connections::new(&place)?;
        Ok(Self::over(place, connections))
    }

    /// The records of another office in the same database, over the same connections.
    ///
    /// # Errors
    /// [`PlaceError::Schema`] where the name is none.
    pub fn beside(&self, schema: &str) -> Result<Self, PlaceError> {
        let place = self.0.place.clone().with_schema(schema)?;
        Ok(Self::over(place, self.0.connections.clone()))
    }

    fn over(place: PostgresPlace, connections: Connections) -> Self {
        Self(Arc::new(Shared {
            schema: place.schema().into(),
            place,
            connections,
            laid_out: OnceCell::new(),
            own: Arc::default(),
        }))
    }

    /// Connects and brings the layout up to date, unless it is.
    ///
    /// # Errors
    /// [`StoreError::Newer`] where a newer version wrote it, [`StoreError::Setting`] where the
    /// database does not keep what it confirms, [`StoreError::Unfinished`] where an office was only
    /// partly moved here, [`StoreError::Unavailable`] where it cannot be reached.
    pub async fn ready(&self) -> Result<(), StoreError> {
        self.0
            .laid_out
            .get_or_try_init(|| async {
                self.lay_out().await?;
                let lease = self.0.connections.lease(&self.0.schema).await?;
                let row = lease.maybe("SELECT 1 FROM @moving", &[]).await;
                let row = lease.settle(Ok(row)).await?;
                match row {
                    Some(_) => Err(StoreError::Unfinished),
                    None => Ok(()),
                }
            })
            .await
            .copied()
    }

    async fn lay_out(&self) -> Result<(), StoreError> {
        let lease = self.0.connections.lease(&self.0.schema).await?;
        let done = tokio::time::timeout(limits::CALL, migrations::run(&lease)).await;
        lease.settle(done).await
    }

    async fn lease(&self) -> Result<Lease, StoreError> {
        self.ready().await?;
        self.0.connections.lease(&self.0.schema).await
    }

    fn own(&self) -> &Arc<Own> {
        &self.0.own
    }

    fn place(&self) -> &PostgresPlace {
        &self.0.place
    }

    fn tls(&self) -> MakeRustlsConnect {
        self.0.connections.tls.clone()
    }
}

impl std::fmt::Debug for PostgresRecords {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_tuple("PostgresRecords")
            .field(&self.0.place)
            .finish()
    }
}

/// Runs one call on a connection, within its time.
macro_rules! call {
    ($self:ident, |$db:ident| $work:expr) => {{
        let lease = $self.lease().await?;
        let $db = &lease;
        let done = tokio::time::timeout(limits::CALL, $work).await;
        lease.settle(done).await
    }};
}

#[async_trait]
impl Records for PostgresRecords {
    async fn company(&self) -> Result<Option<Company>, StoreError> {
        call!(self, |db| people::company(db))
    }

    async fn found(&self, company: &Company) -> Result<Company, StoreError> {
        call!(self, |db| people::found(db, company))
    }

    async fn device(&self, id: DeviceId) -> Result<Option<Device>, StoreError> {
        call!(self, |db| people::device(db, id))
    }

    async fn devices(&self) -> Result<Vec<Device>, StoreError> {
        call!(self, |db| people::devices(db))
    }

    async fn certificates(&self, ids: &[DeviceId]) -> Result<Vec<SignedCertificate>, StoreError> {
        call!(self, |db| people::certificates(db, ids))
    }

    async fn set_revoked(&self, id: DeviceId, at: Option<Millis>) -> Result<bool, StoreError> {
        let known = call!(self, |db| people::set_revoked(db, id, at))?;
        self.own().written.notify_one();
        Ok(known)
    }

    async fn put_code(&self, code: &Code) -> Result<(), StoreError> {
        call!(self, |db| people::put_code(db, code))
    }

    async fn code(&self, hash: [u8; 32]) -> Result<Option<Code>, StoreError> {
        let found = call!(self, |db| people::code(db, &hash, false))?;
        Ok(found.map(|(code, _)| code))
    }

    async fn enrol(
        &self,
        code_hash: [u8; 32],
        device: &Device,
        now: Millis,
    ) -> Result<Enrolled, StoreError> {
        call!(self, |db| people::enrol(db, &code_hash, device, now))
    }

    async fn jobs(&self) -> Result<Vec<JobStatus>, StoreError> {
        call!(self, |db| photos::jobs(db, None))
    }

    async fn job_ids(&self) -> Result<Vec<JobId>, StoreError> {
        call!(self, |db| photos::job_ids(db))
    }

    async fn count_jobs(&self) -> Result<u64, StoreError> {
        call!(self, |db| photos::count_jobs(db))
    }

    async fn jobs_written_by(&self, device: DeviceId) -> Result<BTreeSet<JobId>, StoreError> {
        call!(self, |db| photos::jobs_written_by(db, device))
    }

    async fn has_written(&self, device: DeviceId, job: JobId) -> Result<bool, StoreError> {
        call!(self, |db| photos::has_written(db, device, job))
    }

    async fn job(&self, job: JobId) -> Result<Option<JobStatus>, StoreError> {
        Ok(call!(self, |db| photos::jobs(db, Some(job)))?.pop())
    }

    async fn table(&self, job: JobId) -> Result<Table, StoreError> {
        call!(self, |db| changes::table(db, job))
    }

    async fn append(
        &self,
        job: JobId,
        rows: &[ChangeRow],
        devices: &[Device],
        now: Millis,
    ) -> Result<Appended, StoreError> {
        let (appended, news) = call!(self, |db| changes::append(db, job, rows, devices, now))?;
        self.own().add(news);
        Ok(appended)
    }

    async fn lacking(
        &self,
        job: JobId,
        table: &Table,
        max_bytes: usize,
    ) -> Result<Vec<ChangeRow>, StoreError> {
        call!(self, |db| lacking::lacking(db, job, table, max_bytes))
    }

    async fn snapshot(&self, job: JobId) -> Result<Option<Snapshot>, StoreError> {
        call!(self, |db| held::snapshot(db, job))
    }

    async fn put_snapshot(&self, job: JobId, snapshot: &Snapshot) -> Result<(), StoreError> {
        call!(self, |db| held::put_snapshot(db, job, snapshot))
    }

    async fn describe(
        &self,
        job: JobId,
        summary: &Summary,
        entries: &[PhotoEntry],
    ) -> Result<(), StoreError> {
        call!(self, |db| photos::describe(db, job, summary, entries))
    }

    async fn photos(&self, job: JobId) -> Result<Vec<PhotoEntry>, StoreError> {
        call!(self, |db| photos::photos(db, job))
    }

    async fn photo(&self, job: JobId, hash: PhotoHash) -> Result<Option<PhotoEntry>, StoreError> {
        call!(self, |db| photos::photo(db, job, hash))
    }

    async fn complete(&self, blob: &BlobEntry, now: Millis) -> Result<(), StoreError> {
        let news = call!(self, |db| photos::complete(db, blob, now))?;
        self.own().add(news);
        Ok(())
    }

    async fn bytes_held(&self) -> Result<u64, StoreError> {
        call!(self, |db| photos::bytes_held(db))
    }

    async fn set_aside(&self, room: &Room, most: u64) -> Result<bool, StoreError> {
        call!(self, |db| photos::set_aside(db, room, most))
    }

    async fn blob(&self, key: BlobKey) -> Result<Option<BlobEntry>, StoreError> {
        call!(self, |db| photos::blob(db, key))
    }

    async fn blobs(&self, job: JobId) -> Result<Vec<BlobEntry>, StoreError> {
        call!(self, |db| photos::blobs(db, job))
    }

    async fn note_peer(&self, job: JobId, holds: &PeerHolds) -> Result<(), StoreError> {
        call!(self, |db| held::note_peer(db, job, holds))
    }

    async fn peers(&self, job: JobId) -> Result<Vec<PeerHolds>, StoreError> {
        call!(self, |db| held::peers(db, job))
    }

    async fn note(&self, entry: &AuditEntry) -> Result<(), StoreError> {
        call!(self, |db| people::note(db, entry))
    }

    async fn audit(&self, max: usize) -> Result<Vec<AuditEntry>, StoreError> {
        call!(self, |db| people::audit(db, max))
    }

    async fn ping(&self) -> Result<(), StoreError> {
        // A standby answers, but takes no writes.
        call!(self, |db| async {
            match db
                .maybe("SELECT 1 WHERE NOT pg_is_in_recovery()", &[])
                .await?
            {
                Some(_) => Ok(()),
                None => Err(StoreError::Setting(
                    "the database is a standby, which takes no writes".to_owned(),
                )),
            }
        })
    }

    async fn feed(&self) -> Result<Option<Box<dyn Feed>>, StoreError> {
        let hints = self.place().hints;
        let feed = PostgresFeed::begin(self.clone(), hints).await?;
        Ok(Some(Box::new(feed)))
    }
}

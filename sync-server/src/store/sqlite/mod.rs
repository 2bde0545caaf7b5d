//! Records in one SQLite file. A commit is on the disk when it returns: write-ahead log,
//! `synchronous = FULL`.

mod carry;
mod changes;
pub(in crate::store) mod encoding;
pub(in crate::store) mod log;
mod migrations;
mod people;
mod photos;

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use async_trait::async_trait;
use chalkwalk_core::document::{ChangeRow, Table};
use chalkwalk_core::job::{DeviceId, JobId, Millis, PhotoHash, SignedCertificate};
use rusqlite::{Connection, OpenFlags, Transaction, TransactionBehavior};

use super::*;
pub(crate) use carry::WholeFile;

/// Readers kept open between calls.
const READERS: usize = 4;
/// Statements that a connection keeps prepared: more than there are.
pub(in crate::store) const STATEMENTS: usize = 128;
/// How long a call waits while another process, such as a command on the same folder, writes.
const BUSY: Duration = Duration::from_secs(20);

/// Records in one SQLite file. Clones share it.
#[derive(Clone, Debug)]
pub struct SqliteRecords(Arc<Shared>);

#[derive(Debug)]
struct Shared {
    path: PathBuf,
    writer: Mutex<Writer>,
    readers: Mutex<Vec<Connection>>,
}

#[derive(Debug)]
struct Writer {
    connection: Connection,
    /// Whether a commit waits for the disk.
    waits: bool,
}

impl Writer {
    fn commit<T>(
        &mut self,
        waits: bool,
        work: impl FnOnce(&Transaction<'_>) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        if self.waits != waits {
            let word = if waits { "FULL" } else { "NORMAL" };
            self.connection.pragma_update(None, "synchronous", word)?;
            self.waits = waits;
        }
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        let done = work(&transaction)?;
        transaction.commit()?;
        Ok(done)
    }
}

impl SqliteRecords {
    /// Opens the file, or makes it; brings an older layout up to date.
    ///
    /// # Errors
    /// [`StoreError::Newer`] where a newer version wrote it: nothing is touched then.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        let mut writer = Connection::open(path)?;
        writer.busy_timeout(BUSY)?;
        writer.set_prepared_statement_cache_capacity(STATEMENTS);
        migrations::check(&writer)?;
        writer.pragma_update(None, "journal_mode", "WAL")?;
        writer.pragma_update(None, "synchronous", "FULL")?;
        writer.pragma_update(None, "foreign_keys", "ON")?;
        migrations::run(&mut writer)?;
        log::lengthen(&writer, path);
        Ok(Self(Arc::new(Shared {
            path: path.to_owned(),
            writer: Mutex::new(Writer {
                connection: writer,
                waits: true,
            }),
            readers: Mutex::new(Vec::new()),
        })))
    }

    async fn write<T, F>(&self, work: F) -> Result<T, StoreError>
    where
        T: Send + 'static,
        F: FnOnce(&Transaction<'_>) -> Result<T, StoreError> + Send + 'static,
    {
        self.commit(true, work).await
    }

    /// As [`Self::write`] for what can be made again: the commit does not wait for the disk. It
    /// stands in the file's log after all that was written before it, and is as durable as the
    /// next commit that waits.
    async fn write_lightly<T, F>(&self, work: F) -> Result<T, StoreError>
    where
        T: Send + 'static,
        F: FnOnce(&Transaction<'_>) -> Result<T, StoreError> + Send + 'static,
    {
        self.commit(false, work).await
    }

    async fn commit<T, F>(&self, waits: bool, work: F) -> Result<T, StoreError>
    where
        T: Send + 'static,
        F: FnOnce(&Transaction<'_>) -> Result<T, StoreError> + Send + 'static,
    {
        let shared = Arc::clone(&self.0);
        here::blocking(move || {
            let mut writer = shared.writer.lock().unwrap_or_else(PoisonError::into_inner);
            writer.commit(waits, work)
        })
        .await
    }

    async fn read<T, F>(&self, work: F) -> Result<T, StoreError>
    where
        T: Send + 'static,
        F: FnOnce(&Connection) -> Result<T, StoreError> + Send + 'static,
    {
        let shared = Arc::clone(&self.0);
        here::blocking(move || {
            let reader = shared.reader()?;
            // One state of the file for all that is read. The words are prepared once, as the reads'
            // own are.
            reader.prepare_cached("BEGIN")?.execute([])?;
            let done = work(&reader);
            reader.prepare_cached("COMMIT")?.execute([])?;
            let mut readers = shared
                .readers
                .lock()
                .unwrap_or_else(PoisonError::into_inner);
            if readers.len() < READERS {
                readers.push(reader);
            }
            done
        })
        .await
    }
}

impl Shared {
    fn reader(&self) -> Result<Connection, StoreError> {
        let mut readers = self.readers.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(reader) = readers.pop() {
            return Ok(reader);
        }
        let reader = Connection::open_with_flags(&self.path, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
        reader.busy_timeout(BUSY)?;
        reader.set_prepared_statement_cache_capacity(STATEMENTS);
        Ok(reader)
    }
}

#[async_trait]
impl Records for SqliteRecords {
    async fn company(&self) -> Result<Option<Company>, StoreError> {
        self.read(people::company).await
    }

    async fn found(&self, company: &Company) -> Result<Company, StoreError> {
        let company = company.clone();
        self.write(move |tx| people::found(tx, &company)).await
    }

    async fn device(&self, id: DeviceId) -> Result<Option<Device>, StoreError> {
        self.read(move |tx| people::device(tx, id)).await
    }

    async fn devices(&self) -> Result<Vec<Device>, StoreError> {
        self.read(people::devices).await
    }

    async fn certificates(&self, ids: &[DeviceId]) -> Result<Vec<SignedCertificate>, StoreError> {
        let ids = ids.to_vec();
        self.read(move |tx| people::certificates(tx, &ids)).await
    }

    async fn set_revoked(&self, id: DeviceId, at: Option<Millis>) -> Result<bool, StoreError> {
        self.write(move |tx| people::set_revoked(tx, id, at)).await
    }

    async fn put_code(&self, code: &Code) -> Result<(), StoreError> {
        let code = code.clone();
        self.write(move |tx| people::put_code(tx, &code)).await
    }

    async fn code(&self, hash: [u8; 32]) -> Result<Option<Code>, StoreError> {
        self.read(move |tx| Ok(people::code(tx, &hash)?.map(|(code, _)| code)))
            .await
    }

    async fn enrol(
        &self,
        code_hash: [u8; 32],
        device: &Device,
        now: Millis,
    ) -> Result<Enrolled, StoreError> {
        let device = device.clone();
        self.write(move |tx| people::enrol(tx, &code_hash, &device, now))
            .await
    }

    async fn jobs(&self) -> Result<Vec<JobStatus>, StoreError> {
        self.read(|tx| photos::jobs(tx, None)).await
    }

    async fn job_ids(&self) -> Result<Vec<JobId>, StoreError> {
        self.read(photos::job_ids).await
    }

    async fn count_jobs(&self) -> Result<u64, StoreError> {
        self.read(photos::count_jobs).await
    }

    async fn jobs_written_by(&self, device: DeviceId) -> Result<BTreeSet<JobId>, StoreError> {
        self.read(move |tx| photos::jobs_written_by(tx, device))
            .await
    }

    async fn has_written(&self, device: DeviceId, job: JobId) -> Result<bool, StoreError> {
        self.read(move |tx| photos::has_written(tx, device, job))
            .await
    }

    async fn job(&self, job: JobId) -> Result<Option<JobStatus>, StoreError> {
        self.read(move |tx| Ok(photos::jobs(tx, Some(job))?.pop()))
            .await
    }

    async fn table(&self, job: JobId) -> Result<Table, StoreError> {
        self.read(move |tx| changes::table(tx, job)).await
    }

    async fn append(
        &self,
        job: JobId,
        rows: &[ChangeRow],
        devices: &[Device],
        now: Millis,
    ) -> Result<Appended, StoreError> {
        let (rows, devices) = (rows.to_vec(), devices.to_vec());
        self.write(move |tx| {
            for device in &devices {
                people::know(tx, device)?;
            }
            changes::append(tx, job, &rows, now)
        })
        .await
    }

    async fn lacking(
        &self,
        job: JobId,
        table: &Table,
        max_bytes: usize,
    ) -> Result<Vec<ChangeRow>, StoreError> {
        let table = table.clone();
        self.read(move |tx| changes::lacking(tx, job, &table, max_bytes))
            .await
    }

    async fn snapshot(&self, job: JobId) -> Result<Option<Snapshot>, StoreError> {
        self.read(move |tx| changes::snapshot(tx, job)).await
    }

    async fn put_snapshot(&self, job: JobId, snapshot: &Snapshot) -> Result<(), StoreError> {
        let snapshot = snapshot.clone();
        self.write_lightly(move |tx| changes::put_snapshot(tx, job, &snapshot))
            .await
    }

    async fn describe(
        &self,
        job: JobId,
        summary: &Summary,
        entries: &[PhotoEntry],
    ) -> Result<(), StoreError> {
        let (summary, entries) = (summary.clone(), entries.to_vec());
        self.write_lightly(move |tx| photos::describe(tx, job, &summary, &entries))
            .await
    }

    async fn photos(&self, job: JobId) -> Result<Vec<PhotoEntry>, StoreError> {
        self.read(move |tx| photos::photos(tx, job)).await
    }

    async fn photo(&self, job: JobId, hash: PhotoHash) -> Result<Option<PhotoEntry>, StoreError> {
        self.read(move |tx| photos::photo(tx, job, hash)).await
    }

    async fn complete(&self, blob: &BlobEntry, now: Millis) -> Result<(), StoreError> {
        let blob = *blob;
        self.write(move |tx| photos::complete(tx, &blob, now)).await
    }

    async fn bytes_held(&self) -> Result<u64, StoreError> {
        self.read(photos::bytes_held).await
    }

    async fn set_aside(&self, room: &Room, most: u64) -> Result<bool, StoreError> {
        let room = *room;
        self.write(move |tx| photos::set_aside(tx, &room, most))
            .await
    }

    async fn blob(&self, key: BlobKey) -> Result<Option<BlobEntry>, StoreError> {
        self.read(move |tx| photos::blob(tx, key)).await
    }

    async fn blobs(&self, job: JobId) -> Result<Vec<BlobEntry>, StoreError> {
        self.read(move |tx| photos::blobs(tx, job)).await
    }

    async fn note_peer(&self, job: JobId, holds: &PeerHolds) -> Result<(), StoreError> {
        let holds = holds.clone();
        self.write_lightly(move |tx| changes::note_peer(tx, job, &holds))
            .await
    }

    async fn peers(&self, job: JobId) -> Result<Vec<PeerHolds>, StoreError> {
        self.read(move |tx| changes::peers(tx, job)).await
    }

    async fn note(&self, entry: &AuditEntry) -> Result<(), StoreError> {
        let entry = entry.clone();
        self.write(move |tx| people::note(tx, &entry)).await
    }

    async fn audit(&self, max: usize) -> Result<Vec<AuditEntry>, StoreError> {
        self.read(move |tx| people::audit(tx, max)).await
    }

    async fn ping(&self) -> Result<(), StoreError> {
        self.write(|_| Ok(())).await
    }
}

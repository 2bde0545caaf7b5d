//! Quotas, a full disk, and what is known of a lost phone.

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use async_trait::async_trait;
use chalkwalk_core::document::Refusal;
use chalkwalk_core::job::DeviceId;
use chalkwalk_core::job::{BlobKind, PhotoHash, Role};
use chalkwalk_core::sync::Replica;

use super::crew::{Bench, Phone, job, office};
use crate::hub::{Hub, Quota, UploadError};
use crate::store::{BlobKey, Blobs, MemoryBlobs, MemoryRecords, Records, Staging, StoreError};

const FILE: &[u8] = b"a picture of the rear slope";

/// A disk that can be filled.
#[derive(Default)]
struct Disk {
    files: MemoryBlobs,
    full: AtomicBool,
}

#[async_trait]
impl Blobs for Disk {
    async fn put(&self, key: BlobKey, from: &Path) -> Result<u64, StoreError> {
        if self.full.load(Ordering::Relaxed) {
            return Err(std::io::Error::from(std::io::ErrorKind::StorageFull).into());
        }
        self.files.put(key, from).await
    }
    async fn size(&self, key: BlobKey) -> Result<Option<u64>, StoreError> {
        self.files.size(key).await
    }
    async fn range(&self, key: BlobKey, offset: u64, max: usize) -> Result<Vec<u8>, StoreError> {
        self.files.range(key, offset, max).await
    }
    async fn list(&self) -> Result<Vec<(BlobKey, u64)>, StoreError> {
        self.files.list().await
    }
}

struct Room {
    hub: Hub,
    disk: Arc<Disk>,
    phone: Phone,
    runtime: tokio::runtime::Runtime,
    folder: tempfile::TempDir,
}

impl Room {
    fn with(quota: Quota) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let (records, disk) = (
            Arc::new(MemoryRecords::default()),
            Arc::new(Disk::default()),
        );
        let office = office(1);
        let hub = Hub::new(
            records as Arc<dyn Records>,
            Arc::clone(&disk) as Arc<dyn Blobs>,
            Staging::open(folder.path()).unwrap(),
            office.clone(),
        );
        Self {
            hub: hub.with_quota(quota),
            disk,
            phone: Phone::new(1, &office, Role::Crew),
            runtime: tokio::runtime::Runtime::new().unwrap(),
            folder,
        }
    }

    fn begin(&mut self, n: u8) -> Result<(), Refusal> {
        let mut phone = Phone::new(n, self.hub.office(), Role::Crew);
        let mut batch = phone.begin(job(n));
        batch.push(phone.photo(FILE));
        let shown = [phone.signed.clone()];
        let mut replica = self.hub.replica(self.runtime.handle().clone());
        replica.accept(&phone.certificate, job(n), batch, &shown)?;
        if n == 1 {
            self.phone = phone;
        }
        Ok(())
    }

    fn put(&self, bytes: &[u8]) -> Result<u64, UploadError> {
        let key = BlobKey {
            kind: BlobKind::Original,
            hash: PhotoHash::of(FILE),
        };
        let runtime = self.runtime.handle();
        let mut upload = self
            .hub
            .begin_upload(runtime, job(1), key, FILE.len() as u64)?;
        upload.write(bytes)?;
        upload.finish(runtime, DeviceId::from_bytes([1; 16]))
    }

    fn leftovers(&self) -> usize {
        std::fs::read_dir(self.folder.path()).unwrap().count()
    }
}

#[test]
fn a_full_disk_refuses_in_plain_words_and_loses_nothing() {
    let mut room = Room::with(Quota::default());
    room.begin(1).unwrap();
    room.disk.full.store(true, Ordering::Relaxed);
    let refused = room.put(FILE).unwrap_err();
    assert!(matches!(refused, UploadError::NoRoom(_)));
    assert!(refused.to_string().contains("disk is full"), "{refused}");
    let mut replica = room.hub.replica(room.runtime.handle().clone());
    replica
        .may_exchange(&room.phone.certificate, job(1))
        .unwrap();
    let (size, hash) = (FILE.len() as u64, PhotoHash::of(FILE));
    let refused = replica.write_blob(job(1), BlobKind::Original, hash, size, 0, FILE);
    let words = refused.unwrap_err().to_string();
    assert!(words.contains("disk is full"), "{words}");
    // Nothing is said to be held, and once there is room the same file is taken.
    let wanted = replica.wanted(job(1), BlobKind::Original).unwrap();
    assert_eq!(wanted.len(), 1);
    room.disk.full.store(false, Ordering::Relaxed);
    assert_eq!(room.put(FILE).unwrap(), size);
    assert!(
        replica
            .wanted(job(1), BlobKind::Original)
            .unwrap()
            .is_empty()
    );
    assert_eq!(room.leftovers(), 0);
}

#[test]
fn an_upload_that_is_not_the_file_leaves_nothing() {
    let mut room = Room::with(Quota::default());
    room.begin(1).unwrap();
    let mut other = FILE.to_vec();
    other[3] ^= 1;
    assert!(matches!(room.put(&other), Err(UploadError::Hash)));
    let short = room.put(&FILE[1..]);
    assert!(
        matches!(
            short,
            Err(UploadError::Size {
                expected: 27,
                sent: 26
            })
        ),
        "{short:?}"
    );
    let long = room.put(&[FILE, b"!"].concat());
    assert!(
        matches!(
            long,
            Err(UploadError::Size {
                expected: 27,
                sent: 28
            })
        ),
        "{long:?}"
    );
    assert_eq!(room.leftovers(), 0);
    assert_eq!(room.put(FILE).unwrap(), 27);
}

#[test]
fn one_job_and_one_byte_past_the_quota_are_refused() {
    let size = FILE.len() as u64;
    let mut room = Room::with(Quota::new(Some(2), Some(size)));
    room.begin(1).unwrap();
    room.begin(2).unwrap();
    let refused = room.begin(3).unwrap_err().to_string();
    assert!(refused.contains("2 jobs"), "{refused}");
    // A job that is here goes on.
    room.begin(2).unwrap();
    assert_eq!(room.put(FILE).unwrap(), size);

    let mut room = Room::with(Quota::new(None, Some(size - 1)));
    room.begin(1).unwrap();
    let refused = room.put(FILE).unwrap_err().to_string();
    assert!(refused.contains("bytes of photos"), "{refused}");
    assert_eq!(room.leftovers(), 0);
}

#[test]
fn a_lost_phone_is_known_by_what_it_said() {
    let bench = Bench::new();
    let mut phone = Phone::new(1, &bench.office, Role::Crew);
    let mut batch = phone.begin(job(1));
    batch.push(phone.photo(FILE));
    let device = phone.author.device;
    let shown = [phone.signed.clone()];
    let mut replica = bench.replica();
    replica
        .accept(&phone.certificate, job(1), batch, &shown)
        .unwrap();
    phone.finding("not handed in");
    let held = phone.document.table();
    replica.note_peer_holds(device, job(1), &held).unwrap();
    let lost = bench.run(bench.hub.lost(device)).unwrap();
    assert!(lost.last_heard.is_some());
    let [on_it] = lost.jobs.as_slice() else {
        panic!("{lost:?}");
    };
    assert_eq!(
        (
            on_it.changes_there,
            on_it.written_here,
            on_it.changes_not_here
        ),
        (4, 3, 1)
    );
    assert_eq!(
        (on_it.originals_not_here, on_it.title.as_str()),
        (1, "12 Alder Way")
    );
    let stranger = Phone::new(7, &bench.office, Role::Crew);
    let nothing = bench.run(bench.hub.lost(stranger.author.device)).unwrap();
    assert_eq!((nothing.last_heard, nothing.jobs.len()), (None, 0));
}

#[test]
fn only_old_partial_uploads_are_removed() {
    let folder = tempfile::tempdir().unwrap();
    let staging = Staging::open(folder.path()).unwrap();
    std::fs::write(folder.path().join("a.part"), "part").unwrap();
    std::fs::write(folder.path().join("notes.txt"), "mine").unwrap();
    let now = std::time::SystemTime::now();
    let hour = std::time::Duration::from_secs(3_600);
    assert_eq!(staging.remove_older(now - hour).unwrap(), 0);
    assert_eq!(staging.remove_older(now + hour).unwrap(), 1);
    assert!(folder.path().join("notes.txt").is_file());
}

//! Files that come over HTTP: whole and from the start, or from an offset.

use std::fs::{self, File};
use std::io::Write;
use std::path::PathBuf;

use chalkwalk_core::document::Refusal;
use chalkwalk_core::env::Env;
use chalkwalk_core::job::{BlobKind, BlobProgress, DeviceId, JobId, PhotoHash, hex};
use chalkwalk_core::limits;
use tokio::runtime::Handle;

use super::files::{Piece, fits};
use super::{ELSEWHERE, Hub, News};
use crate::env::SystemEnv;
use crate::store::here::wait_for;
use crate::store::{Actor, BlobEntry, BlobKey, Deed, DeedKind, StoreError};

/// Why a file is not taken. Nothing is kept of it.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum UploadError {
    /// No photo of the job names it.
    #[error("no photo of this job has this hash: sync the job's changes first")]
    Unknown,
    /// The job or the photo is not to be had for the device.
    #[error("{0}")]
    Refused(Refusal),
    /// The file is longer or shorter than the photo.
    #[error("the photo has {expected} bytes, the file has {sent}")]
    Size {
        /// As the photo says.
        expected: u64,
        /// As sent, as far as it was read.
        sent: u64,
    },
    /// The bytes are of another file.
    #[error("the bytes are not those of the photo with this hash")]
    Hash,
    /// The file is larger than any that is taken.
    #[error("files of 1 to {0} bytes are taken here")]
    TooLarge(u64),
    /// There is no room.
    #[error("{0}")]
    NoRoom(String),
    /// The disk or database failed.
    #[error("the office could not store it now: try again later")]
    Store(#[source] StoreError),
}

impl From<StoreError> for UploadError {
    fn from(error: StoreError) -> Self {
        if error.is_full() {
            return UploadError::NoRoom(FULL.to_owned());
        }
        UploadError::Store(error)
    }
}

impl From<std::io::Error> for UploadError {
    fn from(error: std::io::Error) -> Self {
        StoreError::from(error).into()
    }
}

impl From<Refusal> for UploadError {
    fn from(refusal: Refusal) -> Self {
        match refusal {
            Refusal::Limit(words) => UploadError::NoRoom(format!("over the limit: {words}")),
            other => UploadError::Refused(other),
        }
    }
}

/// The disk begins with a file each time so many more bytes of it have come, and not only at its end.
const EARLY_BYTES: u64 = 1 << 20;

/// Has the system begin to write what came since, without waiting for it: at the end there is less
/// to wait for. A failure is told by the flush at the end.
fn write_early(file: &File, since: u64) {
    #[cfg(target_os = "linux")]
    if let Err(error) = rustix::fs::fadvise(file, since, None, rustix::fs::Advice::DontNeed) {
        tracing::debug!(%error, "a file could not be begun to be written");
    }
    #[cfg(not(target_os = "linux"))]
    let _ = (file, since);
}

const FULL: &str = "the office's disk is full: nothing was lost, and the phone keeps the photo";

/// A file on its way in, in a place of its own until it is whole and checked. Dropped before that,
/// it leaves nothing.
pub struct Upload {
    hub: Hub,
    job: JobId,
    key: BlobKey,
    size: u64,
    written: u64,
    hasher: blake3::Hasher,
    path: PathBuf,
    file: File,
}

impl std::fmt::Debug for Upload {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Upload").finish_non_exhaustive()
    }
}

impl Hub {
    /// The size of a photo's file that is wanted, or of one that is whole already.
    ///
    /// # Errors
    /// [`UploadError::Unknown`] where no photo of the job has this hash.
    pub async fn wanted_size(&self, job: JobId, key: BlobKey) -> Result<Wanted, UploadError> {
        self.freshen(job).await?;
        let Some(photo) = self.records().photo(job, key.hash).await? else {
            return Err(UploadError::Unknown);
        };
        if let Some(whole) = self.records().blob(key).await? {
            return Ok(Wanted {
                size: Some(whole.size),
                held: whole.size,
                whole: true,
            });
        }
        if !fits(key.kind, &photo) {
            return Err(UploadError::TooLarge(limits::ORIGINAL_BYTES));
        }
        Ok(Wanted {
            size: (key.kind == BlobKind::Original).then_some(photo.size),
            held: self.0.staging.held(key)?,
            whole: false,
        })
    }

    /// Which of these files are not whole here, and how much of each is.
    pub async fn which_lacking(
        &self,
        job: JobId,
        kind: BlobKind,
        hashes: &[PhotoHash],
    ) -> Result<(Vec<(PhotoHash, u64)>, Vec<PhotoHash>), UploadError> {
        let (mut lacking, mut unknown) = (Vec::new(), Vec::new());
        for hash in hashes {
            match self.wanted_size(job, BlobKey { kind, hash: *hash }).await {
                Ok(wanted) if wanted.whole => {}
                Ok(wanted) => lacking.push((*hash, wanted.held)),
                Err(UploadError::Unknown | UploadError::TooLarge(_)) => unknown.push(*hash),
                Err(error) => return Err(error),
            }
        }
        Ok((lacking, unknown))
    }

    /// Begins to take a whole file of `size` bytes. Blocks on the disk.
    pub fn begin_upload(
        &self,
        runtime: &Handle,
        job: JobId,
        key: BlobKey,
        size: u64,
    ) -> Result<Upload, UploadError> {
        wait_for(runtime, self.room_for_file(key, size))?;
        let mut name = [0; 8];
        SystemEnv.random(&mut name);
        let path = self
            .0
            .staging
            .aside(&format!("{}-{}", key.hash.short(), hex(&name)));
        let file = File::create_new(&path)?;
        Ok(Upload {
            hub: self.clone(),
            job,
            key,
            size,
            written: 0,
            hasher: blake3::Hasher::new(),
            path,
            file,
        })
    }

    /// Adds bytes at an offset to what is held. Blocks on the disk.
    pub fn add_upload(
        &self,
        runtime: &Handle,
        job: JobId,
        key: BlobKey,
        size: u64,
        offset: u64,
        bytes: &[u8],
    ) -> Result<BlobProgress, UploadError> {
        let piece = Piece {
            job,
            key,
            size,
            offset,
            bytes,
        };
        let progress = self
            .keep_piece(runtime, &piece)
            .map_err(|refusal| match refusal {
                Refusal::Malformed(_) => UploadError::Hash,
                other => other.into(),
            })?;
        if progress.complete {
            self.tell(News::Job {
                job,
                session: ELSEWHERE,
                files: true,
            });
        }
        Ok(progress)
    }
}

/// A photo's file as it stands here.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wanted {
    /// Its size, where that is known before it comes.
    pub size: Option<u64>,
    /// Bytes from the start that are durable.
    pub held: u64,
    /// It is whole and checked.
    pub whole: bool,
}

impl Upload {
    /// Adds bytes. Blocks on the disk.
    pub fn write(&mut self, bytes: &[u8]) -> Result<(), UploadError> {
        let sent = self.written.saturating_add(bytes.len() as u64);
        if sent > self.size {
            return Err(UploadError::Size {
                expected: self.size,
                sent,
            });
        }
        self.file.write_all(bytes)?;
        self.hasher.update(bytes);
        let before = self.written / EARLY_BYTES;
        self.written = sent;
        if sent / EARLY_BYTES > before {
            write_early(&self.file, before * EARLY_BYTES);
        }
        Ok(())
    }

    /// Checks the file and puts it durably, and writes down who handed it in. Blocks on the disk.
    pub fn finish(self, runtime: &Handle, by: DeviceId) -> Result<u64, UploadError> {
        if self.written != self.size {
            return Err(UploadError::Size {
                expected: self.size,
                sent: self.written,
            });
        }
        let original = self.key.kind == BlobKind::Original;
        if original && self.hasher.finalize().as_bytes() != self.key.hash.as_bytes() {
            return Err(UploadError::Hash);
        }
        let hub = &self.hub;
        let entry = BlobEntry {
            kind: self.key.kind,
            hash: self.key.hash,
            size: self.size,
        };
        wait_for(runtime, async {
            // Durable by itself, whether the file is moved or copied.
            hub.blobs().take(self.key, &self.path).await?;
            let deed = Deed {
                at: hub.now(),
                who: Actor::Device(by),
                what: DeedKind::PhotoPut,
                job: Some(self.job),
                about: self.key.hash.to_string(),
            };
            // Two places that wait for the disk: one wait for both.
            let noting = hub.clone();
            let noted = runtime.spawn(async move { noting.accounts().note(&deed).await });
            let whole = hub.records().complete(&entry, hub.now()).await;
            if let Err(error) = noted.await.map_err(StoreError::from).flatten() {
                tracing::warn!(error = error.chain(), "an upload could not be written down");
            }
            whole
        })?;
        let turn = hub.0.staging.turn(self.key);
        hub.0.staging.drop_file(&turn, self.key)?;
        hub.tell(News::Job {
            job: self.job,
            session: ELSEWHERE,
            files: true,
        });
        Ok(self.size)
    }
}

impl Drop for Upload {
    fn drop(&mut self) {
        match fs::remove_file(&self.path) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
                tracing::warn!(%error, "what was left of an upload could not be removed");
            }
            _ => {}
        }
    }
}

//! Photo files from one store to another, each read again where it arrived.

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use chalkwalk_core::job::BlobKind;
use futures_util::stream::{self, StreamExt, TryStreamExt};
use tokio::io::AsyncWriteExt;

use super::{Carried, CarryError, Progress, named};
use crate::store::{BlobEntry, BlobKey, Blobs, limits};

/// Where files go from, to, and through.
pub(super) struct Road<'a> {
    pub(super) from: Arc<dyn Blobs>,
    pub(super) to: Arc<dyn Blobs>,
    /// A folder for files on their way.
    pub(super) scratch: &'a Path,
}

impl Road<'_> {
    /// Carries files, a few at a time; those that are there already are only read again.
    pub(super) async fn carry(
        &self,
        files: &[BlobEntry],
        carried: &mut Carried,
        progress: Progress<'_>,
    ) -> Result<(), CarryError> {
        let there = AtomicU64::new(0);
        let done = AtomicU64::new(0);
        stream::iter(files)
            .map(|file| async {
                if self.one(file).await? {
                    there.fetch_add(1, Ordering::Relaxed);
                }
                let done = done.fetch_add(1, Ordering::Relaxed) + 1;
                progress("files", done, files.len() as u64);
                Ok::<_, CarryError>(())
            })
            .buffer_unordered(limits::COPY_FILES)
            .try_collect::<()>()
            .await?;
        carried.files_there = there.into_inner();
        for file in files {
            carried.file_bytes += file.size;
            match file.kind {
                BlobKind::Original => carried.originals += 1,
                BlobKind::Thumbnail => carried.thumbnails += 1,
            }
        }
        Ok(())
    }

    /// Whether the file was there already.
    async fn one(&self, file: &BlobEntry) -> Result<bool, CarryError> {
        let key = BlobKey {
            kind: file.kind,
            hash: file.hash,
        };
        let name = || format!("{} {}", BlobKey::folder(file.kind), file.hash);
        let there = self.to.size(key).await? == Some(file.size);
        let wanted = if there && file.kind == BlobKind::Original {
            *file.hash.as_bytes()
        } else {
            let way = self
                .scratch
                .join(format!("{}-{}", BlobKey::folder(file.kind), file.hash));
            let (size, hash) = fetch(&*self.from, key, &way).await?;
            let whole = file.kind == BlobKind::Thumbnail || hash == *file.hash.as_bytes();
            if size != file.size || !whole {
                return Err(CarryError::NotInOrder(format!(
                    "the file of {} is damaged or missing",
                    name()
                )));
            }
            if !there {
                self.to.put(key, &way).await?;
            }
            tokio::fs::remove_file(&way).await.map_err(named(&way))?;
            hash
        };
        let (size, hash) = sum(&*self.to, key).await?;
        if size != file.size || hash != wanted {
            return Err(CarryError::Differs(name()));
        }
        Ok(there)
    }
}

/// Fetches a file to this machine: its size and BLAKE3.
async fn fetch(from: &dyn Blobs, key: BlobKey, to: &Path) -> Result<(u64, [u8; 32]), CarryError> {
    let mut file = tokio::fs::File::create(to).await.map_err(named(to))?;
    let mut hasher = blake3::Hasher::new();
    let mut at = 0;
    while let Some(part) = next(from, key, at).await? {
        hasher.update(&part);
        file.write_all(&part).await.map_err(named(to))?;
        at += part.len() as u64;
    }
    file.flush().await.map_err(named(to))?;
    Ok((at, *hasher.finalize().as_bytes()))
}

/// Reads a file where it lies: its size and BLAKE3.
async fn sum(of: &dyn Blobs, key: BlobKey) -> Result<(u64, [u8; 32]), CarryError> {
    let mut hasher = blake3::Hasher::new();
    let mut at = 0;
    while let Some(part) = next(of, key, at).await? {
        hasher.update(&part);
        at += part.len() as u64;
    }
    Ok((at, *hasher.finalize().as_bytes()))
}

async fn next(of: &dyn Blobs, key: BlobKey, at: u64) -> Result<Option<Vec<u8>>, CarryError> {
    // A file that is not there is a file of no bytes: its size tells.
    if at == 0 && of.size(key).await?.is_none() {
        return Ok(None);
    }
    let part = of.range(key, at, limits::PART).await?;
    Ok((!part.is_empty()).then_some(part))
}

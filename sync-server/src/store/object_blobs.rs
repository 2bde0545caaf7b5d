//! Files in an object store: a local folder by default, a bucket by URL.

use std::path::Path as FilePath;
use std::sync::Arc;

use async_trait::async_trait;
use chalkwalk_core::job::{BlobKind, PhotoHash};
use futures_util::TryStreamExt;
use object_store::local::LocalFileSystem;
use object_store::path::Path;
use object_store::{ObjectStore, ObjectStoreExt, PutMode, WriteMultipart};
use tokio::io::AsyncReadExt;

use super::blobs::OTHER_SIZE;
use super::bucket::BucketPlace;
use super::shelf::Shelf;
use super::{BlobKey, Blobs, StoreError, limits};

/// Files in an object store, as `original/3f/3f…` and `thumbnail/3f/3f…`.
#[derive(Clone, Debug)]
pub struct ObjectBlobs {
    store: Arc<dyn ObjectStore>,
    /// Where the store is a folder of this machine.
    folder: Option<Arc<Shelf>>,
}

impl ObjectBlobs {
    /// Files in a store that confirms a write only when it is durable.
    pub fn new(store: Arc<dyn ObjectStore>) -> Self {
        Self {
            store,
            folder: None,
        }
    }

    /// Files in a folder, which is made where it is not there. Each file and its folder are
    /// flushed to the disk before a write is confirmed.
    pub fn folder(at: &FilePath) -> Result<Self, StoreError> {
        std::fs::create_dir_all(at)?;
        let store = LocalFileSystem::new_with_prefix(at)?.with_fsync(true);
        Ok(Self {
            store: Arc::new(store),
            folder: Some(Arc::new(Shelf::new(at))),
        })
    }

    /// Files in a bucket.
    ///
    /// # Errors
    /// [`StoreError::Setting`] where the place lacks something, such as credentials.
    pub fn bucket(place: &BucketPlace) -> Result<Self, StoreError> {
        Ok(Self::new(place.open()?))
    }
}

impl ObjectBlobs {
    async fn put_in_parts(
        &self,
        key: BlobKey,
        mut file: tokio::fs::File,
        mut left: u64,
    ) -> Result<(), StoreError> {
        let upload = self.store.put_multipart(&path(key)).await?;
        let mut upload = WriteMultipart::new_with_chunk_size(upload, limits::PART);
        let mut part = vec![0; limits::PART];
        while left > 0 {
            let read = file.read(&mut part).await?;
            if read == 0 {
                upload.abort().await?;
                return Err(StoreError::Corrupt("a file shrank while it was put"));
            }
            upload.wait_for_capacity(2).await?;
            upload.write(&part[..read]);
            left = left.saturating_sub(read as u64);
        }
        upload.finish().await?;
        Ok(())
    }
}

#[async_trait]
impl Blobs for ObjectBlobs {
    async fn put(&self, key: BlobKey, from: &FilePath) -> Result<u64, StoreError> {
        let mut file = tokio::fs::File::open(from).await?;
        let size = file.metadata().await?.len();
        if size <= limits::PART as u64 {
            let mut bytes = Vec::new();
            file.read_to_end(&mut bytes).await?;
            match self
                .store
                .put_opts(&path(key), bytes.into(), PutMode::Create.into())
                .await
            {
                Ok(_) | Err(object_store::Error::AlreadyExists { .. }) => {}
                Err(error) => return Err(error.into()),
            }
        } else if self.size(key).await? != Some(size) {
            // No store puts many parts on a condition. It does no harm: files of this size are
            // originals, whose bytes follow from their name.
            self.put_in_parts(key, file, size).await?;
        }
        let stands = self.size(key).await?.ok_or(StoreError::Corrupt(
            "a photo file was put and is not there afterwards",
        ))?;
        if stands != size && key.kind == BlobKind::Original {
            return Err(StoreError::Corrupt(OTHER_SIZE));
        }
        Ok(stands)
    }

    async fn take(&self, key: BlobKey, from: &FilePath) -> Result<u64, StoreError> {
        let Some(shelf) = self.folder.clone() else {
            return self.put(key, from).await;
        };
        let file = from.to_owned();
        let moved = tokio::task::spawn_blocking(move || shelf.take(key, &file)).await??;
        match moved {
            Some(size) => Ok(size),
            None => self.put(key, from).await,
        }
    }

    async fn size(&self, key: BlobKey) -> Result<Option<u64>, StoreError> {
        match self.store.head(&path(key)).await {
            Ok(meta) => Ok(Some(meta.size)),
            Err(object_store::Error::NotFound { .. }) => Ok(None),
            Err(error) => Err(error.into()),
        }
    }

    async fn range(&self, key: BlobKey, offset: u64, max: usize) -> Result<Vec<u8>, StoreError> {
        let size = self
            .size(key)
            .await?
            .ok_or(StoreError::Corrupt("a photo file is not there"))?;
        let end = offset.saturating_add(max as u64).min(size);
        if offset >= end {
            return Ok(Vec::new());
        }
        Ok(self.store.get_range(&path(key), offset..end).await?.into())
    }

    async fn list(&self) -> Result<Vec<(BlobKey, u64)>, StoreError> {
        let mut found = Vec::new();
        for kind in [BlobKind::Thumbnail, BlobKind::Original] {
            let mut files = self.store.list(Some(&Path::from(BlobKey::folder(kind))));
            while let Some(file) = files.try_next().await? {
                let hash = file
                    .location
                    .filename()
                    .and_then(|n| n.parse::<PhotoHash>().ok());
                if let Some(hash) = hash {
                    found.push((BlobKey { kind, hash }, file.size));
                }
            }
        }
        found.sort_unstable();
        Ok(found)
    }
}

fn path(key: BlobKey) -> Path {
    let name = key.hash.to_string();
    Path::from_iter([BlobKey::folder(key.kind), &name[..2], &name])
}

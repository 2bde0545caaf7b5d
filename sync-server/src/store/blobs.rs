//! Whole files of photos.

use std::path::Path;

use async_trait::async_trait;
use chalkwalk_core::job::{BlobKind, PhotoHash};

use super::StoreError;

/// The name of one file of a photo. A thumbnail goes by the hash of its original.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct BlobKey {
    /// Which file.
    pub kind: BlobKind,
    /// Hash of the original.
    pub hash: PhotoHash,
}

impl BlobKey {
    /// The folder of a kind.
    pub const fn folder(kind: BlobKind) -> &'static str {
        match kind {
            BlobKind::Thumbnail => "thumbnail",
            BlobKind::Original => "original",
        }
    }
}

/// Said where an original cannot be put because something else has its name.
pub(super) const OTHER_SIZE: &str = "a file of another size has the name of this original";

/// Whole files of photos. A file never changes once it is put.
#[async_trait]
pub trait Blobs: Send + Sync + 'static {
    /// Puts a finished and checked file durably. The value is the bytes of the file that now
    /// stands under this name: of two thumbnails that are put at once, the first stands.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`] where a file of another size stands under the name of an original.
    async fn put(&self, key: BlobKey, from: &Path) -> Result<u64, StoreError>;

    /// As [`Blobs::put`], and the file may be taken away from where it lies: a place on the same
    /// disk moves it instead of writing it a second time. It need not be durable before.
    async fn take(&self, key: BlobKey, from: &Path) -> Result<u64, StoreError> {
        self.put(key, from).await
    }

    /// Bytes of a file; `None` where it is not there.
    async fn size(&self, key: BlobKey) -> Result<Option<u64>, StoreError>;

    /// Up to `max` bytes from an offset; fewer at the end, none past it.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`] where the file is not there.
    async fn range(&self, key: BlobKey, offset: u64, max: usize) -> Result<Vec<u8>, StoreError>;

    /// Every file with its size, by key.
    async fn list(&self) -> Result<Vec<(BlobKey, u64)>, StoreError>;
}

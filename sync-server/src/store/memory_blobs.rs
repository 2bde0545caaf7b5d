//! The twin of a folder, in memory: for tests.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::{Mutex, PoisonError};

use async_trait::async_trait;
use chalkwalk_core::job::BlobKind;

use super::blobs::OTHER_SIZE;
use super::{BlobKey, Blobs, StoreError};

/// Files in memory.
#[derive(Debug, Default)]
pub struct MemoryBlobs(Mutex<BTreeMap<BlobKey, Vec<u8>>>);

#[async_trait]
impl Blobs for MemoryBlobs {
    async fn put(&self, key: BlobKey, from: &Path) -> Result<u64, StoreError> {
        let bytes = std::fs::read(from)?;
        let mut files = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let stands = files.entry(key).or_insert_with(|| bytes.clone()).len();
        if key.kind == BlobKind::Original && stands != bytes.len() {
            return Err(StoreError::Corrupt(OTHER_SIZE));
        }
        Ok(stands as u64)
    }

    async fn size(&self, key: BlobKey) -> Result<Option<u64>, StoreError> {
        let files = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        Ok(files.get(&key).map(|bytes| bytes.len() as u64))
    }

    async fn range(&self, key: BlobKey, offset: u64, max: usize) -> Result<Vec<u8>, StoreError> {
        let files = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let bytes = files
            .get(&key)
            .ok_or(StoreError::Corrupt("a photo file is not there"))?;
        let skip = usize::try_from(offset).unwrap_or(usize::MAX);
        Ok(bytes.iter().skip(skip).take(max).copied().collect())
    }

    async fn list(&self) -> Result<Vec<(BlobKey, u64)>, StoreError> {
        let files = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        Ok(files
            .iter()
            .map(|(key, bytes)| (*key, bytes.len() as u64))
            .collect())
    }
}

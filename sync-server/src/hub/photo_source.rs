//! The files of photos as packets read them: in pieces, on a thread that may block.

use std::io::{self, Read};

use chalkwalk_core::job::{BlobKind, PhotoHash};
use chalkwalk_core::limits;
use chalkwalk_core::packet::PhotoSource;
use tokio::runtime::Handle;

use super::Hub;
use crate::store::{BlobKey, StoreError};

/// Bytes of a photo that are read at a time.
const PIECE: usize = 1 << 20;

impl Hub {
    /// The files of photos for a thread that may block, of the runtime whose handle is given.
    pub fn photo_source(&self, runtime: Handle) -> HubPhotos {
        HubPhotos {
            hub: self.clone(),
            runtime,
        }
    }
}

/// The files of photos, read piece by piece.
#[derive(Clone)]
pub struct HubPhotos {
    hub: Hub,
    runtime: Handle,
}

impl PhotoSource for HubPhotos {
    fn original(&self, hash: PhotoHash) -> io::Result<Option<Box<dyn Read + '_>>> {
        let file = self.file(BlobKind::Original, hash)?;
        Ok(file.map(|file| Box::new(file) as Box<dyn Read>))
    }

    fn thumbnail(&self, hash: PhotoHash) -> io::Result<Option<Vec<u8>>> {
        let Some(file) = self.file(BlobKind::Thumbnail, hash)? else {
            return Ok(None);
        };
        let mut bytes = Vec::new();
        file.take(limits::THUMBNAIL_BYTES + 1)
            .read_to_end(&mut bytes)?;
        Ok(Some(bytes))
    }
}

impl HubPhotos {
    fn file(&self, kind: BlobKind, hash: PhotoHash) -> io::Result<Option<Pieces<'_>>> {
        let key = BlobKey { kind, hash };
        let size = self.runtime.block_on(self.hub.blobs().size(key));
        let size = size.map_err(failed)?;
        Ok(size.map(|size| Pieces {
            photos: self,
            key,
            size,
            next: 0,
            held: Vec::new(),
            given: 0,
        }))
    }
}

/// One file as it is read.
struct Pieces<'a> {
    photos: &'a HubPhotos,
    key: BlobKey,
    size: u64,
    /// Where the next piece begins.
    next: u64,
    held: Vec<u8>,
    given: usize,
}

impl Read for Pieces<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if self.given == self.held.len() && self.next < self.size {
            let blobs = self.photos.hub.blobs();
            let piece = blobs.range(self.key, self.next, PIECE);
            self.held = self.photos.runtime.block_on(piece).map_err(failed)?;
            self.given = 0;
            self.next += self.held.len() as u64;
            if self.held.is_empty() {
                return Err(io::ErrorKind::UnexpectedEof.into());
            }
        }
        let left = self.held.get(self.given..).unwrap_or_default();
        let count = left.len().min(into.len());
        if let (Some(to), Some(from)) = (into.get_mut(..count), left.get(..count)) {
            to.copy_from_slice(from);
        }
        self.given += count;
        Ok(count)
    }
}

fn failed(error: StoreError) -> io::Error {
    io::Error::other(error.to_string())
}

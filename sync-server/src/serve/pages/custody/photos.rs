//! The office's photo files as a packet reads them: in pieces, on a thread that may block.

use std::collections::BTreeMap;
use std::io::{self, BufReader, Read};

use chalkwalk_core::job::{BlobKind, PhotoHash};
use chalkwalk_core::packet::PhotoSource;
use tokio::runtime::Handle;

use crate::hub::Hub;
use crate::limits;
use crate::store::{BlobEntry, BlobKey};

/// The whole files of one job.
pub(super) struct OfficePhotos {
    hub: Hub,
    runtime: Handle,
    sizes: BTreeMap<(BlobKind, PhotoHash), u64>,
}

impl OfficePhotos {
    pub(super) fn new(hub: Hub, runtime: Handle, files: &[BlobEntry]) -> Self {
        let sizes = files.iter().map(|file| ((file.kind, file.hash), file.size));
        Self {
            hub,
            runtime,
            sizes: sizes.collect(),
        }
    }

    fn read(&self, kind: BlobKind, hash: PhotoHash) -> Option<Pieces<'_>> {
        let size = *self.sizes.get(&(kind, hash))?;
        Some(Pieces {
            photos: self,
            key: BlobKey { kind, hash },
            at: 0,
            size,
        })
    }
}

impl PhotoSource for OfficePhotos {
    fn original(&self, hash: PhotoHash) -> io::Result<Option<Box<dyn Read + '_>>> {
        let pieces = self.read(BlobKind::Original, hash);
        let buffered = |pieces| Box::new(BufReader::with_capacity(limits::UPLOAD_PIECE, pieces));
        Ok(pieces.map(|pieces| buffered(pieces) as Box<dyn Read>))
    }

    fn thumbnail(&self, hash: PhotoHash) -> io::Result<Option<Vec<u8>>> {
        let Some(mut pieces) = self.read(BlobKind::Thumbnail, hash) else {
            return Ok(None);
        };
        let mut bytes = Vec::new();
        pieces.read_to_end(&mut bytes)?;
        Ok(Some(bytes))
    }
}

struct Pieces<'a> {
    photos: &'a OfficePhotos,
    key: BlobKey,
    at: u64,
    size: u64,
}

impl Read for Pieces<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let left = usize::try_from(self.size - self.at).unwrap_or(usize::MAX);
        let max = left.min(buffer.len());
        if max == 0 {
            return Ok(0);
        }
        let blobs = self.photos.hub.blobs();
        let piece = self
            .photos
            .runtime
            .block_on(blobs.range(self.key, self.at, max));
        let piece = piece.map_err(io::Error::other)?;
        let read = piece.len().min(max);
        let (Some(to), Some(from)) = (buffer.get_mut(..read), piece.get(..read)) else {
            return Ok(0);
        };
        to.copy_from_slice(from);
        self.at += read as u64;
        Ok(read)
    }
}

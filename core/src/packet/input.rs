//! What a packet is made from, and what can go wrong.

use std::collections::BTreeMap;
use std::io::{self, Cursor, Read};
use std::path::PathBuf;

use ed25519_dalek::VerifyingKey;

use super::Custody;
use crate::job::{Job, Millis, PhotoHash, RecordId};

/// Which packet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PacketKind {
    /// For anybody: nothing office-only, nothing struck, no document.
    Shared,
    /// For the office: everything, marked.
    Archive,
}

impl PacketKind {
    /// The name of its folder.
    pub const fn folder(self) -> &'static str {
        match self {
            PacketKind::Shared => "shared",
            PacketKind::Archive => "archive",
        }
    }
}

/// Where the files of photos are.
pub trait PhotoSource {
    /// The original with this hash; `None` where it is not here.
    fn original(&self, hash: PhotoHash) -> io::Result<Option<Box<dyn Read + '_>>>;
    /// The small upright JPEG of that original; `None` where there is none.
    fn thumbnail(&self, hash: PhotoHash) -> io::Result<Option<Vec<u8>>>;
}

/// Photos in memory, for tests and small shells.
#[derive(Clone, Debug, Default)]
pub struct MemoryPhotos {
    /// Originals by hash.
    pub originals: BTreeMap<PhotoHash, Vec<u8>>,
    /// Thumbnails by the hash of their original.
    pub thumbnails: BTreeMap<PhotoHash, Vec<u8>>,
}

impl PhotoSource for MemoryPhotos {
    fn original(&self, hash: PhotoHash) -> io::Result<Option<Box<dyn Read + '_>>> {
        let bytes = self.originals.get(&hash);
        Ok(bytes.map(|bytes| Box::new(Cursor::new(bytes.as_slice())) as Box<dyn Read>))
    }
    fn thumbnail(&self, hash: PhotoHash) -> io::Result<Option<Vec<u8>>> {
        Ok(self.thumbnails.get(&hash).cloned())
    }
}

/// What a packet is made from. The same input gives the same bytes.
#[derive(Clone, Copy)]
pub struct PacketInput<'a> {
    /// The record.
    pub job: &'a Job,
    /// The document as other readers of its format expect it; goes into the archive only.
    pub document: &'a [u8],
    /// Who recorded what, when, on which device, and the certificates of those devices.
    pub custody: &'a Custody,
    /// The files of the photos.
    pub photos: &'a dyn PhotoSource,
    /// Photos in walk order. Photos that are not named follow by time.
    pub order: &'a [RecordId],
    /// The company, as the bag and the page name it.
    pub company: &'a str,
    /// The key with which the office vouches for devices.
    pub office_key: Option<VerifyingKey>,
    /// When the packet is made, milliseconds since 1970 UTC.
    pub created_at: Millis,
}

/// Told of each photo that was copied: how many so far, of how many.
pub type Progress<'a> = dyn FnMut(usize, usize) + 'a;

/// Why a packet was not written or could not be read.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PacketError {
    /// A folder of that name is there already.
    #[error("{} is there already: name another folder, or move it away", .0.display())]
    Exists(PathBuf),
    /// A file could not be read or written.
    #[error("{}: {cause}", path.display())]
    File {
        /// Which one.
        path: PathBuf,
        /// Why.
        cause: io::Error,
    },
    /// Something could not be put into its format.
    #[error("{0} could not be written")]
    Format(&'static str),
}

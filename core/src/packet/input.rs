//! What a packet is made from, and what can go wrong.

use std::collections::BTreeMap;
use std::io::{self, Cursor, Read};
use std::path::PathBuf;

use ed25519_dalek::VerifyingKey;

use super::{Custody, Renderer, Sealer};
use crate::job::{Job, Millis, PhotoHash, RecordId};
use crate::review::production::SheetOptions;
use crate::review::scope::ScopeInputs;

/// Which packet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PacketKind {
    /// For anybody, the insurer's adjuster first: nothing office-only, nothing struck, no document.
    Shared,
    /// For the owner: the same without the insurer's matters, and the inside of the owner's home.
    Owner,
    /// For the crew that lays the new roof.
    Production,
    /// For the office: everything, marked.
    Archive,
}

impl PacketKind {
    /// Every packet.
    pub const ALL: &'static [PacketKind] = &[
        PacketKind::Shared,
        PacketKind::Owner,
        PacketKind::Production,
        PacketKind::Archive,
    ];

    /// The name of its folder.
    pub const fn folder(self) -> &'static str {
        match self {
            PacketKind::Shared => "shared",
            PacketKind::Owner => "owner",
            PacketKind::Production => "production",
            PacketKind::Archive => "archive",
        }
    }

    /// What it is, as its pages say.
    pub const fn title(self) -> &'static str {
        match self {
            PacketKind::Shared => "Storm inspection record",
            PacketKind::Owner => "Owner's account",
            PacketKind::Production => "Production sheet",
            PacketKind::Archive => "Estimator's file",
        }
    }

    /// The packet with this folder.
    pub fn from_folder(name: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|kind| kind.folder() == name)
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

/// What the person who makes a packet chooses.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Choices {
    /// For the scope.
    pub scope: ScopeInputs,
    /// For the production sheet.
    pub sheet: SheetOptions,
    /// Photos go out as copies without what the camera wrote in them, the place first of all.
    /// The archive always holds the originals.
    pub without_places: bool,
    /// The paper that reports are set for.
    pub paper: PaperSize,
}

/// A size of paper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum PaperSize {
    /// US Letter, 8.5 by 11 inches.
    #[default]
    Letter,
    /// ISO 216 A4, 210 by 297 mm.
    A4,
}

impl PaperSize {
    /// Its name in a command or a form.
    pub const fn name(self) -> &'static str {
        match self {
            PaperSize::Letter => "letter",
            PaperSize::A4 => "a4",
        }
    }

    /// The paper of this name.
    pub fn from_name(name: &str) -> Option<Self> {
        [PaperSize::Letter, PaperSize::A4]
            .into_iter()
            .find(|paper| paper.name() == name)
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
    /// Whose key seals the bag as a whole.
    pub sealer: Sealer<'a>,
    /// What was chosen.
    pub choices: &'a Choices,
    /// What adds further formats.
    pub renderer: &'a dyn Renderer,
    /// When the packet is made, milliseconds since 1970 UTC.
    pub created_at: Millis,
}

/// Told of each photo that was copied: how many so far, of how many.
/// The answer says whether to go on.
pub type Progress<'a> = dyn FnMut(usize, usize) -> bool + 'a;

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
    /// Somebody wished it not to be written.
    #[error("it was stopped before it was finished: nothing was written")]
    Stopped,
    /// Something could not be put into its format.
    #[error("{0} could not be written")]
    Format(&'static str),
}

//! Changes as they are kept and carried, and why one is not taken.

use std::collections::{BTreeMap, BTreeSet};

use crate::job::DeviceId;

/// An author: the device that wrote and the nonce of the session it wrote in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Author {
    /// The device.
    pub device: DeviceId,
    /// Fresh for each time the device opened the job to write.
    pub nonce: [u8; 8],
}

impl Author {
    /// The author of the change every document starts from.
    pub const GENESIS: Author = Author {
        device: DeviceId::GENESIS,
        nonce: [0; 8],
    };

    /// The actor id in the document: device, then nonce.
    pub fn to_bytes(self) -> [u8; 24] {
        let mut bytes = [0; 24];
        bytes[..16].copy_from_slice(self.device.as_bytes());
        bytes[16..].copy_from_slice(&self.nonce);
        bytes
    }

    /// The author with this actor id; `None` where it has another length.
    pub fn from_bytes(bytes: &[u8]) -> Option<Self> {
        let (device, nonce) = bytes.split_at_checked(16)?;
        Some(Self {
            device: DeviceId::from_bytes(device.try_into().ok()?),
            nonce: nonce.try_into().ok()?,
        })
    }
}

/// How far a replica holds one author's changes. They are numbered from 1 without gaps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Held {
    /// Number of the last change.
    pub number: u64,
    /// The first eight bytes of its hash.
    pub short_hash: [u8; 8],
}

/// What a replica holds of one job, by author. The genesis change is held by all and not listed.
pub type Table = BTreeMap<Author, Held>;

/// One change as it is kept and carried.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChangeRow {
    /// Who wrote it.
    pub author: Author,
    /// Its number among the author's changes, from 1.
    pub number: u64,
    /// Its hash.
    pub hash: [u8; 32],
    /// The uncompressed change chunk.
    pub bytes: Vec<u8>,
    /// The writing device's signature over the hash; present for the replica's own changes and
    /// for the last of each author in every batch it was sent.
    pub signature: Option<[u8; 64]>,
}

/// Collects rows up to a size and cuts them where every author's last change is signed, so that
/// the receiver can check each.
#[derive(Debug)]
pub struct SignedPrefix {
    rows: Vec<ChangeRow>,
    bytes: usize,
    max_bytes: usize,
    unsigned: BTreeSet<Author>,
    good: usize,
}

impl SignedPrefix {
    /// An empty collection that is full at about `max_bytes`.
    pub fn new(max_bytes: usize) -> Self {
        Self {
            rows: Vec::new(),
            bytes: 0,
            max_bytes,
            unsigned: BTreeSet::new(),
            good: 0,
        }
    }

    /// Adds a row; true when the collection is full.
    pub fn push(&mut self, row: ChangeRow) -> bool {
        let over = self.bytes + row.bytes.len() > self.max_bytes
            || self.rows.len() >= crate::limits::BATCH_CHANGES;
        if over && self.good > 0 {
            return true;
        }
        if row.signature.is_some() {
            self.unsigned.remove(&row.author);
        } else {
            self.unsigned.insert(row.author);
        }
        self.bytes += row.bytes.len();
        self.rows.push(row);
        if self.unsigned.is_empty() {
            self.good = self.rows.len();
        }
        false
    }

    /// The rows up to the last good cut.
    pub fn finish(mut self) -> Vec<ChangeRow> {
        self.rows.truncate(self.good);
        self.rows
    }
}

/// What became of a batch that was accepted.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Accepted {
    /// How far each author in the batch is now held, durably.
    pub held: Table,
    /// Changes that were new here.
    pub new_changes: usize,
}

/// Why a replica does not take something. The session ends and says so.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Refusal {
    /// A limit was passed; the text names it.
    #[error("over the limit: {0}")]
    Limit(String),
    /// Not a change, or one that does not fit the document.
    #[error("not acceptable: {0}")]
    Malformed(String),
    /// A signature or certificate does not match the change it stands for.
    #[error("not signed by its author: {0}")]
    Unsigned(String),
    /// The same author and number with another hash: a copied device.
    #[error(
        "device {device} has written change {number} twice: it was copied or restored while in use"
    )]
    Forked {
        /// The device.
        device: DeviceId,
        /// The number that stands twice.
        number: u64,
    },
    /// The peer or the author may not write this job.
    #[error("not permitted: {0}")]
    Forbidden(String),
    /// Changes are missing that the batch builds on.
    #[error("builds on changes that are not here")]
    Gap,
    /// The replica could not store it. Nothing was acknowledged.
    #[error("could not be stored: {0}")]
    Storage(String),
}

//! What a replica in memory keeps.

use std::collections::{BTreeMap, BTreeSet};

use crate::document::{Author, ChangeRow, Refusal, Table};
use crate::job::{BlobKind, DeviceId, JobId, PhotoHash, SignedCertificate};
use crate::sync::ChunkHead;
use crate::sync::table::held_of;

#[derive(Clone, Default, PartialEq, Eq, Debug)]
pub(super) struct Store {
    pub(super) jobs: BTreeMap<JobId, Job>,
    pub(super) certificates: BTreeMap<DeviceId, SignedCertificate>,
    pub(super) blobs: BTreeMap<(BlobKind, PhotoHash), Blob>,
    pub(super) peers: Peers,
}

#[derive(Clone, Default, PartialEq, Eq, Debug)]
pub(super) struct Peers {
    pub(super) holds: BTreeMap<(DeviceId, JobId), Table>,
    pub(super) blobs: BTreeSet<(DeviceId, BlobKind, PhotoHash)>,
}

#[derive(Clone, Default, PartialEq, Eq, Debug)]
pub(super) struct Job {
    pub(super) rows: Vec<ChangeRow>,
    pub(super) places: BTreeMap<(Author, u64), usize>,
    pub(super) heads: BTreeSet<[u8; 32]>,
    pub(super) hashes: BTreeSet<[u8; 32]>,
    pub(super) table: Table,
    pub(super) photos: Vec<PhotoHash>,
}

#[derive(Clone, Default, PartialEq, Eq, Debug)]
pub(super) struct Blob {
    pub(super) bytes: Vec<u8>,
    pub(super) complete: bool,
}

impl Job {
    /// Adds a change that follows what is here; `false` where it is here already.
    pub(super) fn insert(&mut self, row: ChangeRow) -> Result<bool, Refusal> {
        let forked = Refusal::Forked {
            device: row.author.device,
            number: row.number,
        };
        if let Some(at) = self.places.get(&(row.author, row.number)) {
            return if self.rows[*at].hash == row.hash {
                Ok(false)
            } else {
                Err(forked)
            };
        }
        let next = self.table.get(&row.author).map_or(0, |held| held.number) + 1;
        let head = ChunkHead::read(&row.bytes)?;
        if (head.author, head.number, head.hash) != (row.author, row.number, row.hash) {
            return Err(Refusal::Malformed("a row is not its change".into()));
        }
        if row.number != next
            || head
                .builds_on
                .iter()
                .any(|hash| !self.hashes.contains(hash))
        {
            return Err(Refusal::Gap);
        }
        for hash in &head.builds_on {
            self.heads.remove(hash);
        }
        self.heads.insert(row.hash);
        self.hashes.insert(row.hash);
        self.table.insert(row.author, held_of(&row));
        self.places
            .insert((row.author, row.number), self.rows.len());
        self.photos
            .extend(photo_in(&row.bytes).filter(|hash| !self.photos.contains(hash)));
        self.rows.push(row);
        Ok(true)
    }
}

fn photo_in(bytes: &[u8]) -> Option<PhotoHash> {
    let at = bytes.windows(6).position(|window| window == b"photo:")?;
    std::str::from_utf8(bytes.get(at + 6..at + 70)?)
        .ok()?
        .parse()
        .ok()
}

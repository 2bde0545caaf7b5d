//! What is recorded here, what the other phone has, and what is safe at the office.

use serde::{Deserialize, Serialize};

use super::photos::captures;
use super::{Notebook, NotebookError};
use crate::document::Table;
use crate::job::{BlobKind, DeviceId, JobId, PhotoHash};

/// Counts of photo files.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct PhotoCounts {
    /// Thumbnails.
    pub thumbnails: usize,
    /// Originals.
    pub originals: usize,
}

/// What a device said it holds durably.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PeerStatus {
    /// The device.
    pub device: DeviceId,
    /// Its name, where its certificate is known.
    pub name: String,
    /// It is the office.
    pub office: bool,
    /// Changes of the job that it holds.
    pub changes: u64,
    /// Photo files of the job that it holds.
    pub photos: PhotoCounts,
}

/// Where the parts of a job are safe. Only what a device acknowledged counts.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct JobStatus {
    /// Changes recorded here.
    pub changes: u64,
    /// Photos the job knows.
    pub photos: usize,
    /// Photo files here.
    pub here: PhotoCounts,
    /// Other devices.
    pub peers: Vec<PeerStatus>,
    /// Everything, changes and originals, is acknowledged by the office.
    pub safe_at_office: bool,
}

impl Notebook {
    /// Where the parts of a job are safe.
    pub fn status(&mut self, job: JobId) -> Result<JobStatus, NotebookError> {
        let table = self.journal.table(job)?;
        let changes: u64 = table.values().map(|held| held.number).sum();
        let hashes: Vec<PhotoHash> = captures(self.job(job)?)
            .map(|(_, capture)| capture.hash)
            .collect();
        let mut here = PhotoCounts::default();
        for hash in &hashes {
            here.thumbnails += usize::from(self.photos.have(BlobKind::Thumbnail, *hash)?.is_some());
            here.originals += usize::from(self.photos.have(BlobKind::Original, *hash)?.is_some());
        }
        let mut peers = Vec::new();
        for device in self.journal.peers()? {
            peers.push(self.peer_status(device, job, &table, &hashes)?);
        }
        let safe_at_office = peers.iter().any(|peer| {
            peer.office && peer.changes == changes && peer.photos.originals == hashes.len()
        });
        Ok(JobStatus {
            changes,
            photos: hashes.len(),
            here,
            peers,
            safe_at_office,
        })
    }

    /// Whether the office acknowledged the original of a photo. Only then may a phone free it.
    pub fn original_safe_at_office(&self, hash: PhotoHash) -> Result<bool, NotebookError> {
        for device in self.journal.peers()? {
            let office = self.journal.peer(device)?.is_some_and(|(_, office)| office);
            if office
                && self
                    .journal
                    .peer_has_photo(device, BlobKind::Original, hash)?
            {
                return Ok(true);
            }
        }
        Ok(false)
    }

    fn peer_status(
        &self,
        device: DeviceId,
        job: JobId,
        table: &Table,
        hashes: &[PhotoHash],
    ) -> Result<PeerStatus, NotebookError> {
        let mut changes = 0;
        for (peer_device, nonce, number) in self.journal.peer_changes(device, job)?.changes {
            let author = crate::document::Author {
                device: peer_device,
                nonce,
            };
            let held = table.get(&author).map_or(0, |held| held.number);
            changes += number.min(held);
        }
        let mut photos = PhotoCounts::default();
        for hash in hashes {
            let has = |kind| self.journal.peer_has_photo(device, kind, *hash);
            photos.thumbnails += usize::from(has(BlobKind::Thumbnail)?);
            photos.originals += usize::from(has(BlobKind::Original)?);
        }
        let (name, office) = self
            .journal
            .peer(device)?
            .unwrap_or_else(|| (device.to_string(), false));
        Ok(PeerStatus {
            device,
            name,
            office,
            changes,
            photos,
        })
    }
}

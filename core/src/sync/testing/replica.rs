//! A replica in memory that judges like a real one: signatures, certificates, gaps, copies.

use std::collections::{BTreeMap, BTreeSet};

use super::office::{TestDevice, change_chunk, photo_words};
use super::store::{Blob, Job, Peers, Store};
use crate::document::{
    Accepted, Author, ChangeRow, Refusal, Table, check_change_signature, sign_change,
};
use crate::job::{
    BlobKind, BlobProgress, Certificate, DeviceId, JobId, PhotoHash, SignedCertificate,
};
use crate::sync::table::held_of;
use crate::sync::{ChunkHead, Replica};

/// A replica in memory. What it confirms survives [`MemoryReplica::crash`]; what it was told of
/// peers since the last confirmed write does not.
#[derive(Clone)]
pub struct MemoryReplica {
    device: TestDevice,
    nonce: u64,
    disk: Store,
    /// What is known of peers: kept with the next durable write.
    peers: Peers,
    /// Jobs that are not exchanged with anybody.
    pub forbidden: BTreeSet<JobId>,
    /// Refuses the next batch as a full disk would.
    pub fail_next_accept: bool,
    /// How often each change came in a batch since this was last cleared.
    pub arrivals: BTreeMap<(JobId, [u8; 32]), u32>,
    /// Bytes of files that came since this was last cleared, repeated ones included.
    pub file_bytes: u64,
}

impl MemoryReplica {
    /// An empty replica of a device. The nonce tells apart the times it was opened.
    pub fn new(device: TestDevice, nonce: u64) -> Self {
        let mut disk = Store::default();
        disk.certificates
            .insert(device.id, device.certificate.clone());
        Self {
            device,
            nonce,
            disk,
            peers: Peers::default(),
            forbidden: BTreeSet::new(),
            fail_next_accept: false,
            arrivals: BTreeMap::new(),
            file_bytes: 0,
        }
    }

    /// The device.
    pub fn device(&self) -> &TestDevice {
        &self.device
    }

    /// Power lost and the job opened again: a fresh author, and only what was durable.
    pub fn crash(&mut self) {
        self.peers = self.disk.peers.clone();
        self.nonce += 1;
    }

    /// Opens the job under another nonce, as after a restart.
    pub fn set_nonce(&mut self, nonce: u64) {
        self.nonce = nonce;
    }

    /// The author of what this device records now.
    pub fn author(&self) -> Author {
        Author {
            device: self.device.id,
            nonce: self.nonce.to_be_bytes(),
        }
    }

    /// Records a change of this device.
    pub fn record(&mut self, job: JobId, words: &str) -> Result<ChangeRow, Refusal> {
        let author = self.author();
        let place = self.disk.jobs.entry(job).or_default();
        let number = place.table.get(&author).map_or(0, |held| held.number) + 1;
        let heads: Vec<[u8; 32]> = place.heads.iter().copied().collect();
        self.record_chunk(job, change_chunk(author, number, &heads, words))
    }

    /// Records a change of this device that was made elsewhere.
    pub fn record_chunk(&mut self, job: JobId, bytes: Vec<u8>) -> Result<ChangeRow, Refusal> {
        let mut row = ChunkHead::row(bytes, None)?;
        row.signature = Some(sign_change(&self.device.key, &row.hash));
        self.disk.jobs.entry(job).or_default().insert(row.clone())?;
        self.sync_disk();
        Ok(row)
    }

    /// Takes a photo: its record, its original and its thumbnail.
    pub fn take_photo(
        &mut self,
        job: JobId,
        original: &[u8],
        thumbnail: &[u8],
    ) -> Result<PhotoHash, Refusal> {
        let hash = PhotoHash::of(original);
        self.put_blob(BlobKind::Original, hash, original);
        self.put_blob(BlobKind::Thumbnail, hash, thumbnail);
        self.record(job, &photo_words(hash))?;
        Ok(hash)
    }

    /// Lays a complete file into the store, unchecked.
    pub fn put_blob(&mut self, kind: BlobKind, hash: PhotoHash, bytes: &[u8]) {
        self.disk.blobs.insert(
            (kind, hash),
            Blob {
                bytes: bytes.to_vec(),
                complete: true,
            },
        );
    }

    /// Removes a file.
    pub fn remove_blob(&mut self, kind: BlobKind, hash: PhotoHash) {
        self.disk.blobs.remove(&(kind, hash));
    }

    /// The bytes of a complete file.
    pub fn blob(&self, kind: BlobKind, hash: PhotoHash) -> Option<&[u8]> {
        self.disk
            .blobs
            .get(&(kind, hash))
            .filter(|b| b.complete)
            .map(|b| b.bytes.as_slice())
    }

    /// How many files are complete.
    pub fn blobs_complete(&self) -> usize {
        self.disk
            .blobs
            .values()
            .filter(|blob| blob.complete)
            .count()
    }

    /// Every change of a job by author and number: equal on all replicas that hold the same.
    pub fn changes(&self, job: JobId) -> BTreeMap<(Author, u64), Vec<u8>> {
        let rows = self.disk.jobs.get(&job).map_or(&[][..], |job| &job.rows);
        rows.iter()
            .map(|row| ((row.author, row.number), row.bytes.clone()))
            .collect()
    }

    /// The heads of a job.
    pub fn heads(&self, job: JobId) -> BTreeSet<[u8; 32]> {
        self.disk
            .jobs
            .get(&job)
            .map(|job| job.heads.clone())
            .unwrap_or_default()
    }

    /// What a peer is known to hold of a job.
    pub fn peer_holds(&self, peer: DeviceId, job: JobId) -> Table {
        self.peers
            .holds
            .get(&(peer, job))
            .cloned()
            .unwrap_or_default()
    }

    /// Whether a peer is known to hold a file.
    pub fn peer_holds_blob(&self, peer: DeviceId, kind: BlobKind, hash: PhotoHash) -> bool {
        self.peers.blobs.contains(&(peer, kind, hash))
    }

    /// Whether two replicas hold the same jobs, changes and files.
    pub fn same_content(&self, other: &Self) -> bool {
        let jobs: BTreeSet<_> = self
            .disk
            .jobs
            .keys()
            .chain(other.disk.jobs.keys())
            .collect();
        jobs.into_iter().all(|job| {
            self.changes(*job) == other.changes(*job) && self.heads(*job) == other.heads(*job)
        }) && self.disk.blobs == other.disk.blobs
    }

    fn sync_disk(&mut self) {
        self.disk.peers = self.peers.clone();
    }

    fn judge(
        &self,
        job: JobId,
        batch: &[ChangeRow],
        certificates: &[SignedCertificate],
    ) -> Result<(Job, BTreeMap<DeviceId, SignedCertificate>, usize), Refusal> {
        let mut known = self.disk.certificates.clone();
        for signed in certificates {
            let certificate = signed
                .verify(&self.device.office)
                .map_err(|error| Refusal::Unsigned(error.to_string()))?;
            known
                .entry(certificate.device)
                .or_insert_with(|| signed.clone());
        }
        let mut place = self.disk.jobs.get(&job).cloned().unwrap_or_default();
        let mut last: BTreeMap<Author, &ChangeRow> = BTreeMap::new();
        let mut new = 0;
        for row in batch {
            last.insert(row.author, row);
            new += usize::from(place.insert(row.clone())?);
        }
        for (author, row) in last {
            let unsigned =
                || Refusal::Unsigned(format!("change {} of {}", row.number, author.device));
            let signature = row.signature.ok_or_else(unsigned)?;
            known
                .get(&author.device)
                .and_then(|signed| signed.verify(&self.device.office).ok())
                .and_then(|certificate| certificate.verifying_key().ok())
                .filter(|key| check_change_signature(key, &row.hash, &signature))
                .ok_or_else(unsigned)?;
        }
        Ok((place, known, new))
    }
}

impl Replica for MemoryReplica {
    fn jobs(&mut self, _peer: &Certificate) -> Result<Vec<JobId>, Refusal> {
        Ok(self
            .disk
            .jobs
            .keys()
            .filter(|job| !self.forbidden.contains(job))
            .copied()
            .collect())
    }

    fn may_exchange(&mut self, _peer: &Certificate, job: JobId) -> Result<bool, Refusal> {
        Ok(!self.forbidden.contains(&job))
    }

    fn table(&mut self, job: JobId) -> Result<Table, Refusal> {
        Ok(self
            .disk
            .jobs
            .get(&job)
            .map(|job| job.table.clone())
            .unwrap_or_default())
    }

    fn lacking(
        &mut self,
        job: JobId,
        peer: &Table,
        max_bytes: usize,
    ) -> Result<Vec<ChangeRow>, Refusal> {
        let Some(place) = self.disk.jobs.get(&job) else {
            return Ok(Vec::new());
        };
        for (author, theirs) in peer {
            if let Some(at) = place.places.get(&(*author, theirs.number))
                && held_of(&place.rows[*at]).short_hash != theirs.short_hash
            {
                return Err(Refusal::Forked {
                    device: author.device,
                    number: theirs.number,
                });
            }
        }
        let lacks = |row: &&ChangeRow| {
            peer.get(&row.author)
                .is_none_or(|held| row.number > held.number)
        };
        let mut unsigned = BTreeSet::new();
        let mut bytes = 0;
        let mut out = Vec::new();
        let mut whole = 0;
        for row in place.rows.iter().filter(lacks) {
            if bytes >= max_bytes && whole > 0 {
                break;
            }
            bytes += row.bytes.len();
            if row.signature.is_some() {
                unsigned.remove(&row.author);
            } else {
                unsigned.insert(row.author);
            }
            out.push(row.clone());
            if unsigned.is_empty() {
                whole = out.len();
            }
        }
        out.truncate(whole);
        Ok(out)
    }

    fn certificates(&mut self, devices: &[DeviceId]) -> Result<Vec<SignedCertificate>, Refusal> {
        Ok(devices
            .iter()
            .filter_map(|device| self.disk.certificates.get(device).cloned())
            .collect())
    }

    fn accept(
        &mut self,
        _peer: &Certificate,
        job: JobId,
        batch: Vec<ChangeRow>,
        certificates: &[SignedCertificate],
    ) -> Result<Accepted, Refusal> {
        if std::mem::take(&mut self.fail_next_accept) {
            return Err(Refusal::Storage("the disk is full".into()));
        }
        if self.forbidden.contains(&job) {
            return Err(Refusal::Forbidden("this job is not exchanged".into()));
        }
        let (place, known, new_changes) = self.judge(job, &batch, certificates)?;
        let authors: BTreeSet<Author> = batch.iter().map(|row| row.author).collect();
        let held = place
            .table
            .iter()
            .filter(|(author, _)| authors.contains(author));
        let held = held.map(|(author, held)| (*author, *held)).collect();
        for row in &batch {
            *self.arrivals.entry((job, row.hash)).or_default() += 1;
        }
        self.disk.jobs.insert(job, place);
        self.disk.certificates = known;
        self.sync_disk();
        Ok(Accepted { held, new_changes })
    }

    fn wanted(&mut self, job: JobId, kind: BlobKind) -> Result<Vec<(PhotoHash, u64)>, Refusal> {
        let photos = self.disk.jobs.get(&job).map_or(&[][..], |job| &job.photos);
        let lacking = |hash: &PhotoHash| match self.disk.blobs.get(&(kind, *hash)) {
            Some(blob) if blob.complete => None,
            blob => Some((*hash, blob.map_or(0, |blob| blob.bytes.len() as u64))),
        };
        Ok(photos.iter().filter_map(lacking).collect())
    }

    fn blob_size(&mut self, kind: BlobKind, hash: PhotoHash) -> Result<Option<u64>, Refusal> {
        Ok(self.blob(kind, hash).map(|bytes| bytes.len() as u64))
    }

    fn read_blob(
        &mut self,
        kind: BlobKind,
        hash: PhotoHash,
        offset: u64,
        max: usize,
    ) -> Result<Vec<u8>, Refusal> {
        let missing = || Refusal::Storage("no such file".into());
        let bytes = self.blob(kind, hash).ok_or_else(missing)?;
        let offset = usize::try_from(offset).map_err(|_| missing())?;
        let rest = bytes.get(offset..).ok_or_else(missing)?;
        Ok(rest[..rest.len().min(max)].to_vec())
    }

    fn write_blob(
        &mut self,
        job: JobId,
        kind: BlobKind,
        hash: PhotoHash,
        size: u64,
        offset: u64,
        bytes: &[u8],
    ) -> Result<BlobProgress, Refusal> {
        if !self
            .disk
            .jobs
            .get(&job)
            .is_some_and(|job| job.photos.contains(&hash))
        {
            return Err(Refusal::Forbidden("no such photo in the job".into()));
        }
        self.file_bytes += bytes.len() as u64;
        let blob = self.disk.blobs.entry((kind, hash)).or_default();
        let held = blob.bytes.len() as u64;
        if !blob.complete {
            let skip = held.checked_sub(offset).ok_or(Refusal::Gap)?;
            let skip = usize::try_from(skip).unwrap_or(usize::MAX).min(bytes.len());
            blob.bytes.extend_from_slice(&bytes[skip..]);
            if blob.bytes.len() as u64 == size {
                blob.complete = kind == BlobKind::Thumbnail || PhotoHash::of(&blob.bytes) == hash;
                if !blob.complete {
                    self.disk.blobs.remove(&(kind, hash));
                    return Err(Refusal::Malformed(
                        "a file is not the photo of its name".into(),
                    ));
                }
            }
        }
        let progress = BlobProgress {
            held: blob.bytes.len() as u64,
            complete: blob.complete,
        };
        self.sync_disk();
        Ok(progress)
    }

    fn note_peer_holds(&mut self, peer: DeviceId, job: JobId, held: &Table) -> Result<(), Refusal> {
        let known = self.peers.holds.entry((peer, job)).or_default();
        for (author, held) in held {
            let entry = known.entry(*author).or_insert(*held);
            if entry.number < held.number {
                *entry = *held;
            }
        }
        Ok(())
    }

    fn unconfirmed(
        &mut self,
        peer: DeviceId,
        jobs: &[JobId],
    ) -> Result<Vec<(BlobKind, PhotoHash)>, Refusal> {
        let photos: BTreeSet<PhotoHash> = jobs
            .iter()
            .filter_map(|job| self.disk.jobs.get(job))
            .flat_map(|job| job.photos.iter().copied())
            .collect();
        let unconfirmed = |(kind, hash): &(BlobKind, PhotoHash)| {
            photos.contains(hash) && !self.peers.blobs.contains(&(peer, *kind, *hash))
        };
        let complete = self.disk.blobs.iter().filter(|(_, blob)| blob.complete);
        Ok(complete.map(|(key, _)| *key).filter(unconfirmed).collect())
    }

    fn note_peer_holds_blob(
        &mut self,
        peer: DeviceId,
        kind: BlobKind,
        hash: PhotoHash,
    ) -> Result<(), Refusal> {
        self.peers.blobs.insert((peer, kind, hash));
        Ok(())
    }
}

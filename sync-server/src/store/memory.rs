//! The twin of the database, in memory: for tests, and to hold the database to account.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Mutex, MutexGuard, PoisonError};

use async_trait::async_trait;
use chalkwalk_core::document::{Author, ChangeRow, Held, Table};
use chalkwalk_core::job::{BlobKind, DeviceId, JobId, Millis, PhotoHash, SignedCertificate};
use chalkwalk_core::journal::SignedPrefix;
use chalkwalk_core::limits;

use super::*;

/// Records in memory.
#[derive(Debug, Default)]
pub struct MemoryRecords(Mutex<State>);

#[derive(Debug, Default)]
struct State {
    company: Option<Company>,
    devices: BTreeMap<DeviceId, Device>,
    codes: BTreeMap<[u8; 32], (Code, Option<DeviceId>)>,
    jobs: BTreeMap<JobId, JobState>,
    blobs: BTreeMap<(BlobKind, PhotoHash), BlobEntry>,
    aside: BTreeMap<(BlobKind, PhotoHash), Room>,
    audit: Vec<AuditEntry>,
}

#[derive(Clone, Debug, Default)]
struct JobState {
    rows: Vec<ChangeRow>,
    at: BTreeMap<(Author, u64), usize>,
    hashes: BTreeMap<[u8; 32], (Author, u64)>,
    table: Table,
    news: Option<(Millis, Millis)>,
    summary: Option<Summary>,
    photos: Vec<PhotoEntry>,
    snapshot: Option<Snapshot>,
    peers: BTreeMap<DeviceId, PeerHolds>,
}

impl MemoryRecords {
    fn state(&self) -> MutexGuard<'_, State> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl State {
    fn know(&mut self, device: &Device) -> Result<(), StoreError> {
        match self.devices.get(&device.id) {
            Some(known) if known.key != device.key => {
                Err(StoreError::Contradiction("a device with two keys"))
            }
            Some(_) => Ok(()),
            None => {
                self.devices.insert(device.id, device.clone());
                Ok(())
            }
        }
    }

    fn status(&self, job: JobId) -> Option<JobStatus> {
        let state = self.jobs.get(&job)?;
        let (first_news, last_news) = state.news?;
        let whole = |kind| {
            state
                .photos
                .iter()
                .filter(|photo| self.blobs.contains_key(&(kind, photo.hash)))
                .count() as u64
        };
        Some(JobStatus {
            job,
            changes: state.rows.len() as u64,
            first_news,
            last_news,
            summary: state.summary.clone(),
            photos: state.photos.len() as u64,
            thumbnails: whole(BlobKind::Thumbnail),
            originals: whole(BlobKind::Original),
        })
    }
}

impl JobState {
    fn wrote(&self, device: DeviceId) -> bool {
        self.table.keys().any(|author| author.device == device)
    }

    fn add(&mut self, row: &ChangeRow) -> Result<bool, StoreError> {
        let name = (row.author, row.number);
        if let Some(at) = self.at.get(&name) {
            let held = &mut self.rows[*at];
            if held.hash != row.hash {
                return Err(StoreError::Forked {
                    device: row.author.device,
                    number: row.number,
                });
            }
            held.signature = held.signature.or(row.signature);
            return Ok(false);
        }
        if self.hashes.contains_key(&row.hash) {
            return Err(StoreError::Contradiction("one change under two numbers"));
        }
        let last = self.table.get(&row.author).map_or(0, |held| held.number);
        if row.number != last + 1 {
            return Err(StoreError::Gap);
        }
        if last == 0 && self.table.len() >= limits::JOB_AUTHORS {
            return Err(StoreError::Limit("authors of one job"));
        }
        if self.rows.len() as u64 >= limits::JOB_CHANGES {
            return Err(StoreError::Limit("changes of one job"));
        }
        self.at.insert(name, self.rows.len());
        self.hashes.insert(row.hash, name);
        self.table.insert(row.author, held(row));
        self.rows.push(row.clone());
        Ok(true)
    }
}

fn held(row: &ChangeRow) -> Held {
    let mut short_hash = [0; 8];
    short_hash.copy_from_slice(&row.hash[..8]);
    Held {
        number: row.number,
        short_hash,
    }
}

#[async_trait]
impl Records for MemoryRecords {
    async fn company(&self) -> Result<Option<Company>, StoreError> {
        Ok(self.state().company.clone())
    }

    async fn found(&self, company: &Company) -> Result<Company, StoreError> {
        let mut state = self.state();
        Ok(state.company.get_or_insert_with(|| company.clone()).clone())
    }

    async fn device(&self, id: DeviceId) -> Result<Option<Device>, StoreError> {
        Ok(self.state().devices.get(&id).cloned())
    }

    async fn devices(&self) -> Result<Vec<Device>, StoreError> {
        Ok(self.state().devices.values().cloned().collect())
    }

    async fn certificates(&self, ids: &[DeviceId]) -> Result<Vec<SignedCertificate>, StoreError> {
        let state = self.state();
        let known = ids.iter().filter_map(|id| state.devices.get(id));
        Ok(known.map(|device| device.certificate.clone()).collect())
    }

    async fn set_revoked(&self, id: DeviceId, at: Option<Millis>) -> Result<bool, StoreError> {
        match self.state().devices.get_mut(&id) {
            Some(device) => {
                device.revoked_at = at;
                Ok(true)
            }
            None => Ok(false),
        }
    }

    async fn put_code(&self, code: &Code) -> Result<(), StoreError> {
        self.state().codes.insert(code.hash, (code.clone(), None));
        Ok(())
    }

    async fn code(&self, hash: [u8; 32]) -> Result<Option<Code>, StoreError> {
        Ok(self.state().codes.get(&hash).map(|(code, _)| code.clone()))
    }

    async fn enrol(
        &self,
        code_hash: [u8; 32],
        device: &Device,
        now: Millis,
    ) -> Result<Enrolled, StoreError> {
        let mut state = self.state();
        let known = state.devices.get(&device.id).cloned();
        let refused = |why| Ok(Enrolled::Refused(why));
        let Some((code, used_by)) = state.codes.get_mut(&code_hash) else {
            return refused(CodeRefusal::Unknown);
        };
        let same_key = known.as_ref().map(|known| known.key == device.key);
        match (used_by.is_some(), &known) {
            (true, Some(known)) if *used_by == Some(device.id) && same_key == Some(true) => {
                return Ok(Enrolled::Before(known.certificate.clone()));
            }
            (true, _) => return refused(CodeRefusal::Used),
            (false, _) if now >= code.expires_at => return refused(CodeRefusal::Expired),
            (false, Some(_)) => return refused(CodeRefusal::DeviceTaken),
            (false, None) => {}
        }
        *used_by = Some(device.id);
        state.devices.insert(device.id, device.clone());
        Ok(Enrolled::Done)
    }

    async fn jobs(&self) -> Result<Vec<JobStatus>, StoreError> {
        let state = self.state();
        Ok(state
            .jobs
            .keys()
            .filter_map(|job| state.status(*job))
            .collect())
    }

    async fn job_ids(&self) -> Result<Vec<JobId>, StoreError> {
        let state = self.state();
        let begun = state.jobs.iter().filter(|(_, job)| job.news.is_some());
        Ok(begun.map(|(job, _)| *job).collect())
    }

    async fn count_jobs(&self) -> Result<u64, StoreError> {
        Ok(self.job_ids().await?.len() as u64)
    }

    async fn jobs_written_by(&self, device: DeviceId) -> Result<BTreeSet<JobId>, StoreError> {
        let state = self.state();
        let wrote = state.jobs.iter().filter(|(_, job)| job.wrote(device));
        Ok(wrote.map(|(job, _)| *job).collect())
    }

    async fn has_written(&self, device: DeviceId, job: JobId) -> Result<bool, StoreError> {
        Ok(self
            .state()
            .jobs
            .get(&job)
            .is_some_and(|job| job.wrote(device)))
    }

    async fn job(&self, job: JobId) -> Result<Option<JobStatus>, StoreError> {
        Ok(self.state().status(job))
    }

    async fn table(&self, job: JobId) -> Result<Table, StoreError> {
        let state = self.state();
        Ok(state
            .jobs
            .get(&job)
            .map(|job| job.table.clone())
            .unwrap_or_default())
    }

    async fn append(
        &self,
        job: JobId,
        rows: &[ChangeRow],
        devices: &[Device],
        now: Millis,
    ) -> Result<Appended, StoreError> {
        let mut state = self.state();
        let mut changed = state.jobs.get(&job).cloned().unwrap_or_default();
        let mut new_changes = 0;
        for row in rows {
            new_changes += usize::from(changed.add(row)?);
        }
        let before = state.devices.clone();
        for device in devices {
            if let Err(error) = state.know(device) {
                state.devices = before;
                return Err(error);
            }
        }
        if new_changes > 0 {
            let first = changed.news.map_or(now, |(first, _)| first);
            changed.news = Some((first, now));
        }
        state.jobs.insert(job, changed);
        Ok(Appended { new_changes })
    }

    async fn lacking(
        &self,
        job: JobId,
        table: &Table,
        max_bytes: usize,
    ) -> Result<Vec<ChangeRow>, StoreError> {
        let state = self.state();
        let Some(job) = state.jobs.get(&job) else {
            return Ok(Vec::new());
        };
        for (author, theirs) in table {
            if let Some(at) = job.at.get(&(*author, theirs.number))
                && job.rows[*at].hash[..8] != theirs.short_hash
            {
                return Err(StoreError::Forked {
                    device: author.device,
                    number: theirs.number,
                });
            }
        }
        let mut run = SignedPrefix::new(max_bytes);
        for row in &job.rows {
            let theirs = table.get(&row.author).map_or(0, |held| held.number);
            if row.number > theirs && run.push(row.clone()) {
                break;
            }
        }
        Ok(run.finish())
    }

    async fn snapshot(&self, job: JobId) -> Result<Option<Snapshot>, StoreError> {
        Ok(self
            .state()
            .jobs
            .get(&job)
            .and_then(|job| job.snapshot.clone()))
    }

    async fn put_snapshot(&self, job: JobId, snapshot: &Snapshot) -> Result<(), StoreError> {
        self.state().jobs.entry(job).or_default().snapshot = Some(snapshot.clone());
        Ok(())
    }

    async fn describe(
        &self,
        job: JobId,
        summary: &Summary,
        photos: &[PhotoEntry],
    ) -> Result<(), StoreError> {
        let mut state = self.state();
        let job = state.jobs.entry(job).or_default();
        if job
            .summary
            .as_ref()
            .is_some_and(|stands| stands.changes > summary.changes)
        {
            return Ok(());
        }
        job.summary = Some(summary.clone());
        let mut seen = BTreeSet::new();
        job.photos = photos.to_vec();
        job.photos.retain(|photo| seen.insert(photo.hash));
        Ok(())
    }

    async fn photos(&self, job: JobId) -> Result<Vec<PhotoEntry>, StoreError> {
        let state = self.state();
        Ok(state
            .jobs
            .get(&job)
            .map(|job| job.photos.clone())
            .unwrap_or_default())
    }

    async fn photo(&self, job: JobId, hash: PhotoHash) -> Result<Option<PhotoEntry>, StoreError> {
        let state = self.state();
        let photos = state.jobs.get(&job).map(|job| job.photos.iter());
        Ok(photos
            .into_iter()
            .flatten()
            .find(|photo| photo.hash == hash)
            .cloned())
    }

    async fn complete(&self, blob: &BlobEntry, _now: Millis) -> Result<(), StoreError> {
        let mut state = self.state();
        state.blobs.entry((blob.kind, blob.hash)).or_insert(*blob);
        state.aside.remove(&(blob.kind, blob.hash));
        Ok(())
    }

    async fn bytes_held(&self) -> Result<u64, StoreError> {
        Ok(self.state().blobs.values().map(|blob| blob.size).sum())
    }

    async fn set_aside(&self, room: &Room, most: u64) -> Result<bool, StoreError> {
        let mut state = self.state();
        let name = (room.file.kind, room.file.hash);
        state.aside.retain(|_, room_of| room_of.ends > room.now);
        let others = state.aside.iter().filter(|(other, _)| **other != name);
        let aside: u64 = others.map(|(_, room)| room.file.size).sum();
        let held: u64 = state.blobs.values().map(|blob| blob.size).sum();
        if held.saturating_add(aside).saturating_add(room.file.size) > most {
            return Ok(false);
        }
        state.aside.insert(name, *room);
        Ok(true)
    }

    async fn blob(&self, key: BlobKey) -> Result<Option<BlobEntry>, StoreError> {
        Ok(self.state().blobs.get(&(key.kind, key.hash)).copied())
    }

    async fn blobs(&self, job: JobId) -> Result<Vec<BlobEntry>, StoreError> {
        let state = self.state();
        let photos = state.jobs.get(&job).map(|job| job.photos.as_slice());
        let mut found = Vec::new();
        for photo in photos.unwrap_or_default() {
            for kind in [BlobKind::Thumbnail, BlobKind::Original] {
                found.extend(state.blobs.get(&(kind, photo.hash)));
            }
        }
        Ok(found)
    }

    async fn note_peer(&self, job: JobId, holds: &PeerHolds) -> Result<(), StoreError> {
        let mut state = self.state();
        let peers = &mut state.jobs.entry(job).or_default().peers;
        let known = peers.entry(holds.device).or_insert_with(|| holds.clone());
        known.add(holds);
        Ok(())
    }

    async fn peers(&self, job: JobId) -> Result<Vec<PeerHolds>, StoreError> {
        let state = self.state();
        let peers = state.jobs.get(&job).map(|job| job.peers.values().cloned());
        Ok(peers.map(Iterator::collect).unwrap_or_default())
    }

    async fn note(&self, entry: &AuditEntry) -> Result<(), StoreError> {
        self.state().audit.push(entry.clone());
        Ok(())
    }

    async fn audit(&self, max: usize) -> Result<Vec<AuditEntry>, StoreError> {
        Ok(self.state().audit.iter().rev().take(max).cloned().collect())
    }

    async fn ping(&self) -> Result<(), StoreError> {
        Ok(())
    }
}

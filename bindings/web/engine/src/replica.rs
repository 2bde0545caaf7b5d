//! The book as one side of a session or a bundle. What these calls confirm is staged: the page
//! writes it before it sends the frames that say so.

use std::collections::BTreeMap;

use chalkwalk_core::document::{
    Accepted, Author, ChangeRow, Gate, Refusal, SignedPrefix, Table, short_hash,
};
use chalkwalk_core::job::{
    BlobKind, BlobProgress, Certificate, DeviceId, JobId, PhotoHash, Role, SignedCapture,
    SignedCertificate,
};
use chalkwalk_core::limits;
use chalkwalk_core::photo::walk_order;
use chalkwalk_core::sync::Replica;
use ed25519_dalek::VerifyingKey;
use js_sys::Uint8Array;
use wasm_bindgen::{JsCast, JsValue};

use crate::arriving::{Arriving, Came};
use crate::book::Book;
use crate::staged::Staged;

type Signers = (BTreeMap<DeviceId, VerifyingKey>, BTreeMap<DeviceId, Role>);

fn storage(why: String) -> Refusal {
    Refusal::Storage(why)
}

impl Replica for Book {
    fn jobs(&mut self, peer: &Certificate) -> Result<Vec<JobId>, Refusal> {
        let office = peer.role == Role::Office;
        self.peers
            .insert(peer.device, (peer.device_name.clone(), office));
        let name = peer.device_name.clone();
        self.staged.push(Staged::Peer(peer.device, name, office));
        Ok(self.jobs.keys().copied().collect())
    }

    fn may_exchange(&mut self, peer: &Certificate, _: JobId) -> Result<bool, Refusal> {
        let office = self.office.as_ref();
        Ok(office.is_some_and(|office| office.company == peer.company))
    }

    fn table(&mut self, job: JobId) -> Result<Table, Refusal> {
        Ok(self
            .jobs
            .get(&job)
            .map_or_else(Table::new, |open| open.document.table()))
    }

    fn lacking(
        &mut self,
        job: JobId,
        peer: &Table,
        max_bytes: usize,
    ) -> Result<Vec<ChangeRow>, Refusal> {
        let named = peer
            .iter()
            .map(|(author, held)| (*author, held.number, held.short_hash));
        self.refuse_forks(job, named)?;
        let Some(open) = self.jobs.get(&job) else {
            return Ok(Vec::new());
        };
        let rows = open.rows.as_ref();
        let rows = rows.ok_or_else(|| storage("the changes were not handed in".to_owned()))?;
        let mut batch = SignedPrefix::new(max_bytes);
        for row in rows {
            let held = peer.get(&row.author).map_or(0, |held| held.number);
            if row.number > held && batch.push(row.clone()) {
                break;
            }
        }
        Ok(batch.finish())
    }

    fn certificates(&mut self, devices: &[DeviceId]) -> Result<Vec<SignedCertificate>, Refusal> {
        let known = devices
            .iter()
            .filter_map(|device| self.certificates.get(device).cloned());
        Ok(known.collect())
    }

    fn accept(
        &mut self,
        peer: &Certificate,
        job: JobId,
        batch: Vec<ChangeRow>,
        certificates: &[SignedCertificate],
    ) -> Result<Accepted, Refusal> {
        if !self.may_exchange(peer, job)? {
            return Err(Refusal::Forbidden(
                "the peer is of another office".to_owned(),
            ));
        }
        let named = batch
            .iter()
            .map(|row| (row.author, row.number, short_hash(&row.hash)));
        self.refuse_forks(job, named)?;
        let (keys, roles) = self.signers_of(&batch, certificates)?;
        if !self.jobs.contains_key(&job) {
            self.open(job, None, &[]).map_err(storage)?;
        }
        let open = self.job_mut(job).map_err(storage)?;
        let gate = Gate::of_job(job, &keys, &roles);
        let admitted = open.document.admit(&batch, &gate)?;
        let new_changes = admitted.rows.len();
        open.document = admitted.document;
        let mut held = open.document.table();
        for row in admitted.rows {
            self.keep(job, row);
        }
        let authors: Vec<Author> = batch.iter().map(|row| row.author).collect();
        held.retain(|author, _| authors.contains(author));
        Ok(Accepted { held, new_changes })
    }

    fn wanted(&mut self, job: JobId, kind: BlobKind) -> Result<Vec<(PhotoHash, u64)>, Refusal> {
        let files = self.files(job).into_iter();
        let lacking = files.filter(|(hash, _)| !self.has(kind, *hash));
        // What came before a link broke is gone on with, as long as the page lives.
        let held = |hash: &PhotoHash| match kind {
            BlobKind::Original => self.arriving.get(hash).map_or(0, |coming| coming.held),
            BlobKind::Thumbnail => 0,
        };
        Ok(lacking.map(|(hash, _)| (hash, held(&hash))).collect())
    }

    fn blob_size(&mut self, kind: BlobKind, hash: PhotoHash) -> Result<Option<u64>, Refusal> {
        // The page keeps originals in files: only the piece that is sent passes through here.
        Ok(match kind {
            BlobKind::Thumbnail => self.thumbnails.get(&hash).map(|bytes| bytes.len() as u64),
            BlobKind::Original => self.originals_here.get(&hash).copied(),
        })
    }

    fn read_blob(
        &mut self,
        kind: BlobKind,
        hash: PhotoHash,
        offset: u64,
        max: usize,
    ) -> Result<Vec<u8>, Refusal> {
        if kind == BlobKind::Original {
            return self.read_original(hash, offset, max);
        }
        let none = || storage("the small picture is not here".to_owned());
        let bytes = self.thumbnails.get(&hash).ok_or_else(none)?;
        let from = usize::try_from(offset)
            .unwrap_or(usize::MAX)
            .min(bytes.len());
        let to = from.saturating_add(max).min(bytes.len());
        Ok(bytes[from..to].to_vec())
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
        let no = |why: &str| Refusal::Malformed(why.to_owned());
        let files = self.files(job);
        let Some((_, named)) = files.iter().find(|(known, _)| *known == hash) else {
            let words = "a file that no photo of the job names";
            return Err(Refusal::Forbidden(words.to_owned()));
        };
        if kind == BlobKind::Original {
            if *named != size {
                return Err(no("the file has another size"));
            }
            return self.write_original(job, hash, size, offset, bytes);
        }
        if size > limits::THUMBNAIL_BYTES {
            return Err(no("a thumbnail that is too large"));
        }
        // They come whole, or are asked for again.
        if offset != 0 || bytes.len() as u64 != size {
            return Ok(BlobProgress {
                held: 0,
                complete: false,
            });
        }
        if !bytes.starts_with(&[0xFF, 0xD8, 0xFF]) || !bytes.ends_with(&[0xFF, 0xD9]) {
            return Err(no("a thumbnail that is no picture"));
        }
        self.keep_thumbnail(hash, bytes.to_vec());
        Ok(BlobProgress {
            held: size,
            complete: true,
        })
    }

    fn note_peer_holds(&mut self, peer: DeviceId, job: JobId, held: &Table) -> Result<(), Refusal> {
        self.note_changes(peer, job, held);
        self.staged.push(Staged::PeerHolds(peer, job, held.clone()));
        Ok(())
    }

    fn unconfirmed(
        &mut self,
        peer: DeviceId,
        jobs: &[JobId],
    ) -> Result<Vec<(BlobKind, PhotoHash)>, Refusal> {
        let office = self.peers.get(&peer).is_some_and(|(_, office)| *office);
        let mut open = Vec::new();
        for job in jobs {
            for (hash, _) in self.files(*job) {
                for kind in [BlobKind::Thumbnail, BlobKind::Original] {
                    // The office says of originals what it holds when they are handed in.
                    let asks = kind == BlobKind::Thumbnail || !office;
                    if asks && self.has(kind, hash) && !self.files_at.contains(&(peer, kind, hash))
                    {
                        open.push((kind, hash));
                    }
                }
            }
        }
        Ok(open)
    }

    fn note_peer_holds_blob(
        &mut self,
        peer: DeviceId,
        kind: BlobKind,
        hash: PhotoHash,
    ) -> Result<(), Refusal> {
        if self.files_at.insert((peer, kind, hash)) {
            self.staged.push(Staged::PeerHoldsFile(peer, kind, hash));
        }
        Ok(())
    }
}

impl Book {
    /// The photo files that a job names, in walk order, struck ones last, with their sizes.
    pub(crate) fn files(&self, job: JobId) -> Vec<(PhotoHash, u64)> {
        let Ok(open) = self.job(job) else {
            return Vec::new();
        };
        let job = open.document.job();
        let mut known: BTreeMap<_, (PhotoHash, u64)> = BTreeMap::new();
        for (id, photo) in &job.records.photos {
            let capture = photo
                .capture
                .as_ref()
                .and_then(|bytes| SignedCapture::from_bytes(bytes).ok()?.capture().ok());
            if let Some(capture) = capture {
                known.insert(id.clone(), (capture.hash, capture.size));
            }
        }
        let mut files = Vec::with_capacity(known.len());
        for id in walk_order(job) {
            files.extend(known.remove(&id));
        }
        files.extend(known.into_values());
        files
    }

    /// Whether the page holds a file whole.
    pub(crate) fn has(&self, kind: BlobKind, hash: PhotoHash) -> bool {
        match kind {
            BlobKind::Thumbnail => self.thumbnails_here.contains(&hash),
            BlobKind::Original => self.originals_here.contains_key(&hash),
        }
    }

    fn read_original(&self, hash: PhotoHash, at: u64, most: usize) -> Result<Vec<u8>, Refusal> {
        let none = || storage("the original cannot be read".to_owned());
        let reader = self.reader.as_ref().ok_or_else(none)?;
        let (at, most) = (JsValue::from(at as f64), JsValue::from(most as f64));
        let read = reader
            .call3(&JsValue::NULL, &hash.to_string().into(), &at, &most)
            .map_err(|_| none())?;
        let piece = read.dyn_into::<Uint8Array>().map_err(|_| none())?;
        Ok(piece.to_vec())
    }

    fn write_original(
        &mut self,
        job: JobId,
        hash: PhotoHash,
        size: u64,
        offset: u64,
        bytes: &[u8],
    ) -> Result<BlobProgress, Refusal> {
        let whole = BlobProgress {
            held: size,
            complete: true,
        };
        if self.has(BlobKind::Original, hash) {
            return Ok(whole);
        }
        let coming = self.arriving.entry(hash).or_insert_with(Arriving::new);
        let part = coming.new_part(offset, bytes).ok_or(Refusal::Gap)?;
        let at = coming.held;
        let came = coming.take(part, size, hash);
        if came == Came::Wrong {
            self.arriving.remove(&hash);
            let words = "the file is not what its name says";
            return Err(Refusal::Malformed(words.to_owned()));
        }
        if !part.is_empty() {
            self.staged.push(Staged::Piece(hash, at, part.to_vec()));
        }
        if let Came::Partly(progress) = came {
            return Ok(progress);
        }
        self.arriving.remove(&hash);
        self.originals_here.insert(hash, size);
        self.staged.push(Staged::Original(job, hash, size));
        Ok(whole)
    }

    /// Keeps a small picture and stages it.
    pub(crate) fn keep_thumbnail(&mut self, hash: PhotoHash, bytes: Vec<u8>) {
        self.thumbnails_here.insert(hash);
        self.thumbnails.insert(hash, bytes.clone());
        self.staged.push(Staged::Thumbnail(hash, bytes));
    }

    /// A change with an author and number that is held with another hash: a copied device.
    fn refuse_forks(
        &self,
        job: JobId,
        named: impl Iterator<Item = (Author, u64, [u8; 8])>,
    ) -> Result<(), Refusal> {
        let Some(open) = self.jobs.get(&job) else {
            return Ok(());
        };
        let table = open.document.table();
        for (author, number, hash) in named {
            let Some(held) = table.get(&author).filter(|held| held.number >= number) else {
                continue;
            };
            let known = if number == held.number {
                Some(held.short_hash)
            } else {
                self.hash_of(job, author, number)
            };
            if known != Some(hash) {
                return Err(Refusal::Forked {
                    device: author.device,
                    number,
                });
            }
        }
        Ok(())
    }

    /// The keys and parts of the batch's devices, from certificates that this office signed.
    fn signers_of(
        &mut self,
        batch: &[ChangeRow],
        certificates: &[SignedCertificate],
    ) -> Result<Signers, Refusal> {
        let no = |why: &str| Refusal::Forbidden(why.to_owned());
        let office = self
            .office
            .as_ref()
            .ok_or_else(|| no("this device is not enrolled"))?
            .key;
        let (mut keys, mut roles) = (BTreeMap::new(), BTreeMap::new());
        for signed in certificates {
            let Ok(certificate) = signed.verify(&office) else {
                return Err(Refusal::Unsigned(
                    "a certificate of another office".to_owned(),
                ));
            };
            let known = self.certificates.get(&certificate.device) == Some(signed);
            if !known {
                self.certificates.insert(certificate.device, signed.clone());
                self.staged
                    .push(Staged::Certificate(certificate.device, signed.clone()));
            }
        }
        for row in batch {
            let device = row.author.device;
            let signed = self.certificates.get(&device);
            if let Some(Ok(certificate)) = signed.map(|signed| signed.verify(&office))
                && let Ok(key) = certificate.verifying_key()
            {
                keys.insert(device, key);
                roles.insert(device, certificate.role);
            }
        }
        Ok((keys, roles))
    }
}

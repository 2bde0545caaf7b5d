//! The notebook as one side of a session.

use std::collections::BTreeMap;

use super::{Notebook, NotebookError};
use crate::document::{Accepted, Author, ChangeRow, Gate, Refusal, Table, short_hash};
use crate::job::{
    BlobKind, BlobProgress, Certificate, DeviceId, JobId, PhotoHash, Role, SignedCertificate,
};
use crate::limits;
use crate::photo::PhotoError;
use crate::sync::Replica;

type Keys = BTreeMap<DeviceId, ed25519_dalek::VerifyingKey>;

impl From<NotebookError> for Refusal {
    fn from(error: NotebookError) -> Self {
        Refusal::Storage(error.to_string())
    }
}

impl From<PhotoError> for Refusal {
    /// What came and cannot be the file is the peer's; all else is of this device's storage.
    fn from(error: PhotoError) -> Self {
        match error {
            PhotoError::WrongHash
            | PhotoError::WrongSize { .. }
            | PhotoError::TooLarge { .. }
            | PhotoError::Empty => Refusal::Malformed(error.to_string()),
            _ => Refusal::Storage(error.to_string()),
        }
    }
}

impl Replica for Notebook {
    fn jobs(&mut self, peer: &Certificate) -> Result<Vec<JobId>, Refusal> {
        self.journal.note_peer(peer)?;
        Ok(self.journal.jobs()?)
    }

    fn may_exchange(&mut self, peer: &Certificate, _: JobId) -> Result<bool, Refusal> {
        Ok(self
            .office
            .as_ref()
            .is_some_and(|office| office.company == peer.company))
    }

    fn table(&mut self, job: JobId) -> Result<Table, Refusal> {
        Ok(self.journal.table(job)?)
    }

    fn lacking(
        &mut self,
        job: JobId,
        peer: &Table,
        max_bytes: usize,
    ) -> Result<Vec<ChangeRow>, Refusal> {
        self.refuse_other_changes(job, peer)?;
        Ok(self.journal.lacking(job, peer, max_bytes)?)
    }

    fn certificates(&mut self, devices: &[DeviceId]) -> Result<Vec<SignedCertificate>, Refusal> {
        let mut known = Vec::new();
        for device in devices {
            known.extend(self.journal.certificate(*device)?);
        }
        Ok(known)
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
        self.ensure_open(job, true)?;
        let open = self.open.get_mut(&job).ok_or(Refusal::Gap)?;
        let gate = Gate::of_job(job, &keys, &roles);
        let admitted = open.document.admit(&batch, &gate)?;
        let new_changes = admitted.rows.len();
        self.journal.append(job, &admitted.rows)?;
        open.document = admitted.document;
        self.after_rows(job, new_changes as u64)?;
        let authors: Vec<_> = batch.iter().map(|row| row.author).collect();
        let mut held = self.journal.table(job)?;
        held.retain(|author, _| authors.contains(author));
        Ok(Accepted { held, new_changes })
    }

    fn wanted(&mut self, job: JobId, kind: BlobKind) -> Result<Vec<(PhotoHash, u64)>, Refusal> {
        let mut wanted = Vec::new();
        for (hash, _) in self.files_here(job)? {
            if self.photos.have(kind, hash)?.is_none() {
                wanted.push((hash, self.photos.held(kind, hash)?));
            }
        }
        Ok(wanted)
    }

    fn blob_size(&mut self, kind: BlobKind, hash: PhotoHash) -> Result<Option<u64>, Refusal> {
        Ok(self.photos.have(kind, hash)?)
    }

    fn read_blob(
        &mut self,
        kind: BlobKind,
        hash: PhotoHash,
        offset: u64,
        max: usize,
    ) -> Result<Vec<u8>, Refusal> {
        Ok(self.photos.read(kind, hash, offset, max)?)
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
        let expected = self
            .photo_files(job)?
            .iter()
            .find(|(known, _)| *known == hash)
            .copied();
        let Some((_, expected_size)) = expected else {
            return Err(Refusal::Forbidden(
                "a file that no photo of the job names".to_owned(),
            ));
        };
        match kind {
            BlobKind::Original if expected_size != size => {
                return Err(Refusal::Malformed("the file has another size".to_owned()));
            }
            BlobKind::Thumbnail if size > limits::THUMBNAIL_BYTES => {
                let words = "a thumbnail that is too large";
                return Err(Refusal::Malformed(words.to_owned()));
            }
            _ => {}
        }
        Ok(self.photos.write_at(kind, hash, size, offset, bytes)?)
    }

    fn note_peer_holds(&mut self, peer: DeviceId, job: JobId, held: &Table) -> Result<(), Refusal> {
        Ok(self.journal.note_peer_changes(peer, job, held)?)
    }

    fn unconfirmed(
        &mut self,
        peer: DeviceId,
        jobs: &[JobId],
    ) -> Result<Vec<(BlobKind, PhotoHash)>, Refusal> {
        let mut open = Vec::new();
        for job in jobs {
            for (hash, _) in self.files_here(*job)? {
                for kind in [BlobKind::Thumbnail, BlobKind::Original] {
                    let here = self.photos.have(kind, hash)?.is_some();
                    if here && !self.journal.peer_has_photo(peer, kind, hash)? {
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
        Ok(self.journal.note_peer_photo(peer, kind, hash)?)
    }
}

impl Notebook {
    /// The photo files that a job names; none where the peer has a job that began meanwhile and
    /// whose changes are still to come.
    fn files_here(&mut self, job: JobId) -> Result<Vec<(PhotoHash, u64)>, Refusal> {
        match self.photo_files(job) {
            Err(NotebookError::NoSuchJob(_)) => Ok(Vec::new()),
            files => Ok(files?.clone()),
        }
    }

    /// A peer's table that names another change where one is held here: a copied device.
    fn refuse_other_changes(&self, job: JobId, peer: &Table) -> Result<(), Refusal> {
        let named = peer
            .iter()
            .map(|(author, held)| (*author, held.number, held.short_hash));
        self.refuse_forks(job, named)
    }

    /// A change with an author and number that is held with another hash: a copied device.
    fn refuse_forks(
        &self,
        job: JobId,
        named: impl Iterator<Item = (Author, u64, [u8; 8])>,
    ) -> Result<(), Refusal> {
        let table = self.journal.table(job)?;
        for (author, number, hash) in named {
            let Some(held) = table.get(&author).filter(|held| held.number >= number) else {
                continue;
            };
            let known = if number == held.number {
                Some(held.short_hash)
            } else {
                self.journal
                    .hash_of(job, author, number)?
                    .map(|hash| short_hash(&hash))
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

    /// The keys of the batch's devices, from certificates that this office signed. New ones are
    /// kept, so that the custody report can name each device.
    fn signers_of(
        &self,
        batch: &[ChangeRow],
        certificates: &[SignedCertificate],
    ) -> Result<(Keys, BTreeMap<DeviceId, Role>), Refusal> {
        let Some(office) = &self.office else {
            return Err(Refusal::Forbidden("this device is not enrolled".to_owned()));
        };
        let (mut keys, mut roles) = (Keys::new(), BTreeMap::new());
        for signed in certificates {
            let Ok(certificate) = signed.verify(&office.key) else {
                return Err(Refusal::Unsigned(
                    "a certificate of another office".to_owned(),
                ));
            };
            let Ok(key) = certificate.verifying_key() else {
                continue;
            };
            self.journal.keep_certificate(certificate.device, signed)?;
            keys.insert(certificate.device, key);
            roles.insert(certificate.device, certificate.role);
        }
        for row in batch {
            let device = row.author.device;
            if keys.contains_key(&device) {
                continue;
            }
            let known = self.journal.certificate(device)?;
            if let Some(Ok(certificate)) = known.map(|signed| signed.verify(&office.key))
                && let Ok(key) = certificate.verifying_key()
            {
                keys.insert(device, key);
                roles.insert(device, certificate.role);
            }
        }
        Ok((keys, roles))
    }
}

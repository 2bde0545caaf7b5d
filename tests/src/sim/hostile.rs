//! A device of the same office that means harm: it has a certificate, and tells untruths.

use std::collections::VecDeque;

use chalkwalk_core::document::{Accepted, Author, ChangeRow, Held, Refusal, Table, sign_change};
use chalkwalk_core::job::{
    BlobKind, BlobProgress, Certificate, DeviceId, JobId, PhotoHash, Role, SignedCertificate,
};
use chalkwalk_core::sync::testing::change_chunk;
use chalkwalk_core::sync::{Replica, SessionConfig};
use chalkwalk_sync_server::office::Office;
use ed25519_dalek::{SigningKey, VerifyingKey};
use sha2::{Digest, Sha256};

/// How it means harm in one session.
#[derive(Clone, Copy, Debug)]
enum Way {
    /// Bytes of its frames are altered.
    Noise,
    /// Frames are random bytes.
    Rubbish,
    /// Changes of others with bytes altered, their checksum mended, signed by itself.
    Altered,
    /// Changes of others under its own signature.
    Stolen,
    /// Changes that build on what nobody has.
    Gaps,
    /// Its own numbers twice.
    Forked,
    /// Photo files that are not what their names say.
    FalseFiles,
}

const WAYS: [Way; 7] = [
    Way::Noise,
    Way::Rubbish,
    Way::Altered,
    Way::Stolen,
    Way::Gaps,
    Way::Forked,
    Way::FalseFiles,
];

pub(super) struct Hostile {
    way: Way,
    random: fastrand::Rng,
    key: SigningKey,
    device: DeviceId,
    certificate: SignedCertificate,
    office: VerifyingKey,
    /// What it saw of honest people.
    seen: Vec<(JobId, ChangeRow)>,
    photos: Vec<PhotoHash>,
    own: u64,
}

impl Hostile {
    pub(super) fn new(
        office: &Office,
        seen: Vec<(JobId, ChangeRow)>,
        photos: Vec<PhotoHash>,
        random: &mut fastrand::Rng,
    ) -> Self {
        let key = SigningKey::from_bytes(&[66; 32]);
        let device = DeviceId::from_bytes([66; 16]);
        let certificate = Certificate {
            company: office.company().id,
            device,
            key: key.verifying_key().to_bytes().to_vec(),
            person: "somebody".to_owned(),
            role: Role::Crew,
            device_name: "a phone".to_owned(),
            issued_at: 1,
        };
        let mut random = random.fork();
        Self {
            way: WAYS[random.usize(..WAYS.len())],
            certificate: office.sign(&certificate).unwrap(),
            office: office.public_key(),
            random,
            key,
            device,
            seen,
            photos,
            own: 0,
        }
    }

    pub(super) fn config(&mut self) -> SessionConfig {
        let mut nonce = [0; 32];
        self.random.fill(&mut nonce);
        SessionConfig {
            certificate: self.certificate.clone(),
            key: self.key.clone(),
            office: self.office,
            nonce,
            initiator: true,
            jobs: None,
            thumbnails: true,
            originals: true,
            live: true,
        }
    }

    /// Numbers that stand twice are shown to the office alone. Two phones that each took another
    /// one would not exchange again: an insider who signs can part them, and is found out by it.
    pub(super) fn wants_the_office(&self) -> bool {
        matches!(self.way, Way::Forked)
    }

    /// Alters frames that are about to leave.
    pub(super) fn spoil(&mut self, frames: &mut VecDeque<Vec<u8>>) {
        for frame in frames {
            match self.way {
                Way::Noise if self.random.u8(..4) == 0 && !frame.is_empty() => {
                    let at = self.random.usize(..frame.len());
                    frame[at] ^= self.random.u8(1..);
                }
                Way::Rubbish if self.random.bool() => {
                    frame.resize(self.random.usize(0..3000), 0);
                    self.random.fill(frame);
                }
                _ => {}
            }
        }
    }

    fn author(&self) -> Author {
        Author {
            device: self.device,
            nonce: [9; 8],
        }
    }

    fn signed(&self, mut row: ChangeRow) -> ChangeRow {
        row.signature = Some(sign_change(&self.key, &row.hash));
        row
    }

    /// Bytes altered, and the checksum mended so that it looks like a change.
    fn altered(&mut self, row: &ChangeRow) -> ChangeRow {
        let mut bytes = row.bytes.clone();
        for _ in 0..self.random.usize(1..6) {
            let at = self.random.usize(9..bytes.len().max(10));
            if let Some(byte) = bytes.get_mut(at) {
                *byte ^= self.random.u8(1..);
            }
        }
        let hash: [u8; 32] = Sha256::digest(bytes.get(8..).unwrap_or_default()).into();
        if bytes.len() > 8 {
            bytes[4..8].copy_from_slice(&hash[..4]);
        }
        ChangeRow {
            bytes,
            hash,
            ..row.clone()
        }
    }

    fn own_change(&mut self, number: u64, builds_on: &[[u8; 32]]) -> ChangeRow {
        let words = format!("change {}", self.random.u32(..));
        let bytes = change_chunk(self.author(), number, builds_on, &words);
        let hash = Sha256::digest(bytes.get(8..).unwrap_or_default()).into();
        ChangeRow {
            author: self.author(),
            number,
            hash,
            bytes,
            signature: None,
        }
    }

    fn offers(&mut self, job: JobId) -> Vec<ChangeRow> {
        let of_job: Vec<ChangeRow> = self
            .seen
            .iter()
            .filter(|(of, _)| *of == job)
            .map(|(_, row)| row.clone())
            .collect();
        let Some(any) = of_job
            .get(self.random.usize(..of_job.len().max(1)))
            .cloned()
        else {
            return Vec::new();
        };
        match self.way {
            Way::Altered => {
                let altered = self.altered(&any);
                vec![self.signed(altered)]
            }
            Way::Stolen => vec![self.signed(any)],
            Way::Gaps => {
                let row = self.own_change(1, &[[7; 32]]);
                vec![self.signed(row)]
            }
            Way::Forked => {
                self.own += 1;
                let row = self.own_change(1, &[any.hash]);
                vec![self.signed(row)]
            }
            Way::Noise | Way::Rubbish | Way::FalseFiles => Vec::new(),
        }
    }
}

impl Replica for Hostile {
    fn jobs(&mut self, _: &Certificate) -> Result<Vec<JobId>, Refusal> {
        let mut jobs: Vec<JobId> = self.seen.iter().map(|(job, _)| *job).collect();
        jobs.sort();
        jobs.dedup();
        Ok(jobs)
    }

    fn may_exchange(&mut self, _: &Certificate, _: JobId) -> Result<bool, Refusal> {
        Ok(true)
    }

    fn table(&mut self, job: JobId) -> Result<Table, Refusal> {
        let mut table = Table::new();
        // As if it held one change more of somebody than there are.
        if let Some((_, row)) = self.seen.iter().rev().find(|(of, _)| *of == job) {
            let mut short_hash = [0; 8];
            self.random.fill(&mut short_hash);
            let number = row.number + 1;
            table.insert(row.author, Held { number, short_hash });
            table.insert(
                self.author(),
                Held {
                    number: 1,
                    short_hash,
                },
            );
        }
        Ok(table)
    }

    fn lacking(&mut self, job: JobId, _: &Table, _: usize) -> Result<Vec<ChangeRow>, Refusal> {
        Ok(self.offers(job))
    }

    fn certificates(&mut self, _: &[DeviceId]) -> Result<Vec<SignedCertificate>, Refusal> {
        Ok(vec![self.certificate.clone()])
    }

    fn accept(
        &mut self,
        _: &Certificate,
        _: JobId,
        batch: Vec<ChangeRow>,
        _: &[SignedCertificate],
    ) -> Result<Accepted, Refusal> {
        Ok(Accepted {
            held: Table::new(),
            new_changes: batch.len(),
        })
    }

    fn wanted(&mut self, _: JobId, _: BlobKind) -> Result<Vec<(PhotoHash, u64)>, Refusal> {
        Ok(self.photos.iter().map(|hash| (*hash, 0)).collect())
    }

    fn blob_size(&mut self, _: BlobKind, _: PhotoHash) -> Result<Option<u64>, Refusal> {
        Ok(matches!(self.way, Way::FalseFiles).then(|| self.random.u64(1..4000)))
    }

    fn read_blob(
        &mut self,
        _: BlobKind,
        _: PhotoHash,
        _: u64,
        max: usize,
    ) -> Result<Vec<u8>, Refusal> {
        let mut bytes = vec![0; max.min(4000)];
        self.random.fill(&mut bytes);
        Ok(bytes)
    }

    fn write_blob(
        &mut self,
        _: JobId,
        _: BlobKind,
        _: PhotoHash,
        _: u64,
        offset: u64,
        bytes: &[u8],
    ) -> Result<BlobProgress, Refusal> {
        Ok(BlobProgress {
            held: offset + bytes.len() as u64,
            complete: true,
        })
    }

    fn note_peer_holds(&mut self, _: DeviceId, _: JobId, _: &Table) -> Result<(), Refusal> {
        Ok(())
    }

    fn note_peer_holds_blob(
        &mut self,
        _: DeviceId,
        _: BlobKind,
        _: PhotoHash,
    ) -> Result<(), Refusal> {
        Ok(())
    }
}

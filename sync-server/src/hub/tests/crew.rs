//! An office in memory, its devices, and what they record.

use std::sync::Arc;

use chalkwalk_core::document::{Action, Author, ChangeRow, Document};
use chalkwalk_core::env::{EnvIds, SeededEnv};
use chalkwalk_core::job::{
    Capture, Certificate, CompanyId, CrewMember, DeviceId, Finding, JobId, Photo, PhotoHash,
    PictureFormat, Property, Role, SignedCapture, SignedCertificate,
};
use ed25519_dalek::SigningKey;

use crate::hub::{Hub, HubReplica};
use crate::office::Office;
use crate::store::{Blobs, Company, MemoryBlobs, MemoryRecords, Records, Staging};

pub(super) struct Bench {
    pub(super) hub: Hub,
    pub(super) records: Arc<MemoryRecords>,
    pub(super) blobs: Arc<MemoryBlobs>,
    pub(super) office: Office,
    runtime: tokio::runtime::Runtime,
    _folder: tempfile::TempDir,
}

impl Bench {
    pub(super) fn new() -> Self {
        Self::beside(Arc::default(), Arc::default())
    }

    /// A node of its own over storage that it may share.
    pub(super) fn beside(records: Arc<MemoryRecords>, blobs: Arc<MemoryBlobs>) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let office = office(1);
        let hub = Hub::new(
            Arc::clone(&records) as Arc<dyn Records>,
            Arc::clone(&blobs) as Arc<dyn Blobs>,
            Staging::open(&folder.path().join("staging")).unwrap(),
            office.clone(),
        );
        Self {
            hub,
            records,
            blobs,
            office,
            runtime: tokio::runtime::Runtime::new().unwrap(),
            _folder: folder,
        }
    }

    pub(super) fn replica(&self) -> HubReplica {
        self.hub.replica(self.runtime.handle().clone())
    }

    pub(super) fn run<F: Future>(&self, work: F) -> F::Output {
        self.runtime.block_on(work)
    }
}

pub(super) fn office(n: u8) -> Office {
    let key = SigningKey::from_bytes(&[n; 32]);
    let company = Company {
        id: CompanyId::from_bytes([n; 16]),
        name: format!("Office {n}"),
        office_key: key.verifying_key().to_bytes(),
        founded_at: 1,
    };
    Office::with_keys(company, key, SigningKey::from_bytes(&[n + 100; 32])).unwrap()
}

/// A device with its copy of one job.
pub(super) struct Phone {
    pub(super) certificate: Certificate,
    pub(super) signed: SignedCertificate,
    pub(super) key: SigningKey,
    pub(super) author: Author,
    pub(super) document: Document,
    env: SeededEnv,
}

impl Phone {
    pub(super) fn new(n: u8, office: &Office, role: Role) -> Self {
        let key = SigningKey::from_bytes(&[n + 10; 32]);
        let device = DeviceId::from_bytes([n; 16]);
        let certificate = Certificate {
            company: office.company().id,
            device,
            key: key.verifying_key().to_bytes().to_vec(),
            person: format!("person {n}"),
            role,
            device_name: format!("phone {n}"),
            issued_at: 2,
        };
        let signed = office.sign(&certificate).unwrap();
        let nonce = [n; 8];
        Self {
            certificate,
            signed,
            key,
            author: Author { device, nonce },
            document: Document::new().unwrap(),
            env: SeededEnv::new(u64::from(n), 1_700_000_000_000, 1_000),
        }
    }

    /// Joins and begins the job: two changes.
    pub(super) fn begin(&mut self, job: JobId) -> Vec<ChangeRow> {
        let member = CrewMember {
            person: self.certificate.person.clone(),
            role: self.certificate.role,
            device_name: self.certificate.device_name.clone(),
            key: self.certificate.key.clone(),
        };
        let joined = self
            .document
            .join(self.author, &self.key, &member, 5)
            .unwrap();
        let property = Property {
            street: Some("12 Alder Way".into()),
            date_of_loss: chrono::NaiveDate::from_ymd_opt(2026, 5, 2),
            ..Property::default()
        };
        let begun = self.act(&Action::Begin { job, property });
        vec![joined.row, begun]
    }

    pub(super) fn act(&mut self, action: &Action) -> ChangeRow {
        let applied = self
            .document
            .apply(self.author, &self.key, action, 6)
            .unwrap();
        applied.unwrap().row
    }

    pub(super) fn finding(&mut self, text: &str) -> ChangeRow {
        let id = self.env.record_id();
        let finding = Finding {
            text: Some(text.into()),
            ..Finding::default()
        };
        self.act(&Action::Add {
            id,
            record: finding.into(),
            hits: None,
            shows: Vec::new(),
        })
    }

    /// Records a photo of this file.
    pub(super) fn photo(&mut self, file: &[u8]) -> ChangeRow {
        let capture = Capture {
            version: Capture::VERSION,
            hash: PhotoHash::of(file),
            sha256: vec![0; 32],
            size: file.len() as u64,
            format: PictureFormat::Jpeg,
            width: 4,
            height: 3,
            orientation: 1,
            file_name: "one.jpg".into(),
            local_time: None,
            utc_offset_min: None,
            place: None,
            bearing: None,
            bearing_from: None,
            camera: None,
            usability: None,
            device: self.author.device,
            taken_in_at: 7,
        };
        let signed = SignedCapture::sign(&capture, &self.key).unwrap();
        let photo = Photo {
            capture: Some(signed.to_bytes().unwrap().into()),
            ..Photo::default()
        };
        let id = self.env.record_id();
        self.act(&Action::Add {
            id,
            record: photo.into(),
            hits: None,
            shows: Vec::new(),
        })
    }
}

pub(super) fn job(n: u8) -> JobId {
    JobId::from_bytes([n; 16])
}

//! An office that signs certificates, its devices, and change chunks without operations.

use ed25519_dalek::{SigningKey, VerifyingKey};
use sha2::{Digest, Sha256};

use crate::document::Author;
use crate::job::{Certificate, CompanyId, DeviceId, PhotoHash, Role, SealError, SignedCertificate};
use crate::sync::SessionConfig;

/// An office and its key.
#[derive(Clone)]
pub struct Office {
    key: SigningKey,
    company: CompanyId,
}

/// A device of an office.
#[derive(Clone)]
pub struct TestDevice {
    /// Its id.
    pub id: DeviceId,
    /// Its key.
    pub key: SigningKey,
    /// Its certificate.
    pub certificate: SignedCertificate,
    /// The key of its office.
    pub office: VerifyingKey,
}

impl Office {
    /// The office with this number; the same number gives the same office.
    pub fn new(number: u8) -> Self {
        Self {
            key: SigningKey::from_bytes(&[number; 32]),
            company: CompanyId::from_bytes([number; 16]),
        }
    }

    /// The same office key for another company.
    pub fn with_company(&self, number: u8) -> Self {
        Self {
            company: CompanyId::from_bytes([number; 16]),
            ..self.clone()
        }
    }

    /// The device with this number; the same number gives the same device.
    pub fn device(&self, number: u8) -> Result<TestDevice, SealError> {
        let mut seed = [number; 32];
        seed[0] = 0xd0;
        let key = SigningKey::from_bytes(&seed);
        let id = DeviceId::from_bytes([number; 16]);
        let certificate = Certificate {
            company: self.company,
            device: id,
            key: key.verifying_key().to_bytes().to_vec(),
            person: format!("person {number}"),
            role: Role::Crew,
            device_name: format!("phone {number}"),
            issued_at: 1_700_000_000_000,
        };
        let certificate = SignedCertificate::sign(&certificate, &self.key)?;
        Ok(TestDevice {
            id,
            key,
            certificate,
            office: self.key.verifying_key(),
        })
    }
}

impl TestDevice {
    /// A session's configuration: all jobs, all files, one shot.
    pub fn config(&self, initiator: bool, nonce: u64) -> SessionConfig {
        let mut bytes = [0; 32];
        bytes[..8].copy_from_slice(&nonce.to_be_bytes());
        bytes[8] = u8::from(initiator);
        SessionConfig {
            certificate: self.certificate.clone(),
            key: self.key.clone(),
            office: self.office,
            nonce: bytes,
            initiator,
            jobs: None,
            thumbnails: true,
            originals: true,
            live: false,
        }
    }
}

/// A whole change chunk without operations, in the published layout; the words travel as its
/// message.
pub fn change_chunk(author: Author, number: u64, builds_on: &[[u8; 32]], words: &str) -> Vec<u8> {
    let mut data = Vec::new();
    put(&mut data, builds_on.len() as u64);
    builds_on
        .iter()
        .for_each(|hash| data.extend_from_slice(hash));
    put(&mut data, 24);
    data.extend_from_slice(&author.to_bytes());
    put(&mut data, number);
    put(&mut data, 1); // first operation
    put(&mut data, 0); // time
    put(&mut data, words.len() as u64);
    data.extend_from_slice(words.as_bytes());
    put(&mut data, 0); // other actors
    put(&mut data, 0); // columns
    let mut hashed = vec![1];
    put(&mut hashed, data.len() as u64);
    hashed.extend_from_slice(&data);
    let hash = Sha256::digest(&hashed);
    let mut chunk = vec![0x85, 0x6f, 0x4a, 0x83];
    chunk.extend_from_slice(&hash[..4]);
    chunk.extend_from_slice(&hashed);
    chunk
}

fn put(out: &mut Vec<u8>, mut value: u64) {
    while value >= 0x80 {
        out.push((value & 0x7f) as u8 | 0x80);
        value >>= 7;
    }
    out.push(value as u8);
}

/// Words of a change that record a photo, as [`super::MemoryReplica`] reads them.
pub fn photo_words(hash: PhotoHash) -> String {
    format!("photo:{hash}")
}

//! The device, its key, and the office that vouches for it.

use ed25519_dalek::{SigningKey, VerifyingKey};
use serde::{Deserialize, Serialize};

use super::NotebookError;
use crate::env::{Env, EnvIds};
use crate::job::{CompanyId, DeviceId, Role, SignedCertificate};
use crate::journal::{Journal, JournalError};

const SETTING_IDENTITY: &str = "identity";
const SETTING_OFFICE: &str = "office";

/// Who a new notebook belongs to.
#[derive(Clone, Debug)]
pub struct NewIdentity {
    /// The person.
    pub person: String,
    /// The device's name, such as "rep phone".
    pub device_name: String,
    /// What the person does.
    pub role: Role,
}

/// The device and its person. The key never leaves the device.
#[derive(Clone)]
pub struct Identity {
    /// The device.
    pub device: DeviceId,
    /// The device's own key.
    pub key: SigningKey,
    /// The person.
    pub person: String,
    /// The device's name.
    pub device_name: String,
    /// What the person does.
    pub role: Role,
}

impl std::fmt::Debug for Identity {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Identity")
            .field("device", &self.device)
            .finish_non_exhaustive()
    }
}

#[derive(Serialize, Deserialize)]
struct StoredIdentity {
    device: DeviceId,
    #[serde(with = "serde_bytes")]
    key: Vec<u8>,
    person: String,
    device_name: String,
    role: Role,
}

impl Identity {
    pub(super) fn fresh(who: NewIdentity, env: &mut dyn Env) -> Self {
        let (now, random) = env.time_and_random();
        let mut secret = [0; 32];
        env.random(&mut secret);
        Self {
            device: DeviceId::new(now, random),
            key: SigningKey::from_bytes(&secret),
            person: who.person,
            device_name: who.device_name,
            role: who.role,
        }
    }

    pub(super) fn read(journal: &Journal) -> Result<Option<Self>, JournalError> {
        let Some(bytes) = journal.setting(SETTING_IDENTITY)? else {
            return Ok(None);
        };
        let stored: StoredIdentity = decode(&bytes)?;
        let secret: [u8; 32] = stored
            .key
            .as_slice()
            .try_into()
            .map_err(|_| JournalError::Value("the device's key".to_owned()))?;
        Ok(Some(Self {
            device: stored.device,
            key: SigningKey::from_bytes(&secret),
            person: stored.person,
            device_name: stored.device_name,
            role: stored.role,
        }))
    }

    pub(super) fn write(&self, journal: &Journal) -> Result<(), JournalError> {
        let stored = StoredIdentity {
            device: self.device,
            key: self.key.to_bytes().to_vec(),
            person: self.person.clone(),
            device_name: self.device_name.clone(),
            role: self.role,
        };
        journal.set_setting(SETTING_IDENTITY, &encode(&stored)?)
    }
}

/// What the office answers to a device that enrols.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Enrolment {
    /// The office.
    pub company: CompanyId,
    /// The office's name.
    pub company_name: String,
    /// The office's Ed25519 public key.
    #[serde(with = "serde_bytes")]
    pub office_key: Vec<u8>,
    /// The device's certificate.
    pub certificate: SignedCertificate,
    /// Where the office is reached.
    pub address: String,
}

/// The office that vouches for this device, and whose other devices it knows.
#[derive(Clone, Debug)]
pub struct OfficeTrust {
    /// The office.
    pub company: CompanyId,
    /// Its name.
    pub company_name: String,
    /// Its key, pinned at enrolment.
    pub key: VerifyingKey,
    /// This device's certificate.
    pub certificate: SignedCertificate,
    /// Where it is reached.
    pub address: String,
}

impl OfficeTrust {
    /// Accepts an answer only where it is about this device and signed with the key it names.
    pub(super) fn check(enrolment: Enrolment, own: &Identity) -> Result<Self, NotebookError> {
        let refuse = |why: &str| NotebookError::Enrolment(why.to_owned());
        let key: [u8; 32] = enrolment
            .office_key
            .as_slice()
            .try_into()
            .map_err(|_| refuse("its key is no key"))?;
        let key = VerifyingKey::from_bytes(&key).map_err(|_| refuse("its key is no key"))?;
        let certificate = enrolment
            .certificate
            .verify(&key)
            .map_err(|error| refuse(&error.to_string()))?;
        let about_us = certificate.device == own.device
            && certificate.key == own.key.verifying_key().to_bytes();
        if !about_us || certificate.company != enrolment.company {
            return Err(refuse("the certificate is of another device or office"));
        }
        Ok(Self {
            company: enrolment.company,
            company_name: enrolment.company_name,
            key,
            certificate: enrolment.certificate,
            address: enrolment.address,
        })
    }

    pub(super) fn read(journal: &Journal) -> Result<Option<Self>, NotebookError> {
        let Some(bytes) = journal.setting(SETTING_OFFICE)? else {
            return Ok(None);
        };
        let own = Identity::read(journal)?
            .ok_or_else(|| JournalError::Value("the device's identity".to_owned()))?;
        Ok(Some(Self::check(decode(&bytes)?, &own)?))
    }

    pub(super) fn write(&self, journal: &Journal) -> Result<(), JournalError> {
        let stored = Enrolment {
            company: self.company,
            company_name: self.company_name.clone(),
            office_key: self.key.to_bytes().to_vec(),
            certificate: self.certificate.clone(),
            address: self.address.clone(),
        };
        journal.set_setting(SETTING_OFFICE, &encode(&stored)?)
    }
}

fn encode<T: Serialize>(value: &T) -> Result<Vec<u8>, JournalError> {
    rmp_serde::to_vec_named(value).map_err(|error| JournalError::Value(error.to_string()))
}

fn decode<T: serde::de::DeserializeOwned>(bytes: &[u8]) -> Result<T, JournalError> {
    rmp_serde::from_slice(bytes).map_err(|error| JournalError::Value(error.to_string()))
}

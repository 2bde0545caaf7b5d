//! The device, its key, and the office that vouches for it.

use chalkwalk_core::env::{Env, EnvIds};
use chalkwalk_core::job::{CompanyId, DeviceId, Role, SignedCertificate, hex, unhex};
use ed25519_dalek::{SigningKey, VerifyingKey};
use serde::{Deserialize, Serialize};

use crate::env::BrowserEnv;

/// The device and its person, as the page keeps it. The key never leaves the device.
#[derive(Clone, Serialize, Deserialize)]
pub struct Identity {
    /// The device.
    pub device: DeviceId,
    /// The device's secret key, 64 hexadecimal digits.
    pub key: String,
    /// The device's public key, 64 hexadecimal digits.
    pub public: String,
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

impl Identity {
    /// A fresh device with a key of its own.
    pub fn fresh(person: &str, device_name: &str, role: Role) -> Self {
        let mut env = BrowserEnv;
        let (now, random) = env.time_and_random();
        let mut secret = [0; 32];
        env.random(&mut secret);
        let key = SigningKey::from_bytes(&secret);
        Self {
            device: DeviceId::new(now, random),
            key: hex(&secret),
            public: hex(&key.verifying_key().to_bytes()),
            person: person.trim().to_owned(),
            device_name: device_name.trim().to_owned(),
            role,
        }
    }

    /// The key that signs.
    pub(crate) fn signing_key(&self) -> Result<SigningKey, String> {
        let secret = bytes32(&self.key).ok_or("the device's key cannot be read")?;
        Ok(SigningKey::from_bytes(&secret))
    }
}

/// What the office answered at enrolment (`POST /enrol`), as the page keeps it.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Enrolment {
    /// Body of the certificate, hexadecimal.
    pub certificate: String,
    /// The office's signature over it, hexadecimal.
    pub signature: String,
    /// The office's public key, 64 hexadecimal digits.
    pub office_key: String,
    /// The company.
    pub company: String,
    /// The company's name.
    pub company_name: String,
}

/// The office that vouches for this device.
#[derive(Clone, Debug)]
pub(crate) struct Office {
    pub(crate) company: CompanyId,
    pub(crate) company_name: String,
    pub(crate) key: VerifyingKey,
    pub(crate) certificate: SignedCertificate,
}

impl Office {
    /// Accepts an answer only where it is about this device and signed with the key it names, and
    /// with the key of the pin where one is known.
    pub(crate) fn check(
        answer: &Enrolment,
        own: &Identity,
        pin: Option<&str>,
    ) -> Result<Self, String> {
        let no = |why: &str| format!("the office's answer cannot be trusted: {why}");
        let key = bytes32(&answer.office_key)
            .and_then(|key| VerifyingKey::from_bytes(&key).ok())
            .ok_or_else(|| no("its key is no key"))?;
        if pin.is_some_and(|pin| pin != pin_of(&key)) {
            return Err(no(
                "its key is not the one of the picture; ask the office for a new code",
            ));
        }
        let signed = SignedCertificate {
            body: unhex(&answer.certificate).ok_or_else(|| no("no certificate"))?,
            signature: unhex(&answer.signature).ok_or_else(|| no("no signature"))?,
        };
        let certificate = signed
            .verify(&key)
            .map_err(|error| no(&error.to_string()))?;
        let company: CompanyId = answer.company.parse().map_err(|_| no("no company"))?;
        let about_us = certificate.device == own.device
            && certificate.key == own.signing_key()?.verifying_key().to_bytes()
            && certificate.role == own.role;
        if !about_us || certificate.company != company {
            return Err(no("the certificate is of another device or office"));
        }
        Ok(Self {
            company,
            company_name: answer.company_name.clone(),
            key,
            certificate: signed,
        })
    }
}

/// The pin of an office's key: how the office's picture names it.
fn pin_of(key: &VerifyingKey) -> String {
    hex(&blake3::derive_key("chalkwalk office pin v1", &key.to_bytes())[..16])
}

fn bytes32(text: &str) -> Option<[u8; 32]> {
    unhex(text)?.try_into().ok()
}

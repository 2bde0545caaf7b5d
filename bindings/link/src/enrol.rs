//! What a device and an office say to each other when a device is enrolled: the bodies of
//! `POST /enrol` and of its answer, as JSON.

use chalkwalk_core::job::{DeviceId, Role, hex};
use ed25519_dalek::VerifyingKey;
use serde::{Deserialize, Serialize};

/// What a device sends to be enrolled.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct EnrolRequest {
    /// The code as typed.
    pub code: String,
    /// The device's id.
    pub device: DeviceId,
    /// The device's public key, 64 hexadecimal digits.
    pub key: String,
    /// The person's name.
    pub person: String,
    /// The device's name.
    pub device_name: String,
    /// The role asked for: it must be the one the code was made for.
    pub role: Role,
}

/// What the office answers.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct EnrolAnswer {
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

/// Thirty-two hexadecimal digits that stand for the office's key.
pub fn pin_of(key: &VerifyingKey) -> String {
    let hash = blake3::derive_key("chalkwalk office pin v1", &key.to_bytes());
    hex(&hash[..16])
}

//! Who a device belongs to, as the office vouches for it.

use ed25519_dalek::{SigningKey, VerifyingKey};
use serde::{Deserialize, Serialize};

use super::capture::{check_seal, seal};
use super::{CompanyId, DeviceId, Millis, Role, SealError};

const CERTIFICATE_CONTEXT: &[u8] = b"chalkwalk certificate v1\0";

/// What the office says of a device.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Certificate {
    /// The office.
    pub company: CompanyId,
    /// The device.
    pub device: DeviceId,
    /// The device's Ed25519 public key.
    #[serde(with = "serde_bytes")]
    pub key: Vec<u8>,
    /// The person.
    pub person: String,
    /// What the person may do.
    pub role: Role,
    /// The device's name.
    pub device_name: String,
    /// When it was signed.
    pub issued_at: Millis,
}

impl Certificate {
    /// The device's key.
    pub fn verifying_key(&self) -> Result<VerifyingKey, SealError> {
        let bytes: [u8; 32] = self
            .key
            .as_slice()
            .try_into()
            .map_err(|_| SealError::Unreadable)?;
        VerifyingKey::from_bytes(&bytes).map_err(|_| SealError::Unreadable)
    }
}

/// The bytes of a certificate and the office's signature over them.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SignedCertificate {
    /// An encoded [`Certificate`].
    #[serde(with = "serde_bytes")]
    pub body: Vec<u8>,
    /// Ed25519 signature by the office.
    #[serde(with = "serde_bytes")]
    pub signature: Vec<u8>,
}

impl SignedCertificate {
    /// Signs a certificate with the office's key.
    pub fn sign(certificate: &Certificate, office: &SigningKey) -> Result<Self, SealError> {
        let body = rmp_serde::to_vec_named(certificate).map_err(|_| SealError::Unreadable)?;
        let signature = seal(office, CERTIFICATE_CONTEXT, &body);
        Ok(Self { body, signature })
    }

    /// The certificate, after checking that the office with this key signed it.
    pub fn verify(&self, office: &VerifyingKey) -> Result<Certificate, SealError> {
        check_seal(office, CERTIFICATE_CONTEXT, &self.body, &self.signature)?;
        let certificate: Certificate =
            rmp_serde::from_slice(&self.body).map_err(|_| SealError::Unreadable)?;
        certificate.verifying_key()?;
        Ok(certificate)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_certificate_counts_only_with_the_office_key() {
        let office = SigningKey::from_bytes(&[1; 32]);
        let device = SigningKey::from_bytes(&[2; 32]);
        let certificate = Certificate {
            company: CompanyId::from_bytes([3; 16]),
            device: DeviceId::from_bytes([4; 16]),
            key: device.verifying_key().to_bytes().to_vec(),
            person: "Ada".into(),
            role: Role::Crew,
            device_name: "rep phone".into(),
            issued_at: 5,
        };
        let signed = SignedCertificate::sign(&certificate, &office).unwrap();
        assert_eq!(signed.verify(&office.verifying_key()), Ok(certificate));
        assert_eq!(
            signed.verify(&device.verifying_key()),
            Err(SealError::Mismatch)
        );
        let mut altered = signed.clone();
        altered.body[20] ^= 1;
        assert_eq!(
            altered.verify(&office.verifying_key()),
            Err(SealError::Mismatch)
        );
    }
}

//! Who may sign the changes of a batch.

use std::collections::{BTreeMap, BTreeSet};

use chalkwalk_core::document::Refusal;
use chalkwalk_core::job::{Certificate, DeviceId, Role, SignedCertificate};
use ed25519_dalek::VerifyingKey;

use super::{Hub, may_record, shut_out};
use crate::limits;
use crate::office::Office;
use crate::store::Device;

/// The keys that may sign changes, and the devices that were not known before.
pub(super) struct Signers {
    pub(super) keys: BTreeMap<DeviceId, VerifyingKey>,
    pub(super) roles: BTreeMap<DeviceId, Role>,
    pub(super) new: Vec<Device>,
}

/// Certificates that were found to be the office's, the one used last at the end: its signature is
/// checked once a session, and not with every change.
#[derive(Debug, Default)]
pub(super) struct Proven(Vec<(SignedCertificate, Certificate, VerifyingKey)>);

impl Proven {
    /// The certificate and its key; `None` where the office did not sign it.
    pub(super) fn of(
        &mut self,
        office: &Office,
        signed: &SignedCertificate,
    ) -> Option<(&Certificate, VerifyingKey)> {
        if let Some(at) = self.0.iter().position(|(known, ..)| known == signed) {
            self.0[at..].rotate_left(1);
        } else {
            let certificate = office.verify(signed).ok()?;
            let key = certificate.verifying_key().ok()?;
            if self.0.len() == limits::PROVEN_CERTIFICATES {
                self.0.remove(0);
            }
            self.0.push((signed.clone(), certificate, key));
        }
        let (_, certificate, key) = self.0.last()?;
        Some((certificate, *key))
    }

    /// How many are kept.
    #[cfg(test)]
    pub(super) fn len(&self) -> usize {
        self.0.len()
    }
}

impl Hub {
    /// Finds each author's key: as known here, else from a certificate of this office. `peer` is
    /// what is known of the peer itself, read a moment ago.
    pub(super) async fn signers(
        &self,
        authors: &BTreeSet<DeviceId>,
        certificates: &[SignedCertificate],
        peer: Option<Device>,
        proven: &mut Proven,
    ) -> Result<Signers, Refusal> {
        let mut signers = Signers {
            keys: BTreeMap::new(),
            roles: BTreeMap::new(),
            new: Vec::new(),
        };
        let peer = &peer;
        for author in authors {
            let known = match peer {
                Some(peer) if peer.id == *author => Some(peer.clone()),
                _ => self.records().device(*author).await?,
            };
            let (signed, new) = match known {
                Some(device) if device.revoked_at.is_some() => return Err(shut_out(*author)),
                Some(device) => (device.certificate, false),
                None => {
                    let shown = certificates.iter().find(|signed| {
                        let of = proven.of(self.office(), signed);
                        of.is_some_and(|(certificate, _)| certificate.device == *author)
                    });
                    // The gate says that the certificate is missing.
                    let Some(signed) = shown else { continue };
                    (signed.clone(), true)
                }
            };
            let Some((certificate, key)) = proven.of(self.office(), &signed) else {
                let what = format!("the certificate of device {author}");
                return Err(Refusal::Unsigned(what));
            };
            if !may_record(certificate.role) {
                return Err(Refusal::Forbidden(format!(
                    "device {author} may not record"
                )));
            }
            signers.keys.insert(*author, key);
            signers.roles.insert(*author, certificate.role);
            if new {
                signers.new.push(Device {
                    id: *author,
                    key: key.to_bytes(),
                    certificate: signed,
                    known_since: self.now(),
                    revoked_at: None,
                });
            }
        }
        Ok(signers)
    }
}

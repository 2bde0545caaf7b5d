//! The seal over a whole bag: one signature over the manifest of its tag files, which names the
//! manifests of all the others. Nothing can be taken out, added or put back to an earlier state
//! without it.
//!
//! `seal.txt` is signed as it stands, so that openssl checks it, and its last line is one that
//! `sha256sum --check` reads; the lines before begin with `#`, which both pass over.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use ed25519_dalek::{Signature, Signer, SigningKey, VerifyingKey};

use super::bag::Sums;
use crate::job::{Certificate, DeviceId, SignedCertificate, hex, unhex};
use crate::sorted::Sorted;

pub(super) const SEAL: &str = "seal.txt";
pub(super) const SEAL_SIGNATURE: &str = "seal.sig";
pub(super) const SEAL_KEY: &str = "seal-key.pem";
/// The first line. No other text that a chalkwalk key signs begins like it.
const FIRST: &str = "# chalkwalk packet seal v1";
const TAG_MANIFEST: &str = "tagmanifest-sha256.txt";
/// What stands before the 32 bytes of an Ed25519 key in a SubjectPublicKeyInfo (RFC 8410).
const KEY_INFO: &[u8] = &[
    0x30, 0x2a, 0x30, 0x05, 0x06, 0x03, 0x2b, 0x65, 0x70, 0x03, 0x21, 0x00,
];

/// Whose key seals a bag.
#[derive(Clone, Copy)]
pub enum Sealer<'a> {
    /// The office's own.
    Office(&'a SigningKey),
    /// A device's.
    Device {
        /// Its key.
        key: &'a SigningKey,
        /// The device.
        device: DeviceId,
        /// What the office says of it; `None` where no office knows it yet.
        certificate: Option<&'a SignedCertificate>,
    },
}

/// How many changes the document of an archive holds, and the BLAKE3 of their sorted hashes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Held {
    pub(super) changes: usize,
    pub(super) sum: [u8; 32],
}

impl Held {
    /// Of the hashes of changes, hexadecimal.
    pub(super) fn of<'a>(hashes: impl IntoIterator<Item = &'a str>) -> Self {
        let mut hashes: Vec<&str> = hashes.into_iter().collect();
        hashes.order();
        let mut hasher = blake3::Hasher::new();
        for hash in &hashes {
            hasher.update(hash.as_bytes());
        }
        Self {
            changes: hashes.len(),
            sum: *hasher.finalize().as_bytes(),
        }
    }
}

/// The three files of a seal.
pub(super) struct SealFiles {
    pub(super) text: String,
    pub(super) signature: Vec<u8>,
    pub(super) key: String,
}

/// Seals a manifest of tag files.
pub(super) fn seal(sealer: Sealer<'_>, manifest: &str, held: Option<Held>) -> SealFiles {
    let (key, who, certificate) = match sealer {
        Sealer::Office(key) => (key, "the office".to_owned(), None),
        Sealer::Device {
            key,
            device,
            certificate,
        } => (key, format!("device {device}"), certificate),
    };
    let public = key.verifying_key();
    let mut text = format!(
        "{FIRST}\n# sealed by: {who}\n# key: {}\n",
        hex(public.as_bytes())
    );
    if let Some(certificate) = certificate {
        text += &format!("# certificate: {}\n", hex(&certificate.body));
        text += &format!("# certificate signature: {}\n", hex(&certificate.signature));
    }
    if let Some(held) = held {
        text += &format!(
            "# changes of the document: {} {}\n",
            held.changes,
            hex(&held.sum)
        );
    }
    text += &format!(
        "{}  {TAG_MANIFEST}\n",
        hex(&Sums::of(manifest.as_bytes()).sha256)
    );
    SealFiles {
        signature: key.sign(text.as_bytes()).to_bytes().to_vec(),
        key: pem(&public),
        text,
    }
}

/// A public key as openssl reads it.
pub(super) fn pem(key: &VerifyingKey) -> String {
    let der = [KEY_INFO, key.as_bytes()].concat();
    format!(
        "-----BEGIN PUBLIC KEY-----\n{}\n-----END PUBLIC KEY-----\n",
        STANDARD.encode(der)
    )
}

/// A seal that was read; its signature is good.
pub(super) struct ReadSeal {
    pub(super) key: VerifyingKey,
    pub(super) certificate: Option<SignedCertificate>,
    pub(super) held: Option<Held>,
    pub(super) manifest: [u8; 32],
}

/// Reads a seal and checks its signature with the key that it names.
///
/// # Errors
/// What is wrong with it.
pub(super) fn read(text: &str, signature: &[u8]) -> Result<ReadSeal, &'static str> {
    const BROKEN: &str = "is not a seal";
    let mut lines = text.lines();
    if lines.next() != Some(FIRST) {
        return Err(BROKEN);
    }
    let said = |name: &str| {
        let begin = format!("# {name}: ");
        text.lines()
            .find_map(|line| line.strip_prefix(begin.as_str()))
    };
    let bytes32 = |text: &str| -> Option<[u8; 32]> { unhex(text)?.try_into().ok() };
    let key = said("key").and_then(bytes32).ok_or(BROKEN)?;
    let key = VerifyingKey::from_bytes(&key).map_err(|_| BROKEN)?;
    let signature = Signature::from_slice(signature)
        .map_err(|_| "is not signed: seal.sig holds no signature")?;
    key.verify_strict(text.as_bytes(), &signature)
        .map_err(|_| "was altered: seal.sig does not sign it with the key it names")?;
    let certificate = match (said("certificate"), said("certificate signature")) {
        (Some(body), Some(signature)) => Some(SignedCertificate {
            body: unhex(body).ok_or(BROKEN)?,
            signature: unhex(signature).ok_or(BROKEN)?,
        }),
        _ => None,
    };
    let held = said("changes of the document").and_then(|words| {
        let (changes, sum) = words.split_once(' ')?;
        Some(Held {
            changes: changes.parse().ok()?,
            sum: bytes32(sum)?,
        })
    });
    let manifest = text.lines().find_map(|line| {
        let (sum, name) = line.split_once("  ")?;
        (name == TAG_MANIFEST).then(|| bytes32(sum)).flatten()
    });
    Ok(ReadSeal {
        key,
        certificate,
        held,
        manifest: manifest.ok_or(BROKEN)?,
    })
}

/// Whether the office vouches for the key of a seal.
///
/// # Errors
/// Why it does not.
pub(super) fn vouched(seal: &ReadSeal, office: &VerifyingKey) -> Result<(), String> {
    if seal.key == *office {
        return Ok(());
    }
    let Some(signed) = &seal.certificate else {
        return Err("was sealed by a device that the office does not vouch for".to_owned());
    };
    let certificate: Certificate = signed.verify(office).map_err(|error| {
        format!("the office does not vouch for the device that sealed it: {error}")
    })?;
    match certificate.verifying_key() {
        Ok(key) if key == seal.key => Ok(()),
        _ => Err("was sealed with another key than its certificate names".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // RFC 8410, section 10.1: an Ed25519 public key and its PEM.
    #[test]
    fn a_key_is_written_as_the_standard_shows() {
        let key =
            unhex("19bf44096984cdfe8541bac167dc3b96c85086aa30b6b6cb0c5c38ad703166e1").unwrap();
        let key = VerifyingKey::from_bytes(&key.try_into().unwrap()).unwrap();
        assert_eq!(
            pem(&key),
            "-----BEGIN PUBLIC KEY-----\n\
             MCowBQYDK2VwAyEAGb9ECWmEzf6FQbrBZ9w7lshQhqowtrbLDFw4rXAxZuE=\n\
             -----END PUBLIC KEY-----\n"
        );
    }
}

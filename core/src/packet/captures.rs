//! Signed captures: what vouches for each photo without the document.

use serde::{Deserialize, Serialize};

use super::custody::CertificateFile;
use super::when;
use crate::job::{Capture, SignedCapture, hex};

/// One file of `data/captures`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct CaptureFile {
    /// The original in the bag; `None` where it was not there when the packet was made.
    pub(super) photo: Option<String>,
    /// The record of the photo.
    pub(super) record: String,
    /// What the device signed, for reading; the signed bytes count.
    pub(super) capture: ReadableCapture,
    /// The signed bytes, hexadecimal: MessagePack.
    pub(super) body: String,
    /// The device's Ed25519 signature, hexadecimal.
    pub(super) signature: String,
    /// The office's certificate of that device; `None` where it was not known.
    pub(super) certificate: Option<CertificateFile>,
}

/// A capture in words.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ReadableCapture {
    pub(super) blake3: String,
    pub(super) sha256: String,
    pub(super) bytes: u64,
    pub(super) pixels: String,
    pub(super) taken: String,
    pub(super) place: Option<String>,
    pub(super) camera: Option<String>,
    pub(super) file_name: String,
    pub(super) device: String,
    pub(super) taken_in_at: String,
}

impl ReadableCapture {
    pub(super) fn of(capture: &Capture) -> Self {
        Self {
            blake3: capture.hash.to_string(),
            sha256: hex(&capture.sha256),
            bytes: capture.size,
            pixels: format!("{} x {}", capture.width, capture.height),
            taken: when::taken(capture),
            place: capture
                .place
                .map(|place| format!("{:.6}, {:.6}", place.latitude, place.longitude)),
            camera: capture.camera.clone(),
            file_name: capture.file_name.clone(),
            device: capture.device.to_string(),
            taken_in_at: when::utc(capture.taken_in_at),
        }
    }
}

impl CaptureFile {
    pub(super) fn new(
        photo: Option<String>,
        record: String,
        signed: &SignedCapture,
        capture: &Capture,
        certificate: Option<CertificateFile>,
    ) -> Self {
        Self {
            photo,
            record,
            capture: ReadableCapture::of(capture),
            body: hex(&signed.body),
            signature: hex(&signed.signature),
            certificate,
        }
    }
}

//! What is known of a photo from the moment it is taken in, sealed by the device.

use ed25519_dalek::{Signature, Signer, SigningKey, VerifyingKey};
use serde::{Deserialize, Serialize};

use super::{DeviceId, Millis, PhotoHash};

/// Kinds of picture file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PictureFormat {
    /// JPEG.
    Jpeg,
    /// PNG.
    Png,
    /// HEIC or HEIF: kept and hashed; no thumbnail is made of it.
    Heic,
}

/// Which north a bearing counts from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum North {
    /// Geographic north.
    True,
    /// Magnetic north: the local declination must be added.
    Magnetic,
}

/// What EXIF says of place.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct CapturePlace {
    /// Degrees north.
    pub latitude: f64,
    /// Degrees east.
    pub longitude: f64,
    /// Metres above sea level.
    pub altitude_m: Option<f64>,
    /// Radius within which the place is likely, metres.
    pub accuracy_m: Option<f64>,
}

/// Signs of whether a picture is of use; never a verdict by themselves.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Usability {
    /// Variance of the Laplacian of the grey thumbnail. It depends on the scene: compare it with
    /// photos of the same place, never with a fixed number alone.
    pub sharpness: f64,
    /// Mean grey, 0 to 255.
    pub brightness: f64,
    /// Perceptual hash: near pictures differ in few bits.
    pub likeness: u64,
}

/// Everything that is fixed when a photo is taken in. Times are as the camera says.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Capture {
    /// Version of this layout: [`Capture::VERSION`].
    pub version: u8,
    /// BLAKE3 of the original file.
    pub hash: PhotoHash,
    /// SHA-256 of the original file.
    #[serde(with = "serde_bytes")]
    pub sha256: Vec<u8>,
    /// Bytes of the original file.
    pub size: u64,
    /// Kind of file.
    pub format: PictureFormat,
    /// Width in pixels as stored, before turning upright; 0 where it could not be read.
    pub width: u32,
    /// Height in pixels as stored.
    pub height: u32,
    /// EXIF orientation, 1 to 8.
    pub orientation: u8,
    /// Name of the file when it was taken in.
    pub file_name: String,
    /// Local wall-clock time of the camera, milliseconds since 1970 as if it were UTC.
    pub local_time: Option<Millis>,
    /// The camera's offset from UTC, minutes.
    pub utc_offset_min: Option<i32>,
    /// Where.
    pub place: Option<CapturePlace>,
    /// Where the camera looked, degrees clockwise.
    pub bearing: Option<f64>,
    /// Which north `bearing` counts from.
    pub bearing_from: Option<North>,
    /// Camera as EXIF names it.
    pub camera: Option<String>,
    /// Signs of use; `None` where the picture could not be decoded.
    pub usability: Option<Usability>,
    /// The device that took it in.
    pub device: DeviceId,
    /// When it was taken in, by that device's clock.
    pub taken_in_at: Millis,
}

impl Capture {
    /// The version of the layout this code writes.
    pub const VERSION: u8 = 1;

    /// When the picture was taken, milliseconds since 1970 UTC, where time and offset are known.
    pub fn taken_at(&self) -> Option<Millis> {
        Some(self.local_time? - i64::from(self.utc_offset_min?) * 60_000)
    }

    /// The best time to order by: taken, else taken by wall clock, else taken in.
    pub fn order_time(&self) -> Millis {
        self.taken_at()
            .or(self.local_time)
            .unwrap_or(self.taken_in_at)
    }
}

/// The bytes of a capture and the device's signature over them.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SignedCapture {
    /// An encoded [`Capture`].
    #[serde(with = "serde_bytes")]
    pub body: Vec<u8>,
    /// Ed25519 signature by the device named in the capture.
    #[serde(with = "serde_bytes")]
    pub signature: Vec<u8>,
}

/// Why a signed value is not accepted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum SealError {
    /// The bytes are not the value they should be.
    #[error("the bytes cannot be read as what they should be")]
    Unreadable,
    /// The signature does not belong to these bytes and this key.
    #[error("the signature does not match")]
    Mismatch,
}

const CAPTURE_CONTEXT: &[u8] = b"chalkwalk capture v1\0";

/// What is signed: a context, so that a signature of one kind never passes for another, and the
/// BLAKE3 of the bytes.
pub(crate) fn seal(key: &SigningKey, context: &[u8], body: &[u8]) -> Vec<u8> {
    key.sign(&sealed_bytes(context, body)).to_bytes().to_vec()
}

/// Checks what [`seal`] made.
pub(crate) fn check_seal(
    key: &VerifyingKey,
    context: &[u8],
    body: &[u8],
    signature: &[u8],
) -> Result<(), SealError> {
    let signature = Signature::from_slice(signature).map_err(|_| SealError::Unreadable)?;
    key.verify_strict(&sealed_bytes(context, body), &signature)
        .map_err(|_| SealError::Mismatch)
}

fn sealed_bytes(context: &[u8], body: &[u8]) -> Vec<u8> {
    let mut bytes = context.to_vec();
    bytes.extend_from_slice(blake3::hash(body).as_bytes());
    bytes
}

impl SignedCapture {
    /// Signs a capture.
    pub fn sign(capture: &Capture, key: &SigningKey) -> Result<Self, SealError> {
        let body = rmp_serde::to_vec_named(capture).map_err(|_| SealError::Unreadable)?;
        let signature = seal(key, CAPTURE_CONTEXT, &body);
        Ok(Self { body, signature })
    }

    /// The bytes that a photo record holds.
    pub fn to_bytes(&self) -> Result<Vec<u8>, SealError> {
        rmp_serde::to_vec(self).map_err(|_| SealError::Unreadable)
    }

    /// Reads the bytes that a photo record holds. The signature is not checked.
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, SealError> {
        rmp_serde::from_slice(bytes).map_err(|_| SealError::Unreadable)
    }

    /// The capture. The signature is not checked.
    pub fn capture(&self) -> Result<Capture, SealError> {
        rmp_serde::from_slice(&self.body).map_err(|_| SealError::Unreadable)
    }

    /// The capture, after checking that the device with this key signed it.
    pub fn verify(&self, key: &VerifyingKey) -> Result<Capture, SealError> {
        check_seal(key, CAPTURE_CONTEXT, &self.body, &self.signature)?;
        self.capture()
    }
}

/// A mark drawn beside a photo, in thousandths of the upright picture's width and height.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Mark {
    /// A ring round a hit.
    Ring {
        /// Centre, from the left.
        x: u16,
        /// Centre, from the top.
        y: u16,
        /// Radius in thousandths of the width.
        r: u16,
    },
    /// An arrow.
    Arrow {
        /// Start.
        from: (u16, u16),
        /// Tip.
        to: (u16, u16),
    },
    /// Words.
    Text {
        /// Place, from the left.
        x: u16,
        /// Place, from the top.
        y: u16,
        /// The words.
        text: String,
    },
}

impl Mark {
    /// Marks as a photo's record holds them.
    pub fn to_bytes(marks: &[Mark]) -> Result<Vec<u8>, SealError> {
        rmp_serde::to_vec(marks).map_err(|_| SealError::Unreadable)
    }

    /// The marks that a photo's record holds; `None` where a newer version wrote them otherwise.
    pub fn from_bytes(bytes: &[u8]) -> Option<Vec<Mark>> {
        rmp_serde::from_slice(bytes).ok()
    }
}

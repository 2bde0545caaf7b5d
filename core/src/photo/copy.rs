//! One pass over a file: copied, hashed twice and kept in memory for decoding.

use std::io::{Read, Write};

use sha2::{Digest, Sha256};

use super::PhotoError;
use crate::job::PhotoHash;

/// Bytes moved at a time: large enough for the fast paths of both hashes.
const STEP: usize = 256 << 10;

/// What one pass over a file gave.
pub(super) struct Copied {
    pub(super) hash: PhotoHash,
    pub(super) sha256: [u8; 32],
    /// The file, for decoding. Its length was held under the limit of the pass.
    pub(super) bytes: Vec<u8>,
}

/// Copies a source to a target while hashing it with BLAKE3 and SHA-256. More than `limit` bytes
/// is an error, and so are none.
pub(super) fn copy_hashed(
    source: &mut dyn Read,
    target: &mut dyn Write,
    expected: u64,
    limit: u64,
) -> Result<Copied, PhotoError> {
    let mut blake = blake3::Hasher::new();
    let mut sha = Sha256::new();
    let room = usize::try_from(expected.min(limit)).unwrap_or(0);
    let mut bytes: Vec<u8> = Vec::with_capacity(room);
    loop {
        let start = bytes.len();
        let read = source
            .take(STEP as u64)
            .read_to_end(&mut bytes)
            .map_err(|error| PhotoError::reading(&error))?;
        if read == 0 {
            break;
        }
        if bytes.len() as u64 > limit {
            return Err(PhotoError::TooLarge { limit });
        }
        let step = &bytes[start..];
        blake.update(step);
        sha.update(step);
        target
            .write_all(step)
            .map_err(|error| PhotoError::storing(&error))?;
    }
    if bytes.is_empty() {
        return Err(PhotoError::Empty);
    }
    Ok(Copied {
        hash: PhotoHash::from_bytes(*blake.finalize().as_bytes()),
        sha256: sha.finalize().into(),
        bytes,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::hex;

    /// Source of both digests: `b3sum` and `sha256sum` of a file with the three bytes `abc`;
    /// the SHA-256 one also stands in FIPS 180-4's published examples.
    #[test]
    fn both_hashes_match_the_published_ones() {
        let mut target = Vec::new();
        let copied = copy_hashed(&mut &b"abc"[..], &mut target, 3, 10).unwrap();
        assert_eq!(target, b"abc");
        assert_eq!(
            copied.hash.to_string(),
            "6437b3ac38465133ffb63b75273a8db548c558465d79db03fd359c6cd5bd9d85"
        );
        assert_eq!(
            hex(&copied.sha256),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }

    #[test]
    fn steps_do_not_change_the_hash() {
        let data: Vec<u8> = (0..STEP * 3 + 77).map(|i| (i * 31 % 251) as u8).collect();
        let mut target = Vec::new();
        let copied = copy_hashed(&mut &data[..], &mut target, 0, u64::MAX).unwrap();
        assert_eq!(copied.hash, PhotoHash::of(&data));
        assert_eq!(copied.sha256[..], Sha256::digest(&data)[..]);
        assert_eq!(copied.bytes, data);
        assert_eq!(target, data);
    }

    #[test]
    fn one_byte_past_the_limit_is_refused() {
        let mut sink = std::io::sink();
        assert!(copy_hashed(&mut &[1u8; 10][..], &mut sink, 10, 10).is_ok());
        let error = copy_hashed(&mut &[1u8; 11][..], &mut sink, 11, 10).err();
        assert_eq!(error, Some(PhotoError::TooLarge { limit: 10 }));
        let none = copy_hashed(&mut &[][..], &mut sink, 0, 10).err();
        assert_eq!(none, Some(PhotoError::Empty));
    }

    /// `/dev/full` answers every write with ENOSPC: full(4) of the Linux manual pages.
    #[cfg(target_os = "linux")]
    #[test]
    fn a_full_disk_is_called_by_its_name() {
        let mut full = std::fs::OpenOptions::new()
            .write(true)
            .open("/dev/full")
            .unwrap();
        let error = copy_hashed(&mut &b"abc"[..], &mut full, 3, 10).err();
        assert_eq!(error, Some(PhotoError::Full));
    }
}

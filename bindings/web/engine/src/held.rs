//! Changes as the page keeps them: one signed chunk each, appended, never altered.

use chalkwalk_core::document::{Author, ChangeRow};
use chalkwalk_core::job::JobId;
use serde::{Deserialize, Serialize};
use serde_bytes::{ByteBuf, Bytes};

/// Bytes of the checksum in front of a chunk.
const SUM: usize = 8;

#[derive(Serialize)]
struct Written<'a> {
    author: &'a Bytes,
    number: u64,
    hash: &'a Bytes,
    bytes: &'a Bytes,
    signature: Option<&'a Bytes>,
}

#[derive(Deserialize)]
struct Read {
    author: ByteBuf,
    number: u64,
    hash: ByteBuf,
    bytes: ByteBuf,
    signature: Option<ByteBuf>,
}

/// A change as one chunk: a checksum over job and content, then the content.
pub(crate) fn encode(job: JobId, row: &ChangeRow) -> Result<Vec<u8>, String> {
    let author = row.author.to_bytes();
    let body = rmp_serde::to_vec(&Written {
        author: Bytes::new(&author),
        number: row.number,
        hash: Bytes::new(&row.hash),
        bytes: Bytes::new(&row.bytes),
        signature: row.signature.as_ref().map(|bytes| Bytes::new(bytes)),
    })
    .map_err(|error| error.to_string())?;
    Ok(sealed(job, &body))
}

/// Reads a chunk; `None` where it is not as it was written.
pub(crate) fn decode(job: JobId, chunk: &[u8]) -> Option<ChangeRow> {
    let read: Read = rmp_serde::from_slice(unsealed(job, chunk)?).ok()?;
    let signature = match read.signature {
        Some(bytes) => Some(<[u8; 64]>::try_from(bytes.into_vec()).ok()?),
        None => None,
    };
    Some(ChangeRow {
        author: Author::from_bytes(&read.author)?,
        number: read.number,
        hash: read.hash.into_vec().try_into().ok()?,
        bytes: read.bytes.into_vec(),
        signature,
    })
}

/// Bytes of a job behind their checksum.
pub(crate) fn sealed(job: JobId, body: &[u8]) -> Vec<u8> {
    let mut chunk = checksum(job, body).to_vec();
    chunk.extend_from_slice(body);
    chunk
}

/// What [`sealed`] was given; `None` where it was altered.
pub(crate) fn unsealed(job: JobId, chunk: &[u8]) -> Option<&[u8]> {
    let (sum, body) = chunk.split_at_checked(SUM)?;
    (checksum(job, body) == sum).then_some(body)
}

/// A document behind its checksum, which stands for the key of its last chunk as well.
pub(crate) fn sealed_snapshot(job: JobId, document: &[u8], upto: u64) -> Vec<u8> {
    sealed(job, &[&upto.to_le_bytes(), document].concat())
}

/// What [`sealed_snapshot`] was given; `None` where it was altered or ends at another chunk.
pub(crate) fn unsealed_snapshot(job: JobId, snapshot: &[u8], upto: u64) -> Option<&[u8]> {
    let (said, document) = unsealed(job, snapshot)?.split_at_checked(8)?;
    (said == upto.to_le_bytes()).then_some(document)
}

fn checksum(job: JobId, body: &[u8]) -> [u8; SUM] {
    let mut hasher = blake3::Hasher::new();
    hasher.update(job.as_bytes()).update(body);
    let mut sum = [0; SUM];
    hasher.finalize_xof().fill(&mut sum);
    sum
}

#[cfg(test)]
mod tests {
    use super::*;
    use chalkwalk_core::job::DeviceId;

    #[test]
    fn a_chunk_reads_back_and_an_altered_one_does_not() {
        let job = JobId::from_bytes([7; 16]);
        let row = ChangeRow {
            author: Author {
                device: DeviceId::from_bytes([1; 16]),
                nonce: [2; 8],
            },
            number: 3,
            hash: [4; 32],
            bytes: vec![5; 300],
            signature: Some([6; 64]),
        };
        let chunk = encode(job, &row).unwrap_or_default();
        assert_eq!(decode(job, &chunk), Some(row));
        assert_eq!(decode(JobId::from_bytes([8; 16]), &chunk), None);
        for at in 0..chunk.len() {
            let mut altered = chunk.clone();
            altered[at] ^= 1;
            assert_eq!(decode(job, &altered), None, "byte {at}");
            assert_eq!(decode(job, &chunk[..at]), None, "cut at {at}");
        }
    }

    #[test]
    fn a_snapshot_reads_back_only_as_it_was_written_and_for_its_last_chunk() {
        let job = JobId::from_bytes([7; 16]);
        let kept = sealed_snapshot(job, b"document", 41);
        assert_eq!(unsealed_snapshot(job, &kept, 41), Some(&b"document"[..]));
        assert_eq!(unsealed_snapshot(job, &kept, 42), None);
        assert_eq!(
            unsealed_snapshot(job, &sealed(job, b"an older form"), 41),
            None
        );
        for at in 0..kept.len() {
            let mut altered = kept.clone();
            altered[at] ^= 1;
            assert_eq!(unsealed_snapshot(job, &altered, 41), None, "byte {at}");
        }
    }
}

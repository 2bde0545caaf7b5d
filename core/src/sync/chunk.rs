//! The head of a change chunk: who wrote it, its number, its hash and what it builds on.
//!
//! The layout is the published binary format of automerge documents (automerge.org, "Binary
//! Document Format", chunk header and change chunk). Nothing here inflates anything, and nothing
//! behind the head is looked at: the operations are judged by the replica.

use sha2::{Digest, Sha256};

use crate::document::{Author, ChangeRow, Refusal};
use crate::limits;

const MAGIC: [u8; 4] = [0x85, 0x6f, 0x4a, 0x83];
const TYPE_CHANGE: u8 = 1;

/// What the head of a change chunk says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChunkHead {
    /// Who wrote the change.
    pub author: Author,
    /// Its number among the author's changes, from 1.
    pub number: u64,
    /// Its hash: the SHA-256 of the chunk behind its checksum.
    pub hash: [u8; 32],
    /// Hashes of the changes it builds on.
    pub builds_on: Vec<[u8; 32]>,
}

impl ChunkHead {
    /// Reads the head of one uncompressed change chunk that fills the bytes, and checks its
    /// checksum.
    ///
    /// Errors: [`Refusal::Limit`] over [`limits::CHANGE_BYTES`] or for an absurd number,
    /// [`Refusal::Malformed`] for anything else than such a chunk.
    pub fn read(bytes: &[u8]) -> Result<Self, Refusal> {
        if bytes.len() > limits::CHANGE_BYTES {
            return Err(Refusal::Limit("a change is too large".into()));
        }
        let mut reader = Reader(bytes);
        if reader.array()? != MAGIC {
            return Err(malformed("a change does not begin as one"));
        }
        let checksum: [u8; 4] = reader.array()?;
        let hash: [u8; 32] = Sha256::digest(reader.0).into();
        if reader.array()? != [TYPE_CHANGE] {
            return Err(malformed("only uncompressed changes are taken"));
        }
        if reader.number()? != reader.0.len() as u64 {
            return Err(malformed("a change has not the length it says"));
        }
        if !hash.starts_with(&checksum) {
            return Err(malformed("a change does not match its checksum"));
        }
        let count = reader.number()?;
        if count > reader.0.len() as u64 / 32 {
            return Err(malformed("a change is cut short"));
        }
        let builds_on = (0..count)
            .map(|_| reader.array())
            .collect::<Result<_, _>>()?;
        let length = usize::try_from(reader.number()?).unwrap_or(usize::MAX);
        let author = Author::from_bytes(reader.take(length)?)
            .ok_or_else(|| malformed("a change is not by a device"))?;
        let number = reader.number()?;
        if number == 0 {
            return Err(malformed("changes are numbered from 1"));
        }
        if number > limits::JOB_CHANGES {
            return Err(Refusal::Limit("a job has too many changes".into()));
        }
        Ok(Self {
            author,
            number,
            hash,
            builds_on,
        })
    }

    /// The row of a change chunk.
    pub fn row(bytes: Vec<u8>, signature: Option<[u8; 64]>) -> Result<ChangeRow, Refusal> {
        let Self {
            author,
            number,
            hash,
            ..
        } = Self::read(&bytes)?;
        Ok(ChangeRow {
            author,
            number,
            hash,
            bytes,
            signature,
        })
    }
}

struct Reader<'a>(&'a [u8]);

impl<'a> Reader<'a> {
    fn take(&mut self, length: usize) -> Result<&'a [u8], Refusal> {
        let (head, rest) = self
            .0
            .split_at_checked(length)
            .ok_or_else(|| malformed("a change is cut short"))?;
        self.0 = rest;
        Ok(head)
    }

    fn array<const N: usize>(&mut self) -> Result<[u8; N], Refusal> {
        self.take(N)?
            .try_into()
            .map_err(|_| malformed("a change is cut short"))
    }

    /// An unsigned LEB128 number in its shortest form.
    fn number(&mut self) -> Result<u64, Refusal> {
        let mut value = 0u64;
        for shift in (0..64).step_by(7) {
            let [byte] = self.array()?;
            let low = u64::from(byte & 0x7f);
            if (low << shift) >> shift != low || (byte == 0 && shift > 0) {
                break;
            }
            value |= low << shift;
            if byte & 0x80 == 0 {
                return Ok(value);
            }
        }
        Err(malformed("a number in a change does not read"))
    }
}

fn malformed(words: &str) -> Refusal {
    Refusal::Malformed(words.into())
}

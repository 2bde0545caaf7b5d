//! Batches: change chunks, the signatures that vouch for them and certificates of their authors,
//! as one zstd-compressed MessagePack value.

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::io::Read;

use serde::{Deserialize, Serialize};
use serde_bytes::{ByteArray, ByteBuf};

use super::chunk::ChunkHead;
use super::message::{BatchPart, pack, unpack};
use crate::document::{Author, ChangeRow, Refusal};
use crate::job::{DeviceId, JobId, SignedCertificate};
use crate::limits;
use crate::sorted::{Keyed, Sorted};

/// Dense enough for a phone's link, quick enough for its battery.
const LEVEL: i32 = 6;
/// The window of [`LEVEL`] is smaller; a larger one would only cost the reader memory.
const WINDOW_LOG: u32 = 23;
/// Room in the inflated batch for what is not a change.
const ROOM: usize = 1 << 20;

/// Bytes of a batch in one frame: the rest of the frame is room for its head.
pub(crate) const PART_BYTES: usize = limits::FRAME_BYTES - 256;

#[derive(Serialize, Deserialize)]
struct Body {
    chunks: Vec<ByteBuf>,
    signatures: Vec<(u32, ByteArray<64>)>,
    certificates: Vec<(ByteBuf, ByteArray<64>)>,
}

/// A batch as it was read, before anybody judged its changes.
#[derive(Debug)]
pub(crate) struct Batch {
    pub(crate) rows: Vec<ChangeRow>,
    pub(crate) certificates: Vec<SignedCertificate>,
}

/// How many of these changes go into one batch: as many as the limits allow, and such that the
/// last of each author is signed. 0 where no such cut exists.
pub(crate) fn cut(rows: &[ChangeRow]) -> usize {
    let mut unsigned = BTreeSet::new();
    let mut bytes = 0usize;
    let mut best = 0;
    for (index, row) in rows.iter().enumerate().take(limits::BATCH_CHANGES) {
        bytes += row.bytes.len() + 16;
        if bytes > limits::BATCH_BYTES - ROOM {
            break;
        }
        if row.signature.is_some() {
            unsigned.remove(&row.author);
        } else {
            unsigned.insert(row.author);
        }
        if unsigned.is_empty() {
            best = index + 1;
        }
    }
    best
}

/// Packs changes. Only the last signature of each author travels.
pub(crate) fn pack_batch(
    rows: Vec<ChangeRow>,
    certificates: Vec<SignedCertificate>,
) -> Result<Vec<u8>, Refusal> {
    let mut last: BTreeMap<Author, (u32, [u8; 64])> = BTreeMap::new();
    for (index, row) in (0u32..).zip(&rows) {
        if let Some(signature) = row.signature {
            last.insert(row.author, (index, signature));
        }
    }
    let mut signatures: Vec<(u32, ByteArray<64>)> = last
        .into_values()
        .map(|(index, signature)| (index, ByteArray::new(signature)))
        .collect();
    signatures.order_by_key(|(index, _)| *index);
    let certificates = certificates
        .into_iter()
        .map(|certificate| {
            let signature: [u8; 64] = certificate
                .signature
                .try_into()
                .map_err(|_| Refusal::Unsigned("a certificate is not signed".into()))?;
            Ok((ByteBuf::from(certificate.body), ByteArray::new(signature)))
        })
        .collect::<Result<_, Refusal>>()?;
    let chunks = rows
        .into_iter()
        .map(|row| ByteBuf::from(row.bytes))
        .collect();
    let body = pack(&Body {
        chunks,
        signatures,
        certificates,
    })
    .map_err(|error| Refusal::Malformed(error.to_string()))?;
    compressed(&body).map_err(|error| Refusal::Storage(error.to_string()))
}

/// One compressor a thread: to make one takes longer than a small batch does.
fn compressed(body: &[u8]) -> std::io::Result<Vec<u8>> {
    thread_local! {
        static COMPRESSOR: RefCell<Option<zstd::bulk::Compressor<'static>>> = const { RefCell::new(None) };
    }
    COMPRESSOR.with_borrow_mut(|kept| {
        if kept.is_none() {
            *kept = Some(zstd::bulk::Compressor::new(LEVEL)?);
        }
        match kept {
            Some(compressor) => compressor.compress(body),
            None => zstd::bulk::compress(body, LEVEL),
        }
    })
}

/// A batch cut into frames.
pub(crate) fn parts(job: JobId, bytes: &[u8]) -> Vec<BatchPart> {
    let count = bytes.len().div_ceil(PART_BYTES);
    let part = |(index, piece): (usize, &[u8])| BatchPart {
        job,
        more: index + 1 < count,
        bytes: ByteBuf::from(piece),
    };
    bytes.chunks(PART_BYTES).enumerate().map(part).collect()
}

/// Unpacks a batch under every limit, and checks its shape: whole chunks by devices, each author's
/// numbers rising by one, the last of each signed.
pub(crate) fn unpack_batch(bytes: &[u8]) -> Result<Batch, Refusal> {
    let body: Body =
        unpack(&inflate(bytes)?).map_err(|error| Refusal::Malformed(error.to_string()))?;
    if body.chunks.len() > limits::BATCH_CHANGES {
        return Err(Refusal::Limit("a batch has too many changes".into()));
    }
    if body.chunks.is_empty() {
        return Err(Refusal::Malformed("a batch is empty".into()));
    }
    let mut rows = body
        .chunks
        .into_iter()
        .map(|chunk| ChunkHead::row(chunk.into_vec(), None))
        .collect::<Result<Vec<_>, _>>()?;
    let mut next = 0;
    for (index, signature) in body.signatures {
        let index = usize::try_from(index).unwrap_or(usize::MAX);
        let row = rows
            .get_mut(index)
            .filter(|_| index >= next)
            .ok_or_else(|| Refusal::Malformed("a signature stands for no change".into()))?;
        row.signature = Some(signature.into_array());
        next = index.saturating_add(1);
    }
    check_shape(&rows)?;
    let authors: BTreeSet<DeviceId> = rows.iter().map(|row| row.author.device).keyed();
    if body.certificates.len() > authors.len() {
        return Err(Refusal::Limit("a batch has too many certificates".into()));
    }
    let certificates = body
        .certificates
        .into_iter()
        .map(|(body, signature)| {
            if body.len() > limits::CERTIFICATE_BYTES {
                return Err(Refusal::Limit("a certificate is too large".into()));
            }
            Ok(SignedCertificate {
                body: body.into_vec(),
                signature: signature.to_vec(),
            })
        })
        .collect::<Result<_, _>>()?;
    Ok(Batch { rows, certificates })
}

fn check_shape(rows: &[ChangeRow]) -> Result<(), Refusal> {
    let mut last: BTreeMap<Author, &ChangeRow> = BTreeMap::new();
    for row in rows {
        if row.author.device == DeviceId::GENESIS {
            return Err(Refusal::Malformed(
                "the first change of a job is never sent".into(),
            ));
        }
        if last
            .insert(row.author, row)
            .is_some_and(|before| before.number + 1 != row.number)
        {
            return Err(Refusal::Gap);
        }
    }
    if last.values().any(|row| row.signature.is_none()) {
        return Err(Refusal::Unsigned(
            "the last change of an author bears no signature".into(),
        ));
    }
    Ok(())
}

/// Inflates one zstd frame that fills the bytes, to at most [`limits::BATCH_BYTES`].
fn inflate(bytes: &[u8]) -> Result<Vec<u8>, Refusal> {
    let unreadable = |_| Refusal::Malformed("a batch does not inflate".into());
    let mut decoder = zstd::stream::read::Decoder::with_buffer(bytes)
        .map_err(unreadable)?
        .single_frame();
    decoder.window_log_max(WINDOW_LOG).map_err(unreadable)?;
    let mut body = Vec::new();
    let most = limits::BATCH_BYTES as u64 + 1;
    decoder
        .by_ref()
        .take(most)
        .read_to_end(&mut body)
        .map_err(unreadable)?;
    if body.len() > limits::BATCH_BYTES {
        return Err(Refusal::Limit("a batch inflates to too much".into()));
    }
    if decoder.finish().is_empty() {
        Ok(body)
    } else {
        Err(Refusal::Malformed(
            "bytes are left over behind a batch".into(),
        ))
    }
}

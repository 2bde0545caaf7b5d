//! Writing a bundle.

use std::collections::BTreeSet;
use std::io::Write;

use ed25519_dalek::SigningKey;
use serde_bytes::{ByteArray, ByteBuf};

use super::{BundleError, CONTEXT, Contents, Report};
use crate::document::{Refusal, Table};
use crate::job::{BlobKind, DeviceId, JobId, PhotoHash, SignedCertificate, seal};
use crate::limits;
use crate::sorted::Keyed;
use crate::sync::Replica;
use crate::sync::batch::{cut, pack_batch, parts};
use crate::sync::frame::encode_stream;
use crate::sync::message::{BundleHead, Files, Message, Piece, Seal};
use crate::sync::piece::largest;
use crate::sync::table::advance;

/// Writes a bundle in the name of this device.
///
/// The certificate and the key are the device's own. Errors: the replica refuses, or the file
/// cannot be written.
pub fn write(
    replica: &mut dyn Replica,
    certificate: &SignedCertificate,
    key: &SigningKey,
    contents: &Contents,
    out: &mut impl Write,
) -> Result<Report, BundleError> {
    let mut writer = Writer {
        out,
        key,
        number: 0,
        said: blake3::Hasher::new(),
        report: Report {
            made_at: contents.made_at,
            ..Report::default()
        },
        certificates: BTreeSet::new(),
    };
    let unsigned = |_| Refusal::Unsigned("the own certificate is not signed".into());
    writer.say(&Message::BundleHead(BundleHead {
        made_at: contents.made_at,
        certificate: ByteBuf::from(certificate.body.clone()),
        certificate_signature: ByteArray::new(
            certificate.signature.clone().try_into().map_err(unsigned)?,
        ),
    }))?;
    for (job, held) in &contents.jobs {
        writer.changes(replica, *job, held.clone())?;
    }
    for run in runs(replica, &contents.files, &mut writer.report)? {
        writer.files(replica, &run)?;
    }
    writer.seal(true)?;
    writer.out.flush()?;
    Ok(writer.report)
}

/// A file and its size.
type SizedFile = (BlobKind, PhotoHash, u64);

/// Files of one job that together fit a frame, or one larger file.
struct Run {
    job: JobId,
    files: Vec<SizedFile>,
}

fn runs(
    replica: &mut dyn Replica,
    files: &[(JobId, BlobKind, PhotoHash)],
    report: &mut Report,
) -> Result<Vec<Run>, Refusal> {
    let mut runs: Vec<Run> = Vec::new();
    let mut room = 0;
    for (job, kind, hash) in files {
        let Some(size) = replica
            .blob_size(*kind, *hash)?
            .filter(|size| *size <= largest(*kind))
        else {
            report.files_left_out += 1;
            continue;
        };
        match runs.last_mut() {
            Some(run) if run.job == *job && size <= room && run.files.len() < limits::WANT_PAGE => {
                room -= size;
                run.files.push((*kind, *hash, size));
            }
            _ => {
                room = (limits::PHOTO_CHUNK as u64).saturating_sub(size);
                runs.push(Run {
                    job: *job,
                    files: vec![(*kind, *hash, size)],
                });
            }
        }
    }
    Ok(runs)
}

struct Writer<'a, W> {
    out: &'a mut W,
    key: &'a SigningKey,
    number: u64,
    said: blake3::Hasher,
    report: Report,
    certificates: BTreeSet<DeviceId>,
}

impl<W: Write> Writer<'_, W> {
    fn say(&mut self, message: &Message) -> Result<(), BundleError> {
        let frame = message
            .encode(self.number)
            .map_err(BundleError::NotABundle)?;
        self.number += 1;
        let bytes = encode_stream(&frame);
        self.said.update(&bytes);
        self.report.bytes += bytes.len() as u64;
        self.out.write_all(&bytes)?;
        Ok(())
    }

    fn seal(&mut self, last: bool) -> Result<(), BundleError> {
        let mut said = self.said.finalize().as_bytes().to_vec();
        said.push(u8::from(last));
        let unsigned = |_| Refusal::Unsigned("a seal has sixty-four bytes".into());
        let signature = seal(self.key, CONTEXT, &said)
            .try_into()
            .map_err(unsigned)?;
        self.say(&Message::Seal(Seal {
            last,
            signature: ByteArray::new(signature),
        }))
    }

    fn changes(
        &mut self,
        replica: &mut dyn Replica,
        job: JobId,
        mut held: Table,
    ) -> Result<(), BundleError> {
        loop {
            let mut rows = replica.lacking(job, &held, limits::BATCH_TARGET_BYTES)?;
            if rows.is_empty() {
                return Ok(());
            }
            let count = cut(&rows);
            if count == 0 {
                return Err(Refusal::Unsigned("changes here cannot be vouched for".into()).into());
            }
            rows.truncate(count);
            advance(&mut held, &rows)?;
            let authors: BTreeSet<DeviceId> = rows.iter().map(|row| row.author.device).keyed();
            let unknown: Vec<DeviceId> = authors
                .into_iter()
                .filter(|device| self.certificates.insert(*device))
                .collect();
            let certificates = replica.certificates(&unknown)?;
            self.report.changes += rows.len() as u64;
            for part in parts(job, &pack_batch(rows, certificates)?) {
                self.say(&Message::Batch(part))?;
            }
            self.seal(false)?;
        }
    }

    fn files(&mut self, replica: &mut dyn Replica, run: &Run) -> Result<(), BundleError> {
        let mut pieces = Vec::new();
        for (kind, hash, size) in run.files.iter().copied() {
            let mut offset = 0;
            loop {
                let bytes = replica.read_blob(kind, hash, offset, limits::PHOTO_CHUNK)?;
                if bytes.is_empty() && offset < size {
                    return Err(Refusal::Storage("a file ends too soon".into()).into());
                }
                let next = offset + bytes.len() as u64;
                pieces.push(Piece {
                    kind,
                    hash,
                    size,
                    offset,
                    bytes: ByteBuf::from(bytes),
                });
                offset = next;
                if offset >= size {
                    self.report.files += 1;
                    break;
                }
                self.pieces(run.job, &mut pieces)?;
            }
        }
        self.pieces(run.job, &mut pieces)
    }

    fn pieces(&mut self, job: JobId, pieces: &mut Vec<Piece>) -> Result<(), BundleError> {
        let pieces = std::mem::take(pieces);
        self.say(&Message::Files(Files { job, pieces }))?;
        self.seal(false)
    }
}

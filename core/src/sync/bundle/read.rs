//! Reading a bundle.

use std::collections::{BTreeMap, BTreeSet};
use std::io::{ErrorKind, Read};

use ed25519_dalek::VerifyingKey;

use super::{BundleError, CONTEXT, Report};
use crate::document::Refusal;
use crate::job::{
    BlobKind, Certificate, CompanyId, JobId, PhotoHash, SignedCertificate, check_seal,
};
use crate::limits;
use crate::sorted::Keyed;
use crate::sync::Replica;
use crate::sync::batch::unpack_batch;
use crate::sync::frame::{FrameError, FrameReader, encode_stream};
use crate::sync::message::{BatchPart, Files, Message, Seal};
use crate::sync::piece::{check_piece, check_pieces};
use crate::sync::table::table_of;

const READ_BYTES: usize = 64 << 10;

/// Reads a bundle into a replica.
///
/// `office` is the pinned key, `company` the reader's own. What a job's changes are refused for is
/// in the report, and the other jobs are read on. Errors: the file is no bundle, was made by a
/// stranger, is cut or damaged, or the replica cannot store; what was taken before then counts and
/// the error says how much that was.
pub fn read(
    replica: &mut dyn Replica,
    office: &VerifyingKey,
    company: CompanyId,
    input: &mut impl Read,
) -> Result<Report, BundleError> {
    let mut frames = Frames {
        input,
        reader: FrameReader::new(),
        number: 0,
        said: blake3::Hasher::new(),
    };
    let (maker, signed, made_at) = match frames.next() {
        Ok(Some(Message::BundleHead(head))) => {
            let signed = SignedCertificate {
                body: head.certificate.into_vec(),
                signature: head.certificate_signature.to_vec(),
            };
            let maker = signed.verify(office).map_err(|_| BundleError::Stranger)?;
            (maker, signed, head.made_at)
        }
        Ok(_) => return Err(BundleError::NotABundle(FrameError::Short)),
        Err(Broken::Io(error)) => return Err(error.into()),
        Err(Broken::Frame(error)) => return Err(BundleError::NotABundle(error)),
    };
    if maker.company != company {
        return Err(BundleError::Stranger);
    }
    let mut taker = Taker {
        replica,
        signed,
        report: Report {
            maker: Some(maker.clone()),
            made_at,
            ..Report::default()
        },
        maker,
        batch: Vec::new(),
        unsealed: None,
        wanted: BTreeMap::new(),
    };
    loop {
        let said = frames.said.finalize();
        let message = match frames.next() {
            Ok(Some(message)) => message,
            Ok(None) => return Err(BundleError::Cut(Box::new(taker.report))),
            Err(Broken::Io(error)) => return Err(error.into()),
            Err(Broken::Frame(_)) => return Err(BundleError::Damaged(Box::new(taker.report))),
        };
        match taker.take(message, said) {
            Ok(false) => {}
            Ok(true) => return Ok(taker.report),
            Err(Stop::Damaged) => return Err(BundleError::Damaged(Box::new(taker.report))),
            Err(Stop::Refused(refusal)) => {
                return Err(BundleError::Stopped {
                    took: Box::new(taker.report),
                    refusal,
                });
            }
        }
    }
}

enum Broken {
    Io(std::io::Error),
    Frame(FrameError),
}

/// The frames of a file, and the hash of all bytes given so far.
struct Frames<'a, R> {
    input: &'a mut R,
    reader: FrameReader,
    number: u64,
    said: blake3::Hasher,
}

impl<R: Read> Frames<'_, R> {
    fn next(&mut self) -> Result<Option<Message>, Broken> {
        let mut buffer = vec![0; READ_BYTES];
        loop {
            if let Some(frame) = self.reader.pop().map_err(Broken::Frame)? {
                let (number, message) = Message::decode(&frame).map_err(Broken::Frame)?;
                if number != self.number {
                    let expected = self.number;
                    return Err(Broken::Frame(FrameError::OutOfTurn {
                        expected,
                        got: number,
                    }));
                }
                self.number += 1;
                self.said.update(&encode_stream(&frame));
                return Ok(Some(message));
            }
            match self.input.read(&mut buffer) {
                Ok(0) => return Ok(None),
                Ok(count) => self.reader.push(buffer.get(..count).unwrap_or_default()),
                Err(error) if error.kind() == ErrorKind::Interrupted => {}
                Err(error) => return Err(Broken::Io(error)),
            }
        }
    }
}

enum Stop {
    Damaged,
    Refused(Refusal),
}

/// What waits for its seal.
enum Unsealed {
    Batch(JobId, Vec<u8>),
    Files(Files),
}

struct Taker<'a> {
    replica: &'a mut dyn Replica,
    maker: Certificate,
    signed: SignedCertificate,
    report: Report,
    batch: Vec<u8>,
    unsealed: Option<Unsealed>,
    wanted: BTreeMap<(JobId, BlobKind), BTreeSet<PhotoHash>>,
}

impl Taker<'_> {
    /// Takes a frame; `true` at the end of the bundle.
    fn take(&mut self, message: Message, said: blake3::Hash) -> Result<bool, Stop> {
        match message {
            Message::Batch(part) => self.gather(part)?,
            Message::Files(files) if self.unsealed.is_none() && self.batch.is_empty() => {
                self.unsealed = Some(Unsealed::Files(files));
            }
            Message::Seal(seal) => {
                self.check(&seal, said)?;
                match self.unsealed.take() {
                    Some(Unsealed::Batch(job, bytes)) => self.changes(job, &bytes)?,
                    Some(Unsealed::Files(files)) => self.files(&files)?,
                    None => {}
                }
                return Ok(seal.last);
            }
            Message::PassedOver => {}
            _ => return Err(Stop::Damaged),
        }
        Ok(false)
    }

    fn gather(&mut self, part: BatchPart) -> Result<(), Stop> {
        self.batch.extend_from_slice(&part.bytes);
        if self.unsealed.is_some() || self.batch.len() > limits::BATCH_BYTES {
            return Err(Stop::Damaged);
        }
        if !part.more {
            self.unsealed = Some(Unsealed::Batch(part.job, std::mem::take(&mut self.batch)));
        }
        Ok(())
    }

    fn check(&self, seal: &Seal, said: blake3::Hash) -> Result<(), Stop> {
        let mut said = said.as_bytes().to_vec();
        said.push(u8::from(seal.last));
        self.maker
            .verifying_key()
            .and_then(|key| check_seal(&key, CONTEXT, &said, seal.signature.as_slice()))
            .map_err(|_| Stop::Damaged)
    }

    fn changes(&mut self, job: JobId, bytes: &[u8]) -> Result<(), Stop> {
        if self.report.refused.contains_key(&job) {
            return Ok(());
        }
        match self.accept(job, bytes) {
            Ok(()) => Ok(()),
            Err(Refusal::Storage(words)) => Err(Stop::Refused(Refusal::Storage(words))),
            Err(refusal) => {
                self.report.refused.insert(job, refusal);
                Ok(())
            }
        }
    }

    fn accept(&mut self, job: JobId, bytes: &[u8]) -> Result<(), Refusal> {
        if !self.replica.may_exchange(&self.maker, job)? {
            return Err(Refusal::Forbidden(
                "this job is not exchanged with its maker".into(),
            ));
        }
        let batch = unpack_batch(bytes)?;
        let count = batch.rows.len() as u64;
        let reach = table_of(&batch.rows);
        let mut certificates = batch.certificates;
        certificates.push(self.signed.clone());
        let accepted = self
            .replica
            .accept(&self.maker, job, batch.rows, &certificates)?;
        self.report.changes += count;
        self.report.new_changes += accepted.new_changes as u64;
        // Its maker held them when it wrote them down.
        self.replica.note_peer_holds(self.maker.device, job, &reach)
    }

    fn files(&mut self, files: &Files) -> Result<(), Stop> {
        check_pieces(&files.pieces).map_err(|_| Stop::Damaged)?;
        for piece in &files.pieces {
            check_piece(piece).map_err(|_| Stop::Damaged)?;
            let key = (files.job, piece.kind);
            if let std::collections::btree_map::Entry::Vacant(entry) = self.wanted.entry(key) {
                let wanted = self
                    .replica
                    .wanted(files.job, piece.kind)
                    .map_err(Stop::Refused)?;
                entry.insert(wanted.into_iter().map(|(hash, _)| hash).keyed());
            }
            let wanted = self.wanted.entry(key).or_default();
            let ends = piece.offset + piece.bytes.len() as u64 == piece.size;
            if !wanted.contains(&piece.hash) {
                self.report.files_left_out += u64::from(ends);
                continue;
            }
            let written = self.replica.write_blob(
                files.job,
                piece.kind,
                piece.hash,
                piece.size,
                piece.offset,
                &piece.bytes,
            );
            match written {
                Ok(progress) if progress.complete => {
                    self.report.files += 1;
                    wanted.remove(&piece.hash);
                    self.replica
                        .note_peer_holds_blob(self.maker.device, piece.kind, piece.hash)
                        .map_err(Stop::Refused)?;
                }
                Ok(_) => {}
                Err(Refusal::Storage(words)) => return Err(Stop::Refused(Refusal::Storage(words))),
                Err(_) => {
                    wanted.remove(&piece.hash);
                    self.report.files_left_out += u64::from(ends);
                }
            }
        }
        Ok(())
    }
}

//! The worker: a process that judges batches and does nothing else. It limits itself before it
//! reads, opens no file, and ends when nobody asks any more.

use std::collections::VecDeque;
use std::io::{self, BufReader, Read, Write};

use chalkwalk_core::document::Document;

use super::wire::{Answer, Ask, packed, receive, send, signers};
use super::{Case, Place};
use crate::limits;

/// Judges what is asked over `from` until it ends.
///
/// `memory` is in bytes, beyond what the process takes now.
///
/// # Errors
/// Where the limits cannot be set, or the server does not keep to the frames.
pub fn run(memory: u64, from: impl Read, mut to: impl Write) -> io::Result<()> {
    confine(memory)?;
    // A panic of the gate is caught and told; its words may hold what a person wrote.
    std::panic::set_hook(Box::new(|_| {}));
    let mut from = BufReader::new(from);
    let mut documents = Documents::default();
    let mut answer = |answer: &Answer| {
        let frame = packed(answer, limits::WORKER_ANSWER_BYTES)?;
        send(&mut to, &frame)
    };
    answer(&Answer::Ready)?;
    while let Some(ask) = receive(&mut from, limits::WORKER_FRAME_BYTES)? {
        answer(&documents.hear(ask))?;
    }
    Ok(())
}

/// Documents of jobs that were judged lately, the longest unused first.
#[derive(Default)]
struct Documents(VecDeque<(Place, Document)>);

impl Documents {
    fn hear(&mut self, ask: Ask) -> Answer {
        match ask {
            Ask::Keep { place, document } => {
                let loaded = Document::load(&document);
                drop(document);
                self.take(place);
                match loaded {
                    Ok(document) => {
                        self.put(place, document);
                        Answer::Kept
                    }
                    Err(_) => Answer::Behind,
                }
            }
            Ask::Judge {
                place,
                heads,
                batch,
                signers: given,
            } => {
                let Some(document) = self.take(place) else {
                    return Answer::Behind;
                };
                let here = document.heads();
                if !here.iter().eq(heads.iter().map(|head| &**head)) {
                    return Answer::Behind;
                }
                let batch: Vec<_> = batch.into_iter().map(|row| row.change()).collect();
                let (keys, roles) = signers(&given);
                let case = Case {
                    job: place.1,
                    batch: &batch,
                    keys: &keys,
                    roles: &roles,
                };
                match case.judge(document, true) {
                    Ok(admitted) => {
                        self.put(place, admitted.document);
                        Answer::Good
                    }
                    Err((document, refusal)) => {
                        self.put(place, *document);
                        Answer::Refused(refusal.into())
                    }
                }
            }
        }
    }

    fn take(&mut self, place: Place) -> Option<Document> {
        let at = self.0.iter().position(|(of, _)| *of == place)?;
        self.0.remove(at).map(|(_, document)| document)
    }

    fn put(&mut self, place: Place, document: Document) {
        if self.0.len() >= limits::WORKER_DOCUMENTS {
            self.0.pop_front();
        }
        self.0.push_back((place, document));
    }
}

/// Limits this process: its memory, and that it writes no files and leaves no image of its memory.
#[cfg(unix)]
fn confine(memory: u64) -> io::Result<()> {
    use rustix::process::{Resource, Rlimit, setrlimit};

    let limit = |resource, most| {
        let limit = Rlimit {
            current: Some(most),
            maximum: Some(most),
        };
        setrlimit(resource, limit).map_err(io::Error::from)
    };
    limit(Resource::Core, 0)?;
    limit(Resource::Fsize, 0)?;
    limit(Resource::As, memory.saturating_add(taken()))
}

#[cfg(not(unix))]
fn confine(_memory: u64) -> io::Result<()> {
    Err(io::ErrorKind::Unsupported.into())
}

/// The address space that the process takes now, bytes; 0 where the system does not tell.
#[cfg(unix)]
fn taken() -> u64 {
    let pages = std::fs::read_to_string("/proc/self/statm")
        .ok()
        .and_then(|text| text.split_whitespace().next()?.parse::<u64>().ok());
    pages
        .unwrap_or(0)
        .saturating_mul(rustix::param::page_size() as u64)
}

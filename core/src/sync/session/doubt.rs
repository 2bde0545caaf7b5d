//! Files that the peer may hold without this side knowing: the link broke before its word came.
//! Once all is exchanged, this side asks for them by name, and notes what the peer says.

use std::collections::{BTreeSet, VecDeque};

use super::out_of_place;
use super::pull::KINDS;
use crate::document::Refusal;
use crate::job::{BlobKind, DeviceId, JobId, PhotoHash};
use crate::limits;
use crate::sorted::Keyed;
use crate::sync::Replica;
use crate::sync::event::Ending;
use crate::sync::message::Lacks;

/// What is in doubt.
#[derive(Default)]
pub(super) struct Doubt {
    looked: bool,
    queue: VecDeque<Lacks>,
    asked: Option<(BlobKind, BTreeSet<PhotoHash>)>,
}

impl Doubt {
    /// The next page to ask for; one at a time.
    pub(super) fn next_page(
        &mut self,
        replica: &mut dyn Replica,
        peer: DeviceId,
        jobs: &[JobId],
    ) -> Result<Option<Lacks>, Refusal> {
        if !self.looked {
            self.looked = true;
            let unconfirmed = replica.unconfirmed(peer, jobs)?;
            for kind in KINDS {
                let files: Vec<PhotoHash> = unconfirmed
                    .iter()
                    .filter(|(of, _)| *of == kind)
                    .map(|(_, hash)| *hash)
                    .collect();
                let pages = files.chunks(limits::WANT_PAGE);
                self.queue.extend(pages.map(|page| Lacks {
                    kind,
                    files: page.to_vec(),
                }));
            }
        }
        if self.asked.is_some() {
            return Ok(None);
        }
        let page = self.queue.pop_front();
        self.asked = page
            .as_ref()
            .map(|page| (page.kind, page.files.iter().copied().keyed()));
        Ok(page)
    }

    /// Answers the peer: of the files it names, those that are whole here.
    pub(super) fn answer(replica: &mut dyn Replica, asked: &Lacks) -> Result<Lacks, Ending> {
        if asked.files.len() > limits::WANT_PAGE {
            return Err(Refusal::Limit("too many files are named".into()).into());
        }
        let mut files = Vec::new();
        for hash in &asked.files {
            if replica.blob_size(asked.kind, *hash)?.is_some() {
                files.push(*hash);
            }
        }
        Ok(Lacks {
            kind: asked.kind,
            files,
        })
    }

    /// Takes the peer's answer: files that were asked for and that it holds.
    pub(super) fn on_answer(&mut self, holds: &Lacks) -> Result<(), Ending> {
        let Some((kind, asked)) = self.asked.take() else {
            return Err(out_of_place());
        };
        let fits = kind == holds.kind && holds.files.iter().all(|hash| asked.contains(hash));
        if fits { Ok(()) } else { Err(out_of_place()) }
    }

    /// Whether nothing is asked or to be asked.
    pub(super) fn is_idle(&self) -> bool {
        self.looked && self.queue.is_empty() && self.asked.is_none()
    }
}

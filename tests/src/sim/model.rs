//! What must be there, whatever happened: a plain list of what was acknowledged to a person.

use std::collections::{BTreeMap, BTreeSet};

use chalkwalk_core::job::{DeviceId, Job, JobId, RecordId, RecordRef};

/// What an acknowledged action said.
#[derive(Clone, Debug)]
pub(super) enum Said {
    /// A record was added.
    Added(RecordRef),
    /// Hits were counted.
    Counted(RecordRef, u32),
    /// A record was struck.
    Struck(RecordRef),
    /// A photo with the hash of its file.
    Photo(RecordId, [u8; 32]),
    /// Anything else.
    Other,
}

/// One acknowledged action.
#[derive(Clone, Debug)]
pub(super) struct Word {
    pub(super) job: JobId,
    pub(super) change: [u8; 32],
    pub(super) device: DeviceId,
    pub(super) said: Said,
}

/// Everything that was acknowledged to a person, in order, and what a phone called safe.
#[derive(Default)]
pub(super) struct Model {
    pub(super) words: Vec<Word>,
    safe_changes: BTreeSet<(JobId, [u8; 32])>,
    safe_photos: BTreeSet<[u8; 32]>,
    /// Devices that went on from an old copy.
    restored: BTreeSet<DeviceId>,
    /// Originals that stood on a lost disk alone.
    lost_originals: BTreeSet<[u8; 32]>,
}

impl Model {
    pub(super) fn say(&mut self, word: Word) {
        self.words.push(word);
    }

    /// A phone said that these are safe at the office.
    pub(super) fn called_safe(
        &mut self,
        changes: impl IntoIterator<Item = (JobId, [u8; 32])>,
        photos: impl IntoIterator<Item = [u8; 32]>,
    ) {
        self.safe_changes.extend(changes);
        self.safe_photos.extend(photos);
    }

    /// What was called safe must be at the office at any moment.
    pub(super) fn promises_hold(
        &self,
        at_office: &BTreeSet<(JobId, [u8; 32])>,
        photos: &BTreeSet<[u8; 32]>,
    ) -> Result<(), String> {
        let change = self
            .safe_changes
            .iter()
            .find(|safe| !at_office.contains(*safe));
        if let Some((job, _)) = change {
            return Err(format!(
                "a change of job {job} was called safe and is not at the office"
            ));
        }
        match self.safe_photos.iter().find(|safe| !photos.contains(*safe)) {
            Some(_) => Err("a photo was called safe and is not at the office".to_owned()),
            None => Ok(()),
        }
    }

    /// A disk was replaced by an old copy: what stood on that disk alone is gone with it, and
    /// only that.
    pub(super) fn forget_but(&mut self, device: DeviceId, held: &BTreeSet<(JobId, [u8; 32])>) {
        self.restored.insert(device);
        self.words
            .retain(|word| held.contains(&(word.job, word.change)));
    }

    /// What nobody holds any more, though nobody lost a disk.
    pub(super) fn missing(&self, held: &BTreeSet<(JobId, [u8; 32])>) -> Option<&Word> {
        self.words
            .iter()
            .find(|word| !held.contains(&(word.job, word.change)))
    }

    /// The record as every replica must read it in the end.
    pub(super) fn agrees(&self, id: JobId, job: &Job) -> Result<(), String> {
        let mut counts: BTreeMap<(&RecordRef, DeviceId), Vec<u32>> = BTreeMap::new();
        let mut struck: BTreeSet<&RecordRef> = BTreeSet::new();
        for word in self.words.iter().filter(|word| word.job == id) {
            match &word.said {
                Said::Added(at) if job.records.header(at).is_none() => {
                    return Err(format!("{at} was added and is not there"));
                }
                Said::Photo(at, _) if !job.records.photos.contains_key(at) => {
                    return Err(format!("photo {at} was added and is not there"));
                }
                Said::Counted(at, hits) => {
                    counts.entry((at, word.device)).or_default().push(*hits);
                }
                Said::Struck(at) => {
                    struck.insert(at);
                }
                _ => {}
            }
        }
        for at in struck {
            let stands = job
                .records
                .header(at)
                .is_none_or(|header| header.struck.is_none());
            if stands {
                return Err(format!("{at} was struck and stands"));
            }
        }
        for ((at, device), said) in counts {
            let finding = job.records.findings.get(&at.id);
            let counted = finding.and_then(|finding| finding.tally.get(&device).copied());
            // Who goes on from an old copy counts again without knowing of the earlier count: then
            // the two are concurrent, and one of them stands.
            let agrees = match counted {
                Some(hits) if self.restored.contains(&device) => said.contains(&hits),
                counted => counted == said.last().copied(),
            };
            if !agrees {
                return Err(format!(
                    "{at}: {device} counted {said:?}, the record says {counted:?}"
                ));
            }
        }
        Ok(())
    }

    /// The same for photo files: the record may have reached others before the file did.
    pub(super) fn forget_originals_but(&mut self, held: &BTreeSet<[u8; 32]>) {
        let photos = self.photos();
        self.lost_originals.extend(photos.difference(held).copied());
    }

    /// Files that somebody must hold.
    pub(super) fn originals(&self) -> BTreeSet<[u8; 32]> {
        self.photos()
            .difference(&self.lost_originals)
            .copied()
            .collect()
    }

    pub(super) fn photos(&self) -> BTreeSet<[u8; 32]> {
        let photo = |word: &Word| match &word.said {
            Said::Photo(_, hash) => Some(*hash),
            _ => None,
        };
        self.words.iter().filter_map(photo).collect()
    }
}

//! The devices, the office, the links between them, and what happens to them.

use std::collections::BTreeSet;
use std::path::Path;

use chalkwalk_core::document::{Action, ChangeRow};
use chalkwalk_core::job::{
    AnyFields, BlobKind, Component, Condition, Finding, JobId, PhotoHash, Property, RecordId,
    RecordRef, Side,
};
use chalkwalk_core::journal::JournalError;
use chalkwalk_core::notebook::NotebookError;
use chalkwalk_core::sync::Session;
use tempfile::TempDir;
use tokio::runtime::Runtime;

use super::clock::Clock;
use super::device::Device;
use super::hostile::Hostile;
use super::link::{End, Link, Who};
use super::model::{Model, Said, Word};
use super::office::Site;
use super::story::{Failure, Tally};

/// Changes and photos as somebody who listens knows them.
type Seen = (Vec<(JobId, ChangeRow)>, Vec<PhotoHash>);

/// Links at once.
const LINKS: usize = 8;

pub(super) struct World {
    pub(super) random: fastrand::Rng,
    pub(super) clock: Clock,
    pub(super) site: Site,
    pub(super) devices: Vec<Device>,
    pub(super) jobs: Vec<JobId>,
    pub(super) links: Vec<Link>,
    pub(super) model: Model,
    pub(super) tally: Tally,
    /// The story is over: sessions end once all is exchanged.
    pub(super) healing: bool,
    _folder: TempDir,
}

impl World {
    pub(super) fn new(seed: u64, runtime: Runtime) -> std::io::Result<Self> {
        let mut random = fastrand::Rng::with_seed(seed);
        let in_memory = Path::new("/dev/shm");
        let folder = if in_memory.is_dir() {
            TempDir::new_in(in_memory)?
        } else {
            TempDir::new()?
        };
        let clock = Clock::new();
        let site = Site::new(folder.path(), random.usize(1..=2), runtime);
        let devices = (0..random.usize(2..=6))
            .map(|n| Device::new(folder.path(), n, &site.office, &clock, &mut random))
            .collect();
        let jobs = (0..random.u8(1..=3))
            .map(|n| JobId::from_bytes([n + 1; 16]))
            .collect();
        Ok(Self {
            random,
            clock,
            site,
            devices,
            jobs,
            links: Vec::new(),
            model: Model::default(),
            tally: Tally::default(),
            healing: false,
            _folder: folder,
        })
    }

    pub(super) fn any_device(&mut self) -> usize {
        self.random.usize(..self.devices.len())
    }

    /// A person does something.
    pub(super) fn act(&mut self) -> Result<(), Failure> {
        let n = self.any_device();
        let job = self.jobs[self.random.usize(..self.jobs.len())];
        if !self.devices[n]
            .notebook
            .jobs()
            .map_err(Failure::of)?
            .contains(&job)
        {
            let property = Property {
                street: Some("14 Larkmeadow Lane".to_owned()),
                ..Property::default()
            };
            let begun = Action::Begin { job, property };
            return self.acted(n, job, &begun, Said::Other);
        }
        let (action, said) = self.choose(n, job)?;
        self.acted(n, job, &action, said)
    }

    fn choose(&mut self, n: usize, job: JobId) -> Result<(Action, Said), Failure> {
        let mut raw = [0; 10];
        self.random.fill(&mut raw);
        let id = RecordId::new(self.devices[n].watch.now(), raw);
        let view = self.devices[n]
            .notebook
            .job(job)
            .map_err(Failure::of)?
            .clone();
        let findings: Vec<RecordRef> = view
            .standing_findings()
            .map(|(id, _)| RecordRef::new(chalkwalk_core::job::Kind::Finding, id.clone()))
            .collect();
        let conflicts = view.conflicts();
        let way = self.random.u8(..10);
        if let Some((at, conflict)) = conflicts.first().filter(|_| way < 5) {
            let chosen = self.random.usize(..conflict.statements.len());
            let settle = Action::Settle {
                at: at.clone(),
                field: conflict.field.clone(),
                value: conflict.statements[chosen].value.clone(),
            };
            self.tally.settled += 1;
            return Ok((settle, Said::Other));
        }
        if findings.is_empty() || way < 3 {
            let finding = Finding {
                place: Some(RecordRef::side(Side::ALL[self.random.usize(..4)])),
                component: Some(Component::Gutter),
                condition: Some(Condition::Damaged),
                ..Finding::default()
            };
            let at = RecordRef::new(chalkwalk_core::job::Kind::Finding, id.clone());
            let add = Action::Add {
                id,
                record: AnyFields::Finding(finding),
                hits: None,
                shows: Vec::new(),
            };
            return Ok((add, Said::Added(at)));
        }
        // Most people look at the same few things.
        let few = self.random.usize(1..=findings.len()).min(3);
        let at = findings[self.random.usize(..few)].clone();
        Ok(match way {
            3..=6 => {
                let finding = Finding {
                    text: Some(format!("words {}", self.random.u16(..))),
                    units: Some(self.random.u32(..9)),
                    ..Finding::default()
                };
                let amend = Action::Amend {
                    id: at.id.clone(),
                    set: AnyFields::Finding(finding),
                    clear: Vec::new(),
                };
                (amend, Said::Other)
            }
            7..=8 => {
                let hits = self.random.u32(..40);
                (
                    Action::Count {
                        at: at.clone(),
                        hits,
                    },
                    Said::Counted(at, hits),
                )
            }
            _ => {
                let reason = "a shadow".to_owned();
                (
                    Action::Strike {
                        at: at.clone(),
                        reason,
                    },
                    Said::Struck(at),
                )
            }
        })
    }

    fn acted(&mut self, n: usize, job: JobId, action: &Action, said: Said) -> Result<(), Failure> {
        let device = &mut self.devices[n];
        match device.notebook.act(job, action) {
            Ok(receipt) => {
                self.tally.actions += 1;
                // Saying again what one said before changes nothing.
                if let Some(change) = receipt.change {
                    let device = device.notebook.identity().device;
                    self.model.say(Word {
                        job,
                        change,
                        device,
                        said,
                    });
                }
            }
            // Two people differ, or the disk is full: a person is told, and nothing is acknowledged.
            Err(NotebookError::Action(_)) => self.tally.refused_actions += 1,
            Err(NotebookError::Journal(JournalError::DiskFull)) if device.full => {
                self.tally.disk_full += 1;
            }
            Err(error) => return Err(Failure::of(error)),
        }
        self.wake(Who::Device(n), job, usize::MAX);
        Ok(())
    }

    pub(super) fn take_photo(&mut self) -> Result<(), Failure> {
        let n = self.any_device();
        let device = &mut self.devices[n];
        let jobs = device.notebook.jobs().map_err(Failure::of)?;
        let Some(job) = jobs.first().copied() else {
            return Ok(());
        };
        match device.take_photo(job, &mut self.random) {
            Ok(hash) => {
                let record = device
                    .notebook
                    .photo_record(job, PhotoHash::from_bytes(hash))
                    .map_err(Failure::of)?
                    .ok_or_else(|| Failure::new("a photo was added and has no record"))?;
                let device_id = device.notebook.identity().device;
                let rows = device.notebook.document(job).map_err(Failure::of)?.rows();
                let own = rows.iter().rev().find(|row| row.author.device == device_id);
                let change = own.map(|row| row.hash).unwrap_or_default();
                let said = Said::Photo(record, hash);
                self.model.say(Word {
                    job,
                    change,
                    device: device_id,
                    said,
                });
                self.tally.photos += 1;
            }
            Err(NotebookError::Journal(JournalError::DiskFull)) if device.full => {
                self.tally.disk_full += 1;
            }
            Err(error) => return Err(Failure::of(error)),
        }
        self.wake(Who::Device(n), job, usize::MAX);
        Ok(())
    }

    /// Sessions at the same end hear of news, most of the time.
    fn wake(&mut self, who: Who, job: JobId, but: usize) {
        for (at, link) in self.links.iter_mut().enumerate() {
            for end in 0..2 {
                let same = match (link.who(end), who) {
                    // Nodes share their storage, and word of it is only a hint.
                    (Who::Node(_), Who::Node(_)) => self.random.u8(..5) > 0,
                    (one, other) => one == other,
                };
                if at != but && same {
                    link.sessions[end].wake(job);
                }
            }
        }
    }

    pub(super) fn connect(&mut self) -> Result<(), Failure> {
        let from = self.any_device();
        let to = if self.random.bool() {
            Who::Node(self.random.usize(..self.site.nodes()))
        } else {
            Who::Device(self.any_device())
        };
        if to == Who::Device(from) || self.links.len() >= LINKS || self.devices[from].apart {
            return Ok(());
        }
        self.link(from, to)
    }

    pub(super) fn link(&mut self, from: usize, to: Who) -> Result<(), Failure> {
        let here = Who::Device(from);
        if self
            .links
            .iter()
            .any(|link| link.touches(here) && link.touches(to))
        {
            return Ok(());
        }
        let live = !self.healing && self.random.bool();
        let now = self.devices[from].watch.now();
        let mut config = self.devices[from]
            .notebook
            .session(true, None, true)
            .map_err(Failure::of)?;
        config.live = live;
        let one = Session::new(config, now).map_err(Failure::of)?;
        let (end, other) = match to {
            Who::Node(node) => {
                let config = self.site.config(&mut self.random);
                let session = Session::new(config, self.clock.now()).map_err(Failure::of)?;
                (End::Node(node, self.site.replica(node)), session)
            }
            Who::Device(n) if !self.devices[n].apart => {
                let now = self.devices[n].watch.now();
                let config = self.devices[n].notebook.session(false, None, true);
                let session = Session::new(config.map_err(Failure::of)?, now);
                (End::Device(n), session.map_err(Failure::of)?)
            }
            Who::Device(_) | Who::Hostile => return Ok(()),
        };
        self.links
            .push(Link::new([End::Device(from), end], [one, other]));
        self.tally.links += 1;
        Ok(())
    }

    /// The hostile device reaches somebody.
    pub(super) fn hostile_comes(&mut self) -> Result<(), Failure> {
        if self.links.len() >= LINKS {
            return Ok(());
        }
        let (seen, photos) = self.seen_by_all()?;
        let mut hostile = Hostile::new(&self.site.office, seen, photos, &mut self.random);
        let now = self.clock.now();
        let one = Session::new(hostile.config(), now).map_err(Failure::of)?;
        let (end, other) = if hostile.wants_the_office() || self.random.bool() {
            let node = self.random.usize(..self.site.nodes());
            let session = Session::new(self.site.config(&mut self.random), now);
            (
                End::Node(node, self.site.replica(node)),
                session.map_err(Failure::of)?,
            )
        } else {
            let n = self.any_device();
            let config = self.devices[n].notebook.session(false, None, true);
            let session = Session::new(config.map_err(Failure::of)?, self.devices[n].watch.now());
            (End::Device(n), session.map_err(Failure::of)?)
        };
        let ends = [End::Hostile(Box::new(hostile)), end];
        self.links.push(Link::new(ends, [one, other]));
        self.tally.hostile_sessions += 1;
        Ok(())
    }

    fn seen_by_all(&mut self) -> Result<Seen, Failure> {
        let mut seen = Vec::new();
        let n = self.any_device();
        for job in self.devices[n].notebook.jobs().map_err(Failure::of)? {
            let rows = self.devices[n]
                .notebook
                .document(job)
                .map_err(Failure::of)?
                .rows();
            seen.extend(rows.into_iter().map(|row| (job, row)));
        }
        let photos = self
            .model
            .photos()
            .into_iter()
            .map(PhotoHash::from_bytes)
            .collect();
        Ok((seen, photos))
    }

    /// Moves frames on one link until it is quiet, or so many have arrived.
    pub(super) fn move_frames(&mut self, at: usize, most: usize) -> usize {
        let mut moved = 0;
        while moved < most {
            let before = moved;
            for end in 0..2 {
                self.speak(at, end);
                moved += usize::from(self.deliver(at, end));
            }
            if moved == before {
                break;
            }
        }
        moved
    }

    /// An end says what it has to say; the frames stay on their way.
    pub(super) fn speak(&mut self, at: usize, end: usize) {
        let news = self.links[at].speak(end, &mut self.devices);
        self.hear(at, end, news);
    }

    /// The next frame from an end arrives.
    pub(super) fn deliver(&mut self, at: usize, end: usize) -> bool {
        let Some(news) = self.links[at].deliver(end, &mut self.devices, self.clock.now()) else {
            return false;
        };
        self.tally.frames += 1;
        self.hear(at, 1 - end, news);
        true
    }

    fn hear(&mut self, at: usize, end: usize, news: Vec<JobId>) {
        let who = self.links[at].who(end);
        for job in news {
            self.wake(who, job, at);
        }
    }

    /// What happens to a frame on a bad network.
    pub(super) fn spoil_a_frame(&mut self) {
        if self.links.is_empty() {
            return;
        }
        let at = self.random.usize(..self.links.len());
        let wire = &mut self.links[at].wires[self.random.usize(..2)];
        if wire.is_empty() {
            return;
        }
        self.tally.spoiled_frames += 1;
        let n = self.random.usize(..wire.len());
        match self.random.u8(..4) {
            0 => drop(wire.remove(n)),
            1 => {
                let frame = wire[n].clone();
                wire.insert(n, frame);
            }
            2 if n > 0 => wire.swap(n, n - 1),
            _ => {
                let frame = &mut wire[n];
                if !frame.is_empty() {
                    let byte = self.random.usize(..frame.len());
                    frame[byte] ^= 1 << self.random.u8(..8);
                }
            }
        }
    }

    pub(super) fn cut(&mut self, who: Who) {
        self.links.retain(|link| !link.touches(who));
    }

    pub(super) fn crash(&mut self, n: usize) {
        self.cut(Who::Device(n));
        self.devices[n].crash(&mut self.random);
        self.tally.crashes += 1;
    }

    /// An old copy takes a phone's place. What stood on that phone alone is gone; before it goes,
    /// nothing else may be missing.
    pub(super) fn restore(&mut self, n: usize) -> Result<(), Failure> {
        self.cut(Who::Device(n));
        self.nothing_missing()?;
        self.devices[n].restore(&mut self.random);
        let held = self.held()?;
        let device = self.devices[n].notebook.identity().device;
        self.model.forget_but(device, &held);
        let originals = self.held_originals()?;
        self.model.forget_originals_but(&originals);
        self.tally.restores += 1;
        Ok(())
    }

    pub(super) fn nothing_missing(&mut self) -> Result<(), Failure> {
        let originals = self.held_originals()?;
        if self
            .model
            .originals()
            .iter()
            .any(|hash| !originals.contains(hash))
        {
            return Err(Failure::new(
                "the original of an acknowledged photo is held by nobody",
            ));
        }
        let held = self.held()?;
        match self.model.missing(&held) {
            Some(word) => Err(Failure::new(&format!(
                "an acknowledged action of job {} is held by nobody: {:?}",
                word.job, word.said
            ))),
            None => Ok(()),
        }
    }

    /// Changes held durably by anybody.
    pub(super) fn held(&mut self) -> Result<BTreeSet<(JobId, [u8; 32])>, Failure> {
        let mut held = self.at_office()?;
        for device in &mut self.devices {
            for job in device.notebook.jobs().map_err(Failure::of)? {
                let rows = device.notebook.document(job).map_err(Failure::of)?.rows();
                held.extend(rows.into_iter().map(|row| (job, row.hash)));
            }
        }
        Ok(held)
    }

    pub(super) fn at_office(&self) -> Result<BTreeSet<(JobId, [u8; 32])>, Failure> {
        let records = self.site.hub(0).records();
        let mut held = BTreeSet::new();
        for job in &self.jobs {
            let rows = self
                .site
                .runtime
                .block_on(records.lacking(*job, &Default::default(), usize::MAX >> 1))
                .map_err(Failure::of)?;
            held.extend(rows.into_iter().map(|row| (*job, row.hash)));
        }
        Ok(held)
    }

    pub(super) fn photos_at_office(&self) -> Result<BTreeSet<[u8; 32]>, Failure> {
        let listed = self.site.runtime.block_on(self.site.hub(0).blobs().list());
        let originals = listed.map_err(Failure::of)?.into_iter();
        let originals = originals.filter(|(key, _)| key.kind == BlobKind::Original);
        Ok(originals.map(|(key, _)| *key.hash.as_bytes()).collect())
    }

    /// Originals that are whole somewhere.
    fn held_originals(&self) -> Result<BTreeSet<[u8; 32]>, Failure> {
        let mut held = self.photos_at_office()?;
        for hash in self.model.photos() {
            let key = PhotoHash::from_bytes(hash);
            for device in &self.devices {
                let store = device.notebook.photo_store();
                if store
                    .have(BlobKind::Original, key)
                    .map_err(Failure::of)?
                    .is_some()
                {
                    held.insert(hash);
                }
            }
        }
        Ok(held)
    }

    /// Notes what a phone calls safe, and checks all that was ever called so.
    pub(super) fn look_at_promises(&mut self) -> Result<(), Failure> {
        for device in &mut self.devices {
            for job in device.notebook.jobs().map_err(Failure::of)? {
                if device
                    .notebook
                    .status(job)
                    .map_err(Failure::of)?
                    .safe_at_office
                {
                    let document = device.notebook.document(job).map_err(Failure::of)?;
                    let changes: Vec<_> = document
                        .rows()
                        .into_iter()
                        .map(|row| (job, row.hash))
                        .collect();
                    self.model.called_safe(changes, []);
                    self.tally.called_safe += 1;
                }
            }
            for hash in self.model.photos() {
                let hash = PhotoHash::from_bytes(hash);
                if device
                    .notebook
                    .original_safe_at_office(hash)
                    .map_err(Failure::of)?
                {
                    self.model.called_safe([], [*hash.as_bytes()]);
                }
            }
        }
        let (changes, photos) = (self.at_office()?, self.photos_at_office()?);
        self.model
            .promises_hold(&changes, &photos)
            .map_err(|words| Failure::new(&words))
    }
}

//! The story of one seed: what happens, how it heals, and what must be true then.

use chalkwalk_core::document::Document;
use chalkwalk_core::job::{BlobKind, PhotoHash};
use chalkwalk_sync_server::store::BlobKey;
use serde::Serialize;

use super::link::Who;
use super::world::World;

/// What a seed brought about.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Tally {
    /// Actions acknowledged.
    pub actions: usize,
    /// Actions refused with a reason.
    pub refused_actions: usize,
    /// Conflicts settled.
    pub settled: usize,
    /// Photos acknowledged.
    pub photos: usize,
    /// Actions refused because the disk was full.
    pub disk_full: usize,
    /// Links that came about.
    pub links: usize,
    /// Frames that arrived.
    pub frames: usize,
    /// Frames lost, repeated, swapped or damaged.
    pub spoiled_frames: usize,
    /// Devices that lost power.
    pub crashes: usize,
    /// Office nodes that were killed.
    pub node_crashes: usize,
    /// Times the office lost power.
    pub power_cuts: usize,
    /// Old copies restored.
    pub restores: usize,
    /// Sessions of the hostile device.
    pub hostile_sessions: usize,
    /// Times a phone called a job safe at the office.
    pub called_safe: usize,
}

impl std::ops::AddAssign for Tally {
    fn add_assign(&mut self, other: Self) {
        self.actions += other.actions;
        self.refused_actions += other.refused_actions;
        self.settled += other.settled;
        self.photos += other.photos;
        self.disk_full += other.disk_full;
        self.links += other.links;
        self.frames += other.frames;
        self.spoiled_frames += other.spoiled_frames;
        self.crashes += other.crashes;
        self.node_crashes += other.node_crashes;
        self.power_cuts += other.power_cuts;
        self.restores += other.restores;
        self.hostile_sessions += other.hostile_sessions;
        self.called_safe += other.called_safe;
    }
}

/// What must not be.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct Failure(String);

impl Failure {
    pub(super) fn new(words: &str) -> Self {
        Self(words.to_owned())
    }

    pub(super) fn of(error: impl std::error::Error) -> Self {
        let mut words = error.to_string();
        let mut cause = error.source();
        while let Some(error) = cause {
            words = format!("{words}: {error}");
            cause = error.source();
        }
        Self(words)
    }
}

/// Plays one seed to its end.
pub fn run(seed: u64) -> Result<Tally, Failure> {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(1)
        .enable_all()
        .build()
        .map_err(Failure::of)?;
    let mut world = World::new(seed, runtime).map_err(Failure::of)?;
    let steps = world.random.usize(120..260);
    for _ in 0..steps {
        step(&mut world)?;
    }
    heal(&mut world)?;
    world.look_at_promises()?;
    all_is_equal(&mut world)?;
    Ok(world.tally)
}

fn step(world: &mut World) -> Result<(), Failure> {
    world.clock.pass(world.random.i64(0..4000));
    let now = world.clock.now();
    match world.random.u16(..1000) {
        0..320 => world.act()?,
        320..350 => world.take_photo()?,
        350..450 => world.connect()?,
        450..780 => {
            if !world.links.is_empty() {
                let at = world.random.usize(..world.links.len());
                carry(world, at);
            }
        }
        780..820 => world.spoil_a_frame(),
        820..850 => {
            if !world.links.is_empty() {
                let at = world.random.usize(..world.links.len());
                world.links.remove(at);
            }
        }
        850..870 => {
            let n = world.any_device();
            world.crash(n);
        }
        870..880 => {
            let node = world.random.usize(..world.site.nodes());
            world.cut(Who::Node(node));
            world.site.crash_node(node);
            world.tally.node_crashes += 1;
        }
        880..888 => {
            for node in 0..world.site.nodes() {
                world.cut(Who::Node(node));
            }
            world.site.power_cut(&mut world.random);
            world.tally.power_cuts += 1;
        }
        888..894 => {
            let n = world.any_device();
            world.devices[n].back_up();
        }
        894..904 => {
            let n = world.any_device();
            if world.devices[n].has_copy() {
                world.restore(n)?;
            }
        }
        904..914 => {
            let n = world.any_device();
            let days = world.random.i64(-3..=3);
            world.devices[n].watch.set_off_by(days * 86_400_000);
        }
        914..926 => {
            let n = world.any_device();
            let full = !world.devices[n].full;
            world.devices[n].set_full(full);
        }
        926..940 => world.hostile_comes()?,
        940..952 => {
            let n = world.any_device();
            world.devices[n].apart = !world.devices[n].apart;
            if world.devices[n].apart {
                world.cut(Who::Device(n));
            }
        }
        952..975 => world.look_at_promises()?,
        975..985 => {
            world.clock.pass(120_000);
            let now = world.clock.now();
            for link in &mut world.links {
                link.tell_time(&world.devices, now);
            }
        }
        _ => {
            for link in &mut world.links {
                link.tell_time(&world.devices, now);
            }
        }
    }
    world.links.retain(|link| !(link.is_over() && link.quiet()));
    Ok(())
}

/// Some frames of one link arrive, others stay on their way.
fn carry(world: &mut World, at: usize) {
    match world.random.u8(..3) {
        0 => {
            let most = world.random.usize(1..60);
            world.move_frames(at, most);
        }
        1 => {
            world.speak(at, 0);
            world.speak(at, 1);
        }
        _ => {
            for _ in 0..world.random.usize(1..12) {
                let end = world.random.usize(..2);
                world.deliver(at, end);
                if world.random.bool() {
                    world.speak(at, 1 - end);
                }
            }
        }
    }
}

/// The network is good again, and everybody meets the office.
fn heal(world: &mut World) -> Result<(), Failure> {
    world.links.clear();
    world.healing = true;
    world.nothing_missing()?;
    for device in &mut world.devices {
        device.apart = false;
        device.watch.set_off_by(0);
        if device.full {
            device.set_full(false);
        }
    }
    for round in 0..3 {
        for n in 0..world.devices.len() {
            let node = (n + round) % world.site.nodes();
            world.link(n, Who::Node(node))?;
            let at = world.links.len() - 1;
            let moved = world.move_frames(at, 400_000);
            if moved >= 400_000 {
                return Err(Failure::new("an exchange with the office does not end"));
            }
            let link = world.links.remove(at);
            if round == 2
                && !link
                    .endings
                    .iter()
                    .all(|ending| ending.contains("Finished"))
            {
                return Err(Failure::new(&format!(
                    "on a good network an exchange does not finish: {:?}",
                    link.endings
                )));
            }
        }
    }
    Ok(())
}

fn all_is_equal(world: &mut World) -> Result<(), Failure> {
    for job in world.jobs.clone() {
        let hub = world.site.hub(0);
        let rows = world
            .site
            .runtime
            .block_on(
                hub.records()
                    .lacking(job, &Default::default(), usize::MAX >> 1),
            )
            .map_err(Failure::of)?;
        let mut anew = Document::new().map_err(Failure::of)?;
        anew.replay(&rows).map_err(Failure::of)?;
        world
            .model
            .agrees(job, anew.job())
            .map_err(|words| Failure::new(&words))?;
        let at_office = world
            .site
            .runtime
            .block_on(hub.read(job))
            .map_err(Failure::of)?;
        if !rows.is_empty() && at_office.as_deref() != Some(anew.job()) {
            return Err(Failure::new(
                "the office reads a job differently from its changes",
            ));
        }
        for device in &mut world.devices {
            if rows.is_empty() {
                continue;
            }
            let document = device.notebook.document(job).map_err(Failure::of)?;
            if document.heads() != anew.heads() {
                return Err(Failure::new(
                    "a device and the office do not have equal heads",
                ));
            }
            if document.job() != anew.job() {
                return Err(Failure::new(
                    "a device reads a job differently from the office",
                ));
            }
        }
    }
    every_photo_is_whole(world)
}

fn every_photo_is_whole(world: &mut World) -> Result<(), Failure> {
    for hash in world.model.originals() {
        let hash = PhotoHash::from_bytes(hash);
        let key = BlobKey {
            kind: BlobKind::Original,
            hash,
        };
        let blobs = world.site.hub(0).blobs();
        let bytes = world
            .site
            .runtime
            .block_on(blobs.range(key, 0, 1 << 20))
            .map_err(|_| Failure::new("a photo that was acknowledged is not at the office"))?;
        if PhotoHash::of(&bytes) != hash {
            return Err(Failure::new(
                "a photo at the office is not what its name says",
            ));
        }
        for device in &mut world.devices {
            let path = device.notebook.photo_store().path(BlobKind::Original, hash);
            let bytes = std::fs::read(path)
                .map_err(|_| Failure::new("a photo did not reach every device"))?;
            if PhotoHash::of(&bytes) != hash {
                return Err(Failure::new(
                    "a photo on a device is not what its name says",
                ));
            }
        }
    }
    Ok(())
}

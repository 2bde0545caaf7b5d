//! Time and randomness of the simulation.

use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

use chalkwalk_core::env::Env;
use chalkwalk_core::job::Millis;

/// The time of the world.
#[derive(Clone, Debug)]
pub(super) struct Clock(Arc<AtomicI64>);

impl Clock {
    pub(super) fn new() -> Self {
        Self(Arc::new(AtomicI64::new(1_777_381_629_331)))
    }

    pub(super) fn now(&self) -> Millis {
        self.0.load(Ordering::Relaxed)
    }

    pub(super) fn pass(&self, millis: Millis) {
        self.0.fetch_add(millis, Ordering::Relaxed);
    }
}

/// The clock of one device: that of the world, set wrong by so much.
#[derive(Clone, Debug)]
pub(super) struct Wristwatch {
    clock: Clock,
    off: Arc<AtomicI64>,
}

impl Wristwatch {
    pub(super) fn new(clock: Clock) -> Self {
        Self {
            clock,
            off: Arc::default(),
        }
    }

    pub(super) fn set_off_by(&self, millis: Millis) {
        self.off.store(millis, Ordering::Relaxed);
    }

    pub(super) fn now(&self) -> Millis {
        self.clock.now() + self.off.load(Ordering::Relaxed)
    }
}

/// What a notebook is opened with. The random source is fresh for each opening, as a real one is.
pub(super) struct SimEnv {
    pub(super) watch: Wristwatch,
    pub(super) random: fastrand::Rng,
}

impl Env for SimEnv {
    fn now(&mut self) -> Millis {
        self.watch.now()
    }

    fn random(&mut self, buffer: &mut [u8]) {
        self.random.fill(buffer);
    }
}

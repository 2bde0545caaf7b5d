//! Time and randomness, handed in by the shell. Core has none of its own.

use crate::job::{JobId, Millis, RecordId};

/// What the shell provides: a clock and a source of random bytes.
pub trait Env: Send {
    /// Milliseconds since 1970 UTC.
    fn now(&mut self) -> Millis;
    /// Fills the buffer with bytes that nobody can foretell.
    fn random(&mut self, buffer: &mut [u8]);
}

/// Fresh ids from an [`Env`].
pub trait EnvIds: Env {
    /// A fresh record id.
    fn record_id(&mut self) -> RecordId {
        let (now, random) = self.time_and_random();
        RecordId::new(now, random)
    }

    /// A fresh job id.
    fn job_id(&mut self) -> JobId {
        let (now, random) = self.time_and_random();
        JobId::new(now, random)
    }

    /// The time and ten random bytes: what an id is made of.
    fn time_and_random(&mut self) -> (Millis, [u8; 10]) {
        let mut random = [0u8; 10];
        self.random(&mut random);
        (self.now(), random)
    }
}

impl<E: Env + ?Sized> EnvIds for E {}

/// An [`Env`] that gives the same times and bytes for the same seed: for tests and simulations.
#[derive(Clone, Debug)]
pub struct SeededEnv {
    now: Millis,
    step: Millis,
    counter: u64,
    seed: [u8; 32],
}

impl SeededEnv {
    /// Starts at a time; each look at the clock moves it on by `step` milliseconds.
    pub fn new(seed: u64, now: Millis, step: Millis) -> Self {
        let seed = *blake3::hash(&seed.to_le_bytes()).as_bytes();
        Self {
            now,
            step,
            counter: 0,
            seed,
        }
    }

    /// Sets the clock, back or forth.
    pub fn set_now(&mut self, now: Millis) {
        self.now = now;
    }
}

impl Env for SeededEnv {
    fn now(&mut self) -> Millis {
        self.now += self.step;
        self.now
    }

    fn random(&mut self, buffer: &mut [u8]) {
        self.counter += 1;
        let mut hasher = blake3::Hasher::new_keyed(&self.seed);
        hasher.update(&self.counter.to_le_bytes());
        hasher.finalize_xof().fill(buffer);
    }
}

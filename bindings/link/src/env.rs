//! The machine's clock and randomness, for everything that asks for a [`core Env`](Env).

use std::time::{SystemTime, UNIX_EPOCH};

use chalkwalk_core::env::Env;
use chalkwalk_core::job::Millis;

/// The machine's clock and its source of random bytes.
#[derive(Clone, Copy, Debug, Default)]
pub struct SystemEnv;

/// Milliseconds since 1970 UTC, by the machine's clock.
pub fn now() -> Millis {
    let since = SystemTime::now().duration_since(UNIX_EPOCH);
    since.map_or(0, |since| {
        Millis::try_from(since.as_millis()).unwrap_or(Millis::MAX)
    })
}

impl Env for SystemEnv {
    fn now(&mut self) -> Millis {
        now()
    }

    /// Keys and nonces rest on these bytes: where the system gives none, the process stops rather
    /// than go on with bytes that somebody could foretell.
    fn random(&mut self, buffer: &mut [u8]) {
        if let Err(error) = getrandom::fill(buffer) {
            tracing::error!(%error, "the system gives no random bytes");
            std::process::abort();
        }
    }
}

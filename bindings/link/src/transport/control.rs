//! What other threads say to an exchange that is under way.

use std::collections::BTreeSet;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::SyncSender;
use std::sync::{Mutex, PoisonError};

use chalkwalk_core::job::JobId;

use super::Signal;

/// Stops one exchange, or tells it of news, from any thread.
#[derive(Default)]
pub struct Control {
    stopped: AtomicBool,
    news: Mutex<BTreeSet<JobId>>,
    knock: Mutex<Option<SyncSender<Signal>>>,
}

impl std::fmt::Debug for Control {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Control")
            .field("stopped", &self.is_stopped())
            .finish_non_exhaustive()
    }
}

impl Control {
    /// Ends the exchange politely, soon. What was acknowledged is safe. It stays stopped.
    pub fn stop(&self) {
        self.stopped.store(true, Ordering::SeqCst);
        self.knock();
    }

    /// Whether [`Control::stop`] was called.
    pub fn is_stopped(&self) -> bool {
        self.stopped.load(Ordering::SeqCst)
    }

    /// The replica has news of a job that did not come through this exchange.
    pub fn wake(&self, job: JobId) {
        lock(&self.news).insert(job);
        self.knock();
    }

    pub(super) fn take_news(&self) -> BTreeSet<JobId> {
        std::mem::take(&mut *lock(&self.news))
    }

    pub(super) fn listen_at(&self, door: SyncSender<Signal>) {
        *lock(&self.knock) = Some(door);
    }

    fn knock(&self) {
        if let Some(door) = &*lock(&self.knock) {
            // A full inbox wakes the session as well.
            let _ = door.try_send(Signal::Room);
        }
    }
}

fn lock<T>(mutex: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

//! One open notebook behind a lock: what all objects that speak of it share.

use std::mem::ManuallyDrop;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, Once, PoisonError, Weak};

use chalkwalk_core::contain::{self, Enclosure};
use chalkwalk_core::env::Env;
use chalkwalk_core::job::{JobId, Millis};
use chalkwalk_core::notebook::Notebook as Core;
use chalkwalk_link::Trust;
use chalkwalk_link::env::{SystemEnv, now};
use chalkwalk_link::transport::Control;

use crate::enclosure::{self, Ran};
use crate::{Answer, ChalkwalkError};

/// The app's clock. Only tests and simulations need one; by default the machine's counts.
#[uniffi::export(with_foreign)]
pub trait Clock: Send + Sync {
    /// Milliseconds since 1970 UTC. It may jump back and forth.
    fn now(&self) -> Result<i64, ListenerFailure>;
}

/// A listener or clock of the app failed.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error, uniffi::Error)]
pub enum ListenerFailure {
    /// The app's own code failed.
    #[error("{words}")]
    Failed {
        /// What it said.
        words: String,
    },
}

impl From<uniffi::UnexpectedUniFFICallbackError> for ListenerFailure {
    fn from(error: uniffi::UnexpectedUniFFICallbackError) -> Self {
        let words = error.reason;
        Self::Failed { words }
    }
}

pub(crate) struct Inner {
    folder: PathBuf,
    time: Arc<Time>,
    state: Mutex<State>,
    controls: Mutex<Vec<Weak<Control>>>,
    pub(crate) trust: Mutex<Trust>,
}

enum State {
    Open(Box<Core>),
    Shut,
}

/// The time. The app's clock is asked before the notebook is locked, never while it is.
struct Time {
    clock: Option<Arc<dyn Clock>>,
    told: AtomicI64,
}

impl Time {
    fn new(clock: Option<Arc<dyn Clock>>) -> Arc<Self> {
        let told = AtomicI64::new(0);
        Arc::new(Self { clock, told })
    }

    /// Asks the app's clock. One that fails must not stop somebody from recording.
    fn look(&self) -> Millis {
        let told = self.clock.as_ref().and_then(|clock| clock.now().ok());
        let at = told.unwrap_or_else(now);
        self.told.store(at, Ordering::SeqCst);
        at
    }
}

/// The machine's randomness with the time as it was last looked up.
struct ShellEnv(Arc<Time>);

impl Env for ShellEnv {
    fn now(&mut self) -> Millis {
        match self.0.clock {
            Some(_) => self.0.told.load(Ordering::SeqCst),
            None => now(),
        }
    }

    fn random(&mut self, buffer: &mut [u8]) {
        SystemEnv.random(buffer);
    }
}

impl Inner {
    pub(crate) fn new(
        folder: &Path,
        clock: Option<Arc<dyn Clock>>,
        open: impl FnOnce(Box<dyn Env>) -> Answer<Core> + Send,
    ) -> Answer<Arc<Self>> {
        let time = Time::new(clock);
        time.look();
        let env = Box::new(ShellEnv(Arc::clone(&time)));
        let core = guarded(|| open(env))?;
        tracing::info!("the notebook is open");
        Ok(Arc::new(Self {
            folder: folder.to_owned(),
            time,
            state: Mutex::new(State::Open(Box::new(core))),
            controls: Mutex::new(Vec::new()),
            trust: Mutex::new(Trust::default()),
        }))
    }

    /// Works on the notebook alone. A mistake inside becomes an error, and the notebook is opened
    /// again from the disk: memory never shows what the disk does not hold. Nothing of the app's
    /// is called while the lock is held.
    pub(crate) fn with<T: Send>(
        &self,
        work: impl FnOnce(&mut Core) -> Answer<T> + Send,
    ) -> Answer<T> {
        self.time.look();
        let mut state = lock(&self.state);
        if enclosure::full() {
            return Err(internal());
        }
        let State::Open(core) = &mut *state else {
            let words = "this notebook was shut: open it again".to_owned();
            return Err(ChalkwalkError::NotOpen { words });
        };
        let result = guarded(|| work(core));
        if matches!(result, Err(ChalkwalkError::Internal { .. })) {
            // The old one goes first: it holds the folder.
            if let State::Open(core) = std::mem::replace(&mut *state, State::Shut) {
                abandon(core);
            }
            let env = Box::new(ShellEnv(Arc::clone(&self.time)));
            if let Ok(fresh) = guarded(|| Ok(Core::open(&self.folder, env)?)) {
                *state = State::Open(Box::new(fresh));
                tracing::error!("the notebook was opened again");
            }
        }
        result
    }

    /// As [`Inner::with`], and tells running exchanges that the job has news.
    pub(crate) fn record<T: Send>(
        &self,
        job: JobId,
        work: impl FnOnce(&mut Core) -> Answer<T> + Send,
    ) -> Answer<T> {
        let done = self.with(work)?;
        for control in self.running() {
            control.wake(job);
        }
        Ok(done)
    }

    /// Keeps an exchange in mind for as long as it lives.
    pub(crate) fn follow(&self, control: &Arc<Control>) {
        let mut controls = lock(&self.controls);
        controls.retain(|control| control.strong_count() > 0);
        controls.push(Arc::downgrade(control));
    }

    fn running(&self) -> Vec<Arc<Control>> {
        lock(&self.controls)
            .iter()
            .filter_map(Weak::upgrade)
            .collect()
    }

    /// Stops exchanges and closes the notebook.
    pub(crate) fn shut(&self) -> Answer<()> {
        for control in self.running() {
            control.stop();
        }
        let before = std::mem::replace(&mut *lock(&self.state), State::Shut);
        match before {
            State::Open(mut core) => {
                let settled = guarded(|| Ok(core.put_away()?));
                if matches!(settled, Err(ChalkwalkError::Internal { .. })) {
                    abandon(core);
                }
                settled
            }
            State::Shut => Ok(()),
        }
    }

    pub(crate) fn now(&self) -> Millis {
        self.time.look()
    }

    pub(crate) fn trust(&self) -> Trust {
        lock(&self.trust).clone()
    }
}

/// Lets go of a notebook in which something panicked.
fn abandon(core: Box<Core>) {
    // Half changed: also where the work is not begun it must not be dropped.
    let core = ManuallyDrop::new(core);
    // Where even that panics, it stays as it is.
    let _ = guarded(|| {
        ManuallyDrop::into_inner(core).abandon();
        Ok(())
    });
}

/// The same for what the core runs by itself: a peer's batch, a picture, a packet.
struct Ours;

impl Enclosure for Ours {
    fn run(&self, work: &mut (dyn FnMut() + Send)) -> bool {
        let ran = enclosure::run(work);
        if let Ran::Stopped(place) = &ran {
            tracing::error!(place, "a mistake inside the library");
        }
        ran == Ran::Whole
    }
}

/// A panic as an error. Nothing that others wait for may be locked by the work itself.
pub(crate) fn guarded<T: Send>(work: impl FnOnce() -> Answer<T> + Send) -> Answer<T> {
    static NAMED: Once = Once::new();
    NAMED.call_once(|| contain::contain_in(&Ours));
    contain::by(&Ours, work).unwrap_or_else(|_| Err(internal()))
}

fn internal() -> ChalkwalkError {
    let words = if enclosure::full() {
        "too much went wrong inside; what was recorded is safe, close the app and start it again"
    } else {
        "something went wrong inside; what was recorded is safe, please try again"
    };
    ChalkwalkError::Internal {
        words: words.to_owned(),
    }
}

pub(crate) fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

//! Threads on which the library works, so that a mistake in it is an error for whoever called and
//! ends neither the app nor the notebook.
//!
//! A library for phones has no tables for unwinding (`panic = "abort"` in the profile `phone`).
//! A panic calls its hook before anything else: on a thread of ours the hook tells the caller and
//! then stops that thread for good where it stands. What the thread had on its stack stays there,
//! unused and never freed; the caller goes on without it. Programs that do unwind take the same
//! way, so that what is tested is what phones do.
//!
//! Locks and files that such a thread held would stay held: what it works on is lent by a caller
//! that can let go of it (`Notebook::abandon` of the core). It also keeps Rust's own lock of the
//! hook for reading, so a Rust program that uses this crate sets its hook before, not after.

// Only for lending work to a thread that does not outlive it: see `Lent`.
#![allow(unsafe_code)]

use std::cell::OnceCell;
use std::panic::PanicHookInfo;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, Once, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

/// How many threads may have been stopped in one process: each keeps what it held. Beyond it
/// nothing is begun any more until the app is started again.
const STOPPED_MOST: usize = 16;
/// Threads that wait for work; what is needed beyond them comes and goes.
const WAITING_MOST: usize = 4;

/// How long a thread looks for its next work, and a caller for the end of what it gave, before
/// they sleep: what a recorded action takes on a quick disk, and what lies between two.
const LOOK_FOR_WORK: Duration = Duration::from_micros(100);
const LOOK_FOR_END: Duration = Duration::from_micros(500);

static STOPPED: AtomicUsize = AtomicUsize::new(0);
static WAITING: Mutex<Waiting> = Mutex::new(Waiting {
    process: 0,
    seats: Vec::new(),
});

/// Threads without work, and the process that they are of: one that was forked has none of them.
struct Waiting {
    process: u32,
    seats: Vec<Arc<Seat>>,
}

thread_local! {
    /// Where this thread takes its work from; empty for threads of the app's.
    static MINE: OnceCell<Arc<Seat>> = const { OnceCell::new() };
}

/// Work that was lent to another thread.
///
/// It is really borrowed for as long as [`run`] lasts. The one who runs it touches it between
/// `Turn::Begin` and `Turn::Done` or `Turn::Stopped` alone, and [`run`] returns only after one of
/// these. A thread that was stopped never runs again.
struct Lent(*mut (dyn FnMut() + Send));

// SAFETY: what it points to may be sent, and one thread at a time has it.
unsafe impl Send for Lent {}

/// What a thread and the one who gave it work say to each other.
enum Turn {
    Wait,
    Begin(Lent),
    Working,
    Done,
    Stopped(String),
    Leave,
}

struct Seat {
    turn: Mutex<Turn>,
    news: Condvar,
}

impl Seat {
    fn say(&self, turn: Turn) {
        *lock(&self.turn) = turn;
        self.news.notify_one();
    }

    /// Waits for a turn of the other side's, and leaves `Working` or `Wait` behind. At first it
    /// looks again and again: to be put to sleep and woken takes longer than most calls.
    fn hear(&self, mine: impl Fn(&Turn) -> bool, behind: Turn, look: Duration) -> Turn {
        let until = Instant::now() + look;
        let mut turn = lock(&self.turn);
        while !mine(&turn) && Instant::now() < until {
            drop(turn);
            thread::yield_now();
            turn = lock(&self.turn);
        }
        while !mine(&turn) {
            turn = self.news.wait(turn).unwrap_or_else(PoisonError::into_inner);
        }
        std::mem::replace(&mut turn, behind)
    }

    fn work(self: Arc<Self>) {
        // A thread's first and only.
        let _ = MINE.with(|mine| mine.set(Arc::clone(&self)));
        loop {
            let next = |turn: &Turn| matches!(turn, Turn::Begin(_) | Turn::Leave);
            let Turn::Begin(lent) = self.hear(next, Turn::Working, LOOK_FOR_WORK) else {
                return;
            };
            // SAFETY: see `Lent`.
            unsafe { (*lent.0)() };
            self.say(Turn::Done);
        }
    }
}

/// How work ended.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum Ran {
    /// It came to its end.
    Whole,
    /// It panicked there.
    Stopped(String),
    /// It was not begun: too much has panicked before, or there is no thread to be had.
    NotBegun,
}

/// Runs the work on a thread of ours and waits for it.
pub(crate) fn run(work: &mut (dyn FnMut() + Send)) -> Ran {
    begin();
    if full() {
        return Ran::NotBegun;
    }
    let Some(seat) = seat() else {
        return Ran::NotBegun;
    };
    // SAFETY: only the lifetime is left out; see `Lent`.
    let lent = unsafe {
        std::mem::transmute::<&mut (dyn FnMut() + Send), &'static mut (dyn FnMut() + Send)>(work)
    };
    seat.say(Turn::Begin(Lent(lent)));
    let ended = |turn: &Turn| matches!(turn, Turn::Done | Turn::Stopped(_));
    match seat.hear(ended, Turn::Wait, LOOK_FOR_END) {
        Turn::Stopped(place) => {
            STOPPED.fetch_add(1, Ordering::SeqCst);
            Ran::Stopped(place)
        }
        _ => {
            let seats = &mut lock(&WAITING).seats;
            if seats.len() < WAITING_MOST {
                seats.push(seat);
            } else {
                seat.say(Turn::Leave);
            }
            Ran::Whole
        }
    }
}

/// Whether so much has panicked that nothing is begun any more.
pub(crate) fn full() -> bool {
    STOPPED.load(Ordering::SeqCst) >= STOPPED_MOST
}

/// A thread that waits for work, or a new one.
fn seat() -> Option<Arc<Seat>> {
    let mut waiting = lock(&WAITING);
    let process = std::process::id();
    if waiting.process != process {
        waiting.process = process;
        waiting.seats.clear();
    }
    if let Some(seat) = waiting.seats.pop() {
        return Some(seat);
    }
    drop(waiting);
    let seat = Arc::new(Seat {
        turn: Mutex::new(Turn::Wait),
        news: Condvar::new(),
    });
    let theirs = Arc::clone(&seat);
    let builder = thread::Builder::new().name("chalkwalk".to_owned());
    builder.spawn(move || theirs.work()).ok()?;
    Some(seat)
}

/// Sets the hook, once.
fn begin() {
    static BEGUN: Once = Once::new();
    BEGUN.call_once(|| {
        let before = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |info| {
            let mine = MINE.try_with(|mine| mine.get().cloned()).ok().flatten();
            match mine {
                None => before(info),
                Some(seat) => stop(&seat, info),
            }
        }));
    });
}

/// Tells the one who waits, and stops this thread for good.
fn stop(seat: &Seat, info: &PanicHookInfo<'_>) -> ! {
    let place = info.location().map(ToString::to_string);
    seat.say(Turn::Stopped(place.unwrap_or_default()));
    loop {
        thread::park();
    }
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

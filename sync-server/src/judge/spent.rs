//! What judging costs: processor time of the threads of this process that judge.

use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

/// Processor time so far, nanoseconds.
#[derive(Debug, Default)]
pub(super) struct Spent(AtomicU64);

impl Spent {
    /// Counts what some work of this thread takes.
    pub(super) fn on<T>(&self, work: impl FnOnce() -> T) -> T {
        let began = of_this_thread();
        let done = work();
        let took = of_this_thread().saturating_sub(began);
        let nanos = u64::try_from(took.as_nanos()).unwrap_or(u64::MAX);
        self.0.fetch_add(nanos, Ordering::Relaxed);
        done
    }

    pub(super) fn total(&self) -> Duration {
        Duration::from_nanos(self.0.load(Ordering::Relaxed))
    }
}

#[cfg(unix)]
fn of_this_thread() -> Duration {
    let time = rustix::time::clock_gettime(rustix::time::ClockId::ThreadCPUTime);
    // Neither part is negative: it counts from the start of the thread.
    let part = |value: i64| u64::try_from(value).unwrap_or(0);
    Duration::from_secs(part(time.tv_sec)) + Duration::from_nanos(part(time.tv_nsec))
}

/// Not told here.
#[cfg(not(unix))]
fn of_this_thread() -> Duration {
    Duration::ZERO
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn work_is_counted_and_waiting_is_not() {
        let spent = Spent::default();
        spent.on(|| std::thread::sleep(Duration::from_millis(300)));
        let asleep = spent.total();
        assert!(asleep < Duration::from_millis(200), "{asleep:?}");
        let sum: u64 = spent.on(|| (0..20_000_000).map(std::hint::black_box).sum());
        assert_eq!(sum, 199_999_990_000_000);
        assert!(!cfg!(unix) || spent.total() > asleep + Duration::from_millis(1));
    }
}

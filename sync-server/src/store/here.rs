//! Where calls that block are made: on a thread of their own, or on one that waits for them anyway.

use std::cell::Cell;
use std::future::Future;

use tokio::runtime::Handle;

use super::StoreError;

thread_local! {
    static WAITS: Cell<bool> = const { Cell::new(false) };
}

/// Waits for a future on a thread that may block. Calls to a file that it makes are made on this
/// very thread: each would else go to another one and back, which costs more than most calls do
/// where the processors are busy.
pub(crate) fn wait_for<F: Future>(runtime: &Handle, future: F) -> F::Output {
    let _back = Back(WAITS.replace(true));
    runtime.block_on(future)
}

struct Back(bool);

impl Drop for Back {
    fn drop(&mut self) {
        WAITS.set(self.0);
    }
}

/// Does work that blocks: here if this thread waits for it ([`wait_for`]), else on another one.
pub(super) async fn blocking<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, StoreError> + Send + 'static,
) -> Result<T, StoreError> {
    if WAITS.get() {
        return work();
    }
    tokio::task::spawn_blocking(work).await?
}

#[cfg(test)]
mod tests {
    use std::thread;

    use super::*;

    #[test]
    fn work_stays_on_a_thread_that_waits_for_it_and_leaves_any_other() {
        let runtime = tokio::runtime::Runtime::new().unwrap();
        let here = thread::current().id();
        let at = || blocking(|| Ok(thread::current().id()));
        let handle = runtime.handle();
        assert_eq!(wait_for(handle, at()).unwrap(), here);
        assert_ne!(runtime.block_on(at()).unwrap(), here);
        // A task of its own is polled by a worker, which must not block.
        let other = wait_for(handle, async { handle.spawn(at()).await.unwrap() });
        assert_ne!(other.unwrap(), here);
        assert!(!WAITS.get());
    }
}

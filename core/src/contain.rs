//! Work that hostile or damaged bytes may make panic, kept from ending more than itself.
//!
//! By default a panic is caught as it unwinds. Where a program is built without unwinding, it
//! names an [`Enclosure`] once, which runs such work elsewhere and lives on without it.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::OnceLock;

/// Runs work whose panics do not unwind.
pub trait Enclosure: Sync {
    /// Runs the work to its end, or until it panics; whether it came to its end. After a panic
    /// nothing of the work runs any more, and nothing that it held is freed.
    fn run(&self, work: &mut (dyn FnMut() + Send)) -> bool;
}

static ENCLOSURE: OnceLock<&'static dyn Enclosure> = OnceLock::new();

/// Has all work of this process that may panic run there; the first one named counts.
pub fn contain_in(enclosure: &'static dyn Enclosure) {
    // One that was named before stays.
    let _ = ENCLOSURE.set(enclosure);
}

/// The work panicked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Panicked;

/// Runs work that may panic.
///
/// # Errors
/// It panicked. What it was lent to change may then be half changed, and where panics do not
/// unwind nothing in it was put back: such a value must be forgotten, neither used nor dropped.
pub fn contained<T: Send>(work: impl FnOnce() -> T + Send) -> Result<T, Panicked> {
    match ENCLOSURE.get() {
        None => catch_unwind(AssertUnwindSafe(work)).map_err(|_| Panicked),
        Some(enclosure) => by(*enclosure, work),
    }
}

/// Runs work that may panic in this enclosure.
///
/// # Errors
/// As [`contained`].
pub fn by<T: Send>(
    enclosure: &dyn Enclosure,
    work: impl FnOnce() -> T + Send,
) -> Result<T, Panicked> {
    let (mut work, mut result) = (Some(work), None);
    let whole = enclosure.run(&mut || result = work.take().map(|work| work()));
    result.filter(|_| whole).ok_or(Panicked)
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Closed;

    impl Enclosure for Closed {
        fn run(&self, _: &mut (dyn FnMut() + Send)) -> bool {
            false
        }
    }

    struct Here;

    impl Enclosure for Here {
        fn run(&self, work: &mut (dyn FnMut() + Send)) -> bool {
            work();
            true
        }
    }

    #[test]
    fn work_gives_what_it_made_and_a_panic_is_an_error() {
        assert_eq!(contained(|| 7), Ok(7));
        assert_eq!(contained(|| -> u8 { panic!("for a test") }), Err(Panicked));
        let made = String::from("taken and given back");
        assert_eq!(by(&Here, move || made).unwrap().len(), 20);
        assert_eq!(by(&Closed, || 7), Err(Panicked));
    }
}

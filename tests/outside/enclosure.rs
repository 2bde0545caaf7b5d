// Work that panics, in a program built without unwinding: `test_abort.py` compiles it with the
// file of the bindings that makes errors of panics.

#[path = "../../bindings/src/enclosure.rs"]
mod enclosure;

use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use enclosure::{Ran, full, run};

/// What a phone must never come to: its own destructors are not run, so it counts no drop.
struct Dropped<'a>(&'a AtomicUsize);

impl Drop for Dropped<'_> {
    fn drop(&mut self) {
        self.0.fetch_add(1, Ordering::SeqCst);
    }
}

fn main() {
    if std::env::args().any(|argument| argument == "--bare") {
        panic!("on a thread that is not ours");
    }
    let dropped = AtomicUsize::new(0);

    // What is lent is changed, and there when the work is done.
    let mut sum = 0;
    for number in 1..=1000 {
        assert_eq!(run(&mut || sum += number), Ran::Whole);
    }
    assert_eq!(sum, 500_500);

    // A panic says where, and nothing of its thread is undone.
    let stopped = run(&mut || {
        let _held = Dropped(&dropped);
        panic!("one");
    });
    let Ran::Stopped(place) = stopped else {
        panic!("{stopped:?}");
    };
    assert!(place.contains("enclosure.rs:"), "{place}");
    assert_eq!(dropped.load(Ordering::SeqCst), 0);

    // Work within work: the outer goes on after the inner's panic.
    let mut inner = None;
    let outer = run(&mut || {
        inner = Some(run(&mut || {
            let nothing: Option<u8> = std::hint::black_box(None);
            std::hint::black_box(nothing.expect("two"));
        }));
    });
    assert_eq!(outer, Ran::Whole);
    assert!(matches!(inner, Some(Ran::Stopped(_))));

    // A panic where none may unwind, in a destructor, is the same.
    struct Bad;
    impl Drop for Bad {
        fn drop(&mut self) {
            panic!("three");
        }
    }
    assert!(matches!(run(&mut || drop(Bad)), Ran::Stopped(_)));

    // Many at once, some of which panic.
    let done = Mutex::new((0, 0));
    std::thread::scope(|scope| {
        for thread in 0..8 {
            let done = &done;
            scope.spawn(move || {
                for turn in 0..200 {
                    let ran = run(&mut || assert!(turn != 100, "thread {thread}"));
                    let mut done = done.lock().unwrap();
                    match ran {
                        Ran::Whole => done.0 += 1,
                        Ran::Stopped(_) => done.1 += 1,
                        Ran::NotBegun => panic!("not begun"),
                    }
                }
            });
        }
    });
    assert_eq!(*done.lock().unwrap(), (8 * 199, 8));

    // Each keeps what it held, so there is an end to it.
    let mut more = 0;
    while !full() {
        assert!(matches!(run(&mut || panic!("more")), Ran::Stopped(_)));
        more += 1;
    }
    assert_eq!(more, 16 - 3 - 8);
    let mut begun = false;
    assert_eq!(run(&mut || begun = true), Ran::NotBegun);
    assert!(!begun);
    println!("all as it should be");
}

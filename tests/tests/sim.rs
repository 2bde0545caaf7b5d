//! A bounded number of seeds; many thousands are played by the `sim` command.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use chalkwalk_tests::sim::{self, Tally};

/// Seeds of each test: they run side by side.
const SEEDS: u64 = 60;

fn play(from: u64) {
    let mut total = Tally::default();
    for seed in from..from + SEEDS {
        match sim::run(seed) {
            Ok(tally) => total += tally,
            Err(failure) => panic!(
                "seed {seed}: {failure}; again: \
                 cargo run --release -p chalkwalk-tests --bin sim -- --seed {seed}"
            ),
        }
    }
    // The stories must be stories: a simulation in which nothing happens proves nothing.
    assert!(total.actions > 1000 && total.photos > 50, "{total:?}");
    assert!(total.crashes > 20 && total.power_cuts > 5, "{total:?}");
    assert!(total.restores > 0 && total.disk_full > 0, "{total:?}");
    assert!(
        total.hostile_sessions > 20 && total.spoiled_frames > 50,
        "{total:?}"
    );
    assert!(total.called_safe > 0 && total.settled > 0, "{total:?}");
}

#[test]
fn crews_on_a_bad_network_lose_nothing() {
    play(0);
}

#[test]
fn other_crews_lose_nothing_either() {
    play(1_000_000);
}

//! Plays seeds of the simulation: `sim --from 0 --seeds 20000`, or one of them: `sim --seed 17`.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::process::ExitCode;

use chalkwalk_tests::sim::{self, Tally};

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let value = |name: &str| -> Option<u64> {
        let at = arguments.iter().position(|argument| argument == name)?;
        arguments.get(at + 1)?.parse().ok()
    };
    let (from, seeds) = match value("--seed") {
        Some(seed) => (seed, 1),
        None => (
            value("--from").unwrap_or(0),
            value("--seeds").unwrap_or(100),
        ),
    };
    let mut total = Tally::default();
    let mut failed = 0;
    for seed in from..from + seeds {
        let outcome = catch_unwind(AssertUnwindSafe(|| sim::run(seed)));
        match outcome {
            Ok(Ok(tally)) => total += tally,
            Ok(Err(failure)) => {
                failed += 1;
                println!(
                    "seed {seed}: {failure}\n  again: cargo run --release -p chalkwalk-tests --bin sim -- --seed {seed}"
                );
            }
            Err(_) => {
                failed += 1;
                println!(
                    "seed {seed}: a panic\n  again: cargo run --release -p chalkwalk-tests --bin sim -- --seed {seed}"
                );
            }
        }
    }
    println!("{seeds} seeds, {failed} failed");
    println!("{}", serde_json::to_string(&total).unwrap());
    if failed == 0 {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}

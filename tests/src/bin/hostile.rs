//! Hostile bytes for every decoder and altered, signed changes for the gate:
//! `hostile --inputs 500000 --from 0`. Run it under a memory limit, as `tests/run` does.
//! `hostile --decoder NAME FILE` hands one file to a decoder, such as what a fuzz target found;
//! `hostile --seeds FOLDER` writes good bytes of each decoder there instead, for the fuzz targets.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::process::ExitCode;

use chalkwalk_decoders::{Changes, DECODERS, Verdict, decode, good, mutate};

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let value = |name: &str| -> Option<u64> {
        let at = arguments.iter().position(|argument| argument == name)?;
        arguments.get(at + 1)?.parse().ok()
    };
    let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures");
    if let Some(at) = arguments.iter().position(|argument| argument == "--seeds") {
        write_seeds(Path::new(&arguments[at + 1]), &fixtures);
        return ExitCode::SUCCESS;
    }
    if let Some(at) = arguments
        .iter()
        .position(|argument| argument == "--decoder")
    {
        decode(
            &arguments[at + 1],
            &std::fs::read(&arguments[at + 2]).unwrap(),
        );
        return ExitCode::SUCCESS;
    }
    // A panic inside the gate is caught there; its words would fill the screen.
    std::panic::set_hook(Box::new(|_| {}));
    let (from, inputs) = (
        value("--from").unwrap_or(0),
        value("--inputs").unwrap_or(20_000),
    );
    let changes = inputs * 3 / 5;
    let mut bad = send_changes(from, changes);
    let each = (inputs - changes) / DECODERS.len() as u64;
    for (name, decode) in DECODERS {
        let good = good(name, &fixtures);
        assert!(!good.is_empty(), "nothing to alter for {name}");
        let mut panics = 0;
        for n in from..from + each {
            let mut random = fastrand::Rng::with_seed(n);
            let mut bytes = good[random.usize(..good.len())].clone();
            mutate(&mut bytes, &mut random);
            if catch_unwind(AssertUnwindSafe(|| decode(&bytes))).is_err() {
                panics += 1;
                println!("{name}: a panic at input {n}");
            }
        }
        println!("{name}: {each} inputs, {panics} panics");
        bad += panics;
    }
    println!("peak memory {} MB", peak_memory_mb());
    if bad == 0 {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}

fn write_seeds(folder: &Path, fixtures: &Path) {
    for (name, _) in DECODERS {
        let to = folder.join(name);
        std::fs::create_dir_all(&to).unwrap();
        for (n, bytes) in good(name, fixtures).iter().enumerate() {
            std::fs::write(to.join(format!("good-{n:02}")), bytes).unwrap();
        }
    }
}

fn send_changes(from: u64, inputs: u64) -> u64 {
    let bench = Changes::new();
    let (mut refused, mut sound, mut bad) = (0, 0, 0);
    for n in from..from + inputs {
        let mut random = fastrand::Rng::with_seed(n);
        match catch_unwind(AssertUnwindSafe(|| bench.send_altered(&mut random))) {
            Ok(Verdict::Refused) => refused += 1,
            Ok(Verdict::Sound) => sound += 1,
            Ok(Verdict::Spoiled) => {
                bad += 1;
                println!("altered changes: the document is spoiled by input {n}");
            }
            Err(_) => {
                bad += 1;
                println!("altered changes: a panic at input {n}");
            }
        }
    }
    println!("altered changes: {inputs} inputs, {refused} refused, {sound} sound, {bad} bad");
    bad
}

/// The most memory this process held, where the system tells.
fn peak_memory_mb() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmHWM:"));
    let kb = line.and_then(|line| line.split_whitespace().nth(1)?.parse::<u64>().ok());
    kb.unwrap_or(0) / 1024
}

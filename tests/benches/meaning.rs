//! What the record of a large job means: `cargo bench -p chalkwalk-tests --bench meaning`.
//!
//! The baseline is one reading of the same job (600 findings, 2,000 photos) from its document into
//! plain structs. A bench is not a test: it prints, and marks a ratio that is over its aim.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::fmt::Write;
use std::hint::black_box;
use std::time::Instant;

use chalkwalk_core::review::compare::{self, Options, TheirFile};
use chalkwalk_core::review::scope::{ScopeInputs, scope};
use chalkwalk_core::review::{Facts, Reader, findings_list, leave_site};
use chalkwalk_decoders::large::large_job;

/// Times of one reading.
const AIM: f64 = 3.0;
const RUNS: usize = 15;

fn main() {
    let (_, _, document) = large_job();
    let job = document.job().clone();
    println!(
        "meaning: {} findings, {} photos",
        job.records.findings.len(),
        job.records.photos.len()
    );
    let baseline = median(|| drop(black_box(document.read_again())));
    println!("one reading of the job: {baseline:.2} ms");
    println!(
        "{:<34} {:>9} {:>6} {:>5}",
        "what", "ours ms", "ratio", "aim"
    );
    let facts = Facts::default();
    let row = |what: &str, ours: f64| {
        let ratio = ours / baseline;
        let mark = if ratio <= AIM { "" } else { "  over" };
        println!("{what:<34} {ours:>9.2} {ratio:>6.2} {AIM:>5}{mark}");
    };
    let mut points = 0;
    row(
        "check before leaving",
        median(|| points = black_box(leave_site::check(&job, &facts)).len()),
    );
    row(
        "list of findings",
        median(|| {
            drop(black_box(findings_list::findings_list(
                &job,
                Reader::Office,
            )))
        }),
    );
    let inputs = ScopeInputs::default();
    let ours = scope(&job, &inputs);
    row("scope", median(|| drop(black_box(scope(&job, &inputs)))));
    let file = their_file(&ours);
    let taken = compare::take_in(
        &job,
        &TheirFile {
            name: "the insurer",
            file_name: "theirs.csv",
            bytes: file.as_bytes(),
            ..TheirFile::default()
        },
    )
    .unwrap();
    let options = Options::default();
    let mut entries = 0;
    row(
        "comparison",
        median(|| {
            let comparison = compare::compare(&job, &ours, &taken.scope, None, &options);
            entries = black_box(comparison).entries.len();
        }),
    );
    println!(
        "{points} points, {} lines, {} rows of theirs, {entries} entries",
        ours.lines.len(),
        taken.scope.rows.len()
    );
}

/// Their scope: every line of ours but each fifth, some with another quantity.
fn their_file(ours: &chalkwalk_core::review::scope::Scope) -> String {
    let mut file = String::from("Where,Description,Qty,Unit\n");
    for (n, line) in ours.lines.iter().enumerate().filter(|(n, _)| n % 5 != 4) {
        let Some(quantity) = line.quantity else {
            continue;
        };
        let more = if n % 7 == 3 { 1.0 } else { 0.0 };
        writeln!(
            file,
            "\"{}\",\"{} {}\",{},{}",
            line.place_words,
            line.action.label(),
            line.item_words,
            quantity.value() + more,
            quantity.unit().code()
        )
        .unwrap();
    }
    file
}

fn median(mut work: impl FnMut()) -> f64 {
    let mut times: Vec<f64> = (0..RUNS)
        .map(|_| {
            let start = Instant::now();
            work();
            start.elapsed().as_secs_f64() * 1e3
        })
        .collect();
    times.sort_by(f64::total_cmp);
    times[RUNS / 2]
}

//! The large job against a baseline measured in the same run: `cargo bench -p chalkwalk-tests`.
//!
//! Each line is a ratio to what the same work costs with the bare libraries (raw automerge, zstd
//! and MessagePack). A bench is not a test: it prints, and marks a ratio that is over its aim.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::collections::HashMap;
use std::hint::black_box;
use std::process::Command;
use std::time::{Duration, Instant};

use automerge::hydrate::Value as Hydrated;
use automerge::transaction::{CommitOptions, Transactable};
use automerge::{ActorId, Automerge, ObjType, ROOT, ReadDoc, ScalarValue, ValueRef};
use chalkwalk_core::document::{Action, Document};
use chalkwalk_core::env::{Env, EnvIds};
use chalkwalk_core::job::{AnyFields, Job, JobId, Scalar};
use chalkwalk_core::journal::Journal;
use chalkwalk_tests::large::{self, Recorder, large_job};
use ed25519_dalek::Signer;

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    if let Some(i) = arguments.iter().position(|a| a == "--child") {
        child(&arguments[i + 1], &arguments[i + 2]);
        return;
    }
    println!(
        "large job: {} findings, {} photos",
        large::FINDINGS,
        large::PHOTOS
    );
    println!(
        "{:<52} {:>12} {:>12} {:>7} {:>6}",
        "what", "ours", "baseline", "ratio", "aim"
    );
    let (rep, helper, both) = large_job();
    recording(&both);
    opening(&both);
    memory(&both);
    sync::run(&rep, &helper, &both);
}

fn line(what: &str, ours: f64, baseline: f64, unit: &str, aim: f64) {
    let ratio = ours / baseline;
    let mark = if ratio <= aim { "" } else { "  over" };
    println!(
        "{what:<52} {ours:>9.2} {unit:<2} {baseline:>9.2} {unit:<2} {ratio:>7.2} {aim:>6}{mark}"
    );
}

/// The median of some runs.
fn median(runs: usize, mut work: impl FnMut() -> Duration) -> f64 {
    let mut times: Vec<Duration> = (0..runs).map(|_| work()).collect();
    times.sort();
    times[runs / 2].as_secs_f64() * 1000.0
}

fn timed<T>(work: impl FnOnce() -> T) -> Duration {
    let start = Instant::now();
    black_box(work());
    start.elapsed()
}

/// Recording a finding: raw automerge with the same fields plus one signature, against an action.
fn recording(both: &Document) {
    const COUNT: usize = 100;
    let saved = both.save();
    let mut round = 40u8;
    let ours = median(5, || {
        round += 1;
        let mut recorder = Recorder::new(round);
        recorder.document = both.clone();
        let actions: Vec<Action> = (0..COUNT)
            .map(|i| Action::Add {
                id: recorder.env.record_id(),
                record: large::finding(i).into(),
                hits: Some(3),
                shows: vec![],
            })
            .collect();
        timed(|| {
            for action in &actions {
                recorder.act(action);
            }
        })
    });
    let baseline = median(5, || {
        round += 1;
        let mut recorder = Recorder::new(round);
        let mut doc = Automerge::load(&saved).unwrap();
        doc.set_actor(ActorId::from(recorder.author.to_bytes().as_slice()));
        let (_, findings) = doc.get(ROOT, "findings").unwrap().unwrap();
        let fields: Vec<(String, AnyFields)> = (0..COUNT)
            .map(|i| {
                (
                    recorder.env.record_id().to_string(),
                    large::finding(i).into(),
                )
            })
            .collect();
        let tally = format!("tally:{}", recorder.author.device);
        timed(|| {
            for (id, fields) in &fields {
                let mut map: HashMap<String, Hydrated> = HashMap::new();
                fields.each(&mut |key, value| {
                    map.insert(key.to_owned(), Hydrated::Scalar(raw(value)));
                });
                map.insert(tally.clone(), Hydrated::Scalar(ScalarValue::Int(3)));
                let mut tx = doc.transaction();
                tx.batch_create_object(&findings, id, &Hydrated::Map(map.into()), false)
                    .unwrap();
                let now = recorder.env.now();
                tx.commit_with(
                    CommitOptions::default()
                        .with_time(now)
                        .with_message("add finding"),
                );
                let change = doc.get_last_local_change().unwrap();
                black_box(change.raw_bytes().to_vec());
                black_box(recorder.key.sign(&change.hash().0));
            }
        })
    });
    line(
        "recording 100 findings, without the disk",
        ours,
        baseline,
        "ms",
        1.3,
    );
}

fn raw(value: Scalar) -> ScalarValue {
    match value {
        Scalar::Bool(v) => ScalarValue::Boolean(v),
        Scalar::Int(v) => ScalarValue::Int(v),
        Scalar::Num(v) => ScalarValue::F64(v),
        Scalar::Str(v) => ScalarValue::Str(v.into()),
        Scalar::Bytes(v) => ScalarValue::Bytes(v),
    }
}

const JOB: JobId = JobId::from_bytes([9; 16]);

fn opening(both: &Document) {
    let dir = tempfile::tempdir().unwrap();
    let mut journal = Journal::open(&dir.path().join("notebook.db")).unwrap();
    let mut rows = both.rows();
    for row in &mut rows {
        row.signature = Some([0; 64]);
    }
    journal.append(JOB, &rows).unwrap();
    journal.save_snapshot(JOB, both).unwrap();
    let plain = both.export();
    let cold = median(5, || timed(|| journal.open_document(JOB).unwrap()));
    let raw = median(5, || timed(|| walk(&Automerge::load(&plain).unwrap())));
    line(
        "cold open: snapshot, document, structs",
        cold,
        raw,
        "ms",
        1.15,
    );

    let packed = rmp_serde::to_vec_named(both.job()).unwrap();
    let zipped = zstd::bulk::compress(&packed, 6).unwrap();
    let cached = median(9, || timed(|| journal.cached_model(JOB).unwrap().unwrap()));
    let decode = median(9, || {
        timed(|| {
            let bytes = zstd::bulk::decompress(&zipped, packed.len()).unwrap();
            rmp_serde::from_slice::<Job>(&bytes).unwrap()
        })
    });
    line("open from the cached read model", cached, decode, "ms", 2.0);
    let size = journal.snapshot_size(JOB).unwrap() as f64 / 1024.0;
    line(
        "saved size with all history",
        size,
        zipped.len() as f64 / 1024.0,
        "KB",
        1.3,
    );
}

/// One walk over every map of a document.
fn walk(doc: &Automerge) -> usize {
    let mut seen = 0;
    let mut open = vec![ROOT];
    while let Some(object) = open.pop() {
        for item in doc.map_range(&object, ..) {
            seen += item.key.len();
            if let ValueRef::Object(ObjType::Map) = item.value {
                open.push(item.id());
            }
        }
    }
    seen
}

/// Peak memory, each way in a process of its own.
fn memory(both: &Document) {
    let dir = tempfile::tempdir().unwrap();
    let database = dir.path().join("notebook.db");
    let plain = dir.path().join("plain");
    let mut journal = Journal::open(&database).unwrap();
    journal.append(JOB, &both.rows()).unwrap();
    journal.save_snapshot(JOB, both).unwrap();
    drop(journal);
    std::fs::write(&plain, both.export()).unwrap();
    let peak = |way: &str, path: &std::path::Path| {
        let me = std::env::current_exe().unwrap();
        let output = Command::new(me)
            .arg("--child")
            .arg(way)
            .arg(path)
            .output()
            .unwrap();
        String::from_utf8(output.stdout)
            .unwrap()
            .trim()
            .parse::<f64>()
            .unwrap()
            / 1024.0
    };
    line(
        "peak memory on open",
        peak("ours", &database),
        peak("raw", &plain),
        "MB",
        1.3,
    );
}

fn child(way: &str, path: &str) {
    if way == "ours" {
        let journal = Journal::open(std::path::Path::new(path)).unwrap();
        black_box(journal.open_document(JOB).unwrap());
    } else {
        black_box(walk(
            &Automerge::load(&std::fs::read(path).unwrap()).unwrap(),
        ));
    }
    // The high-water mark of resident memory, as Linux keeps it (proc(5), VmHWM, in kB).
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status
        .lines()
        .find(|line| line.starts_with("VmHWM:"))
        .unwrap();
    println!("{}", line.split_whitespace().nth(1).unwrap());
}

mod sync {
    use super::*;
    pub(super) fn run(_: &Recorder, _: &Recorder, _: &Document) {}
}

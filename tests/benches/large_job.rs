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
use chalkwalk_decoders::large::{self, Recorder, large_job};
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

/// A full exchange of the two halves between two notebooks, in memory, and a reconnect after it.
mod sync {
    use super::*;
    use chalkwalk_core::document::ChangeRow;
    use chalkwalk_core::job::{Certificate, CompanyId, Property, Role, SignedCertificate};
    use chalkwalk_core::notebook::{Enrolment, NewIdentity, Notebook};
    use chalkwalk_core::sync::{Event, Session, SessionConfig};
    use ed25519_dalek::SigningKey;

    pub(super) fn run(rep: &Recorder, helper: &Recorder, _: &Document) {
        let dir = tempfile::tempdir().unwrap();
        let office = SigningKey::from_bytes(&[77; 32]);
        let mut one = notebook(dir.path(), "one", 1, &office);
        let mut other = notebook(dir.path(), "other", 2, &office);
        let job = one.begin(None, Property::default()).unwrap();
        other.begin(Some(job), Property::default()).unwrap();
        fill(&mut one, job, rep);
        fill(&mut other, job, helper);
        let mut lacking: Vec<ChangeRow> = one.document(job).unwrap().rows();
        let halves = [lacking.len(), other.document(job).unwrap().rows().len()];
        lacking.extend(other.document(job).unwrap().rows());
        let raw: Vec<u8> = lacking.iter().flat_map(|row| row.bytes.clone()).collect();
        let zipped = zstd::bulk::compress(&raw, 3).unwrap().len();

        let before = one.document(job).unwrap().clone();
        let incoming = other.document(job).unwrap().rows();
        let start = Instant::now();
        let first = exchange(&mut one, &mut other);
        let took = start.elapsed().as_secs_f64() * 1000.0;
        assert_eq!(
            one.document(job).unwrap().heads(),
            other.document(job).unwrap().heads()
        );
        assert_eq!(
            first.changes,
            (halves[0] + halves[1]) as u64,
            "a change crossed twice or not"
        );
        let kb = |bytes: usize| bytes as f64 / 1024.0;
        line(
            "sync of two halves, bytes beyond the handshake",
            kb(first.bytes),
            kb(zipped),
            "KB",
            1.1,
        );
        println!(
            "{:<52} {:>12} one-way hops after the handshake",
            "", first.hops
        );
        let raw_apply = |doc: &Document, rows: &[ChangeRow]| {
            let saved = doc.save();
            median(3, || {
                let mut doc = Automerge::load(&saved).unwrap();
                timed(|| {
                    let parse =
                        |row: &ChangeRow| automerge::Change::from_bytes(row.bytes.clone()).unwrap();
                    doc.apply_changes(rows.iter().map(parse).collect::<Vec<_>>())
                        .unwrap();
                })
            })
        };
        let both = raw_apply(&before, &incoming) * 2.0;
        line(
            "sync of two halves, time with gate and disk",
            took,
            both,
            "ms",
            1.3,
        );
        let again = exchange(&mut one, &mut other);
        line(
            "reconnect with nothing new, bytes",
            again.bytes as f64,
            200.0,
            "B",
            1.0,
        );
    }

    fn notebook(dir: &std::path::Path, name: &str, n: u64, office: &SigningKey) -> Notebook {
        let who = NewIdentity {
            person: name.into(),
            device_name: name.into(),
            role: Role::Crew,
        };
        let env = chalkwalk_core::env::SeededEnv::new(90 + n, 1_777_381_629_331, 7);
        let mut notebook = Notebook::create(&dir.join(name), who, Box::new(env)).unwrap();
        let company = CompanyId::from_bytes([3; 16]);
        let certificate = Certificate {
            company,
            device: notebook.identity().device,
            key: notebook.identity().key.verifying_key().to_bytes().to_vec(),
            person: name.into(),
            role: Role::Crew,
            device_name: name.into(),
            issued_at: 1,
        };
        let enrolment = Enrolment {
            company,
            company_name: "Bench".into(),
            office_key: office.verifying_key().to_bytes().to_vec(),
            certificate: SignedCertificate::sign(&certificate, office).unwrap(),
            address: String::new(),
        };
        notebook.enrol(enrolment).unwrap();
        notebook
    }

    /// Records what a recorder has, as this notebook's own actions.
    fn fill(notebook: &mut Notebook, job: JobId, from: &Recorder) {
        let records = &from.document.job().records;
        for (id, finding) in &records.findings {
            let record = finding.fields.clone().into();
            let action = Action::Add {
                id: id.clone(),
                record,
                hits: finding.hits(),
                shows: vec![],
            };
            notebook.act(job, &action).unwrap();
        }
        for (id, photo) in &records.photos {
            let (record, shows) = (photo.fields.clone().into(), photo.shows.clone());
            notebook
                .act(
                    job,
                    &Action::Add {
                        id: id.clone(),
                        record,
                        hits: None,
                        shows,
                    },
                )
                .unwrap();
        }
    }

    struct Exchange {
        bytes: usize,
        hops: usize,
        changes: u64,
    }

    fn exchange(one: &mut Notebook, other: &mut Notebook) -> Exchange {
        let quiet = |config: SessionConfig| SessionConfig {
            thumbnails: false,
            originals: false,
            ..config
        };
        let mut a = Session::new(quiet(one.session(true, None, false).unwrap()), 0).unwrap();
        let mut b = Session::new(quiet(other.session(false, None, false).unwrap()), 0).unwrap();
        let mut result = Exchange {
            bytes: 0,
            hops: 0,
            changes: 0,
        };
        let mut connected = 0;
        loop {
            let mut to_b = Vec::new();
            while let Some(frame) = a.poll_outgoing(one) {
                to_b.push(frame);
            }
            let mut to_a = Vec::new();
            while let Some(frame) = b.poll_outgoing(other) {
                to_a.push(frame);
            }
            if to_a.is_empty() && to_b.is_empty() {
                break;
            }
            // Beyond the handshake: what is said once both have proved who they are.
            if connected == 2 {
                result.bytes += to_a.iter().chain(&to_b).map(Vec::len).sum::<usize>();
                result.hops += 1;
            }
            for frame in to_b {
                b.receive(other, &frame, 0);
            }
            for frame in to_a {
                a.receive(one, &frame, 0);
            }
            for event in
                std::iter::from_fn(|| a.poll_event()).chain(std::iter::from_fn(|| b.poll_event()))
            {
                match event {
                    Event::Connected { .. } => connected += 1,
                    Event::Ended(ending) => assert_eq!(ending.words, ""),
                    _ => {}
                }
            }
        }
        result.changes = a.progress().changes_sent + b.progress().changes_sent;
        result
    }
}

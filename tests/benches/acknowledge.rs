//! A change of one person, from the hub's hands until it may be acknowledged, against a bare
//! SQLite commit of the same bytes plus the gate.
//!
//!     cargo bench -p chalkwalk-tests --bench acknowledge

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::collections::BTreeMap;
use std::path::Path;
use std::time::Instant;

use chalkwalk_core::document::{ChangeRow, Document, Gate};
use chalkwalk_core::sync::Replica;
use chalkwalk_tests::yard::{Device, line, office};
use rusqlite::{Connection, params};

const BEFORE: usize = 200;
const MEASURED: usize = 200;
const ROUNDS: usize = 3;

fn main() {
    let folder = tempfile::tempdir().unwrap();
    let keys = folder.path().join("keys");
    let mut device = Device::new(3, &office(&keys));
    device.record(BEFORE + MEASURED);
    println!(
        "{MEASURED} changes one by one on a job of {BEFORE}, median milliseconds, best of {ROUNDS}"
    );
    let best = |work: &dyn Fn(usize) -> f64| (0..ROUNDS).map(work).fold(f64::MAX, f64::min);
    let gate = best(&|_| gate(&device));
    let commit = best(&|n| commit(&folder.path().join(format!("bare-{n}.sqlite")), &device));
    let ours = best(&|n| ours(&folder.path().join(format!("ours-{n}")), &keys, &device));
    println!("the gate alone {gate:.2} ms, a bare commit alone {commit:.2} ms");
    line(
        "a change acknowledged",
        ours,
        gate + commit,
        "ms",
        1.5,
        false,
    );
}

fn median(mut times: Vec<f64>) -> f64 {
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}

fn each(rows: &[ChangeRow], mut work: impl FnMut(&ChangeRow)) -> f64 {
    let times = rows.iter().map(|row| {
        let began = Instant::now();
        work(row);
        began.elapsed().as_secs_f64() * 1e3
    });
    median(times.collect())
}

fn gate(device: &Device) -> f64 {
    let keys = BTreeMap::from([(device.author.device, device.key.verifying_key())]);
    let roles = BTreeMap::from([(device.author.device, device.certificate.role)]);
    let gate = Gate::of_job(device.job, &keys, &roles);
    let mut begun = Document::new().unwrap();
    begun.replay(&device.rows[..BEFORE]).unwrap();
    let mut document = Some(begun);
    each(&device.rows[BEFORE..], |row| {
        let taken = document.take().unwrap();
        let judged = taken.admit_into(std::slice::from_ref(row), &gate);
        document = Some(judged.unwrap().document);
    })
}

fn commit(file: &Path, device: &Device) -> f64 {
    let mut file = Connection::open(file).unwrap();
    file.pragma_update(None, "journal_mode", "WAL").unwrap();
    file.pragma_update(None, "synchronous", "FULL").unwrap();
    file.execute_batch(
        "CREATE TABLE change (seq INTEGER PRIMARY KEY, job BLOB, author BLOB, number INTEGER,
            hash BLOB, signature BLOB, bytes BLOB) STRICT",
    )
    .unwrap();
    let mut add = |row: &ChangeRow| {
        let tx = file.transaction().unwrap();
        tx.prepare_cached(
            "INSERT INTO change (job, author, number, hash, signature, bytes)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
        )
        .unwrap()
        .execute(params![
            device.job.as_bytes(),
            row.author.to_bytes(),
            row.number as i64,
            row.hash,
            row.signature,
            row.bytes
        ])
        .unwrap();
        tx.commit().unwrap();
    };
    device.rows[..BEFORE].iter().for_each(&mut add);
    each(&device.rows[BEFORE..], add)
}

fn ours(data: &Path, keys: &Path, device: &Device) -> f64 {
    // The same office, whose certificate the device has, with records of its own.
    for name in ["records.sqlite", "keys/office.key", "keys/server.key"] {
        let to = data.join(name);
        std::fs::create_dir_all(to.parent().unwrap()).unwrap();
        std::fs::copy(keys.join(name), to).unwrap();
    }
    let runtime = tokio::runtime::Runtime::new().unwrap();
    let hub = runtime
        .block_on(chalkwalk_sync_server::serve::open_hub(data, None))
        .unwrap();
    let mut replica = hub.replica(runtime.handle().clone());
    let shown = [device.signed.clone()];
    let mut accept = |rows: &[ChangeRow]| {
        let rows = rows.to_vec();
        replica
            .accept(&device.certificate, device.job, rows, &shown)
            .unwrap();
    };
    accept(&device.rows[..BEFORE]);
    each(&device.rows[BEFORE..], |row| {
        accept(std::slice::from_ref(row))
    })
}

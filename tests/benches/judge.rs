//! What judging in a worker costs, against judging in the server itself, in the same run:
//!
//!     cargo build --release && cargo bench -p chalkwalk-tests --bench judge
//!
//! Two phones each hand in a job of their own to a hub on SQLite: live (five changes at a time) and
//! after a day without a link (four hundred at a time). Every batch is durable before the next.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::PathBuf;
use std::sync::Arc;
use std::time::Instant;

use chalkwalk_core::document::{Action, ChangeRow};
use chalkwalk_core::env::EnvIds;
use chalkwalk_core::job::{
    Certificate, CompanyId, CrewMember, JobId, Property, Role, SignedCertificate,
};
use chalkwalk_core::sync::Replica;
use chalkwalk_decoders::large::{Recorder, finding};
use chalkwalk_sync_server::hub::Hub;
use chalkwalk_sync_server::judge::{Judge, Judging, WorkerConfig};
use chalkwalk_sync_server::office::Office;
use chalkwalk_sync_server::store::{Company, MemoryBlobs, SqliteRecords, Staging};
use ed25519_dalek::SigningKey;

const CHANGES: usize = 1_200;
const ROUNDS: usize = 3;

fn main() {
    let program = chalkwalk();
    assert!(program.is_file(), "build it first: cargo build --release");
    let workers = Judging::Workers(WorkerConfig::of(program));
    let office = office();
    let phones: Vec<Phone> = (1..=2).map(|n| Phone::new(n, &office)).collect();
    println!("2 phones, {CHANGES} changes each, best of {ROUNDS}");
    println!(
        "{:<22} {:>12} {:>12} {:>7}",
        "changes a batch", "here, /s", "worker, /s", "ratio"
    );
    for batch in [5, 400] {
        let best = |judging: &Judging| {
            let rounds = (0..ROUNDS).map(|_| rate(judging, &office, &phones, batch));
            rounds.fold(0.0_f64, f64::max)
        };
        let (here, worker) = (best(&Judging::Here), best(&workers));
        println!(
            "{batch:<22} {here:>12.0} {worker:>12.0} {:>7.2}",
            worker / here
        );
    }
}

/// Changes a second.
fn rate(judging: &Judging, office: &Office, phones: &[Phone], batch: usize) -> f64 {
    let folder = tempfile::tempdir().unwrap();
    let runtime = tokio::runtime::Runtime::new().unwrap();
    let records = SqliteRecords::open(&folder.path().join("records.sqlite")).unwrap();
    let staging = Staging::open(folder.path()).unwrap();
    let hub = Hub::new(
        Arc::new(records),
        Arc::new(MemoryBlobs::default()),
        staging,
        office.clone(),
    );
    let hub = hub.with_judge(Judge::start(judging).unwrap());
    let began = Instant::now();
    std::thread::scope(|scope| {
        for phone in phones {
            let mut replica = hub.replica(runtime.handle().clone());
            scope.spawn(move || {
                let shown = [phone.signed.clone()];
                for rows in phone.rows.chunks(batch) {
                    replica
                        .accept(&phone.certificate, phone.job, rows.to_vec(), &shown)
                        .unwrap();
                }
            });
        }
    });
    (phones.len() * CHANGES) as f64 / began.elapsed().as_secs_f64()
}

struct Phone {
    certificate: Certificate,
    signed: SignedCertificate,
    job: JobId,
    rows: Vec<ChangeRow>,
}

impl Phone {
    fn new(n: u8, office: &Office) -> Self {
        let mut recorder = Recorder::new(n);
        let certificate = Certificate {
            company: office.company().id,
            device: recorder.author.device,
            key: recorder.key.verifying_key().to_bytes().to_vec(),
            person: format!("person {n}"),
            role: Role::Crew,
            device_name: format!("phone {n}"),
            issued_at: 2,
        };
        let member = CrewMember {
            person: certificate.person.clone(),
            role: Role::Crew,
            device_name: certificate.device_name.clone(),
            key: certificate.key.clone(),
        };
        let joined = recorder
            .document
            .join(recorder.author, &recorder.key, &member, 5)
            .unwrap();
        recorder.rows.push(joined.row);
        let job = JobId::from_bytes([n; 16]);
        let property = Property::default();
        recorder.act(&Action::Begin { job, property });
        while recorder.rows.len() < CHANGES {
            let id = recorder.env.record_id();
            let record = finding(recorder.rows.len()).into();
            recorder.act(&Action::Add {
                id,
                record,
                hits: None,
                shows: Vec::new(),
            });
        }
        Self {
            signed: office.sign(&certificate).unwrap(),
            certificate,
            job,
            rows: recorder.rows,
        }
    }
}

fn office() -> Office {
    let key = SigningKey::from_bytes(&[200; 32]);
    let company = Company {
        id: CompanyId::from_bytes([200; 16]),
        name: "The office".into(),
        office_key: key.verifying_key().to_bytes(),
        founded_at: 1,
    };
    Office::with_keys(company, key, SigningKey::from_bytes(&[201; 32])).unwrap()
}

/// The command beside this bench, or the one that CHALKWALK names.
fn chalkwalk() -> PathBuf {
    if let Some(named) = std::env::var_os("CHALKWALK") {
        return named.into();
    }
    let itself = std::env::current_exe().unwrap();
    let folder = itself.parent().and_then(std::path::Path::parent).unwrap();
    folder.join("chalkwalk")
}

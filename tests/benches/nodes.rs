//! Throughput with one, two and three nodes on one PostgreSQL, as ratios in one run.
//!
//!     tests/engines.py cargo bench -p chalkwalk-tests --bench nodes
//!
//! Twelve phones each send a job of their own in batches of five changes, spread over the nodes.
//! Every batch passes the gate and is durable before the next one. A node here is a hub with its
//! own connections, open documents and threads: all that nodes of different machines do not share.
//! They do share this machine's processor, so that the ratios are a floor. The baseline is one
//! node on the default SQLite file; storage alone, without the gate, is measured beside it.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::sync::Arc;
use std::time::{Duration, Instant};

use chalkwalk_core::document::{Action, Author, ChangeRow, Document};
use chalkwalk_core::env::{EnvIds, SeededEnv};
use chalkwalk_core::job::{
    Certificate, CompanyId, CrewMember, DeviceId, Finding, JobId, Property, Role, SignedCertificate,
};
use chalkwalk_core::sync::Replica;
use chalkwalk_sync_server::hub::Hub;
use chalkwalk_sync_server::office::Office;
use chalkwalk_sync_server::store::{
    Company, MemoryBlobs, PostgresPlace, PostgresRecords, Records, SqliteRecords, Staging,
};
use ed25519_dalek::SigningKey;

const PHONES: usize = 12;
const BATCHES: usize = 40;
const BATCH: usize = 5;

fn main() {
    let Ok(url) = std::env::var("CHALKWALK_POSTGRES") else {
        eprintln!("run it as: tests/engines.py cargo bench -p chalkwalk-tests --bench nodes");
        std::process::exit(2);
    };
    let office = office();
    let phones: Vec<Phone> = (1..=PHONES as u8).map(|n| Phone::new(n, &office)).collect();
    let folder = tempfile::tempdir().unwrap();
    let mut round = 0;
    let mut fresh = |kind: Kind, nodes: usize| -> Vec<Arc<dyn Records>> {
        round += 1;
        match kind {
            Kind::Sqlite => {
                let file = folder.path().join(format!("{round}.sqlite"));
                vec![Arc::new(SqliteRecords::open(&file).unwrap())]
            }
            Kind::Postgres => {
                let schema = format!("bench_{}_{round}", std::process::id());
                let place = PostgresPlace::parse(&url).unwrap();
                let place = place.with_schema(&schema).unwrap();
                (0..nodes)
                    .map(|_| Arc::new(PostgresRecords::new(place.clone()).unwrap()) as _)
                    .collect()
            }
        }
    };
    println!("{PHONES} phones, {BATCHES} batches of {BATCH} changes each");
    println!("storage  nodes  gate  changes/s  to SQLite  to one node");
    for gate in [false, true] {
        let run = |records: &[Arc<dyn Records>]| -> f64 {
            if gate {
                with_gate(records, &office, &phones)
            } else {
                without_gate(records, &phones)
            }
        };
        let word = if gate { "yes" } else { "no" };
        // The best of three: what else the machine does only ever takes away.
        let mut best = |kind: Kind, nodes: usize| {
            (0..3)
                .map(|_| run(&fresh(kind, nodes)))
                .fold(0.0_f64, f64::max)
        };
        let baseline = best(Kind::Sqlite, 1);
        println!("SQLite       1  {word:>4}  {baseline:>9.0}       1.00            -");
        let mut one = None;
        for nodes in 1..=3 {
            let rate = best(Kind::Postgres, nodes);
            let one = *one.get_or_insert(rate);
            println!(
                "Postgres     {nodes}  {word:>4}  {rate:>9.0}  {:>9.2}  {:>11.2}",
                rate / baseline,
                rate / one
            );
        }
    }
}

#[derive(Clone, Copy)]
enum Kind {
    Sqlite,
    Postgres,
}

/// Changes a second through hubs, each with threads of its own.
fn with_gate(records: &[Arc<dyn Records>], office: &Office, phones: &[Phone]) -> f64 {
    let folder = tempfile::tempdir().unwrap();
    let nodes: Vec<(tokio::runtime::Runtime, Hub)> = records
        .iter()
        .enumerate()
        .map(|(n, records)| {
            let runtime = tokio::runtime::Builder::new_multi_thread()
                .worker_threads(2)
                .enable_all()
                .build()
                .unwrap();
            runtime.block_on(records.jobs()).unwrap();
            let staging = Staging::open(&folder.path().join(n.to_string())).unwrap();
            let blobs = Arc::new(MemoryBlobs::default());
            (
                runtime,
                Hub::new(Arc::clone(records), blobs, staging, office.clone()),
            )
        })
        .collect();
    let took = timed(phones, |turn, phone| {
        let (runtime, hub) = &nodes[turn % nodes.len()];
        let mut replica = hub.replica(runtime.handle().clone());
        let shown = [phone.signed.clone()];
        for batch in &phone.batches {
            let batch = batch.clone();
            replica
                .accept(&phone.certificate, phone.job, batch, &shown)
                .unwrap();
        }
    });
    rate(took)
}

/// Changes a second into storage alone.
fn without_gate(records: &[Arc<dyn Records>], phones: &[Phone]) -> f64 {
    let runtimes: Vec<tokio::runtime::Runtime> = records
        .iter()
        .map(|records| {
            let runtime = tokio::runtime::Runtime::new().unwrap();
            runtime.block_on(records.jobs()).unwrap();
            runtime
        })
        .collect();
    let took = timed(phones, |turn, phone| {
        let at = turn % records.len();
        runtimes[at].block_on(async {
            for batch in &phone.batches {
                records[at].append(phone.job, batch, &[], 7).await.unwrap();
            }
        });
    });
    rate(took)
}

fn timed(phones: &[Phone], work: impl Fn(usize, &Phone) + Sync) -> Duration {
    let began = Instant::now();
    std::thread::scope(|scope| {
        for (turn, phone) in phones.iter().enumerate() {
            let work = &work;
            scope.spawn(move || work(turn, phone));
        }
    });
    began.elapsed()
}

fn rate(took: Duration) -> f64 {
    (PHONES * BATCHES * BATCH) as f64 / took.as_secs_f64()
}

/// A phone's certificate and what it recorded, ready to be sent.
struct Phone {
    certificate: Certificate,
    signed: SignedCertificate,
    job: JobId,
    batches: Vec<Vec<ChangeRow>>,
}

impl Phone {
    fn new(n: u8, office: &Office) -> Self {
        let key = SigningKey::from_bytes(&[n; 32]);
        let device = DeviceId::from_bytes([n; 16]);
        let author = Author {
            device,
            nonce: [n; 8],
        };
        let certificate = Certificate {
            company: office.company().id,
            device,
            key: key.verifying_key().to_bytes().to_vec(),
            person: format!("person {n}"),
            role: Role::Crew,
            device_name: format!("phone {n}"),
            issued_at: 2,
        };
        let signed = office.sign(&certificate).unwrap();
        let job = JobId::from_bytes([n; 16]);
        let mut document = Document::new().unwrap();
        let member = CrewMember {
            person: certificate.person.clone(),
            role: Role::Crew,
            device_name: certificate.device_name.clone(),
            key: certificate.key.clone(),
        };
        let mut rows = vec![document.join(author, &key, &member, 5).unwrap().row];
        let mut act = |action: &Action| {
            let applied = document.apply(author, &key, action, 6).unwrap();
            applied.unwrap().row
        };
        let property = Property::default();
        rows.push(act(&Action::Begin { job, property }));
        let mut env = SeededEnv::new(u64::from(n), 1_700_000_000_000, 1_000);
        while rows.len() < BATCHES * BATCH {
            let finding = Finding {
                text: Some(format!("hail on the gutter, piece {}", rows.len())),
                ..Finding::default()
            };
            rows.push(act(&Action::Add {
                id: env.record_id(),
                record: finding.into(),
                hits: None,
                shows: Vec::new(),
            }));
        }
        let batches = rows.chunks(BATCH).map(<[ChangeRow]>::to_vec).collect();
        Self {
            certificate,
            signed,
            job,
            batches,
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

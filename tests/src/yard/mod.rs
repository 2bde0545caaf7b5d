//! What the benches of the office server share: an invented office, a device whose changes pass
//! the gate, processes of their own, and what they cost.

mod ear;
mod http;
mod process;

use std::path::Path;

use chalkwalk_core::document::{Action, Author, ChangeRow, Document};
use chalkwalk_core::env::{EnvIds, SeededEnv};
use chalkwalk_core::job::{
    Certificate, CrewMember, DeviceId, JobId, Property, Role, SignedCertificate,
};
use chalkwalk_core::sync::SessionConfig;
use chalkwalk_decoders::large;
use chalkwalk_sync_server::office::Office;
use ed25519_dalek::SigningKey;

pub use ear::Ear;
pub use http::{Http, token};
pub use process::{Child, cpu_of, rss_of, serve_here};

/// A device of the office and what it recorded of one job.
pub struct Device {
    /// Its certificate.
    pub certificate: Certificate,
    /// The same, signed by the office.
    pub signed: SignedCertificate,
    /// Its key.
    pub key: SigningKey,
    /// The office's key.
    pub office: ed25519_dalek::VerifyingKey,
    /// The author of its changes.
    pub author: Author,
    /// The job.
    pub job: JobId,
    /// Its changes, the first of them the job's beginning.
    pub rows: Vec<ChangeRow>,
    /// The document with all of them.
    pub document: Document,
    env: SeededEnv,
}

impl Device {
    /// A device that has begun a job.
    pub fn new(n: u8, office: &Office) -> Self {
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
        let rows = vec![document.join(author, &key, &member, 5).unwrap().row];
        let mut begun = Self {
            certificate,
            signed,
            key,
            office: office.public_key(),
            author,
            job,
            rows,
            document,
            env: SeededEnv::new(u64::from(n), 1_700_000_000_000, 1_000),
        };
        let property = Property::default();
        begun.act(&Action::Begin { job, property });
        begun
    }

    /// Does one action.
    pub fn act(&mut self, action: &Action) {
        let now = self.env.now_of();
        let applied = self.document.apply(self.author, &self.key, action, now);
        self.rows.push(applied.unwrap().unwrap().row);
    }

    /// Records findings until there are so many changes.
    pub fn record(&mut self, changes: usize) {
        while self.rows.len() < changes {
            let id = self.env.record_id();
            self.act(&Action::Add {
                id,
                record: large::finding(self.rows.len()).into(),
                hits: Some(3),
                shows: vec![],
            });
        }
    }

    /// Names photos of these files.
    pub fn photos(&mut self, files: &[Vec<u8>]) {
        let mut recorder = large::Recorder::new(9);
        recorder.author = self.author;
        recorder.key = self.key.clone();
        for (i, file) in files.iter().enumerate() {
            let noise = *blake3::hash(file).as_bytes();
            let photo = large::photo_of(&mut recorder, i, file, noise);
            let id = self.env.record_id();
            self.act(&Action::Add {
                id,
                record: photo.into(),
                hits: None,
                shows: vec![],
            });
        }
    }

    /// How a session of it begins; without pictures.
    pub fn session(&self, live: bool) -> SessionConfig {
        let mut nonce = [0; 32];
        fastrand::fill(&mut nonce);
        SessionConfig {
            certificate: self.signed.clone(),
            key: self.key.clone(),
            office: self.office,
            nonce,
            initiator: true,
            jobs: None,
            thumbnails: false,
            originals: false,
            live,
        }
    }
}

trait NowOf {
    fn now_of(&mut self) -> i64;
}

impl NowOf for SeededEnv {
    fn now_of(&mut self) -> i64 {
        chalkwalk_core::env::Env::now(self)
    }
}

/// Makes an office in a folder.
pub fn office(data: &Path) -> Office {
    let runtime = tokio::runtime::Runtime::new().unwrap();
    let hub = chalkwalk_sync_server::serve::open_hub(data, Some("Bench Roofing"));
    let office = runtime.block_on(hub).unwrap().office().clone();
    drop(runtime);
    // All of it in one file, which benches copy.
    let file = rusqlite::Connection::open(data.join("records.sqlite")).unwrap();
    file.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))
        .unwrap();
    office
}

/// A line of a bench: what, ours, the baseline, their ratio, the aim and whether it is met.
pub fn line(what: &str, ours: f64, baseline: f64, unit: &str, aim: f64, more_is_better: bool) {
    let ratio = ours / baseline;
    let met = if more_is_better {
        ratio >= aim
    } else {
        ratio <= aim
    };
    let mark = if met { "" } else { "  missed" };
    let sign = if more_is_better { ">=" } else { "<=" };
    println!("{what:<46} {ours:>10.2} {baseline:>10.2} {unit:<9} {ratio:>6.2} {sign} {aim}{mark}");
}

//! The office: nodes over one storage on a disk.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use chalkwalk_core::job::CompanyId;
use chalkwalk_core::sync::SessionConfig;
use chalkwalk_sync_server::hub::{Hub, HubReplica};
use chalkwalk_sync_server::office::Office;
use chalkwalk_sync_server::store::{Blobs, Company, ObjectBlobs, Records, SqliteRecords, Staging};
use ed25519_dalek::SigningKey;
use tokio::runtime::Runtime;

use super::disk;

pub(super) struct Site {
    pub(super) office: Office,
    pub(super) runtime: Runtime,
    dir: PathBuf,
    storage: Option<Storage>,
    nodes: Vec<Hub>,
}

type Storage = (Arc<dyn Records>, Arc<dyn Blobs>);

impl Site {
    pub(super) fn new(base: &Path, nodes: usize, runtime: Runtime) -> Self {
        let key = SigningKey::from_bytes(&[41; 32]);
        let company = Company {
            id: CompanyId::from_bytes([41; 16]),
            name: "The office".to_owned(),
            office_key: key.verifying_key().to_bytes(),
            founded_at: 1,
        };
        let office = Office::with_keys(company, key, SigningKey::from_bytes(&[42; 32])).unwrap();
        let dir = base.join("office");
        for n in 0..nodes {
            std::fs::create_dir_all(dir.join(format!("staging-{n}"))).unwrap();
        }
        std::fs::create_dir_all(dir.join("blobs")).unwrap();
        let mut site = Self {
            office,
            runtime,
            dir,
            storage: None,
            nodes: Vec::new(),
        };
        site.open(nodes);
        let company = site.office.company().clone();
        site.runtime
            .block_on(site.nodes[0].records().found(&company))
            .unwrap();
        site
    }

    fn open(&mut self, nodes: usize) {
        let records = SqliteRecords::open(&self.dir.join("office.db")).unwrap();
        let blobs = ObjectBlobs::folder(&self.dir.join("blobs")).unwrap();
        self.storage = Some((Arc::new(records), Arc::new(blobs)));
        self.nodes = (0..nodes).map(|n| self.node(n)).collect();
    }

    fn node(&self, n: usize) -> Hub {
        let (records, blobs) = self.storage.clone().unwrap();
        let staging = Staging::open(&self.dir.join(format!("staging-{n}"))).unwrap();
        Hub::new(records, blobs, staging, self.office.clone())
    }

    pub(super) fn nodes(&self) -> usize {
        self.nodes.len()
    }

    pub(super) fn hub(&self, node: usize) -> &Hub {
        &self.nodes[node]
    }

    pub(super) fn replica(&self, node: usize) -> HubReplica {
        self.nodes[node].replica(self.runtime.handle().clone())
    }

    pub(super) fn config(&self, random: &mut fastrand::Rng) -> SessionConfig {
        let mut nonce = [0; 32];
        random.fill(&mut nonce);
        SessionConfig {
            certificate: self.office.server_signed().clone(),
            key: self.office.server_key().clone(),
            office: self.office.public_key(),
            nonce,
            initiator: false,
            jobs: None,
            thumbnails: true,
            originals: true,
            live: true,
        }
    }

    /// One node's process ends; it starts anew over the same storage.
    pub(super) fn crash_node(&mut self, node: usize) {
        self.nodes[node] = self.node(node);
    }

    /// The power goes in the office, in mid write perhaps.
    pub(super) fn power_cut(&mut self, random: &mut fastrand::Rng) {
        let (image, gone) = (
            self.dir.with_file_name("office-image"),
            self.dir.with_file_name("office-gone"),
        );
        disk::copy(&self.dir, &image).unwrap();
        disk::tear(&image.join("office.db-wal"), random).unwrap();
        let nodes = self.nodes.len();
        std::fs::rename(&self.dir, &gone).unwrap();
        self.nodes.clear();
        self.storage = None;
        disk::put_in_place(&image, &self.dir).unwrap();
        std::fs::remove_dir_all(&gone).unwrap();
        self.open(nodes);
    }
}

//! Meeting the office or another phone: a session over a link, or a bundle.

use std::collections::{BTreeMap, BTreeSet};
use std::io::Cursor;

use chalkwalk_core::document::Table;
use chalkwalk_core::env::Env;
use chalkwalk_core::job::{BlobKind, JobId};
use chalkwalk_core::sync::{Event, Session, SessionConfig, bundle};
use serde_json::{Value, json};

use crate::book::Book;

const NOT_ENROLLED: &str = "this phone is not enrolled with an office yet: enrol it first";

impl Book {
    /// A session at its start.
    pub(crate) fn session(
        &mut self,
        initiator: bool,
        live: bool,
        originals: bool,
        jobs: Option<BTreeSet<JobId>>,
    ) -> Result<Session, String> {
        let mut nonce = [0; 32];
        self.env.random(&mut nonce);
        let office = self.office.as_ref().ok_or(NOT_ENROLLED)?;
        let config = SessionConfig {
            certificate: office.certificate.clone(),
            key: self.identity.signing_key()?,
            office: office.key,
            nonce,
            initiator,
            jobs,
            thumbnails: true,
            originals,
            live,
        };
        Session::new(config, self.now()).map_err(|error| error.to_string())
    }

    /// A bundle of jobs: all their changes and small pictures.
    pub(crate) fn write_bundle(&mut self, jobs: &[JobId]) -> Result<Vec<u8>, String> {
        let office = self.office.clone().ok_or(NOT_ENROLLED)?;
        let key = self.identity.signing_key()?;
        let mut contents = bundle::Contents {
            made_at: self.now(),
            ..Default::default()
        };
        for job in jobs {
            contents.jobs.insert(*job, Table::new());
            let files = self.files(*job).into_iter();
            contents
                .files
                .extend(files.map(|(hash, _)| (*job, BlobKind::Thumbnail, hash)));
        }
        let mut out = Vec::new();
        bundle::write(self, &office.certificate, &key, &contents, &mut out)
            .map_err(|error| error.to_string())?;
        Ok(out)
    }

    /// Takes what is in a bundle.
    pub(crate) fn read_bundle(&mut self, bytes: &[u8]) -> Result<Value, String> {
        let office = self.office.clone().ok_or(NOT_ENROLLED)?;
        let report = bundle::read(self, &office.key, office.company, &mut Cursor::new(bytes))
            .map_err(|error| error.to_string())?;
        let refused: BTreeMap<String, String> = report
            .refused
            .iter()
            .map(|(job, why)| (job.to_string(), why.to_string()))
            .collect();
        Ok(json!({
            "maker": report.maker.map(|maker| maker.person),
            "new_changes": report.new_changes,
            "files": report.files,
            "refused": refused,
        }))
    }
}

/// An event as the page reads it.
pub(crate) fn told(event: &Event) -> Value {
    match event {
        Event::Connected { peer } => {
            json!({"event": "connected", "person": peer.person, "device_name": peer.device_name})
        }
        Event::Took {
            job, new_changes, ..
        } => {
            json!({"event": "took", "job": job.to_string(), "new_changes": new_changes})
        }
        Event::TookFile { job, hash, kind } => {
            let original = *kind == BlobKind::Original;
            json!({"event": "took_file", "job": job.to_string(), "hash": hash, "original": original})
        }
        Event::PeerKept { job, changes } => {
            json!({"event": "peer_kept", "job": job.to_string(), "changes": changes})
        }
        Event::Declined { job, by_peer } => {
            json!({"event": "declined", "job": job.to_string(), "by_peer": by_peer})
        }
        Event::Settled => json!({"event": "settled"}),
        Event::Ended(ending) => {
            let finished = ending.reason == chalkwalk_core::sync::Reason::Finished;
            json!({"event": "ended", "finished": finished, "words": ending.words})
        }
        _ => json!({"event": "other"}),
    }
}

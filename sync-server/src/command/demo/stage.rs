//! The folders of the demo and who stands in them.

use std::path::{Path, PathBuf};

use chalkwalk_core::document::{Document, Table};
use chalkwalk_core::job::{BlobKind, Job, JobId, Role, SignedCapture};
use chalkwalk_core::notebook::{NewIdentity, Notebook};

use super::super::output::Failure;
use super::super::server::join;
use super::office::OfficeProcess;
use super::visit::Clocks;
use crate::store::BlobKey;

pub(super) struct Stage {
    pub(super) out: PathBuf,
    pub(super) office: PathBuf,
    pub(super) packets: PathBuf,
}

impl Stage {
    /// Makes the folders; an earlier demo is replaced, anything else is left alone.
    pub(super) fn set(out: &Path) -> Result<Self, Failure> {
        const MARK: &str = ".chalkwalk-demo";
        let cannot = |error: std::io::Error| {
            Failure::new(format!(
                "the folder {} cannot be used: {error}",
                out.display()
            ))
        };
        if out.exists() {
            let empty = std::fs::read_dir(out).map_err(cannot)?.next().is_none();
            if out.join(MARK).is_file() {
                std::fs::remove_dir_all(out).map_err(cannot)?;
            } else if !empty {
                return Err(Failure::new(format!(
                    "{} is there and is no earlier demo: name another folder with --out",
                    out.display()
                )));
            }
        }
        std::fs::create_dir_all(out).map_err(cannot)?;
        std::fs::write(out.join(MARK), "").map_err(cannot)?;
        let out = out.canonicalize().map_err(cannot)?;
        Ok(Self {
            office: out.join("office"),
            packets: out.join("packet"),
            out,
        })
    }

    /// A new phone that joins the office.
    pub(super) fn device(
        &self,
        folder: &str,
        person: &str,
        name: &str,
        office: &OfficeProcess,
        clocks: &Clocks,
    ) -> Result<Notebook, Failure> {
        let who = NewIdentity {
            person: person.to_owned(),
            device_name: name.to_owned(),
            role: Role::Crew,
        };
        let clock = Box::new(clocks.of(name));
        let mut notebook = Notebook::create(&self.out.join(folder), who, clock)?;
        let lasts = std::time::Duration::from_secs(600);
        let invitation = crate::enrol::invite(&self.office, Role::Crew, person, lasts)?;
        join(
            &mut notebook,
            office.devices(),
            &invitation.code,
            Some(&invitation.pin),
        )?;
        Ok(notebook)
    }

    /// The job as the office's storage holds it: its rows, read from the disk.
    pub(super) fn document_at_office(&self, job: JobId) -> Result<Document, Failure> {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()?;
        let rows = runtime.block_on(async {
            let hub = crate::serve::open_hub(&self.office, None).await?;
            let mut rows = Vec::new();
            let mut held = Table::new();
            loop {
                let more = hub.records().lacking(job, &held, 4 << 20).await?;
                if more.is_empty() {
                    return Ok::<_, Failure>(rows);
                }
                for row in &more {
                    let short_hash = chalkwalk_core::document::short_hash(&row.hash);
                    let entry = chalkwalk_core::document::Held {
                        number: row.number,
                        short_hash,
                    };
                    held.insert(row.author, entry);
                }
                rows.extend(more);
            }
        })?;
        let mut document = Document::new()?;
        document.replay(&rows)?;
        Ok(document)
    }

    /// Originals that the job names and the office does not hold whole: each file is read from
    /// the office's folder and hashed again.
    pub(super) fn originals_lost(&self, job: &Job) -> Result<usize, Failure> {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()?;
        runtime.block_on(async {
            let hub = crate::serve::open_hub(&self.office, None).await?;
            let mut lost = 0;
            for photo in job.records.photos.values() {
                let Some(bytes) = &photo.capture else {
                    continue;
                };
                let capture = SignedCapture::from_bytes(bytes)?.capture()?;
                let mut hasher = blake3::Hasher::new();
                let mut at = 0;
                while at < capture.size {
                    let key = BlobKey {
                        kind: BlobKind::Original,
                        hash: capture.hash,
                    };
                    let chunk = hub.blobs().range(key, at, 1 << 20).await;
                    match chunk {
                        Ok(chunk) if !chunk.is_empty() => {
                            hasher.update(&chunk);
                            at += chunk.len() as u64;
                        }
                        _ => break,
                    }
                }
                lost += usize::from(hasher.finalize().as_bytes() != capture.hash.as_bytes());
            }
            Ok(lost)
        })
    }
}

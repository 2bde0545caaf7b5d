//! A phone is lost: what it had, and what it had not yet handed in.

use std::collections::BTreeSet;

use chalkwalk_core::document::{Author, Refusal, Table};
use chalkwalk_core::job::{BlobKind, DeviceId, JobId, Millis, SignedCapture};

use super::{Hub, job_title};

/// What is known here of a device.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lost {
    /// The device.
    pub device: DeviceId,
    /// When it last said what it holds.
    pub last_heard: Option<Millis>,
    /// The jobs it holds or has written to, by id.
    pub jobs: Vec<JobOnDevice>,
}

/// One job on a device.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct JobOnDevice {
    /// The job.
    pub job: JobId,
    /// Its address.
    pub title: String,
    /// Changes of the job that the device said it holds.
    pub changes_there: u64,
    /// Changes that the device itself wrote and handed in.
    pub written_here: u64,
    /// Changes that it said it holds and that are not here.
    pub changes_not_here: u64,
    /// Photos it took whose originals are not here.
    pub originals_not_here: u64,
}

impl Hub {
    /// What a device had, as far as it told. What it recorded after it last spoke with the office
    /// nobody knows here.
    pub async fn lost(&self, device: DeviceId) -> Result<Lost, Refusal> {
        let mut lost = Lost {
            device,
            last_heard: None,
            jobs: Vec::new(),
        };
        for job in self.records().job_ids().await? {
            let table = self.records().table(job).await?;
            let said = self
                .records()
                .peers(job)
                .await?
                .into_iter()
                .find(|peer| peer.device == device);
            let written = count(&table, |author| author.device == device);
            if said.is_none() && written == 0 {
                continue;
            }
            let there = said.as_ref().map(|said| &said.table);
            lost.last_heard = lost.last_heard.max(said.as_ref().map(|said| said.at));
            let originals_not_here = self.originals_not_here(job, device).await?;
            let title = self.read(job).await?.as_deref().map(job_title);
            lost.jobs.push(JobOnDevice {
                job,
                title: title.unwrap_or_default(),
                changes_there: there.map_or(0, |table| count(table, |_| true)),
                written_here: written,
                changes_not_here: there.map_or(0, |there| lacking(there, &table)),
                originals_not_here,
            });
        }
        Ok(lost)
    }

    async fn originals_not_here(&self, job: JobId, device: DeviceId) -> Result<u64, Refusal> {
        let Some(read) = self.read(job).await? else {
            return Ok(0);
        };
        let whole: BTreeSet<_> = self
            .records()
            .blobs(job)
            .await?
            .iter()
            .filter(|file| file.kind == BlobKind::Original)
            .map(|file| file.hash)
            .collect();
        let taken = read.records.photos.values().filter_map(|photo| {
            let signed = SignedCapture::from_bytes(photo.capture.as_ref()?).ok()?;
            signed.capture().ok()
        });
        let missing =
            taken.filter(|capture| capture.device == device && !whole.contains(&capture.hash));
        Ok(missing.count() as u64)
    }
}

fn count(table: &Table, of: impl Fn(&Author) -> bool) -> u64 {
    let authors = table.iter().filter(|(author, _)| of(author));
    authors.map(|(_, held)| held.number).sum()
}

fn lacking(there: &Table, here: &Table) -> u64 {
    there
        .iter()
        .map(|(author, held)| {
            let here = here.get(author).map_or(0, |here| here.number);
            held.number.saturating_sub(here)
        })
        .sum()
}

//! What a job's packets and its check are made from.

use std::collections::{BTreeMap, BTreeSet};
use std::io::{self, Read};
use std::path::Path;
use std::sync::Arc;

use super::photos::captures;
use super::{Identity, Notebook, NotebookError, OfficeTrust};
use crate::document::Table;
use crate::job::{BlobKind, Capture, DeviceId, Job, JobId, Millis, PhotoHash, RecordId, unhex};
use crate::packet::{
    Choices, Custody, CustodyEntry, PacketError, PacketInput, PacketKind, PhotoSource, Progress,
    Renderer, Sealer, Written,
};
use crate::photo::{PhotoStore, walk_order};
use crate::review::Facts;
use crate::sorted::{Keyed, Sorted};
use crate::sync::bundle;

/// All that a job's packets are made from, as of one moment. The notebook can be used while one is
/// written.
pub struct PacketParts {
    job: Job,
    document: Vec<u8>,
    custody: Custody,
    photos: Arc<PhotoStore>,
    order: Vec<RecordId>,
    office: Option<OfficeTrust>,
    identity: Identity,
    created_at: Millis,
}

impl PacketParts {
    /// Writes one packet into a folder, sealed with the device's key. Its name there is
    /// [`PacketKind::folder`].
    ///
    /// # Errors
    /// As [`crate::packet::write`].
    pub fn write(
        &self,
        kind: PacketKind,
        folder: &Path,
        (choices, renderer): (&Choices, &dyn Renderer),
        progress: &mut Progress<'_>,
    ) -> Result<Written, PacketError> {
        let office = self.office.as_ref();
        let input = PacketInput {
            job: &self.job,
            document: &self.document,
            custody: &self.custody,
            photos: &StoredPhotos(&self.photos),
            order: &self.order,
            company: office.map_or("no office yet", |office| &office.company_name),
            office_key: office.map(|office| office.key),
            sealer: Sealer::Device {
                key: &self.identity.key,
                device: self.identity.device,
                certificate: office.map(|office| &office.certificate),
            },
            choices,
            renderer,
            created_at: self.created_at,
        };
        std::fs::create_dir_all(folder).map_err(|cause| PacketError::File {
            path: folder.to_owned(),
            cause,
        })?;
        crate::packet::write(kind, &input, folder, progress)
    }
}

impl Notebook {
    /// Writes one packet into a folder, sealed with this device's key. Its name there is
    /// [`PacketKind::folder`].
    pub fn write_packet(
        &mut self,
        job: JobId,
        kind: PacketKind,
        folder: &Path,
        making: (&Choices, &dyn Renderer),
        progress: &mut Progress<'_>,
    ) -> Result<Written, NotebookError> {
        let parts = self.packet_parts(job)?;
        Ok(parts.write(kind, folder, making, progress)?)
    }

    /// What a job's packets are made from, as it stands now.
    pub fn packet_parts(&mut self, job: JobId) -> Result<PacketParts, NotebookError> {
        let created_at = self.env.now();
        let custody = self.custody(job)?;
        let document = self.document(job)?;
        let (job, document) = (document.job().clone(), document.export());
        Ok(PacketParts {
            order: walk_order(&job),
            job,
            document,
            custody,
            photos: Arc::clone(&self.photos),
            office: self.office.clone(),
            identity: self.identity.clone(),
            created_at,
        })
    }

    /// Writes a bundle for a crew with no radio link: all changes of the jobs, thumbnails, and
    /// originals where they are wanted.
    pub fn write_bundle(
        &mut self,
        jobs: Option<BTreeSet<JobId>>,
        originals: bool,
        out: &mut impl io::Write,
    ) -> Result<bundle::Report, NotebookError> {
        let office = self.office.clone().ok_or(NotebookError::NotEnrolled)?;
        let key = self.identity.key.clone();
        let mut contents = bundle::Contents {
            made_at: self.env.now(),
            ..Default::default()
        };
        let mut kinds = vec![BlobKind::Thumbnail];
        kinds.extend(originals.then_some(BlobKind::Original));
        for job in self.journal.jobs()? {
            if jobs.as_ref().is_some_and(|jobs| !jobs.contains(&job)) {
                continue;
            }
            contents.jobs.insert(job, Table::new());
            let files = self.photo_files(job)?.clone();
            for kind in &kinds {
                contents
                    .files
                    .extend(files.iter().map(|(hash, _)| (job, *kind, *hash)));
            }
        }
        Ok(bundle::write(
            self,
            &office.certificate,
            &key,
            &contents,
            out,
        )?)
    }

    /// Takes what is in a bundle.
    pub fn read_bundle(&mut self, input: &mut impl Read) -> Result<bundle::Report, NotebookError> {
        let office = self.office.clone().ok_or(NotebookError::NotEnrolled)?;
        Ok(bundle::read(self, &office.key, office.company, input)?)
    }

    /// Who recorded what, when, on which device, with the signatures that this device holds.
    pub fn custody(&mut self, job: JobId) -> Result<Custody, NotebookError> {
        let deeds = self.history(job)?;
        let signatures = self.journal.signatures(job)?;
        let mut devices: Vec<DeviceId> = deeds.iter().map(|deed| deed.by.device).collect();
        devices.order();
        devices.dedup();
        let mut certificates = Vec::new();
        for device in devices {
            certificates.extend(self.journal.certificate(device)?);
        }
        let entries = deeds
            .into_iter()
            .map(|deed| {
                let hash = unhex(&deed.change).and_then(|hash| <[u8; 32]>::try_from(hash).ok());
                let signature = hash.and_then(|hash| signatures.get(&hash).copied());
                CustodyEntry { deed, signature }
            })
            .collect();
        Ok(Custody {
            entries,
            certificates,
        })
    }

    /// What the check before leaving must know and the document does not say.
    pub fn facts(&mut self, job: JobId) -> Result<Facts, NotebookError> {
        let now = self.env.now();
        let hydrated = self.job(job)?.clone();
        let captures: BTreeMap<RecordId, Capture> = captures(&hydrated)
            .map(|(id, capture)| (id.clone(), capture))
            .keyed();
        let mut facts = Facts::of_record(&hydrated, now);
        for (id, capture) in &captures {
            let here = self
                .photos
                .have(BlobKind::Original, capture.hash)?
                .is_some();
            let at_office = match self.office {
                Some(_) => Some(self.original_safe_at_office(capture.hash)?),
                None => None,
            };
            if let Some(known) = facts.photos.get_mut(id) {
                known.here = Some(here);
                known.at_office = at_office;
            }
        }
        Ok(facts)
    }
}

struct StoredPhotos<'a>(&'a PhotoStore);

impl PhotoSource for StoredPhotos<'_> {
    fn original(&self, hash: PhotoHash) -> io::Result<Option<Box<dyn Read + '_>>> {
        match std::fs::File::open(self.0.path(BlobKind::Original, hash)) {
            Ok(file) => Ok(Some(Box::new(io::BufReader::new(file)))),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(error),
        }
    }

    fn thumbnail(&self, hash: PhotoHash) -> io::Result<Option<Vec<u8>>> {
        match std::fs::read(self.0.path(BlobKind::Thumbnail, hash)) {
            Ok(bytes) => Ok(Some(bytes)),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(error),
        }
    }
}

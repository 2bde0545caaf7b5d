//! What leaves the house: a packet for each reader, its zip, and its check.

use std::path::Path;
use std::sync::Arc;

use chalkwalk_core::job::JobId;
use chalkwalk_core::packet::{self, Choices, NoRenderer, PacketKind, Written};

use crate::inner::guarded;
use crate::views::count;
use crate::{Answer, ChalkwalkError, Notebook, ProgressListener};

/// Which packet: one for each reader. What a reader may not see is not in it.
#[uniffi::remote(Enum)]
pub enum PacketKind {
    /// For anybody, the insurer's adjuster first: findings, photos, measures and sections of the
    /// code; nothing that is for the office only, nothing struck.
    Shared,
    /// For the owner: the owner's account, with the inside of the home and without the insurer's
    /// matters.
    Owner,
    /// For the crew that lays the new roof: the production sheet.
    Production,
    /// For the office: the estimator's file with everything in it, and the document as it stands.
    Archive,
}

/// What the person who makes a packet chooses.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, uniffi::Record)]
pub struct PacketChoices {
    /// Photos go out as copies without what the camera wrote into them, the place first of all. The
    /// archive always holds the originals.
    #[uniffi(default = false)]
    pub without_places: bool,
}

/// A packet that was written.
#[derive(Clone, Debug, PartialEq, Eq, uniffi::Record)]
pub struct Packet {
    /// Its folder: a BagIt bag (RFC 8493) with its seal.
    pub folder: String,
    /// The web page in it, to be shown.
    pub page: String,
    /// Files of its payload.
    pub files: u32,
    /// Their bytes.
    pub bytes: u64,
    /// Photos that it shows.
    pub photos: u32,
    /// Photos whose original is not in it, and why.
    pub lacking: Vec<String>,
}

/// What the check of a packet found.
#[derive(Clone, Debug, PartialEq, Eq, uniffi::Record)]
pub struct PacketCheck {
    /// Files whose hashes were compared.
    pub files: u32,
    /// Photos that a signed capture vouches for.
    pub photos: u32,
    /// Photos that are copies without places, which the seal vouches for.
    pub copies: u32,
    /// It bears a good seal of the office, or of a device that the office vouches for.
    pub sealed: bool,
    /// Lines of custody whose signature was checked.
    pub signatures: u32,
    /// What is wrong; empty where all is well.
    pub failures: Vec<String>,
    /// What the reader should know although it is not wrong.
    pub notes: Vec<String>,
}

#[uniffi::export]
impl Notebook {
    /// Writes one packet as it stands now: a new folder in `folder`, named `shared`, `owner`,
    /// `production` or `archive`, whole or not at all. May take a second for every ten photos; the
    /// crew can record meanwhile. A listener that fails stops it.
    // What has no value of its own stands last: the macro reads it so.
    #[uniffi::method(default(listener = None, choices))]
    pub fn write_packet(
        &self,
        job: JobId,
        kind: PacketKind,
        folder: String,
        choices: PacketChoices,
        listener: Option<Arc<dyn ProgressListener>>,
    ) -> Answer<Packet> {
        let parts = self.inner.with(|core| Ok(core.packet_parts(job)?))?;
        let choices = Choices {
            without_places: choices.without_places,
            ..Choices::default()
        };
        let mut tell = teller(listener);
        let written = guarded(|| {
            Ok(parts.write(kind, Path::new(&folder), (&choices, &NoRenderer), &mut tell)?)
        })?;
        Ok(packet_of(written))
    }
}

/// What a packet is called, for a person.
#[uniffi::export]
pub fn packet_in_words(kind: PacketKind) -> String {
    kind.title().to_owned()
}

/// Writes the packet in a folder as one file, to be sent: a zip that anybody can open. Its size in
/// bytes. A file of that name is replaced. May take a second for every 50 MB. A listener that fails
/// stops it, and what was there before stays.
#[uniffi::export(default(listener = None))]
pub fn zip_packet(
    folder: String,
    to: String,
    listener: Option<Arc<dyn ProgressListener>>,
) -> Answer<u64> {
    guarded(|| {
        let folder = Path::new(&folder);
        if !folder.join("bagit.txt").is_file() {
            let words = format!("there is no packet in {}", folder.display());
            return Err(ChalkwalkError::NotFound { words });
        }
        let name = folder.file_name().unwrap_or_default().to_string_lossy();
        Ok(packet::zip_bag(
            folder,
            &name,
            Path::new(&to),
            &mut teller(listener),
        )?)
    })
}

/// Checks a packet in a folder: every hash and every signature. May take a second for every 100 MB.
/// Devices are held against the key in the packet; the report says so.
#[uniffi::export]
pub fn check_packet(folder: String) -> Answer<PacketCheck> {
    guarded(|| {
        let report = packet::verify(Path::new(&folder), None);
        let failures = report.failures.iter();
        Ok(PacketCheck {
            files: count(report.files),
            photos: count(report.photos),
            copies: count(report.copies),
            sealed: report.sealed,
            signatures: count(report.signatures),
            failures: failures
                .map(|failure| format!("{}: {}", failure.file, failure.reason))
                .collect(),
            notes: report.notes,
        })
    })
}

/// Tells the listener how far it is; whether to go on.
fn teller(listener: Option<Arc<dyn ProgressListener>>) -> impl FnMut(usize, usize) -> bool {
    move |done, of| {
        let told = listener.as_ref();
        told.is_none_or(|told| told.on_progress(count(done), count(of)).is_ok())
    }
}

fn packet_of(written: Written) -> Packet {
    let words = |path: &Path| path.to_string_lossy().into_owned();
    Packet {
        page: words(&written.folder.join("data/index.html")),
        folder: words(&written.folder),
        files: count(written.files),
        bytes: written.bytes,
        photos: count(written.photos),
        lacking: written
            .lacking
            .iter()
            .map(|(name, why)| format!("{name}: {why}"))
            .collect(),
    }
}

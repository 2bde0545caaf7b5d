//! The shared packet's page without its folder: for a server that shows one job to somebody
//! outside. It names the same files; the server hands them out itself.

use std::collections::BTreeMap;

use ed25519_dalek::SigningKey;

use super::photos::name_photos;
use super::report::FullReport;
use super::{
    Choices, Custody, MemoryPhotos, NoRenderer, PacketError, PacketInput, PacketKind, Sealer,
    Selection, page, report,
};
use crate::job::{BlobKind, Job, Millis, PhotoHash, RecordId};

/// The page and everything it refers to.
#[derive(Clone, Debug)]
pub struct OnlinePage {
    /// The page.
    pub html: String,
    /// The same as the shared packet's report.
    pub report: FullReport,
    /// The tables of the report by the names of their files, and the report as JSON.
    pub tables: BTreeMap<String, Vec<u8>>,
    /// The pictures by the path that the page names, below the page's own folder.
    pub files: BTreeMap<String, (BlobKind, PhotoHash)>,
}

/// The findings and counted parts of a packet as CSV, apart from the packet.
///
/// # Errors
/// Where the table cannot be written.
pub fn findings_table(
    job: &Job,
    order: &[RecordId],
    kind: PacketKind,
) -> Result<Vec<u8>, PacketError> {
    let (custody, none) = (Custody::default(), MemoryPhotos::default());
    let (choices, nobody) = (Choices::default(), SigningKey::from_bytes(&[0; 32]));
    let input = PacketInput {
        order,
        ..unsealed(job, &custody, &none, &choices, &nobody)
    };
    let selection = Selection::new(job, kind, order);
    let photos = name_photos(&selection, &|_, _| true);
    let report = report::gather(&input, &selection, &selection.findings(), &photos);
    let table = report
        .tables()
        .into_iter()
        .find(|table| table.key == "findings");
    report::to_csv(&table.ok_or(PacketError::Format("findings.csv"))?)
}

/// An input that no bag is made from, so that nothing is sealed.
pub(super) fn unsealed<'a>(
    job: &'a Job,
    custody: &'a Custody,
    photos: &'a MemoryPhotos,
    choices: &'a Choices,
    nobody: &'a SigningKey,
) -> PacketInput<'a> {
    PacketInput {
        job,
        document: &[],
        custody,
        photos,
        order: &[],
        company: "",
        office_key: None,
        sealer: Sealer::Office(nobody),
        choices,
        renderer: &NoRenderer,
        created_at: 0,
    }
}

/// The page of the shared packet: what [`Selection`] shows to anybody, and nothing else.
/// `here` says which files there are; `order` is the walk; `downloads` are further files that the
/// page offers, each with its words.
pub fn online_page(
    job: &Job,
    order: &[RecordId],
    company: &str,
    (choices, now): (&Choices, Millis),
    here: &dyn Fn(BlobKind, PhotoHash) -> bool,
    downloads: &[(&str, &str)],
) -> Result<OnlinePage, PacketError> {
    let (custody, none) = (Custody::default(), MemoryPhotos::default());
    let nobody = SigningKey::from_bytes(&[0; 32]);
    let input = PacketInput {
        order,
        company,
        created_at: now,
        ..unsealed(job, &custody, &none, choices, &nobody)
    };
    let selection = Selection::new(job, PacketKind::Shared, order);
    let photos = name_photos(&selection, here);
    let list = selection.findings();
    let mut files = BTreeMap::new();
    for photo in &photos {
        let Some(capture) = &photo.shown.capture else {
            continue;
        };
        let kinds = [
            (BlobKind::Original, &photo.file),
            (BlobKind::Thumbnail, &photo.thumbnail),
        ];
        for (kind, path) in kinds {
            files.extend(path.clone().map(|path| (path, (kind, capture.hash))));
        }
    }
    let report = report::gather(&input, &selection, &list, &photos);
    let mut tables = BTreeMap::from([("report.json".to_owned(), report.to_json()?)]);
    for table in report.tables() {
        tables.insert(table.file(), report::to_csv(&table)?);
    }
    let html = page::page(&input, &selection, &list, &photos, downloads).into_string();
    Ok(OnlinePage {
        html,
        report,
        tables,
        files,
    })
}

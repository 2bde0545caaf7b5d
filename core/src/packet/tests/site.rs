//! The complete house with signed photos, custody and a real document, and helpers for folders.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use ed25519_dalek::SigningKey;

use super::super::bag::{Sums, in_tag_manifest};
use super::super::*;
use crate::document::{Action, Author, Document};
use crate::job::*;
use crate::review::house::*;
use crate::review::production::SheetOptions;

pub(crate) struct Site {
    pub(crate) house: House,
    pub(crate) photos: MemoryPhotos,
    pub(crate) custody: Custody,
    pub(crate) document: Vec<u8>,
    pub(crate) office: SigningKey,
    pub(crate) order: Vec<RecordId>,
    pub(crate) choices: Choices,
}

pub(crate) fn device_key() -> SigningKey {
    SigningKey::from_bytes(&[42; 32])
}

impl Site {
    pub(crate) fn of(house: House) -> Self {
        let office = SigningKey::from_bytes(&[11; 32]);
        let (document, custody) = recorded(&office);
        let mut site = Self {
            house,
            photos: MemoryPhotos::default(),
            custody,
            document,
            office,
            order: Vec::new(),
            // The document is not that of the house: nothing can be worked out anew from it.
            choices: Choices {
                sheet: SheetOptions {
                    high_from_storeys: 3,
                    ..SheetOptions::default()
                },
                ..Choices::default()
            },
        };
        site.sign_photos();
        site
    }

    pub(crate) fn complete() -> Self {
        Self::of(House::complete())
    }

    /// With the record that its document holds, and no photos.
    pub(crate) fn of_document() -> Self {
        let mut site = Self::complete();
        site.house.job = Document::load(&site.document).unwrap().job().clone();
        site.order = Vec::new();
        site.choices = Choices::default();
        site
    }

    /// Gives each photo a file of its own and signs its capture.
    pub(crate) fn sign_photos(&mut self) {
        for (id, photo) in &mut self.house.job.records.photos {
            let Some(bytes) = &photo.fields.capture else {
                continue;
            };
            let Ok(signed) = SignedCapture::from_bytes(bytes) else {
                continue;
            };
            let file = format!("the picture {id}").into_bytes();
            let mut capture = signed.capture().unwrap();
            capture.hash = PhotoHash::of(&file);
            capture.sha256 = Sums::of(&file).sha256.to_vec();
            capture.size = file.len() as u64;
            let signed = SignedCapture::sign(&capture, &device_key()).unwrap();
            photo.fields.capture = Some(signed.to_bytes().unwrap().into());
            let thumbnail = format!("small {id}").into_bytes();
            self.photos.thumbnails.insert(capture.hash, thumbnail);
            self.photos.originals.insert(capture.hash, file);
        }
    }

    pub(crate) fn input(&self) -> PacketInput<'_> {
        PacketInput {
            job: &self.house.job,
            document: &self.document,
            custody: &self.custody,
            photos: &self.photos,
            order: &self.order,
            company: "Larkspur Roofing, an invented company",
            office_key: Some(self.office.verifying_key()),
            sealer: Sealer::Office(&self.office),
            choices: &self.choices,
            renderer: &NoRenderer,
            created_at: NOON + 180 * MINUTE,
        }
    }

    pub(crate) fn write(&self, kind: PacketKind, folder: &Path) -> PathBuf {
        write(kind, &self.input(), folder, &mut |_, _| true)
            .unwrap()
            .folder
    }

    pub(crate) fn check(&self, folder: &Path) -> Report {
        verify(folder, Some(&self.office.verifying_key()))
    }
}

/// A real document with a few changes, and its custody, told of records of the house.
fn recorded(office: &SigningKey) -> (Vec<u8>, Custody) {
    let key = device_key();
    let author = Author {
        device: device(),
        nonce: [1; 8],
    };
    let member = CrewMember {
        person: "Robin Vale".into(),
        role: Role::Crew,
        device_name: "rep phone".into(),
        key: key.verifying_key().to_bytes().to_vec(),
    };
    let mut document = Document::new().unwrap();
    let mut signatures = BTreeMap::new();
    let joined = document.join(author, &key, &member, NOON).unwrap();
    signatures.insert(hex(&joined.row.hash), joined.row.signature);
    for word in ["dents", "ladder", "walk"] {
        let action = Action::Add {
            id: id(word),
            record: AnyFields::Finding(Finding {
                storey: Some(1),
                ..Finding::default()
            }),
            hits: None,
            shows: vec![],
        };
        let applied = document
            .apply(author, &key, &action, NOON)
            .unwrap()
            .unwrap();
        // The last change carries the signature for the ones before it.
        let signature = applied.row.signature.filter(|_| word != "ladder");
        signatures.insert(hex(&applied.row.hash), signature);
    }
    let entries = document
        .history()
        .into_iter()
        .map(|deed| CustodyEntry {
            signature: signatures[&deed.change],
            deed,
        })
        .collect();
    let certificate = Certificate {
        company: CompanyId::from_bytes([3; 16]),
        device: device(),
        key: key.verifying_key().to_bytes().to_vec(),
        person: "Robin Vale".into(),
        role: Role::Crew,
        device_name: "rep phone".into(),
        issued_at: NOON,
    };
    let custody = Custody {
        entries,
        certificates: vec![SignedCertificate::sign(&certificate, office).unwrap()],
    };
    (document.export(), custody)
}

/// Every file below a folder with its bytes.
pub(crate) fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut files = BTreeMap::new();
    let mut open = vec![folder.to_owned()];
    while let Some(next) = open.pop() {
        for entry in fs::read_dir(next).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap().to_str().unwrap();
                files.insert(name.to_owned(), fs::read(&path).unwrap());
            }
        }
    }
    files
}

/// What a careful forger does after changing files: writes all manifests anew.
pub(crate) fn reseal(folder: &Path) {
    let all = files(folder);
    let line = |sum: [u8; 32], name: &str| format!("{}  {name}\n", hex(&sum));
    let payload = || all.iter().filter(|(name, _)| name.starts_with("data/"));
    let sha: String = payload()
        .map(|(n, b)| line(Sums::of(b).sha256, n))
        .collect();
    let blake: String = payload()
        .map(|(n, b)| line(Sums::of(b).blake3, n))
        .collect();
    let bytes: usize = payload().map(|(_, b)| b.len()).sum();
    let info = String::from_utf8(all["bag-info.txt"].clone()).unwrap();
    let info: String = info
        .lines()
        .map(|old| match old.starts_with("Payload-Oxum") {
            true => format!("Payload-Oxum: {bytes}.{}\n", payload().count()),
            false => format!("{old}\n"),
        })
        .collect();
    fs::write(folder.join("manifest-sha256.txt"), sha).unwrap();
    fs::write(folder.join("blake3.txt"), blake).unwrap();
    fs::write(folder.join("bag-info.txt"), info).unwrap();
    let tags: String = files(folder)
        .iter()
        .filter(|(name, _)| in_tag_manifest(name))
        .map(|(name, bytes)| line(Sums::of(bytes).sha256, name))
        .collect();
    fs::write(folder.join("tagmanifest-sha256.txt"), tags).unwrap();
}

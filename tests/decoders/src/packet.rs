//! A packet that is checked: one file of a good packet replaced by a stranger's bytes.

use std::path::{Path, PathBuf};

use chalkwalk_core::env::SeededEnv;
use chalkwalk_core::job::{Certificate, CompanyId, Finding, Property, Role, SignedCertificate};
use chalkwalk_core::notebook::{Enrolment, NewIdentity, Notebook, PhotoNote};
use chalkwalk_core::packet::{self, Choices, NoRenderer, PacketKind};
use ed25519_dalek::SigningKey;

/// A good packet in a folder that goes with it.
struct Packet {
    folder: tempfile::TempDir,
    files: Vec<(PathBuf, Vec<u8>)>,
}

thread_local! {
    static PACKET: Packet = Packet::new();
}

/// The first byte says which file the rest replaces.
pub(super) fn packet_file(bytes: &[u8]) {
    let Some((which, rest)) = bytes.split_first() else {
        return;
    };
    PACKET.with(|packet| {
        let (path, good) = &packet.files[usize::from(*which) % packet.files.len()];
        if std::fs::write(path, rest).is_err() {
            return;
        }
        let report = packet::verify(&packet.at(), None);
        let same = rest == good.as_slice();
        assert!(report.good() || !same, "{report:?}");
        // Every file of the payload is vouched for.
        let payload = path.starts_with(packet.at().join("data"));
        assert!(!report.good() || same || !payload, "{report:?}");
        std::fs::write(path, good).unwrap();
    });
}

impl Packet {
    fn new() -> Self {
        let folder = tempfile::tempdir_in(super::scratch()).unwrap();
        let who = NewIdentity {
            person: "somebody".to_owned(),
            device_name: "phone".to_owned(),
            role: Role::Crew,
        };
        let at = folder.path().join("notebook");
        let env = SeededEnv::new(7, 1_777_381_629_331, 1_000);
        let mut notebook = Notebook::create(&at, who, Box::new(env)).unwrap();
        enrol(&mut notebook);
        let job = notebook.begin(None, Property::default()).unwrap();
        let finding = Finding {
            text: Some("round dents".to_owned()),
            ..Finding::default()
        };
        notebook.add(job, finding).unwrap();
        let picture = folder.path().join("one.jpg");
        let plain = image::RgbImage::from_fn(16, 12, |x, y| image::Rgb([x as u8, y as u8, 90]));
        plain.save(&picture).unwrap();
        notebook
            .add_photo(job, &picture, PhotoNote::default())
            .unwrap();
        notebook
            .write_packet(
                job,
                PacketKind::Archive,
                folder.path(),
                (&Choices::default(), &NoRenderer),
                &mut |_, _| true,
            )
            .unwrap();
        let mut packet = Self {
            folder,
            files: Vec::new(),
        };
        packet.gather(&packet.at());
        packet.files.sort();
        packet
    }

    fn at(&self) -> PathBuf {
        self.folder.path().join(PacketKind::Archive.folder())
    }

    fn gather(&mut self, folder: &Path) {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                self.gather(&path);
            } else {
                let bytes = std::fs::read(&path).unwrap();
                self.files.push((path, bytes));
            }
        }
    }
}

/// Makes it a notebook of an office, so that its certificate goes into the packet.
fn enrol(notebook: &mut Notebook) {
    let office = SigningKey::from_bytes(&[77; 32]);
    let company = CompanyId::from_bytes([3; 16]);
    let identity = notebook.identity();
    let certificate = Certificate {
        company,
        device: identity.device,
        key: identity.key.verifying_key().to_bytes().to_vec(),
        person: identity.person.clone(),
        role: identity.role,
        device_name: identity.device_name.clone(),
        issued_at: 1,
    };
    let enrolment = Enrolment {
        company,
        company_name: "The office".to_owned(),
        office_key: office.verifying_key().to_bytes().to_vec(),
        certificate: SignedCertificate::sign(&certificate, &office).unwrap(),
        address: "http://127.0.0.1:1".to_owned(),
    };
    notebook.enrol(enrolment).unwrap();
}

/// Each file as it is.
pub(super) fn good() -> Vec<Vec<u8>> {
    PACKET.with(|packet| {
        let files = packet.files.iter().enumerate();
        files
            .map(|(at, (_, bytes))| [&[at as u8], bytes.as_slice()].concat())
            .collect()
    })
}

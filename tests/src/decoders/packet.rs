//! A packet that is checked: one file of a good packet replaced by a stranger's bytes.

use std::path::{Path, PathBuf};

use chalkwalk_core::env::SeededEnv;
use chalkwalk_core::job::{Finding, Property, Role};
use chalkwalk_core::notebook::{NewIdentity, Notebook, PhotoNote};
use chalkwalk_core::packet::{self, PacketKind};

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
        assert_eq!(report.good(), rest == good.as_slice(), "{report:?}");
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
            .write_packet(job, PacketKind::Shared, folder.path(), &mut |_, _| {})
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
        self.folder.path().join(PacketKind::Shared.folder())
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

/// Each file as it is.
pub(super) fn good() -> Vec<Vec<u8>> {
    PACKET.with(|packet| {
        let files = packet.files.iter().enumerate();
        files
            .map(|(at, (_, bytes))| [&[at as u8], bytes.as_slice()].concat())
            .collect()
    })
}

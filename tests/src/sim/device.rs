//! A phone: a real notebook in a folder, a clock that may be wrong, and perhaps an old copy.

use std::path::{Path, PathBuf};

use chalkwalk_core::job::{Certificate, JobId, PhotoRole, RecordRef, Role, Side};
use chalkwalk_core::notebook::{Enrolment, NewIdentity, Notebook, NotebookError, PhotoNote};
use chalkwalk_sync_server::office::Office;

use super::clock::{Clock, SimEnv, Wristwatch};
use super::disk;

pub(super) struct Device {
    dir: PathBuf,
    pub(super) watch: Wristwatch,
    pub(super) notebook: Notebook,
    pub(super) full: bool,
    /// Nobody reaches it.
    pub(super) apart: bool,
    copy: Option<PathBuf>,
}

impl Device {
    pub(super) fn new(
        base: &Path,
        n: usize,
        office: &Office,
        clock: &Clock,
        random: &mut fastrand::Rng,
    ) -> Self {
        let dir = base.join(format!("device-{n}"));
        let watch = Wristwatch::new(clock.clone());
        let who = NewIdentity {
            person: format!("person {n}"),
            device_name: format!("phone {n}"),
            role: Role::Crew,
        };
        let mut notebook = Notebook::create(&dir, who, env(&watch, random)).unwrap();
        let identity = notebook.identity();
        let certificate = Certificate {
            company: office.company().id,
            device: identity.device,
            key: identity.key.verifying_key().to_bytes().to_vec(),
            person: identity.person.clone(),
            role: Role::Crew,
            device_name: identity.device_name.clone(),
            issued_at: 1,
        };
        let enrolment = Enrolment {
            company: office.company().id,
            company_name: office.company().name.clone(),
            office_key: office.public_key().to_bytes().to_vec(),
            certificate: office.sign(&certificate).unwrap(),
            address: String::new(),
        };
        notebook.enrol(enrolment).unwrap();
        Self {
            dir,
            watch,
            notebook,
            full: false,
            apart: false,
            copy: None,
        }
    }

    /// The power goes, in mid write perhaps, and the notebook is opened again.
    pub(super) fn crash(&mut self, random: &mut fastrand::Rng) {
        let image = self.beside("image");
        disk::copy(&self.dir, &image).unwrap();
        disk::tear(&image.join("notebook.db-wal"), random).unwrap();
        self.reopen_from(&image, random);
    }

    /// Keeps a copy of the folder, as a phone's backup does.
    pub(super) fn back_up(&mut self) {
        let copy = self.beside("copy");
        if copy.exists() {
            std::fs::remove_dir_all(&copy).unwrap();
        }
        disk::copy(&self.dir, &copy).unwrap();
        self.copy = Some(copy);
    }

    pub(super) fn has_copy(&self) -> bool {
        self.copy.is_some()
    }

    /// The old copy takes the place of what is there.
    pub(super) fn restore(&mut self, random: &mut fastrand::Rng) {
        if let Some(copy) = self.copy.take() {
            self.reopen_from(&copy, random);
        }
    }

    fn reopen_from(&mut self, image: &Path, random: &mut fastrand::Rng) {
        // The open notebook moves to a folder of its own and is dropped there.
        let gone = self.beside("gone");
        std::fs::rename(&self.dir, &gone).unwrap();
        disk::put_in_place(image, &self.dir).unwrap();
        self.notebook = Notebook::open(&self.dir, env(&self.watch, random)).unwrap();
        std::fs::remove_dir_all(&gone).unwrap();
        self.full = false;
    }

    pub(super) fn set_full(&mut self, full: bool) {
        self.notebook.fill_disk(full).unwrap();
        self.full = full;
    }

    /// Takes a small picture that nobody took before. Its file as bytes, where it was acknowledged.
    pub(super) fn take_photo(
        &mut self,
        job: JobId,
        random: &mut fastrand::Rng,
    ) -> Result<[u8; 32], NotebookError> {
        let seed = random.u64(..);
        let file = self.beside("picture.jpg");
        let picture = image::RgbImage::from_fn(48, 32, |x, y| {
            let shade = seed.rotate_left(x + 3 * y).to_le_bytes();
            image::Rgb([shade[0], shade[1], shade[2]])
        });
        picture.save(&file).unwrap();
        let note = PhotoNote {
            role: Some(PhotoRole::CloseUp),
            place: Some(RecordRef::side(Side::Front)),
            ..PhotoNote::default()
        };
        let added = self.notebook.add_photo(job, &file, note)?;
        Ok(*added.capture.hash.as_bytes())
    }

    fn beside(&self, what: &str) -> PathBuf {
        let name = self.dir.file_name().unwrap_or_default().to_string_lossy();
        self.dir.with_file_name(format!("{name}-{what}"))
    }
}

fn env(watch: &Wristwatch, random: &mut fastrand::Rng) -> Box<SimEnv> {
    Box::new(SimEnv {
        watch: watch.clone(),
        random: random.fork(),
    })
}

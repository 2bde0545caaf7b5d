//! Files on their way in: a local folder of partial uploads, checked before they count.

use std::fs::{self, File, OpenOptions};
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::SystemTime;

use chalkwalk_core::job::BlobKind;
use chalkwalk_core::photo::is_thumbnail;

use super::{BlobKey, StoreError};

const LOCKS: usize = 64;
/// What the name of a file that comes whole starts with.
const WHOLE: &str = "whole-";

/// Partial uploads of this node. What it says is held was flushed to the disk.
#[derive(Debug)]
pub struct Staging {
    folder: PathBuf,
    locks: Vec<Mutex<()>>,
}

/// What became of bytes that were added.
#[derive(Debug, PartialEq, Eq)]
pub enum Staged {
    /// Bytes from the start that are durable; more are to come.
    Partial(u64),
    /// The file is whole, its hash is right, and it lies here to be put and then dropped.
    Whole(PathBuf),
    /// The bytes leave a gap after what is held; nothing was added.
    Gap(u64),
    /// The file is whole and is not what its name says: it was thrown away.
    Wrong,
}

impl Staging {
    /// Partial uploads in a folder, which is made where it is not there.
    pub fn open(folder: &Path) -> Result<Self, StoreError> {
        fs::create_dir_all(folder)?;
        Ok(Self {
            folder: folder.to_owned(),
            locks: (0..LOCKS).map(|_| Mutex::new(())).collect(),
        })
    }

    /// Bytes from the start of a file that are held and durable.
    pub fn held(&self, key: BlobKey) -> Result<u64, StoreError> {
        match fs::metadata(self.path(key)) {
            Ok(meta) => Ok(meta.len()),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(0),
            Err(error) => Err(error.into()),
        }
    }

    /// Adds bytes of a file of `size` bytes. Bytes that are held already are skipped. Whoever is
    /// given [`Staged::Whole`] holds `turn` until the file is put and dropped.
    pub fn add(
        &self,
        _turn: &Turn<'_>,
        key: BlobKey,
        size: u64,
        offset: u64,
        bytes: &[u8],
    ) -> Result<Staged, StoreError> {
        let path = self.path(key);
        let new = !path.exists();
        let mut file = OpenOptions::new()
            .create(true)
            .read(true)
            .append(true)
            .open(&path)?;
        let mut held = file.metadata()?.len();
        if held > size {
            drop(file);
            fs::remove_file(&path)?;
            return Ok(Staged::Wrong);
        }
        if offset > held {
            return Ok(Staged::Gap(held));
        }
        let skip = usize::try_from(held - offset).unwrap_or(usize::MAX);
        let room = usize::try_from(size - held).unwrap_or(usize::MAX);
        let fresh = bytes.get(skip..).unwrap_or_default();
        if fresh.len() > room {
            drop(file);
            fs::remove_file(&path)?;
            return Ok(Staged::Wrong);
        }
        if !fresh.is_empty() {
            file.write_all(fresh)?;
            file.sync_data()?;
            held += fresh.len() as u64;
        }
        if new {
            File::open(&self.folder)?.sync_all()?;
        }
        if held < size {
            return Ok(Staged::Partial(held));
        }
        // A small picture has no hash to be held against, and pieces of two phones' may have mixed:
        // one that is none would end every other phone's exchange.
        let right = match key.kind {
            BlobKind::Original => hash_of(&mut file)? == *key.hash.as_bytes(),
            BlobKind::Thumbnail => is_thumbnail(&fs::read(&path)?),
        };
        if !right {
            drop(file);
            fs::remove_file(&path)?;
            return Ok(Staged::Wrong);
        }
        Ok(Staged::Whole(path))
    }

    /// Waits for the turn to add to a file, so that two phones that send the same photo do not mix.
    pub fn turn(&self, key: BlobKey) -> Turn<'_> {
        let at = usize::from(key.hash.as_bytes()[0]) % LOCKS;
        Turn {
            _guard: self.locks[at]
                .lock()
                .unwrap_or_else(PoisonError::into_inner),
        }
    }

    /// Forgets what is held of a file, once it was put.
    pub fn drop_file(&self, _turn: &Turn<'_>, key: BlobKey) -> Result<(), StoreError> {
        match fs::remove_file(self.path(key)) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => Err(error.into()),
            _ => Ok(()),
        }
    }

    /// The path of a file that comes whole, apart from those that may be resumed.
    pub(crate) fn aside(&self, name: &str) -> PathBuf {
        self.folder.join(format!("{WHOLE}{name}.part"))
    }

    /// Removes what a server that stopped before `started` left of files that came whole: nobody
    /// can go on with them. The value is how many.
    pub fn remove_left_over(&self, started: SystemTime) -> Result<u64, StoreError> {
        self.remove(|name, changed| name.starts_with(WHOLE) && changed < started)
    }

    /// The files of which some is held, whether or not anything else names them.
    pub fn keys(&self) -> Result<Vec<BlobKey>, StoreError> {
        let mut keys = Vec::new();
        for entry in fs::read_dir(&self.folder)? {
            let name = entry?.file_name();
            keys.extend(name.to_str().and_then(key_of));
        }
        keys.sort_unstable();
        Ok(keys)
    }

    /// Removes files that nobody has added to since `before`; the value is how many. A file that
    /// is removed is sent again from its start.
    pub fn remove_older(&self, before: SystemTime) -> Result<u64, StoreError> {
        self.remove(|_, changed| changed < before)
    }

    fn remove(&self, which: impl Fn(&str, SystemTime) -> bool) -> Result<u64, StoreError> {
        let mut removed = 0;
        for entry in fs::read_dir(&self.folder)? {
            let entry = entry?;
            let name = entry.file_name();
            let part = name.to_str().filter(|name| name.ends_with(".part"));
            let Some(name) = part else { continue };
            // An upload may end meanwhile and take its file away.
            let gone = |error: std::io::Error| match error.kind() {
                std::io::ErrorKind::NotFound => Ok(()),
                _ => Err(error),
            };
            match entry.metadata().and_then(|about| about.modified()) {
                Ok(changed) if which(name, changed) => {
                    fs::remove_file(entry.path()).or_else(gone)?;
                    removed += 1;
                }
                Ok(_) => {}
                Err(error) => gone(error)?,
            }
        }
        Ok(removed)
    }

    fn path(&self, key: BlobKey) -> PathBuf {
        let name = format!("{}-{}.part", BlobKey::folder(key.kind), key.hash);
        self.folder.join(name)
    }
}

/// The file that a name in the folder stands for; `None` for other files.
fn key_of(name: &str) -> Option<BlobKey> {
    let (kind, hash) = name.strip_suffix(".part")?.split_once('-')?;
    let kind = [BlobKind::Thumbnail, BlobKind::Original]
        .into_iter()
        .find(|known| BlobKey::folder(*known) == kind)?;
    let hash = hash.parse().ok()?;
    Some(BlobKey { kind, hash })
}

/// The turn to add to a file.
#[derive(Debug)]
pub struct Turn<'a> {
    _guard: MutexGuard<'a, ()>,
}

fn hash_of(file: &mut File) -> Result<[u8; 32], StoreError> {
    file.seek(SeekFrom::Start(0))?;
    let mut hasher = blake3::Hasher::new();
    let mut buffer = vec![0; 1 << 20];
    loop {
        let read = file.read(&mut buffer)?;
        if read == 0 {
            return Ok(*hasher.finalize().as_bytes());
        }
        hasher.update(&buffer[..read]);
    }
}

//! The layout of a bag: RFC 8493, with SHA-256 manifests and a tag file of BLAKE3 beside them.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, BufWriter, Read, Write};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use super::PacketError;
use super::seal::{Held, SEAL, SEAL_KEY, SEAL_SIGNATURE, Sealer, seal};
use super::when::utc_day;
use crate::job::{Millis, hex};

/// The files at the top of a bag that are not payload.
pub const BAG_FILES: &[&str] = &[
    "bagit.txt",
    "bag-info.txt",
    "manifest-sha256.txt",
    "blake3.txt",
    "tagmanifest-sha256.txt",
    SEAL,
    SEAL_SIGNATURE,
    SEAL_KEY,
];

/// Those of them that a manifest of tag files names: all but itself and the seal over it.
pub(super) fn in_tag_manifest(name: &str) -> bool {
    const OUTSIDE: &[&str] = &["tagmanifest-sha256.txt", SEAL, SEAL_SIGNATURE, SEAL_KEY];
    BAG_FILES.contains(&name) && !OUTSIDE.contains(&name)
}

/// What `bag-info.txt` says of a bag.
pub(super) struct BagInfo<'a> {
    pub(super) company: &'a str,
    pub(super) description: &'a str,
    pub(super) created_at: Millis,
}

pub(super) const DECLARATION: &str = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";

/// What is known of a file that was written or read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Sums {
    pub(super) sha256: [u8; 32],
    pub(super) blake3: [u8; 32],
    pub(super) size: u64,
}

impl Sums {
    /// The sums of bytes in memory.
    pub(super) fn of(bytes: &[u8]) -> Self {
        let mut hasher = SumHasher::default();
        hasher.update(bytes);
        hasher.finish()
    }

    /// The sums of all that can be read, which is copied on its way.
    pub(super) fn copying(from: &mut dyn Read, to: &mut dyn Write) -> io::Result<Self> {
        let mut hasher = SumHasher::default();
        let mut buffer = vec![0; 128 << 10];
        loop {
            let count = match from.read(&mut buffer) {
                Ok(0) => return Ok(hasher.finish()),
                Ok(count) => count,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                Err(error) => return Err(error),
            };
            let bytes = buffer.get(..count).unwrap_or_default();
            hasher.update(bytes);
            to.write_all(bytes)?;
        }
    }
}

#[derive(Default)]
struct SumHasher {
    sha256: Sha256,
    blake3: blake3::Hasher,
    size: u64,
}

impl SumHasher {
    fn update(&mut self, bytes: &[u8]) {
        self.sha256.update(bytes);
        self.blake3.update(bytes);
        self.size += bytes.len() as u64;
    }

    fn finish(self) -> Sums {
        Sums {
            sha256: self.sha256.finalize().into(),
            blake3: *self.blake3.finalize().as_bytes(),
            size: self.size,
        }
    }
}

/// A bag under construction, in a temporary folder beside the one it becomes.
pub(super) struct BagWriter {
    temporary: PathBuf,
    target: PathBuf,
    payload: BTreeMap<String, Sums>,
}

impl BagWriter {
    /// Begins the bag `folder/name`.
    pub(super) fn begin(folder: &Path, name: &str) -> Result<Self, PacketError> {
        let target = folder.join(name);
        if fs::symlink_metadata(&target).is_ok() {
            return Err(PacketError::Exists(target));
        }
        let temporary = folder.join(format!(".{name}.part"));
        if fs::symlink_metadata(&temporary).is_ok() {
            // What an earlier run left when it was cut off.
            fs::remove_dir_all(&temporary).map_err(|cause| file_error(&temporary, cause))?;
        }
        fs::create_dir_all(temporary.join("data"))
            .map_err(|cause| file_error(&temporary, cause))?;
        Ok(Self {
            temporary,
            target,
            payload: BTreeMap::new(),
        })
    }

    /// Adds a payload file; `name` is below `data/`.
    pub(super) fn add(&mut self, name: &str, bytes: &[u8]) -> Result<(), PacketError> {
        self.copy(name, &mut &*bytes).map(|_| ())
    }

    /// Adds a payload file as it is read.
    pub(super) fn copy(&mut self, name: &str, from: &mut dyn Read) -> Result<Sums, PacketError> {
        let name = format!("data/{name}");
        let path = self.temporary.join(&name);
        let copied = (|| {
            if let Some(parent) = path.parent() {
                fs::create_dir_all(parent)?;
            }
            let mut to = BufWriter::new(File::create_new(&path)?);
            let sums = Sums::copying(from, &mut to)?;
            to.flush()?;
            Ok(sums)
        })();
        let sums = copied.map_err(|cause| file_error(&path, cause))?;
        self.payload.insert(name, sums);
        Ok(sums)
    }

    /// Takes a payload file out again.
    pub(super) fn remove(&mut self, name: &str) -> Result<(), PacketError> {
        let name = format!("data/{name}");
        let path = self.temporary.join(&name);
        fs::remove_file(&path).map_err(|cause| file_error(&path, cause))?;
        self.payload.remove(&name);
        Ok(())
    }

    /// Throws away what was written.
    pub(super) fn abandon(self) {
        // What stays is removed when the packet is written next.
        let _ = fs::remove_dir_all(&self.temporary);
    }

    /// Writes the tag files, seals them and puts the bag in its place.
    pub(super) fn finish(
        self,
        info: &BagInfo<'_>,
        sealer: Sealer<'_>,
        held: Option<Held>,
    ) -> Result<(PathBuf, usize, u64), PacketError> {
        let bytes: u64 = self.payload.values().map(|sums| sums.size).sum();
        let about = format!(
            "Bag-Software-Agent: chalkwalk {}\nBagging-Date: {}\nExternal-Description: {}\n\
             Payload-Oxum: {bytes}.{}\nSource-Organization: {}\n",
            env!("CARGO_PKG_VERSION"),
            utc_day(info.created_at),
            one_line(info.description),
            self.payload.len(),
            one_line(info.company),
        );
        let sha256 = lines(
            self.payload
                .iter()
                .map(|(name, sums)| (name.as_str(), sums.sha256)),
        );
        let blake3 = lines(
            self.payload
                .iter()
                .map(|(name, sums)| (name.as_str(), sums.blake3)),
        );
        let tags: BTreeMap<&str, &str> = BTreeMap::from([
            ("bagit.txt", DECLARATION),
            ("bag-info.txt", about.as_str()),
            ("manifest-sha256.txt", sha256.as_str()),
            ("blake3.txt", blake3.as_str()),
        ]);
        let own = lines(
            tags.iter()
                .map(|(name, text)| (*name, Sums::of(text.as_bytes()).sha256)),
        );
        let sealed = seal(sealer, &own, held);
        let all = tags
            .iter()
            .map(|(name, text)| (*name, text.as_bytes()))
            .chain([
                ("tagmanifest-sha256.txt", own.as_bytes()),
                (SEAL, sealed.text.as_bytes()),
                (SEAL_SIGNATURE, sealed.signature.as_slice()),
                (SEAL_KEY, sealed.key.as_bytes()),
            ]);
        for (name, bytes) in all {
            let path = self.temporary.join(name);
            fs::write(&path, bytes).map_err(|cause| file_error(&path, cause))?;
        }
        fs::rename(&self.temporary, &self.target)
            .map_err(|cause| file_error(&self.target, cause))?;
        Ok((self.target, self.payload.len(), bytes))
    }
}

/// The lines that `sha256sum` and `b3sum` write and check.
fn lines<'a>(sums: impl Iterator<Item = (&'a str, [u8; 32])>) -> String {
    sums.map(|(name, sum)| format!("{}  {name}\n", hex(&sum)))
        .collect()
}

/// A value of `bag-info.txt`: one line, without control characters.
fn one_line(text: &str) -> String {
    let words: Vec<&str> = text
        .split(|c: char| c.is_whitespace() || c.is_control())
        .filter(|word| !word.is_empty())
        .collect();
    words.join(" ")
}

pub(super) fn file_error(path: &Path, cause: io::Error) -> PacketError {
    PacketError::File {
        path: path.to_owned(),
        cause,
    }
}

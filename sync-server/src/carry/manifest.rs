//! The list of a backup's files with their SHA-256, as `sha256sum --check` reads it too.

use std::fs::{self, File};
use std::io::{BufRead, BufReader, BufWriter, Read, Write};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use super::{CarryError, named};
use crate::store::{BlobEntry, BlobKey};

/// Written last: a backup without it is not finished.
pub(super) const MANIFEST: &str = "manifest-sha256.txt";
/// What the backup holds, in numbers.
pub(super) const SUMMARY: &str = "backup.json";
pub(super) const RECORDS: &str = "records.sqlite";
pub(super) const ACCOUNTS: &str = "accounts.sqlite";
/// The same before it is read again.
pub(super) const ACCOUNTS_PART: &str = "accounts.part";
pub(super) const PHOTOS: &str = "photos";
pub(super) const KEYS: &str = "keys";

/// The path of a photo's file within a backup.
pub(super) fn photo(file: &BlobEntry) -> String {
    let name = file.hash.to_string();
    let folder = BlobKey::folder(file.kind);
    format!("{PHOTOS}/{folder}/{}/{name}", &name[..2])
}

/// Writes the manifest of these files, which lie in a folder, durably.
pub(super) fn write(folder: &Path, names: &[String]) -> Result<(), CarryError> {
    let part = folder.join("manifest.part");
    let mut out = BufWriter::new(File::create(&part).map_err(named(&part))?);
    for name in names {
        let sum = sum(&folder.join(name))?;
        writeln!(out, "{}  {name}", chalkwalk_core::job::hex(&sum)).map_err(named(&part))?;
    }
    let file = out
        .into_inner()
        .map_err(|error| named(&part)(error.into_error()))?;
    file.sync_all().map_err(named(&part))?;
    let manifest = folder.join(MANIFEST);
    fs::rename(&part, &manifest).map_err(named(&manifest))?;
    sync(folder)
}

/// The SHA-256 and path of each file that a manifest lists.
pub(super) fn read(folder: &Path) -> Result<Vec<(String, String)>, CarryError> {
    let path = folder.join(MANIFEST);
    let file = match File::open(&path) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            return Err(CarryError::Nothing {
                path: folder.to_owned(),
                words: "holds no finished backup: it has no manifest-sha256.txt",
            });
        }
        other => other.map_err(named(&path))?,
    };
    let mut listed = Vec::new();
    for line in BufReader::new(file).lines() {
        let line = line.map_err(named(&path))?;
        let (sum, name) = line
            .split_once("  ")
            .filter(|(sum, name)| sum.len() == 64 && is_plain(name))
            .ok_or_else(|| CarryError::NotInOrder("the manifest does not read".to_owned()))?;
        listed.push((sum.to_owned(), name.to_owned()));
    }
    Ok(listed)
}

/// A path of the kinds that a backup has, and none that leads out of it.
fn is_plain(name: &str) -> bool {
    let plain = |byte: u8| byte.is_ascii_alphanumeric() || matches!(byte, b'.' | b'-' | b'_');
    name.split('/')
        .all(|part| !part.is_empty() && part != "." && part != ".." && part.bytes().all(plain))
}

/// The SHA-256 of a file.
pub(super) fn sum(path: &Path) -> Result<[u8; 32], CarryError> {
    let mut file = File::open(path).map_err(named(path))?;
    let mut hasher = Sha256::new();
    let mut part = vec![0; 1 << 20];
    loop {
        let read = file.read(&mut part).map_err(named(path))?;
        if read == 0 {
            return Ok(hasher.finalize().into());
        }
        hasher.update(&part[..read]);
    }
}

/// Copies a file durably: part, flush, rename. Where it is there with this sum, it stays.
pub(super) fn copy(
    from: &Path,
    to: &Path,
    sum_of: &str,
    private: bool,
) -> Result<bool, CarryError> {
    let right = |path: &Path| Ok::<_, CarryError>(chalkwalk_core::job::hex(&sum(path)?) == sum_of);
    if to.exists() && right(to)? {
        return Ok(true);
    }
    if let Some(folder) = to.parent() {
        fs::create_dir_all(folder).map_err(named(folder))?;
    }
    let mut part = PathBuf::from(to);
    part.set_extension("part");
    let mut options = File::options();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    if private {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(0o600);
    }
    let mut source = File::open(from).map_err(named(from))?;
    let mut target = options.open(&part).map_err(named(&part))?;
    std::io::copy(&mut source, &mut target).map_err(named(&part))?;
    target.sync_all().map_err(named(&part))?;
    if !right(&part)? {
        return Err(CarryError::NotInOrder(format!(
            "{} is not what the manifest says",
            from.display()
        )));
    }
    fs::rename(&part, to).map_err(named(to))?;
    if let Some(folder) = to.parent() {
        sync(folder)?;
    }
    Ok(false)
}

/// Sees that what a folder lists is on the disk.
pub(super) fn sync(folder: &Path) -> Result<(), CarryError> {
    let file = File::open(folder).map_err(named(folder))?;
    file.sync_all().map_err(named(folder))
}

/// A folder that only its owner may open: backups and keys hold secrets.
pub(super) fn private_folder(path: &Path) -> Result<(), CarryError> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::DirBuilderExt;
        builder.mode(0o700);
    }
    builder.create(path).map_err(named(path))
}

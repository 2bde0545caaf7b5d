//! From a backup to a data folder.

use std::collections::BTreeSet;
use std::path::Path;

use super::manifest::{self, ACCOUNTS, KEYS, MANIFEST, RECORDS, SUMMARY};
use super::{Carried, CarryError, Progress, check, named, people};
use crate::store::WholeFile;
use chalkwalk_core::job::BlobKind;

/// Restores a backup into a data folder that holds no office. Every file is compared with the
/// manifest where it arrives; every change and original is checked again. A restore that was cut
/// short goes on when it is run again: the records come last, and without them there is no office.
///
/// Blocks; not to be called from asynchronous code.
///
/// # Errors
/// [`CarryError`]; the backup is as it was.
pub fn restore(from: &Path, data: &Path, progress: Progress<'_>) -> Result<Carried, CarryError> {
    let listed = manifest::read(from)?;
    let records = data.join("records.sqlite");
    if records.exists() {
        return Err(CarryError::Taken {
            path: data.to_owned(),
            words: "holds an office already: name another folder",
        });
    }
    let names: BTreeSet<&str> = listed.iter().map(|(_, name)| name.as_str()).collect();
    let (mut carried, files) = {
        let source = WholeFile::read_only(&from.join(RECORDS))?;
        check::records(&source)?
    };
    for file in &files {
        if !names.contains(manifest::photo(file).as_str()) {
            return Err(CarryError::NotInOrder(format!(
                "{MANIFEST} lists no file for a photo that the records name as whole"
            )));
        }
        carried.file_bytes += file.size;
        match file.kind {
            BlobKind::Original => carried.originals += 1,
            BlobKind::Thumbnail => carried.thumbnails += 1,
        }
    }
    manifest::private_folder(data)?;
    let total = listed.len() as u64;
    let mut last = None;
    for (done, (sum, name)) in (1..).zip(&listed) {
        progress("files", done, total);
        if name == RECORDS {
            last = Some(sum);
            continue;
        }
        let source = from.join(name);
        if name == SUMMARY {
            if chalkwalk_core::job::hex(&manifest::sum(&source)?) != *sum {
                return Err(CarryError::NotInOrder(format!(
                    "{name} is not what the manifest says"
                )));
            }
            continue;
        }
        let key = name.starts_with(KEYS);
        if key {
            manifest::private_folder(&data.join(KEYS))?;
        }
        let to = data.join(name);
        if key || name == ACCOUNTS {
            not_anothers(&to, sum)?;
        }
        let there = manifest::copy(&source, &to, sum, key || name == ACCOUNTS)?;
        carried.files_there += u64::from(there);
        carried.keys |= key;
        if name == ACCOUNTS {
            people::count(&to, &mut carried)?;
        }
    }
    for file in files.iter().filter(|file| file.kind == BlobKind::Original) {
        original(&data.join(manifest::photo(file)), file)?;
    }
    let sum =
        last.ok_or_else(|| CarryError::NotInOrder(format!("{MANIFEST} does not list {RECORDS}")))?;
    let arrived = data.join("records.restored");
    manifest::copy(&from.join(RECORDS), &arrived, sum, false)?;
    let (again, _) = check::records(&WholeFile::read_only(&arrived)?)?;
    if (again.changes, again.jobs) != (carried.changes, carried.jobs) {
        return Err(CarryError::Differs("the records".to_owned()));
    }
    std::fs::rename(&arrived, &records).map_err(named(&records))?;
    manifest::sync(data)?;
    Ok(carried)
}

/// Keys and accounts that are there already are of an office that has its records elsewhere,
/// unless an earlier try to restore brought them.
fn not_anothers(path: &Path, sum: &str) -> Result<(), CarryError> {
    let log = path.with_extension("sqlite-wal");
    let same = || Ok::<_, CarryError>(chalkwalk_core::job::hex(&manifest::sum(path)?) == sum);
    if log.exists() || (path.exists() && !same()?) {
        return Err(CarryError::Taken {
            path: path.to_owned(),
            words: "is of an office that is here already: name another folder",
        });
    }
    Ok(())
}

fn original(path: &Path, file: &crate::store::BlobEntry) -> Result<(), CarryError> {
    let mut hasher = blake3::Hasher::new();
    let source = std::fs::File::open(path).map_err(named(path))?;
    hasher.update_reader(source).map_err(named(path))?;
    if hasher.finalize() == *file.hash.as_bytes() {
        Ok(())
    } else {
        Err(CarryError::NotInOrder(format!(
            "original {} is not the photo of that name",
            file.hash
        )))
    }
}

//! A bag as one file: a zip that is written as it is read, in an order and with times that follow
//! from the bag alone.

use crate::sorted::Sorted;

use std::fs::{self, File};
use std::io::{self, BufReader, BufWriter, Write};
use std::path::Path;

use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, ZipWriter};

use super::PacketError;
use super::bag::file_error;

/// Writes the bag in `folder` as the zip `to`, below one folder named `name`; the value is its
/// size in bytes. Photos are stored, all else is compressed. The progress is told of each file.
///
/// # Errors
/// Where a file cannot be read or written, and [`PacketError::Stopped`]; then `to` is not there.
pub fn zip_bag(
    folder: &Path,
    name: &str,
    to: &Path,
    progress: &mut super::Progress<'_>,
) -> Result<u64, PacketError> {
    let part = to.with_extension("zip.part");
    let written = write(folder, name, &part, progress);
    let done = written.and_then(|()| {
        fs::rename(&part, to).map_err(|cause| file_error(to, cause))?;
        fs::metadata(to).map_err(|cause| file_error(to, cause))
    });
    if done.is_err() {
        // It may not have been begun.
        let _ = fs::remove_file(&part);
    }
    done.map(|file| file.len())
}

fn write(
    folder: &Path,
    name: &str,
    part: &Path,
    progress: &mut super::Progress<'_>,
) -> Result<(), PacketError> {
    let mut files = Vec::new();
    list(folder, "", &mut files).map_err(|cause| file_error(folder, cause))?;
    files.order();
    let failed = |cause: io::Error| file_error(part, cause);
    let out = BufWriter::new(File::create(part).map_err(failed)?);
    let mut zip = ZipWriter::new(out);
    for (index, file) in files.iter().enumerate() {
        let path = folder.join(file);
        let from = File::open(&path).map_err(|cause| file_error(&path, cause))?;
        let size = from
            .metadata()
            .map_err(|cause| file_error(&path, cause))?
            .len();
        let begun = zip.start_file(format!("{name}/{file}"), options(file, size));
        begun.map_err(|error| failed(error.into()))?;
        io::copy(&mut BufReader::new(from), &mut zip).map_err(failed)?;
        if !progress(index + 1, files.len()) {
            return Err(PacketError::Stopped);
        }
    }
    let mut out = zip.finish().map_err(|error| failed(error.into()))?;
    out.flush().map_err(failed)?;
    let out = out
        .into_inner()
        .map_err(|error| failed(error.into_error()))?;
    out.sync_all().map_err(failed)
}

/// The first day that a zip can name, so that the time of writing does not show.
fn options(file: &str, size: u64) -> SimpleFileOptions {
    let picture = file.starts_with("data/photos/") || file.starts_with("data/thumbs/");
    SimpleFileOptions::default()
        .compression_method(if picture {
            CompressionMethod::Stored
        } else {
            CompressionMethod::Deflated
        })
        .last_modified_time(DateTime::default())
        .unix_permissions(0o644)
        .large_file(size >= u64::from(u32::MAX))
}

fn list(folder: &Path, below: &str, files: &mut Vec<String>) -> io::Result<()> {
    for entry in fs::read_dir(folder.join(below))? {
        let entry = entry?;
        let name = entry.file_name().to_string_lossy().into_owned();
        let name = if below.is_empty() {
            name
        } else {
            format!("{below}/{name}")
        };
        if entry.file_type()?.is_dir() {
            list(folder, &name, files)?;
        } else {
            files.push(name);
        }
    }
    Ok(())
}

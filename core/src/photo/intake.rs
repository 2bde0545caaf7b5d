//! Taking a photo in: kept durably first, then read for what its file says.

use std::fs::{self, File};
use std::io::{Cursor, Read};
use std::path::{Path, PathBuf};

use super::copy::{Copied, copy_hashed};
use super::decode::small_upright;
use super::header::{self, SNIFF_BYTES};
use super::usability::usability;
use super::{PhotoError, PhotoStore, PhotoWarning, exif, thumbnail};
use crate::env::Env;
use crate::job::{Capture, DeviceId, Millis, PictureFormat};
use crate::limits;

/// Longest file name that is kept, in bytes: what common file systems allow.
const NAME_BYTES: usize = 255;

/// A photo that was taken in.
#[derive(Clone, Debug, PartialEq)]
pub struct Taken {
    /// What is known of it; to be signed with [`SignedCapture::sign`](crate::job::SignedCapture::sign).
    pub capture: Capture,
    /// The small upright picture, a JPEG; `None` where the file cannot be decoded.
    pub thumbnail: Option<Vec<u8>>,
    /// What is remarkable about it, in a fixed order.
    pub warnings: Vec<PhotoWarning>,
    /// The time that the satellites gave, milliseconds since 1970 UTC.
    pub satellite_time: Option<Millis>,
}

/// Told after each file of a batch: how many are done, the file, and what became of it.
pub type Told<'a> = dyn FnMut(usize, &Path, &Result<Taken, PhotoError>) + 'a;

impl PhotoStore {
    /// Takes a file in. When it returns, the original is durable under its hash and so is its
    /// thumbnail. The source is only read.
    ///
    /// # Errors
    /// [`PhotoError`] for a file that is no picture, empty, too large or unreadable, and where
    /// the store is full or fails; nothing is kept then.
    pub fn intake(
        &self,
        source: &Path,
        device: DeviceId,
        now: Millis,
    ) -> Result<Taken, PhotoError> {
        let (mut file, size) = open_file(source)?;
        self.take_in(&mut file, size, &file_name(source), device, now)
    }

    /// Takes a photo in from a stream, for shells that are handed no path. Otherwise as
    /// [`PhotoStore::intake`].
    ///
    /// # Errors
    /// As [`PhotoStore::intake`].
    pub fn intake_from(
        &self,
        source: &mut dyn Read,
        file_name: &str,
        device: DeviceId,
        now: Millis,
    ) -> Result<Taken, PhotoError> {
        self.take_in(source, 0, shortened(file_name), device, now)
    }

    fn take_in(
        &self,
        source: &mut dyn Read,
        expected: u64,
        file_name: &str,
        device: DeviceId,
        now: Millis,
    ) -> Result<Taken, PhotoError> {
        let (start, format) = sniffed(source)?;
        let stored = self.put_original(&mut start.chain(source), expected)?;
        let mut taken = describe(&stored.copied, format, file_name, device, now);
        if let Some(bytes) = &taken.thumbnail {
            self.put_thumbnail(stored.copied.hash, bytes)?;
        }
        if !stored.new {
            taken.warnings.insert(0, PhotoWarning::AlreadyHere);
        }
        Ok(taken)
    }

    /// Takes many files in, one after the other; a file that fails never stops the rest. After
    /// each file `progress` is told how many are done.
    pub fn intake_all(
        &self,
        sources: &[PathBuf],
        device: DeviceId,
        env: &mut dyn Env,
        progress: &mut Told<'_>,
    ) -> Vec<Result<Taken, PhotoError>> {
        let mut results = Vec::with_capacity(sources.len());
        for source in sources {
            let result = self.intake(source, device, env.now());
            progress(results.len() + 1, source, &result);
            results.push(result);
        }
        results
    }
}

/// Reads a picture file without keeping it.
///
/// # Errors
/// As [`PhotoStore::intake`], apart from those of the store.
pub fn look(source: &Path, device: DeviceId, now: Millis) -> Result<Taken, PhotoError> {
    let (mut file, size) = open_file(source)?;
    let (start, format) = sniffed(&mut file)?;
    let copied = copy_hashed(
        &mut start.chain(file),
        &mut std::io::sink(),
        size,
        limits::ORIGINAL_BYTES,
    )?;
    Ok(describe(&copied, format, &file_name(source), device, now))
}

/// As [`look`], from a stream, for shells that are handed no path.
///
/// # Errors
/// As [`look`].
pub fn look_from(
    source: &mut dyn Read,
    file_name: &str,
    device: DeviceId,
    now: Millis,
) -> Result<Taken, PhotoError> {
    let (start, format) = sniffed(source)?;
    let copied = copy_hashed(
        &mut start.chain(source),
        &mut std::io::sink(),
        0,
        limits::ORIGINAL_BYTES,
    )?;
    Ok(describe(&copied, format, shortened(file_name), device, now))
}

/// Opens a file of a size that is kept.
fn open_file(source: &Path) -> Result<(File, u64), PhotoError> {
    let reading = |error: std::io::Error| PhotoError::reading(&error);
    // Before opening, because opening a pipe would wait for somebody to write.
    let facts = fs::metadata(source).map_err(reading)?;
    if !facts.is_file() {
        return Err(PhotoError::NotAFile);
    }
    let size = facts.len();
    if size > limits::ORIGINAL_BYTES {
        let limit = limits::ORIGINAL_BYTES;
        return Err(PhotoError::TooLarge { limit });
    }
    Ok((File::open(source).map_err(reading)?, size))
}

/// The first bytes of a source, and the kind of picture that they begin.
fn sniffed(source: &mut dyn Read) -> Result<(Cursor<Vec<u8>>, PictureFormat), PhotoError> {
    let mut start = Vec::with_capacity(SNIFF_BYTES);
    source
        .take(SNIFF_BYTES as u64)
        .read_to_end(&mut start)
        .map_err(|error| PhotoError::reading(&error))?;
    if start.is_empty() {
        return Err(PhotoError::Empty);
    }
    let format = header::sniff(&start).ok_or(PhotoError::NotAPicture)?;
    Ok((Cursor::new(start), format))
}

fn describe(
    copied: &Copied,
    format: PictureFormat,
    file_name: &str,
    device: DeviceId,
    now: Millis,
) -> Taken {
    let data = &copied.bytes;
    let (said, broken) = exif::read(data);
    let mut warnings: Vec<PhotoWarning> = broken.into_iter().collect();
    if said.local_time.is_none() {
        warnings.push(PhotoWarning::NoTime);
    }
    if said.place.is_none() {
        warnings.push(PhotoWarning::NoPlace);
    }
    let orientation = said.orientation.unwrap_or(1);
    let size = header::size(format, data);
    let small = match (format, size) {
        (PictureFormat::Heic, _) => Err(PhotoWarning::NotDecoded),
        (_, None) => Err(PhotoWarning::Undecodable),
        (_, Some(size)) => small_upright(format, data, size, orientation),
    };
    let (mut usable, mut thumbnail) = (None, None);
    match small {
        Ok(small) => {
            usable = Some(usability(&small.picture));
            thumbnail = thumbnail::encode(&small.picture);
            if small.truncated {
                warnings.push(PhotoWarning::Truncated);
            }
        }
        Err(warning) => warnings.push(warning),
    }
    let (width, height) = match (format, size) {
        (_, Some(size)) => (size.width, size.height),
        (PictureFormat::Heic, None) => said.pixels.unwrap_or((0, 0)),
        (_, None) => (0, 0),
    };
    let capture = Capture {
        version: Capture::VERSION,
        hash: copied.hash,
        sha256: copied.sha256.to_vec(),
        size: data.len() as u64,
        format,
        width,
        height,
        orientation,
        file_name: file_name.to_owned(),
        local_time: said.local_time,
        utc_offset_min: said.utc_offset_min,
        place: said.place,
        bearing: said.bearing,
        bearing_from: said.bearing_from,
        camera: said.camera,
        usability: usable,
        device,
        taken_in_at: now,
    };
    Taken {
        capture,
        thumbnail,
        warnings,
        satellite_time: said.satellite_time,
    }
}

fn file_name(source: &Path) -> String {
    let name = source.file_name().unwrap_or_default().to_string_lossy();
    shortened(&name).to_owned()
}

/// A name cut to its limit, between letters.
fn shortened(name: &str) -> &str {
    let mut end = name.len().min(NAME_BYTES);
    while !name.is_char_boundary(end) {
        end -= 1;
    }
    &name[..end]
}

#[cfg(test)]
#[path = "intake_tests.rs"]
mod tests;

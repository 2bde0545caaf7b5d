//! A folder as a ZIP that streams: bounded memory, nothing compressed (photos are already).

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

use axum::body::Bytes;
use tokio::runtime::Handle;
use tokio::sync::mpsc::Sender;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use crate::limits;

/// Entries of this size and over are written with 64-bit sizes.
const LARGE: u64 = 0xffff_0000;

/// Writes every file below `folder` into a ZIP, under the folder's own name, in order.
pub(super) fn write(folder: &Path, out: impl Write) -> io::Result<()> {
    let top = folder.parent().unwrap_or(folder);
    let mut files = Vec::new();
    gather(folder, &mut files)?;
    files.sort();
    let mut zip = ZipWriter::new_stream(out);
    for file in files {
        let name = file.strip_prefix(top).unwrap_or(&file);
        let name: Vec<_> = name.iter().map(|part| part.to_string_lossy()).collect();
        let options = SimpleFileOptions::default()
            .compression_method(CompressionMethod::Stored)
            .large_file(fs::metadata(&file)?.len() >= LARGE);
        zip.start_file(name.join("/"), options)
            .map_err(io::Error::other)?;
        io::copy(&mut fs::File::open(&file)?, &mut zip)?;
    }
    let mut out = zip.finish().map_err(io::Error::other)?.into_inner();
    out.flush()
}

fn gather(folder: &Path, files: &mut Vec<PathBuf>) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            gather(&path, files)?;
        } else {
            files.push(path);
        }
    }
    Ok(())
}

/// Sends what is written on to a body, in pieces, and waits for its reader.
pub(super) struct ToBody {
    to: Sender<io::Result<Bytes>>,
    runtime: Handle,
    piece: Vec<u8>,
}

impl ToBody {
    pub(super) fn new(to: Sender<io::Result<Bytes>>, runtime: Handle) -> Self {
        Self {
            to,
            runtime,
            piece: Vec::with_capacity(limits::PACKET_PIECE),
        }
    }
}

impl Write for ToBody {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let room = limits::PACKET_PIECE.saturating_sub(self.piece.len()).max(1);
        let taken = bytes.len().min(room);
        self.piece
            .extend_from_slice(bytes.get(..taken).unwrap_or_default());
        if self.piece.len() >= limits::PACKET_PIECE {
            self.flush()?;
        }
        Ok(taken)
    }

    fn flush(&mut self) -> io::Result<()> {
        if self.piece.is_empty() {
            return Ok(());
        }
        let piece = std::mem::replace(&mut self.piece, Vec::with_capacity(limits::PACKET_PIECE));
        let wait = Duration::from_millis(limits::PACKET_STALL_MS);
        let to = self.to.clone();
        let sent = self.runtime.block_on(async move {
            tokio::time::timeout(wait, to.send(Ok(Bytes::from(piece)))).await
        });
        match sent {
            Ok(Ok(())) => Ok(()),
            Ok(Err(_)) => Err(io::ErrorKind::BrokenPipe.into()),
            Err(_) => Err(io::ErrorKind::TimedOut.into()),
        }
    }
}

#[cfg(test)]
mod tests {
    use std::io::{Cursor, Read};

    use super::*;

    #[test]
    fn what_streams_reads_back_file_by_file() {
        let folder = tempfile::tempdir().unwrap();
        let bag = folder.path().join("shared");
        fs::create_dir_all(bag.join("data/photos")).unwrap();
        let large: Vec<u8> = (0..700_000u32).flat_map(u32::to_le_bytes).collect();
        fs::write(bag.join("bagit.txt"), "BagIt-Version: 1.0\n").unwrap();
        fs::write(bag.join("data/photos/001.jpg"), &large).unwrap();
        let runtime = tokio::runtime::Runtime::new().unwrap();
        let (to, mut from) = tokio::sync::mpsc::channel(1);
        let out = ToBody::new(to, runtime.handle().clone());
        let writer = std::thread::spawn(move || write(&bag, out));
        let mut bytes = Vec::new();
        while let Some(piece) = from.blocking_recv() {
            let piece = piece.unwrap();
            assert!(piece.len() <= limits::PACKET_PIECE);
            bytes.extend_from_slice(&piece);
        }
        writer.join().unwrap().unwrap();
        let mut zip = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
        let names: Vec<String> = zip
            .file_names()
            .map(|name| name.unwrap().into_owned())
            .collect();
        assert_eq!(names, ["shared/bagit.txt", "shared/data/photos/001.jpg"]);
        let mut read = Vec::new();
        let mut photo = zip.by_name("shared/data/photos/001.jpg").unwrap();
        photo.read_to_end(&mut read).unwrap();
        assert_eq!(read, large);
    }

    #[test]
    fn a_reader_who_goes_away_ends_it() {
        let runtime = tokio::runtime::Runtime::new().unwrap();
        let (to, from) = tokio::sync::mpsc::channel(1);
        drop(from);
        let mut out = ToBody::new(to, runtime.handle().clone());
        let error = out
            .write_all(&vec![0; limits::PACKET_PIECE * 2])
            .unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::BrokenPipe);
    }
}

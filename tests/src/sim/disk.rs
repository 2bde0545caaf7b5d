//! What is left on a disk when the power goes.

use std::fs;
use std::io;
use std::io::Write;
use std::path::Path;

/// Copies a folder with all in it. SQLite's shared memory is left out: it is not on the disk.
pub(super) fn copy(from: &Path, to: &Path) -> io::Result<()> {
    fs::create_dir_all(to)?;
    for entry in fs::read_dir(from)? {
        let entry = entry?;
        let (name, target) = (entry.file_name(), to.join(entry.file_name()));
        if entry.file_type()?.is_dir() {
            copy(&entry.path(), &target)?;
        } else if !name.to_string_lossy().ends_with("-shm") {
            fs::copy(entry.path(), target)?;
        }
    }
    Ok(())
}

/// Puts one folder in the place of another.
pub(super) fn put_in_place(from: &Path, to: &Path) -> io::Result<()> {
    if to.exists() {
        fs::remove_dir_all(to)?;
    }
    fs::rename(from, to)
}

/// A write that was under way when the power went: part of a page behind what was committed.
pub(super) fn tear(wal: &Path, random: &mut fastrand::Rng) -> io::Result<()> {
    if random.bool() || !wal.exists() {
        return Ok(());
    }
    let mut torn = vec![0; random.usize(1..6000)];
    random.fill(&mut torn);
    fs::OpenOptions::new()
        .append(true)
        .open(wal)?
        .write_all(&torn)
}

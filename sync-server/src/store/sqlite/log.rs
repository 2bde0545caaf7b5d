//! Room in the write-ahead log before anybody waits for it.

use std::ffi::OsString;
use std::fs::File;
use std::path::{Path, PathBuf};

use rusqlite::Connection;

use super::StoreError;
use crate::store::limits::{LOG_BYTES, LOG_FREE_BYTES};

/// Pages kept in memory meanwhile, so that the rest go into the log.
const PAGES: u32 = 16;

/// Makes the log as long as it will become, where the disk has plenty of room. A commit that overwrites
/// what is there waits for its own bytes; one that makes the file longer waits for the file system's
/// journal as well. Where it cannot be done all goes on, slower.
///
/// SQLite itself writes the bytes, in a change that is never committed: it takes them for nothing, and
/// so does every program that reads the log after a loss of power.
pub(in crate::store) fn lengthen(db: &Connection, path: &Path) {
    let log = beside(path);
    if log
        .metadata()
        .is_ok_and(|log| log.len() >= LOG_BYTES.into())
        || !has_plenty(path)
    {
        return;
    }
    if let Err(error) = write(db, &log) {
        tracing::warn!(%error, "the log of a database could not be made longer");
        // What it took of the disk goes back. Where even that fails, the next commit says so.
        let _ = db.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()));
    }
}

fn write(db: &Connection, log: &Path) -> Result<(), StoreError> {
    let usual = |name| db.pragma_query_value(None, name, |row| row.get::<_, i64>(0));
    let (cache, spill) = (usual("cache_size")?, usual("cache_spill")?);
    db.pragma_update(None, "cache_size", PAGES)?;
    db.pragma_update(None, "cache_spill", PAGES)?;
    let filled = fill(db);
    db.pragma_update(None, "cache_size", cache)?;
    db.pragma_update(None, "cache_spill", spill)?;
    filled?;
    Ok(File::open(log)?.sync_all()?)
}

/// Whether the disk has so much room that the log is nothing to it.
#[cfg(unix)]
fn has_plenty(path: &Path) -> bool {
    let disk = path.parent().map(rustix::fs::statvfs);
    disk.is_some_and(|disk| {
        disk.is_ok_and(|disk| disk.f_bavail.saturating_mul(disk.f_frsize) >= LOG_FREE_BYTES)
    })
}

#[cfg(not(unix))]
fn has_plenty(_path: &Path) -> bool {
    false
}

fn fill(db: &Connection) -> Result<(), StoreError> {
    db.execute_batch("BEGIN IMMEDIATE")?;
    let filled = db
        .execute_batch("CREATE TABLE room (bytes BLOB)")
        .and_then(|()| {
            db.execute(
                "INSERT INTO room VALUES (zeroblob(?1))",
                [i64::from(LOG_BYTES) + 8192 * i64::from(PAGES)],
            )
        });
    db.execute_batch("ROLLBACK")?;
    filled?;
    Ok(())
}

fn beside(path: &Path) -> PathBuf {
    let mut name = OsString::from(path);
    name.push("-wal");
    name.into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_log_is_long_before_anything_is_written_and_holds_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("records.sqlite");
        let open = || {
            let db = Connection::open(&path).unwrap();
            db.pragma_update(None, "journal_mode", "WAL").unwrap();
            db
        };
        let db = open();
        db.execute_batch("CREATE TABLE told (words TEXT)").unwrap();
        let usual: i64 = db
            .pragma_query_value(None, "cache_size", |row| row.get(0))
            .unwrap();
        lengthen(&db, &path);
        let long = beside(&path).metadata().unwrap().len();
        assert!(long >= LOG_BYTES.into(), "{long}");
        let kept: i64 = db
            .pragma_query_value(None, "cache_size", |row| row.get(0))
            .unwrap();
        assert_eq!(kept, usual);

        // What is written then makes it no longer.
        for n in 0..100 {
            db.execute("INSERT INTO told VALUES (?1)", [format!("words {n}")])
                .unwrap();
        }
        assert_eq!(beside(&path).metadata().unwrap().len(), long);

        // As after a loss of power: the files as they lie there, opened by another.
        let other = tempfile::tempdir().unwrap();
        let copy = other.path().join("records.sqlite");
        std::fs::copy(&path, &copy).unwrap();
        std::fs::copy(beside(&path), beside(&copy)).unwrap();
        let read = Connection::open(&copy).unwrap();
        let count = |query: &str| -> i64 { read.query_row(query, [], |row| row.get(0)).unwrap() };
        assert_eq!(count("SELECT count(*) FROM told"), 100);
        assert_eq!(
            count("SELECT count(*) FROM sqlite_master WHERE name = 'room'"),
            0
        );
        let sound: String = read
            .pragma_query_value(None, "integrity_check", |row| row.get(0))
            .unwrap();
        assert_eq!(sound, "ok");
        // The file itself did not grow by the room.
        assert!(path.metadata().unwrap().len() < LOG_BYTES.into());
    }
}

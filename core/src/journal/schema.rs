//! The layout of the database, as numbered steps. A step that was released is never altered.

use rusqlite::Connection;

use super::JournalError;

/// Marks the file as a journal (`application_id` in SQLite's header): "CHWK".
const APPLICATION: i32 = 0x4348_574b;

const STEPS: &[&str] = &["
CREATE TABLE settings (
    name  TEXT PRIMARY KEY,
    value BLOB NOT NULL
) STRICT;
CREATE TABLE jobs (
    id BLOB PRIMARY KEY
) STRICT;
CREATE TABLE changes (
    row       INTEGER PRIMARY KEY AUTOINCREMENT,
    job       BLOB NOT NULL REFERENCES jobs (id),
    author    BLOB NOT NULL,
    number    INTEGER NOT NULL,
    hash      BLOB NOT NULL,
    bytes     BLOB NOT NULL,
    signature BLOB,
    checksum  BLOB NOT NULL,
    UNIQUE (job, author, number)
) STRICT;
CREATE INDEX changes_of_job ON changes (job, row);
CREATE TABLE snapshots (
    job      BLOB PRIMARY KEY REFERENCES jobs (id),
    upto     INTEGER NOT NULL,
    data     BLOB NOT NULL,
    checksum BLOB NOT NULL
) STRICT;
CREATE TABLE models (
    job      BLOB PRIMARY KEY REFERENCES jobs (id),
    digest   BLOB NOT NULL,
    data     BLOB NOT NULL,
    checksum BLOB NOT NULL
) STRICT;
CREATE TABLE certificates (
    device BLOB PRIMARY KEY,
    data   BLOB NOT NULL
) STRICT;
CREATE TABLE peers (
    device BLOB PRIMARY KEY,
    name   TEXT NOT NULL,
    office INTEGER NOT NULL
) STRICT;
CREATE TABLE peer_changes (
    peer   BLOB NOT NULL,
    job    BLOB NOT NULL,
    author BLOB NOT NULL,
    number INTEGER NOT NULL,
    PRIMARY KEY (peer, job, author)
) STRICT;
CREATE TABLE peer_photos (
    peer BLOB NOT NULL,
    kind INTEGER NOT NULL,
    hash BLOB NOT NULL,
    PRIMARY KEY (peer, kind, hash)
) STRICT;
"];

/// Newest layout this version knows.
pub(super) const NEWEST: u32 = STEPS.len() as u32;

pub(super) fn migrate(db: &mut Connection) -> Result<(), JournalError> {
    let application: i32 = db.pragma_query_value(None, "application_id", |row| row.get(0))?;
    let found: u32 = db.pragma_query_value(None, "user_version", |row| row.get(0))?;
    let tables: i64 = db.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    if tables > 0 && application != APPLICATION {
        return Err(JournalError::NotAJournal);
    }
    if found > NEWEST {
        return Err(JournalError::Newer {
            found,
            known: NEWEST,
        });
    }
    for (i, step) in STEPS.iter().enumerate().skip(found as usize) {
        let tx = db.transaction()?;
        tx.execute_batch(step)?;
        tx.pragma_update(None, "application_id", APPLICATION)?;
        tx.pragma_update(None, "user_version", i as i64 + 1)?;
        tx.commit()?;
    }
    Ok(())
}

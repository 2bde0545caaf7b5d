//! What holds for the database file alone.

use chalkwalk_core::document::Table;
use chalkwalk_sync_server::store::{Records, SqliteRecords, StoreError};
use rusqlite::Connection;

use crate::sample::{author, job, row};

#[tokio::test]
async fn a_file_of_a_newer_version_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("records.sqlite");
    let store = SqliteRecords::open(&path).unwrap();
    store
        .append(job(1), &[row(author(1), 1, true)], &[], 70)
        .await
        .unwrap();
    drop(store);
    let file = Connection::open(&path).unwrap();
    file.pragma_update(None, "user_version", 7_000).unwrap();
    drop(file);
    let error = SqliteRecords::open(&path).unwrap_err();
    assert!(matches!(
        error,
        StoreError::Newer {
            found: 7_000,
            known: 3
        }
    ));
    let file = Connection::open(&path).unwrap();
    let changes: u32 = file
        .query_row("SELECT count(*) FROM change", [], |row| row.get(0))
        .unwrap();
    assert_eq!(changes, 1);
}

#[tokio::test]
async fn a_file_that_is_no_database_is_refused_and_kept() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("records.sqlite");
    let text = "not a database, and long enough to be read as the header of one. ".repeat(20);
    std::fs::write(&path, &text).unwrap();
    assert!(SqliteRecords::open(&path).is_err());
    assert_eq!(std::fs::read_to_string(&path).unwrap(), text);
}

#[tokio::test]
async fn one_change_too_many_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("records.sqlite");
    let store = SqliteRecords::open(&path).unwrap();
    store
        .append(job(1), &[row(author(1), 1, true)], &[], 70)
        .await
        .unwrap();
    let full = chalkwalk_core::limits::JOB_CHANGES as i64;
    let file = Connection::open(&path).unwrap();
    file.execute("UPDATE job SET changes = ?1", [full - 1])
        .unwrap();
    store
        .append(job(1), &[row(author(1), 2, true)], &[], 70)
        .await
        .unwrap();
    let error = store
        .append(job(1), &[row(author(1), 3, true)], &[], 70)
        .await
        .unwrap_err();
    assert!(matches!(error, StoreError::Limit("changes of one job")));
}

#[tokio::test]
async fn two_openings_of_one_file_see_each_other() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("records.sqlite");
    let (one, two) = (
        SqliteRecords::open(&path).unwrap(),
        SqliteRecords::open(&path).unwrap(),
    );
    one.append(job(1), &[row(author(1), 1, true)], &[], 70)
        .await
        .unwrap();
    two.append(job(1), &[row(author(1), 2, true)], &[], 71)
        .await
        .unwrap();
    let held = one
        .lacking(job(1), &Table::new(), usize::MAX)
        .await
        .unwrap();
    assert_eq!(held, [row(author(1), 1, true), row(author(1), 2, true)]);
}

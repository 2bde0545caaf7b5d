//! An office that is moved, backed up and restored: what phones were told is there afterwards.

use std::path::Path;

use chalkwalk_core::job::{JobId, Side};
use chalkwalk_sync_server::ServerError;
use chalkwalk_sync_server::carry::{self, Carried, CarryError};
use chalkwalk_sync_server::serve::open_hub_on;
use chalkwalk_sync_server::storage::Storage;
use chalkwalk_sync_server::store::{PostgresPlace, PostgresRecords, StoreError};
use rusqlite::Connection;

use crate::engines;
use crate::stage::{Phone, Server};

pub(crate) fn quiet(_: &'static str, _: u64, _: u64) {}

pub(crate) fn block_on<F: Future>(work: F) -> F::Output {
    tokio::runtime::Runtime::new().unwrap().block_on(work)
}

/// An office with two jobs, three photos and two phones, and the server that runs on it.
struct Filled {
    server: Server,
    ada: Phone,
    jobs: [JobId; 2],
}

fn filled(data: &Path) -> Filled {
    let server = Server::start(data);
    let mut ada = Phone::enrolled("Ada", &server);
    let mut ben = Phone::enrolled("Ben", &server);
    let first = ada.begin();
    ada.finding(first, Side::Front, "hail on the gutter");
    ada.photo(first, Side::Front, 1, 300);
    ada.photo(first, Side::Left, 2, 200);
    ada.sync(&server);
    ben.sync(&server);
    ben.finding(first, Side::Rear, "a screen");
    let second = ben.begin();
    ben.photo(second, Side::Rear, 3, 250);
    ben.sync(&server);
    ada.sync(&server);
    let jobs = [first, second];
    Filled { server, ada, jobs }
}

/// What every way of carrying that office must say.
fn expect(carried: &Carried) {
    assert_eq!((carried.jobs, carried.devices), (2, 2));
    assert_eq!((carried.originals, carried.thumbnails), (3, 3));
    assert!(carried.keys && carried.accounts);
    assert!(carried.changes >= 8, "{carried:?}");
    assert!(carried.file_bytes > 100_000, "{carried:?}");
}

/// Nothing crosses between the phone and the office that was carried, and a new phone gets all.
fn is_whole(server: &Server, ada: &mut Phone, jobs: &[JobId]) {
    let sent = ada.sync(server);
    assert_eq!(
        (sent.progress.changes_sent, sent.progress.changes_taken),
        (0, 0)
    );
    assert_eq!(sent.progress.originals_sent, 0);
    let mut fresh = Phone::enrolled("Cy", server);
    let taken = fresh.sync(server);
    assert_eq!(taken.progress.originals_taken, 3);
    for job in jobs {
        assert_eq!(fresh.heads(*job), ada.heads(*job));
    }
}

#[test]
fn a_backup_of_a_running_office_restores_to_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let mut office = filled(&folder.path().join("office"));
    let (out, again) = (folder.path().join("backup"), folder.path().join("restored"));
    let from = Storage::default();
    let data = office.server.data.clone();
    let backed = block_on(carry::backup(Some(&data), &from, &out, &quiet)).unwrap();
    expect(&backed);
    // What comes after it is not in it.
    let job = office.jobs[0];
    office.ada.finding(job, Side::Front, "after the backup");
    office.ada.sync(&office.server);
    office.server.stop();

    let listed = std::fs::read_to_string(out.join("manifest-sha256.txt")).unwrap();
    assert_eq!(listed.lines().count(), 11, "{listed}");
    let taken = block_on(carry::backup(Some(&data), &from, &out, &quiet)).unwrap_err();
    assert!(matches!(taken, CarryError::Taken { .. }), "{taken}");

    let restored = carry::restore(&out, &again, &quiet).unwrap();
    assert_eq!(
        (restored.changes, restored.jobs),
        (backed.changes, backed.jobs)
    );
    expect(&restored);
    let taken = carry::restore(&out, &again, &quiet).unwrap_err();
    assert!(matches!(taken, CarryError::Taken { .. }), "{taken}");
    let server = Server::start(&again);
    // The phone brings back what the backup did not hold.
    let sent = office.ada.sync(&server);
    assert_eq!(sent.progress.changes_sent, 1);
    is_whole(&server, &mut office.ada, &office.jobs);
    server.stop();
}

#[test]
fn a_damaged_backup_is_not_restored() {
    let folder = tempfile::tempdir().unwrap();
    let office = filled(&folder.path().join("office"));
    let out = folder.path().join("backup");
    let data = office.server.data.clone();
    block_on(carry::backup(
        Some(&data),
        &Storage::default(),
        &out,
        &quiet,
    ))
    .unwrap();
    office.server.stop();
    let listed = std::fs::read_to_string(out.join("manifest-sha256.txt")).unwrap();
    let again = folder.path().join("restored");
    for (n, line) in listed.lines().enumerate() {
        let file = out.join(&line[66..]);
        let good = std::fs::read(&file).unwrap();
        let mut bad = good.clone();
        let at = bad.len() * 2 / 3;
        bad[at] ^= 0x10;
        std::fs::write(&file, &bad).unwrap();
        let target = folder.path().join(format!("damaged-{n}"));
        let error = carry::restore(&out, &target, &quiet).unwrap_err();
        assert!(!target.join("records.sqlite").exists(), "{line}: {error}");
        std::fs::write(&file, &good).unwrap();
    }
    std::fs::remove_file(out.join(&listed.lines().last().unwrap()[66..])).unwrap();
    assert!(carry::restore(&out, &again, &quiet).is_err());
    std::fs::remove_file(out.join("manifest-sha256.txt")).unwrap();
    let error = carry::restore(&out, &again, &quiet).unwrap_err();
    assert!(matches!(error, CarryError::Nothing { .. }), "{error}");
}

#[test]
fn an_office_that_is_not_in_order_is_not_carried() {
    let folder = tempfile::tempdir().unwrap();
    let office = filled(&folder.path().join("office"));
    let data = office.server.data.clone();
    office.server.stop();
    let alter = |sql: &str| {
        let file = Connection::open(data.join("records.sqlite")).unwrap();
        file.execute_batch(sql).unwrap();
    };
    let out = folder.path().join("backup");
    let refused = |words: &str| {
        let from = Storage::default();
        let carried = carry::backup(Some(&data), &from, &out, &quiet);
        let error = block_on(carried).unwrap_err();
        assert!(matches!(error, CarryError::NotInOrder(_)), "{error}");
        assert!(error.to_string().contains(words), "{error}");
        assert!(!out.join("manifest-sha256.txt").exists());
    };
    alter("CREATE TABLE keep AS SELECT * FROM change");
    let back = "DELETE FROM change; INSERT INTO change SELECT * FROM keep";
    alter("UPDATE change SET signature = zeroblob(64) WHERE seq = 2");
    refused("a signature is not of the device that is named");
    alter(back);
    alter("UPDATE change SET hash = zeroblob(32) WHERE seq = 2");
    refused("a change is not what its row names");
    alter(back);
    alter("UPDATE change SET bytes = substr(bytes, 1, 60) WHERE seq = 2");
    refused("change 2");
    alter(back);
    alter("DELETE FROM change WHERE seq = (SELECT max(seq) FROM change)");
    refused("changes are counted");
    alter(back);
    alter("DROP TABLE keep");
    let photos = data.join("photos/original");
    let file = walk(&photos).pop().unwrap();
    std::fs::write(&file, b"not the photo").unwrap();
    refused("is damaged or missing");
}

fn walk(folder: &Path) -> Vec<std::path::PathBuf> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(walk(&path));
        } else {
            found.push(path);
        }
    }
    found
}

#[test]
fn an_office_is_moved_to_the_large_storage_and_back() {
    let (Some(database), Some(bucket)) = (engines::postgres(), engines::bucket()) else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let mut office = filled(&folder.path().join("office"));
    let data = office.server.data.clone();
    let name = engines::own_name(folder.path());
    let records = format!("{database}?schema={name}");
    let blobs = bucket.replace('?', &format!("/{name}?"));
    let to = Storage::parse(Some(&records), Some(&blobs)).unwrap();

    // Not while the server runs.
    let busy = block_on(carry::move_to(&data, &to, &quiet)).unwrap_err();
    assert!(
        matches!(busy, CarryError::Server(ServerError::InUse)),
        "{busy}"
    );
    office.server.stop();

    // A move that stops half way: nobody works on half an office.
    let nowhere = "s3://nowhere?endpoint=http://127.0.0.1:1&region=here&access_key_id=a\
         &secret_access_key=b";
    let half = Storage::parse(Some(&records), Some(nowhere)).unwrap();
    block_on(carry::move_to(&data, &half, &quiet)).unwrap_err();
    let refused = block_on(open_hub_on(&data, &to, Some("Another")))
        .err()
        .unwrap();
    assert!(
        matches!(refused, ServerError::Store(StoreError::Unfinished)),
        "{refused}"
    );
    let moved = block_on(carry::move_to(&data, &to, &quiet)).unwrap();
    expect(&moved);
    assert_eq!(moved.files_there, 0);
    // The folder's copy is not gone on with by mistake, and not moved twice.
    let stale = block_on(open_hub_on(&data, &Storage::default(), None))
        .err()
        .unwrap();
    assert!(matches!(stale, ServerError::Moved(_)), "{stale}");
    let twice = block_on(carry::move_to(&data, &to, &quiet)).unwrap_err();
    assert!(
        matches!(twice, CarryError::Server(ServerError::Moved(_))),
        "{twice}"
    );

    // As if it had been cut while changes were copied.
    block_on(cut_in_half(&database, &name));
    std::fs::remove_file(data.join("moved.json")).unwrap();
    let again = block_on(carry::move_to(&data, &to, &quiet)).unwrap();
    assert_eq!((again.changes, again.files_there), (moved.changes, 6));

    let server = Server::on(&data, to.clone());
    is_whole(&server, &mut office.ada, &office.jobs);
    // A backup of the running office in the large storage, restored into a folder.
    let (out, home) = (folder.path().join("backup"), folder.path().join("home"));
    let backed = block_on(carry::backup(Some(&data), &to, &out, &quiet)).unwrap();
    assert_eq!(backed.changes, moved.changes);
    server.stop();
    let restored = carry::restore(&out, &home, &quiet).unwrap();
    assert_eq!(restored.changes, moved.changes);
    let server = Server::start(&home);
    let mut late = Phone::enrolled("Dee", &server);
    assert_eq!(late.sync(&server).progress.originals_taken, 3);
    server.stop();

    // Another office does not move in where one is.
    let other = folder.path().join("other");
    filled(&other).server.stop();
    let taken = block_on(carry::move_to(&other, &to, &quiet)).unwrap_err();
    assert!(
        taken.to_string().contains("holds an office already"),
        "{taken}"
    );
}

async fn cut_in_half(database: &str, schema: &str) {
    let place = PostgresPlace::parse(database)
        .unwrap()
        .with_schema(schema)
        .unwrap();
    PostgresRecords::new(place).unwrap().ready().await.unwrap();
    let (client, connection) = tokio_postgres::connect(database, tokio_postgres::NoTls)
        .await
        .unwrap();
    tokio::spawn(connection);
    client
        .batch_execute(&format!(
            "INSERT INTO {schema}.moving SELECT 1, id FROM {schema}.company;
             DELETE FROM {schema}.change WHERE place >= 3;
             DELETE FROM {schema}.device; DELETE FROM {schema}.company"
        ))
        .await
        .unwrap();
}

//! People, shared links and who sees which job go with an office that is carried; secrets that
//! open it do not.

use chalkwalk_core::job::{Role, Side};
use chalkwalk_sync_server::ServerError;
use chalkwalk_sync_server::carry::{self, CarryError};
use chalkwalk_sync_server::people::entry_link;
use chalkwalk_sync_server::serve::{ServeConfig, companies};
use chalkwalk_sync_server::storage::Storage;
use chalkwalk_sync_server::store::{Accounts, DeedsOf, SqliteAccounts};

use crate::carry::{block_on, quiet};
use crate::engines;
use crate::shares::link;
use crate::stage::{Browser, Phone, Server, get};

/// A price list as it may come: bytes, not text.
const PAPER: &[u8] = b"head\nItem,Price\n\xff\0,1\n";

#[test]
fn a_backup_holds_people_links_papers_and_deeds_and_nothing_that_signs_in() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("office");
    let server = Server::start(&data);
    let mut ada = Phone::enrolled("Ada", &server);
    let (job, other) = (ada.begin(), ada.begin());
    ada.finding(job, Side::Front, "hail");
    ada.sync(&server);
    let device = ada.notebook.identity().device;
    let shared = link(&server, &job.to_string(), "adjuster");
    block_on(async {
        let accounts = SqliteAccounts::open(&data.join("accounts.sqlite")).unwrap();
        accounts.assign(other, device, true).await.unwrap();
        accounts.set_closed(job, Some(7)).await.unwrap();
        assert!(accounts.replace_paper("prices", "", PAPER).await.unwrap());
    });
    // A link that nobody used yet.
    let unused = entry_link(&data, "Test admin", Role::Admin).unwrap();
    let held = |data: &std::path::Path| {
        block_on(async {
            let accounts = SqliteAccounts::open(&data.join("accounts.sqlite")).unwrap();
            (
                accounts.people().await.unwrap(),
                accounts.shares(job).await.unwrap(),
                accounts.all_access().await.unwrap(),
                accounts.deeds(DeedsOf::ALL, None, 1_000).await.unwrap(),
                accounts.paper("prices").await.unwrap(),
            )
        })
    };
    let there = held(&data);
    assert_eq!(there.4.as_deref(), Some(PAPER));
    let out = folder.path().join("backup");
    let from = Storage::default();
    let backed = block_on(carry::backup(Some(&data), &from, &out, &quiet)).unwrap();
    assert!(backed.accounts);
    assert_eq!((backed.people, backed.shared_links), (1, 1));
    assert_eq!(backed.deeds, there.3.len() as u64);
    let old = server.admin().cookie.clone();
    server.stop();

    let again = folder.path().join("restored");
    let restored = carry::restore(&out, &again, &quiet).unwrap();
    assert_eq!(
        (restored.people, restored.shared_links, restored.deeds),
        (backed.people, backed.shared_links, backed.deeds)
    );
    assert_eq!(held(&again), there);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let file = std::fs::metadata(again.join("accounts.sqlite")).unwrap();
        assert_eq!(file.permissions().mode() & 0o077, 0);
    }
    let server = Server::start(&again);
    let at = server.ready.pages.unwrap();
    let stale = Browser { at, cookie: old };
    assert_eq!(stale.get("/").0, 303, "a sign-in came back");
    assert_ne!(stale.post(&unused.path(), "").0, 303, "a link came back");
    assert_eq!(get(at, &shared, &[]).0, 200);
    assert_eq!(server.admin().get("/").0, 200);
    server.stop();
}

#[test]
fn a_restore_leaves_the_people_of_another_office_alone() {
    let folder = tempfile::tempdir().unwrap();
    let (data, out) = (folder.path().join("office"), folder.path().join("backup"));
    let server = Server::start(&data);
    let from = Storage::default();
    block_on(carry::backup(Some(&data), &from, &out, &quiet)).unwrap();
    server.stop();
    let taken = folder.path().join("node");
    std::fs::create_dir_all(&taken).unwrap();
    entry_link(&taken, "Somebody", Role::Admin).unwrap();
    let before = std::fs::read(taken.join("accounts.sqlite")).unwrap();
    let error = carry::restore(&out, &taken, &quiet).unwrap_err();
    assert!(matches!(error, CarryError::Taken { .. }), "{error}");
    let after = std::fs::read(taken.join("accounts.sqlite")).unwrap();
    assert!(before == after && !taken.join("records.sqlite").exists());
}

#[test]
fn accounts_that_are_damaged_are_not_backed_up() {
    let folder = tempfile::tempdir().unwrap();
    let (data, out) = (folder.path().join("office"), folder.path().join("backup"));
    Server::start(&data).stop();
    let file = rusqlite::Connection::open(data.join("accounts.sqlite")).unwrap();
    file.execute_batch(
        "PRAGMA foreign_keys = OFF;
         INSERT INTO login (folded, person) VALUES ('nobody', zeroblob(16))",
    )
    .unwrap();
    drop(file);
    let from = Storage::default();
    let error = block_on(carry::backup(Some(&data), &from, &out, &quiet)).unwrap_err();
    assert!(error.to_string().contains("people"), "{error}");
    assert!(!out.join("manifest-sha256.txt").exists());
}

/// People of an office go to the database and come back as they were; where its records went
/// before, people go after them.
#[test]
fn people_go_to_a_database_and_back() {
    let Some(database) = engines::postgres() else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("office");
    let server = Server::start(&data);
    let mut ada = Phone::enrolled("Ada", &server);
    let (job, other) = (ada.begin(), ada.begin());
    ada.sync(&server);
    let shared = link(&server, &job.to_string(), "adjuster");
    block_on(async {
        let accounts = SqliteAccounts::open(&data.join("accounts.sqlite")).unwrap();
        let device = ada.notebook.identity().device;
        accounts.assign(other, device, true).await.unwrap();
        accounts.set_closed(job, Some(7)).await.unwrap();
        assert!(accounts.replace_paper("prices", "", PAPER).await.unwrap());
    });
    let admin = server.admin().cookie.clone();
    server.stop();
    let held = async |accounts: &dyn Accounts| {
        let deeds = accounts.deeds(DeedsOf::ALL, None, 1_000).await.unwrap();
        (
            accounts.people().await.unwrap(),
            accounts.shares(job).await.unwrap(),
            accounts.all_access().await.unwrap(),
            deeds.into_iter().map(|(_, deed)| deed).collect::<Vec<_>>(),
            accounts.paper("prices").await.unwrap(),
        )
    };
    let there = block_on(async {
        let accounts = SqliteAccounts::open(&data.join("accounts.sqlite")).unwrap();
        held(&accounts).await
    });
    let name = engines::own_name(folder.path());
    let to = Storage::parse(Some(&format!("{database}?schema={name}")), None).unwrap();
    let moved = block_on(carry::move_to(&data, &to, &quiet)).unwrap();
    assert_eq!((moved.people, moved.shared_links), (1, 1));
    assert_eq!(moved.deeds, there.3.len() as u64);
    let in_database = |data: &std::path::Path, to: &Storage| {
        block_on(async { held(&*to.open_accounts(data).await.unwrap()).await })
    };
    assert_eq!(in_database(&data, &to), there);
    // New deeds go on after those that came.
    let server = Server::on(&data, to.clone());
    let at = server.ready.pages.unwrap();
    let boss = Browser { at, cookie: admin };
    assert_eq!((boss.get("/").0, get(at, &shared, &[]).0), (200, 200));
    server.stop();
    let now_there = in_database(&data, &to);
    assert_eq!(now_there.3[1..], there.3);

    // Back into a folder.
    let (out, home) = (folder.path().join("backup"), folder.path().join("home"));
    let backed = block_on(carry::backup(Some(&data), &to, &out, &quiet)).unwrap();
    assert!(backed.accounts && backed.keys);
    assert_eq!(backed.deeds, now_there.3.len() as u64);
    carry::restore(&out, &home, &quiet).unwrap();
    let back = block_on(async {
        let accounts = SqliteAccounts::open(&home.join("accounts.sqlite")).unwrap();
        assert_eq!(
            accounts.deeds(DeedsOf::ALL, None, 1).await.unwrap()[0].0,
            backed.deeds
        );
        held(&accounts).await
    });
    assert_eq!(back, now_there);
    let server = Server::start(&home);
    let at = server.ready.pages.unwrap();
    assert_eq!(get(at, &shared, &[]).0, 200);
    let stale = Browser { at, ..boss };
    assert_eq!(stale.get("/").0, 303, "a sign-in came back");
    server.stop();

    // An office whose records were moved before, with people still in the folder.
    std::fs::remove_file(data.join("people-moved.json")).unwrap();
    let early = block_on(to.open_accounts(&data)).err().unwrap();
    assert!(matches!(early, ServerError::PeopleNotMoved(_)), "{early}");
    let mixed = block_on(carry::move_to(&data, &to, &quiet)).unwrap_err();
    assert!(mixed.to_string().contains("holds people"), "{mixed}");
    block_on(forget_people(&database, &name));
    let before = in_deeds(&database, &name);
    let moved = block_on(carry::move_to(&data, &to, &quiet)).unwrap();
    assert_eq!((moved.people, moved.jobs), (1, 0));
    let after = in_database(&data, &to);
    assert_eq!(
        (&after.0, &after.1, &after.2, &after.4),
        (&there.0, &there.1, &there.2, &there.4)
    );
    assert_eq!(after.3.len(), before + there.3.len());
    assert_eq!(after.3[..there.3.len()], there.3);
}

async fn client(database: &str) -> tokio_postgres::Client {
    let (client, connection) = tokio_postgres::connect(database, tokio_postgres::NoTls)
        .await
        .unwrap();
    tokio::spawn(connection);
    client
}

/// As if no node had ever known anybody there.
async fn forget_people(database: &str, schema: &str) {
    let sql = format!(
        "TRUNCATE {schema}.person, {schema}.login, {schema}.sign_in, {schema}.share,
            {schema}.closed, {schema}.assigned, {schema}.paper"
    );
    client(database).await.batch_execute(&sql).await.unwrap();
}

fn in_deeds(database: &str, schema: &str) -> usize {
    block_on(async {
        let client = client(database).await;
        let sql = format!("DELETE FROM {schema}.deed");
        let kept = client.batch_execute(&sql).await.unwrap_err();
        let words = kept.as_db_error().unwrap().message().to_owned();
        assert!(words.contains("never removed"), "{words}");
        let sql = format!("SELECT count(*) FROM {schema}.deed");
        let row = client.query_one(&sql, &[]).await.unwrap();
        usize::try_from(row.get::<_, i64>(0)).unwrap()
    })
}

/// Two companies go from one folder to one database and bucket, and share nothing there.
#[test]
fn companies_are_moved_each_to_a_part_of_its_own() {
    let (Some(database), Some(bucket)) = (engines::postgres(), engines::bucket()) else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("office");
    let other_data = data.join("companies/other-one");
    companies::add(&data, "other-one", "Other Roofing").unwrap();
    let server = Server::start(&data);
    let mut ada = Phone::enrolled("Ada", &server);
    let ours = ada.begin();
    ada.photo(ours, Side::Front, 1, 60);
    ada.sync(&server);
    let admin = server.admin().cookie.clone();
    server.stop();
    // In letters that a prefix may have too.
    let name = engines::own_name(folder.path());
    let records = format!("{database}?schema={name}");
    let blobs = bucket.replace('?', &format!("/{name}?"));
    let to = Storage::parse(Some(&records), Some(&blobs)).unwrap();
    let config = ServeConfig {
        data: data.clone(),
        storage: to.clone(),
        company: Some("Alder Roofing".into()),
        ..ServeConfig::default()
    };
    let early = Server::run(config).err().unwrap();
    assert!(matches!(early, ServerError::NotMoved(_)), "{early}");
    let moved = block_on(carry::move_to(&data, &to, &quiet)).unwrap();
    assert_eq!((moved.jobs, moved.originals), (1, 1));
    assert!(moved.accounts && other_data.join("moved.json").exists());
    let third = companies::add_on(&data, &to, "third", "Third Roofing").unwrap();
    assert_eq!(third.company().name, "Third Roofing");
    assert_eq!(companies::list(&data).unwrap(), ["other-one", "third"]);

    let server = Server::on(&data, to.clone());
    let at = server.ready.pages.unwrap();
    let boss = Browser { at, cookie: admin };
    assert_eq!(boss.get("/").0, 200, "people did not come along");
    assert_eq!(ada.sync(&server).progress.changes_sent, 0);
    let theirs = format!("http://{}/at/other-one", server.ready.listen);
    let part = to.of_company("other-one").unwrap();
    let hour = crate::stage::HOUR;
    let code = chalkwalk_sync_server::enrol::invite_on(&other_data, &part, Role::Crew, "", hour);
    let code = code.unwrap();
    let mut cy = Phone::new("Cy");
    assert!(cy.enrol(&server.address(), &code.code, None).is_err());
    cy.enrol(&theirs, &code.code, Some(&code.pin)).unwrap();
    let job = cy.begin();
    cy.photo(job, Side::Rear, 2, 60);
    let config = cy.notebook.session(true, None, true).unwrap();
    let go_on = &mut |_: &chalkwalk_core::sync::Event| chalkwalk_sync_server::transport::Then::GoOn;
    let sent = chalkwalk_sync_server::transport::sync_ws(&theirs, &mut cy.notebook, config, go_on);
    assert_eq!(sent.unwrap().progress.originals_sent, 1);
    server.stop();
    block_on(async {
        for (storage, data, has) in [(&to, &data, ours), (&part, &other_data, job)] {
            let records = storage.open_records(data).await.unwrap();
            let jobs = records.jobs().await.unwrap();
            let jobs: Vec<_> = jobs.iter().map(|status| status.job).collect();
            assert_eq!(jobs, [has]);
            let files = storage.open_blobs(data).unwrap().list().await.unwrap();
            assert_eq!(files.len(), 2, "an original and its thumbnail");
        }
    });
}

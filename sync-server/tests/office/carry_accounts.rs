//! People, shared links and who sees which job go with an office that is carried; secrets that
//! open it do not.

use chalkwalk_core::job::{Role, Side};
use chalkwalk_sync_server::ServerError;
use chalkwalk_sync_server::carry::{self, CarryError};
use chalkwalk_sync_server::people::entry_link;
use chalkwalk_sync_server::serve::{ServeConfig, companies};
use chalkwalk_sync_server::storage::Storage;
use chalkwalk_sync_server::store::{Accounts, SqliteAccounts};

use crate::carry::{block_on, quiet};
use crate::engines;
use crate::shares::link;
use crate::stage::{Browser, Phone, Server, get};

#[test]
fn a_backup_holds_people_links_and_deeds_and_nothing_that_signs_in() {
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
                accounts.deeds(None, 1_000).await.unwrap(),
            )
        })
    };
    let there = held(&data);
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
    assert_eq!(boss.get("/").0, 200, "people stayed in the folder");
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

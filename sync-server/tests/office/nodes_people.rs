//! What is done with people at one node holds at the other from the next request on.

use chalkwalk_core::job::{PhotoHash, Role, Side};
use chalkwalk_sync_server::limits;
use chalkwalk_sync_server::people::password_link_on;
use chalkwalk_sync_server::serve::Keeping;

use crate::nodes::{keeping, pair};
use crate::shares::link;
use crate::stage::{Browser, Phone, ask, get, post, token_for};

fn at(browser: &Browser, server: &crate::stage::Server) -> Browser {
    Browser {
        at: server.ready.pages.unwrap(),
        cookie: browser.cookie.clone(),
    }
}

#[test]
fn a_person_is_signed_in_and_shut_out_at_all_nodes() {
    let Some(pair) = pair("", false) else { return };
    // The first link is of the office, not of a node: a later start makes the one that counts.
    assert_eq!(pair.two.ready.first_links.len(), 1);
    let stale = Browser {
        at: pair.one.ready.pages.unwrap(),
        cookie: String::new(),
    };
    assert_eq!(stale.get(&pair.one.ready.first_links[0]).0, 410);
    assert_eq!(stale.get(&pair.two.ready.first_links[0]).0, 200);

    let boss = pair.one.browser("Boss", Role::Admin);
    let est = pair.one.browser("Est", Role::Estimator);
    let (boss_there, est_there) = (at(&boss, &pair.two), at(&est, &pair.two));
    assert_eq!(
        (boss_there.get("/").0, est_there.get("/devices").0),
        (200, 200)
    );
    // Another part at one node is another part at the other.
    let people = boss.text("/people");
    let id = |name: &str| -> String {
        let row = people.split("<tr").find(|row| row.contains(name)).unwrap();
        let from = row.find("/people/").unwrap() + "/people/".len();
        row[from..]
            .chars()
            .take_while(char::is_ascii_hexdigit)
            .collect()
    };
    let est_id = id(">Est<");
    assert_eq!(est_there.get("/people").0, 403);
    assert_eq!(
        boss.post(&format!("/people/{est_id}/role"), "role=admin").0,
        303
    );
    assert_eq!(est_there.get("/people").0, 200);
    assert_eq!(
        boss_there.post(&format!("/people/{est_id}/shut-out"), "").0,
        303
    );
    for browser in [&est, &est_there] {
        assert_eq!(browser.get("/").0, 303, "still signed in");
    }
    // Signed out at one, out at both; the deeds of both stand in one list.
    let audit = boss.text("/audit");
    assert!(audit.contains("shut a person out") && audit.contains("changed a role"));
    assert_eq!(boss_there.post("/sign-out", "").0, 303);
    assert_eq!(boss.get("/").0, 303);
    // No node keeps people of its own.
    for server in [&pair.one, &pair.two] {
        assert!(!server.data.join("accounts.sqlite").exists());
    }
    pair.one.stop();
    pair.two.stop();
}

#[test]
fn a_one_time_link_counts_once_at_whatever_node() {
    let Some(pair) = pair("", false) else { return };
    let path = pair.one.link("Ada", Role::Crew);
    Browser::by(pair.two.ready.pages.unwrap(), &path);
    let again = Browser {
        at: pair.one.ready.pages.unwrap(),
        cookie: String::new(),
    };
    assert_eq!(again.post(&path, "").0, 410);
    pair.one.stop();
    pair.two.stop();
}

#[test]
fn a_shared_link_that_is_withdrawn_at_one_node_is_dead_at_the_other() {
    let Some(pair) = pair("", true) else { return };
    let mut ada = Phone::enrolled("Ada", &pair.one);
    let job = ada.begin();
    ada.photo(job, Side::Front, 1, 80);
    ada.sync(&pair.one);
    let path = link(&pair.one, &job.to_string(), "adjuster");
    let (one, two) = (pair.one.ready.pages.unwrap(), pair.two.ready.pages.unwrap());
    let (here, there) = (get(one, &path, &[]), get(two, &path, &[]));
    assert_eq!((here.0, there.0), (200, 200));
    let admin = pair.one.admin();
    let page = admin.text(&format!("/jobs/{job}/access"));
    let from = page.find("/shares/").unwrap() + "/shares/".len();
    let id: String = page[from..]
        .chars()
        .take_while(char::is_ascii_hexdigit)
        .collect();
    let withdraw = format!("/jobs/{job}/shares/{id}/withdraw");
    assert_eq!(admin.post(&withdraw, "").0, 303);
    let (here, there) = (get(one, &path, &[]), get(two, &path, &[]));
    assert_eq!((here.0, there.0), (410, 410));
    pair.one.stop();
    pair.two.stop();
}

#[test]
fn a_job_that_is_assigned_or_closed_at_one_node_is_so_at_the_other() {
    let Some(pair) = pair("", false) else { return };
    let mut ada = Phone::enrolled("Ada", &pair.one);
    let mut ben = Phone::enrolled("Ben", &pair.two);
    let mut cy = Phone::enrolled("Cy", &pair.two);
    let job = ada.begin();
    ada.sync(&pair.one);
    let admin = pair.one.admin();
    let form = format!("device={}", ben.notebook.identity().device);
    assert_eq!(admin.post(&format!("/jobs/{job}/assign"), &form).0, 303);
    let taken = |phone: &mut Phone, server| phone.sync(server).progress.changes_taken;
    assert_eq!(
        taken(&mut cy, &pair.two),
        0,
        "a device that is not assigned"
    );
    assert!(
        taken(&mut ben, &pair.two) > 0,
        "the device that is assigned"
    );
    // Taken off and closed: only who wrote to it sees it.
    assert_eq!(admin.post(&format!("/jobs/{job}/unassign"), &form).0, 303);
    assert_eq!(admin.post(&format!("/jobs/{job}/close"), "").0, 303);
    let mut dee = Phone::enrolled("Dee", &pair.two);
    assert_eq!(taken(&mut dee, &pair.two), 0, "a closed job");
    ada.finding(job, Side::Left, "written after it was closed");
    let sent = ada.sync(&pair.two);
    assert_eq!(sent.progress.changes_sent, 1);
    assert_eq!(admin.post(&format!("/jobs/{job}/open"), "").0, 303);
    assert!(taken(&mut dee, &pair.two) > 0, "open again");
    pair.one.stop();
    pair.two.stop();
}

#[test]
fn a_challenge_of_one_node_is_answered_at_the_other_and_once() {
    let Some(pair) = pair("", false) else { return };
    let ada = Phone::enrolled("Ada", &pair.one);
    let (one, two) = (pair.one.ready.listen, pair.two.ready.listen);
    let answer = ada.answer_to_challenge(one, "");
    let token = token_for(two, "", &answer).unwrap();
    assert_eq!(token_for(two, "", &answer), Err(403));
    assert_eq!(
        token_for(one, "", &answer),
        Err(403),
        "answered at the other"
    );
    // The token counts at both.
    let bearer = format!("Bearer {token}");
    for node in [one, two] {
        let body = format!(
            r#"{{"job":"{}","hashes":[]}}"#,
            chalkwalk_core::job::JobId::from_bytes([7; 16])
        );
        let headers = [("authorization", bearer.as_str())];
        let said = ask(
            "POST",
            node,
            "/photos/lacking",
            &headers,
            Some(body.as_bytes()),
        );
        assert_ne!(said.0, 401, "{}", String::from_utf8_lossy(&said.2));
    }
    pair.one.stop();
    pair.two.stop();
}

#[test]
fn wrong_tries_are_counted_for_all_nodes_together() {
    let Some(pair) = pair("", false) else { return };
    pair.one.browser("Ada", Role::Crew);
    let nodes = [&pair.one, &pair.two];
    let form = "login=ada&password=not+this+one+either";
    let sign_in = |n: u32| {
        let at = nodes[(n % 2) as usize].ready.pages.unwrap();
        let nobody = Browser {
            at,
            cookie: String::new(),
        };
        nobody.post("/sign-in", form).0
    };
    let few = limits::ACCOUNT_TRIES.min(limits::SIGN_IN_TRIES);
    for n in 0..few {
        assert_eq!(sign_in(n), 403, "{n}");
    }
    assert_eq!((sign_in(0), sign_in(1)), (429, 429));
    // Codes.
    let phone = Phone::new("Ben");
    let device = phone.notebook.identity().device;
    let key = "1".repeat(64);
    let wrong = format!(
        r#"{{"code":"0000-0000-0000","device":"{device}","key":"{key}","person":"B","device_name":"b","role":"crew"}}"#
    );
    let mut tries = 0;
    loop {
        let at = nodes[tries % 2].ready.listen;
        match post(at, "/enrol", &wrong).0 {
            429 => break,
            code => assert!((400..=403).contains(&code), "{code}"),
        }
        tries += 1;
        assert!(tries <= 200);
    }
    let most = chalkwalk_core::limits::ENROL_TRIES as usize;
    assert_eq!(tries, most);
    pair.one.stop();
    pair.two.stop();
}

#[test]
fn a_password_that_was_set_at_one_node_opens_the_other() {
    let Some(pair) = pair("", false) else { return };
    pair.one.browser("Ada", Role::Crew);
    let link = password_link_on(&pair.one.data, &pair.storage, "ada")
        .unwrap()
        .unwrap();
    let nobody = |server: &crate::stage::Server| Browser {
        at: server.ready.pages.unwrap(),
        cookie: String::new(),
    };
    let form = "password=nine+slates+on+the+ridge&again=nine+slates+on+the+ridge";
    let set = nobody(&pair.one).post(&link.path(), form);
    assert_eq!(set.0, 303, "{}", String::from_utf8_lossy(&set.2));
    let form = "login=ADA&password=nine+slates+on+the+ridge";
    let signed_in = nobody(&pair.two).post("/sign-in", form);
    assert_eq!(
        signed_in.0,
        303,
        "{}",
        String::from_utf8_lossy(&signed_in.2)
    );
    pair.one.stop();
    pair.two.stop();
}

/// Bytes that came in through one node are not there for the other.
#[test]
fn a_quota_holds_for_all_nodes_together() {
    let most = Keeping {
        bytes: Some(150_000),
        ..Keeping::default()
    };
    let Some(pair) = keeping("", false, most) else {
        return;
    };
    let mut ada = Phone::enrolled("Ada", &pair.one);
    let job = ada.begin();
    for seed in 1..=2 {
        ada.photo(job, Side::Front, seed, 200);
    }
    ada.sync_changes(&pair.one);
    let files = [ada.file(1), ada.file(2)];
    assert!(
        files
            .iter()
            .all(|file| (80_000..150_000).contains(&file.len()))
    );
    let put = |server: &crate::stage::Server, file: &[u8]| {
        let token = ada.token(server.ready.listen, "").unwrap();
        let path = format!("/photos/{}?job={job}", PhotoHash::of(file));
        let bearer = format!("Bearer {token}");
        let headers = [("authorization", bearer.as_str())];
        ask("PUT", server.ready.listen, &path, &headers, Some(file)).0
    };
    assert_eq!(put(&pair.two, &files[1]), 201);
    assert_eq!(put(&pair.one, &files[0]), 507);
    assert_eq!(put(&pair.one, &files[1]), 200);
    pair.one.stop();
    pair.two.stop();
}

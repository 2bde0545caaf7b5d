//! Signing in, joining, and what a browser holds.

use chalkwalk_core::job::Role;
use chalkwalk_sync_server::env::{SystemEnv, now};
use chalkwalk_sync_server::limits;
use chalkwalk_sync_server::people::{Secret, invitation_link, password_link};
use chalkwalk_sync_server::store::{Accounts, PersonId, SignIn, SqliteAccounts};

use crate::stage::{Browser, Server, ask, cookie_of, get};

const GOOD: &str = "four+words+on+slate";

fn nobody(server: &Server) -> Browser {
    Browser {
        at: server.ready.pages.unwrap(),
        cookie: String::new(),
    }
}

fn words(answer: &(u16, ureq::http::HeaderMap, Vec<u8>)) -> String {
    String::from_utf8_lossy(&answer.2).into_owned()
}

fn join(server: &Server, name: &str, role: Role) -> Browser {
    let link = invitation_link(&server.data, role).unwrap();
    let form = format!("name={name}&mail={name}%40office.example&password={GOOD}&again={GOOD}");
    let answer = nobody(server).post(&link.path(), &form);
    assert_eq!(answer.0, 303, "{}", words(&answer));
    Browser {
        at: server.ready.pages.unwrap(),
        cookie: cookie_of(&answer.1),
    }
}

fn sign_in(server: &Server, login: &str, password: &str) -> (u16, ureq::http::HeaderMap, Vec<u8>) {
    let form = format!("login={login}&password={password}&to=%2Fdevices");
    nobody(server).post("/sign-in", &form)
}

#[test]
fn the_first_admin_joins_by_the_link_that_the_first_start_shows() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let path = server.ready.first_links[0].clone();
    let browser = nobody(&server);
    assert!(browser.text(&path).contains("Join"));
    for (form, trouble) in [
        ("name=&password=x&again=x", "Write your name"),
        ("name=a%40b&password=x&again=x", "has no @"),
        ("name=Ada&mail=none&password=x&again=x", "not one"),
        (
            "name=Ada&password=four+words+on&again=other+words",
            "differ",
        ),
        ("name=Ada&password=short&again=short", "at least 12"),
        (
            "name=Ada&password=alderroofing&again=alderroofing",
            "name that others know",
        ),
    ] {
        let answer = browser.post(&path, &form.replace("alderroofing", "alder+roofing"));
        assert_eq!(answer.0, 422, "{form}");
        assert!(
            words(&answer).contains(trouble),
            "{form}: {}",
            words(&answer)
        );
    }
    let form = format!("name=Ada&password={GOOD}&again={GOOD}");
    let answer = browser.post(&path, &form);
    assert_eq!(answer.0, 303, "{}", words(&answer));
    let set = answer.1["set-cookie"].to_str().unwrap().to_owned();
    for part in ["HttpOnly", "SameSite=Lax", "Path=/;", "Max-Age="] {
        assert!(set.contains(part), "{set}");
    }
    assert!(
        !set.contains("Secure"),
        "in the clear a browser would drop it: {set}"
    );
    assert_eq!(browser.post(&path, &form).0, 410);
    server.stop();

    // With an admin there, no further link is shown.
    let server = Server::start(folder.path());
    assert!(server.ready.first_links.is_empty());
    let answer = sign_in(&server, "ada", GOOD);
    assert_eq!(
        (answer.0, answer.1["location"].to_str().unwrap()),
        (303, "/devices")
    );
    let admin = Browser {
        cookie: cookie_of(&answer.1),
        ..browser
    };
    let admin = Browser {
        at: server.ready.pages.unwrap(),
        ..admin
    };
    assert!(admin.text("/people").contains("Ada"));
    server.stop();
}

#[test]
fn wrong_passwords_are_refused_and_counted() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    join(&server, "Ada", Role::Crew);
    // By name and by mail address; unknown and wrong are told the same.
    for login in ["ADA", "ada%40office.example"] {
        assert_eq!(sign_in(&server, login, GOOD).0, 303);
    }
    let wrong = sign_in(&server, "Ada", "wrong+words+here");
    let unknown = sign_in(&server, "Nobody", "wrong+words+here");
    assert_eq!((wrong.0, unknown.0), (403, 403));
    assert_eq!(
        words(&wrong).replace("value=\"Ada\"", ""),
        words(&unknown).replace("value=\"Nobody\"", "")
    );
    for _ in 2..limits::SIGN_IN_TRIES {
        assert_eq!(sign_in(&server, "Ada", "wrong+words+here").0, 403);
    }
    let waits = sign_in(&server, "Ada", GOOD);
    assert_eq!(
        (waits.0, waits.1["retry-after"].to_str().unwrap()),
        (429, "60")
    );
    let audit = server.page("/audit").2;
    assert!(audit.contains("was refused at sign-in") && audit.contains("somebody not signed in"));
    server.stop();
}

#[test]
fn a_form_of_another_site_changes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let browser = join(&server, "Ada", Role::Admin);
    let host = format!("http://{}", browser.at);
    let send = |origin: &[(&str, &str)], path: &str| {
        let mut headers = vec![
            ("cookie", browser.cookie.as_str()),
            ("content-type", "application/x-www-form-urlencoded"),
        ];
        headers.extend_from_slice(origin);
        ask("POST", browser.at, path, &headers, Some(b"role=crew")).0
    };
    for origin in [
        &[("sec-fetch-site", "cross-site")][..],
        &[("sec-fetch-site", "same-site")][..],
        &[("origin", "http://elsewhere.example")][..],
        &[("origin", "null")][..],
        &[][..],
    ] {
        for path in [
            "/people/invite",
            "/sign-in",
            "/sign-out",
            "/account/password",
        ] {
            assert_eq!(send(origin, path), 403, "{path} {origin:?}");
        }
    }
    assert_eq!(send(&[("origin", &host)], "/people/invite"), 200);
    assert_eq!(browser.get("/account").0, 200);
    server.stop();
}

#[test]
fn a_sign_in_ends_in_time_and_by_its_person() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let (one, two) = (
        join(&server, "Ada", Role::Crew),
        Browser {
            at: server.ready.pages.unwrap(),
            cookie: cookie_of(&sign_in(&server, "Ada", GOOD).1),
        },
    );
    assert_eq!((one.get("/").0, two.get("/").0), (200, 200));
    let out = one.post("/sign-out", "");
    assert_eq!(out.0, 303);
    assert!(out.1["set-cookie"].to_str().unwrap().contains("Max-Age=0"));
    assert_eq!((one.get("/").0, two.get("/").0), (303, 200));
    let three = Browser {
        cookie: cookie_of(&sign_in(&server, "Ada", GOOD).1),
        ..one.clone()
    };
    assert_eq!(two.post("/sign-out/everywhere", "").0, 303);
    assert_eq!((two.get("/").0, three.get("/").0), (303, 303));
    let to = one.get("/jobs/x?y=z");
    assert_eq!(
        to.1["location"].to_str().unwrap(),
        "/sign-in?to=/jobs/x%3Fy%3Dz"
    );
    assert_eq!(one.post("/account/password", "").0, 401);

    // Idle and old ones do not count, to the millisecond.
    let runtime = tokio::runtime::Runtime::new().unwrap();
    let accounts = SqliteAccounts::open(&server.data.join("accounts.sqlite")).unwrap();
    let ada = runtime
        .block_on(accounts.person_called("Ada"))
        .unwrap()
        .unwrap();
    let at = now();
    for (made, seen, counts) in [
        (at, at, true),
        (
            at - limits::SIGN_IN_IDLE_MS,
            at - limits::SIGN_IN_IDLE_MS,
            false,
        ),
        (
            at - limits::SIGN_IN_IDLE_MS,
            at - limits::SIGN_IN_IDLE_MS + 60_000,
            true,
        ),
        (at - limits::SIGN_IN_LIFE_MS, at, false),
        (at - limits::SIGN_IN_LIFE_MS + 60_000, at, true),
        (at + 3_600_000, at + 3_600_000, false),
    ] {
        let secret = Secret::fresh(&mut SystemEnv);
        let sign_in = SignIn {
            hash: secret.hash(),
            person: ada.id,
            made_at: made,
            seen_at: seen,
        };
        runtime
            .block_on(accounts.put_sign_in(&sign_in, 99))
            .unwrap();
        let browser = Browser {
            cookie: format!("chalkwalk={}", secret.reveal()),
            ..one.clone()
        };
        let code = if counts { 200 } else { 303 };
        assert_eq!(browser.get("/").0, code, "{made} {seen}");
    }
    server.stop();
}

#[test]
fn a_password_is_changed_by_its_person_or_a_link() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let one = join(&server, "Ada", Role::Crew);
    let two = Browser {
        cookie: cookie_of(&sign_in(&server, "Ada", GOOD).1),
        ..one.clone()
    };
    let change = |current: &str, new: &str| {
        one.post(
            "/account/password",
            &format!("current={current}&password={new}&again={new}"),
        )
    };
    assert_eq!(change("wrong", "five+words+on+a+slate").0, 403);
    assert_eq!(change(GOOD, "short").0, 422);
    assert_eq!(two.get("/").0, 200);
    assert_eq!(change(GOOD, "five+words+on+a+slate").0, 200);
    assert_eq!((one.get("/").0, two.get("/").0), (200, 303));
    assert_eq!(sign_in(&server, "Ada", GOOD).0, 403);
    assert_eq!(sign_in(&server, "Ada", "five+words+on+a+slate").0, 303);

    assert!(password_link(&server.data, "Nobody").unwrap().is_none());
    let link = password_link(&server.data, "ada").unwrap().unwrap();
    let form = "password=six+words+on+one+more+slate&again=six+words+on+one+more+slate";
    assert_eq!(nobody(&server).post(&link.path(), form).0, 303);
    assert_eq!(one.get("/").0, 303);
    assert_eq!(nobody(&server).post(&link.path(), form).0, 410);
    assert_eq!(
        sign_in(&server, "Ada", "six+words+on+one+more+slate").0,
        303
    );
    server.stop();
}

#[test]
fn admins_invite_shut_out_and_never_lock_the_company_out() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let admin = server.admin();
    let page = String::from_utf8(admin.post("/people/invite", "role=estimator").2).unwrap();
    let from = page.find("/once/").unwrap();
    let path: String = page[from..].chars().take_while(|c| *c != '<').collect();
    let form = format!("name=Esti&password={GOOD}&again={GOOD}");
    let answer = nobody(&server).post(&path, &form);
    let estimator = Browser {
        at: admin.at,
        cookie: cookie_of(&answer.1),
    };
    assert_eq!(
        (estimator.get("/devices").0, estimator.get("/people").0),
        (200, 403)
    );
    assert_eq!(admin.post("/people/invite", "role=office").0, 422);

    let runtime = tokio::runtime::Runtime::new().unwrap();
    let accounts = SqliteAccounts::open(&server.data.join("accounts.sqlite")).unwrap();
    let id = |name: &str| -> PersonId {
        let person = runtime.block_on(accounts.person_called(name)).unwrap();
        person.unwrap().id
    };
    let (esti, own) = (id("Esti"), id("Test admin"));
    assert_eq!(admin.post(&format!("/people/{own}/shut-out"), "").0, 409);
    assert_eq!(
        admin.post(&format!("/people/{own}/role"), "role=crew").0,
        409
    );
    assert_eq!(admin.post(&format!("/people/{esti}/shut-out"), "").0, 303);
    assert_eq!(estimator.get("/devices").0, 303);
    assert_eq!(sign_in(&server, "Esti", GOOD).0, 403);
    assert_eq!(admin.post(&format!("/people/{esti}/let-in"), "").0, 303);
    assert_eq!(sign_in(&server, "Esti", GOOD).0, 303);
    assert_eq!(
        admin.post(&format!("/people/{esti}/role"), "role=crew").0,
        303
    );
    let crew = Browser {
        at: admin.at,
        cookie: cookie_of(&sign_in(&server, "Esti", GOOD).1),
    };
    assert_eq!((crew.get("/").0, crew.get("/devices").0), (200, 403));
    server.stop();
}

#[test]
fn after_signing_in_a_person_stays_on_this_server() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    join(&server, "Ada", Role::Crew);
    for (to, at) in [
        ("%2Fjobs%2Fx", "/jobs/x"),
        ("%2F%2Felsewhere.example", "/"),
        ("https%3A%2F%2Felsewhere.example", "/"),
        ("%2F%5Celsewhere.example", "/"),
        ("", "/"),
    ] {
        let form = format!("login=Ada&password={GOOD}&to={to}");
        let answer = nobody(&server).post("/sign-in", &form);
        assert_eq!(answer.1["location"].to_str().unwrap(), at, "{to}");
    }
    let long = format!("login={}", "a".repeat(limits::FORM_BYTES));
    assert_eq!(nobody(&server).post("/sign-in", &long).0, 413);
    let page = get(
        server.ready.pages.unwrap(),
        "/sign-in?to=%22%3E%3Cb%3E",
        &[],
    );
    assert!(!words(&page).contains("<b>"));
    server.stop();
}

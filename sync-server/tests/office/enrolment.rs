//! Codes, certificates, and a server that starts again.

use std::net::SocketAddr;
use std::time::Duration;

use chalkwalk_core::job::Role;
use chalkwalk_core::limits;
use chalkwalk_sync_server::ServerError;
use chalkwalk_sync_server::client::{self, EnrolFailure};
use chalkwalk_sync_server::enrol::invite;
use chalkwalk_sync_server::serve::{Pages, ServeConfig};

use crate::stage::{Phone, Server, get, post};

fn refused(result: Result<client::Enrolment, EnrolFailure>, words: &str) {
    match result {
        Err(EnrolFailure::Refused(said)) => assert!(said.contains(words), "{said}"),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_code_counts_once_and_the_answer_may_be_asked_for_again() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let invitation = server.invite(Role::Crew);
    // Sixty bits: twelve letters of an alphabet of thirty-two.
    assert_eq!(invitation.code.len(), 14);
    let unlike = |c: char| "ILOU".contains(c);
    assert!(!invitation.code.contains(unlike), "{}", invitation.code);
    assert_ne!(invitation.code, server.invite(Role::Crew).code);

    let mut phone = Phone::new("Ada");
    let typed = format!(" {} ", invitation.code.to_lowercase().replace('-', " "));
    let first = phone
        .enrol(&server.address(), &typed, Some(&invitation.pin))
        .unwrap();
    assert_eq!(first.company_name, "Alder Roofing");
    assert_eq!(
        (first.contents.role, first.contents.person.as_str()),
        (Role::Crew, "Ada")
    );
    let again = phone
        .enrol(&server.address(), &invitation.code, None)
        .unwrap();
    assert_eq!(first, again);
    let other = Phone::new("Ben").enrol(&server.address(), &invitation.code, None);
    refused(other, "used already");
    server.stop();
}

#[test]
fn wrong_old_and_unfitting_codes_are_refused_with_words() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let at = server.address();
    let mut phone = Phone::new("Ada");
    refused(phone.enrol(&at, "0000-0000-0000", None), "no such code");
    refused(phone.enrol(&at, "", None), "no such code");
    let old = invite(&server.data, Role::Crew, "", Duration::ZERO).unwrap();
    refused(phone.enrol(&at, &old.code, None), "time is over");
    let admin = server.invite(Role::Admin);
    refused(phone.enrol(&at, &admin.code, None), "another role");
    let office = invite(&server.data, Role::Office, "", Duration::from_secs(60)).unwrap();
    refused(phone.enrol(&at, &office.code, None), "another role");
    let good = server.invite(Role::Crew);
    let pin = "0".repeat(32);
    let other = phone.enrol(&at, &good.code, Some(&pin));
    assert!(matches!(other, Err(EnrolFailure::OtherOffice)), "{other:?}");
    server.stop();
}

#[test]
fn an_enrolment_that_does_not_read_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let at = server.ready.listen;
    let code = server.invite(Role::Crew).code;
    let request = |person: &str, key: &str| {
        format!(
            r#"{{"code":"{code}","device":"01J00000000000000000000000","key":"{key}",
                "person":"{person}","device_name":"phone","role":"crew"}}"#
        )
    };
    // The public key of RFC 8032, section 7.1, test 1.
    let good = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a";
    let longest = "a".repeat(limits::NAME_BYTES);
    for body in [
        "not json".to_owned(),
        request("", good),
        request(&"a".repeat(limits::NAME_BYTES + 1), good),
        request("Ada", "d75a"),
        // A point of small order: every signature would pass.
        request("Ada", &"00".repeat(32)),
    ] {
        let (status, _, answer) = post(at, "/enrol", &body);
        assert_eq!(status, 400, "{body} {}", String::from_utf8_lossy(&answer));
    }
    let (status, ..) = post(at, "/enrol", &" ".repeat(limits::ENROL_BYTES + 1));
    assert_eq!(status, 413);
    assert_eq!(get(at, "/enrol", &[]).0, 405);
    assert_eq!(post(at, "/enrol", &request(&longest, good)).0, 200);
    server.stop();
}

#[test]
fn too_many_wrong_codes_have_to_wait() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let code = server.invite(Role::Crew).code;
    for _ in 0..limits::ENROL_TRIES {
        assert_eq!(post(server.ready.listen, "/enrol", "{}").0, 400);
    }
    let (status, headers, _) = post(server.ready.listen, "/enrol", "{}");
    assert_eq!(
        (status, headers["retry-after"].to_str().unwrap()),
        (429, "60")
    );
    refused(
        Phone::new("Ada").enrol(&server.address(), &code, None),
        "wait a minute",
    );
    server.stop();
}

#[test]
fn a_server_starts_again_as_the_same_office() {
    let folder = tempfile::tempdir().unwrap();
    let first = Server::start(folder.path());
    let (pin, data) = (first.ready.pin.clone(), first.data.clone());
    let config = || ServeConfig {
        data: data.clone(),
        storage: Default::default(),
        listen: SocketAddr::from(([127, 0, 0, 1], 0)),
        pages: Pages::Off,
        company: None,
        ..ServeConfig::default()
    };
    assert!(matches!(Server::run(config()), Err(ServerError::InUse)));
    first.stop();
    let again = Server::run(config()).unwrap();
    assert_eq!(
        (again.ready.pin.as_str(), again.ready.pages),
        (pin.as_str(), None)
    );
    assert_eq!(again.ready.company, "Alder Roofing");
    assert_eq!(get(again.ready.listen, "/", &[]).0, 404);
    assert_eq!(get(again.ready.listen, "/health", &[]).0, 200);
    again.stop();

    let keys = data.join("keys");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = |at: &std::path::Path| at.metadata().unwrap().permissions().mode() & 0o777;
        assert_eq!(mode(&keys), 0o700);
        assert_eq!(mode(&keys.join("office.key")), 0o600);
        assert_eq!(mode(&keys.join("server.key")), 0o600);
    }
    std::fs::write(keys.join("office.key"), [5; 32]).unwrap();
    assert!(matches!(
        Server::run(config()),
        Err(ServerError::OtherKey(_))
    ));
    std::fs::write(keys.join("office.key"), [5; 31]).unwrap();
    assert!(matches!(
        Server::run(config()),
        Err(ServerError::DamagedKey(_))
    ));
    std::fs::remove_file(keys.join("office.key")).unwrap();
    assert!(matches!(
        Server::run(config()),
        Err(ServerError::OtherKey(_))
    ));
    assert!(!keys.join("office.key").exists());
}

#[test]
fn an_office_without_a_name_does_not_begin() {
    let folder = tempfile::tempdir().unwrap();
    let config = ServeConfig {
        data: folder.path().join("office"),
        storage: Default::default(),
        listen: SocketAddr::from(([127, 0, 0, 1], 0)),
        pages: Pages::Off,
        company: None,
        ..ServeConfig::default()
    };
    assert!(matches!(Server::run(config), Err(ServerError::NoCompany)));
    let nothing = invite(
        &folder.path().join("office"),
        Role::Crew,
        "",
        Duration::ZERO,
    );
    assert!(matches!(nothing, Err(ServerError::NoCompany)));
}

//! TLS, a proxy, metrics, quotas, what is removed.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::sync::Arc;

use std::time::Duration;

use chalkwalk_core::job::Side;
use chalkwalk_sync_server::ServerError;
use chalkwalk_sync_server::serve::{Keeping, ServeConfig, Way};
use tokio_rustls::rustls;

use crate::stage::{Browser, Phone, Server, ask, get};

fn config(folder: &std::path::Path) -> ServeConfig {
    ServeConfig {
        data: folder.join("office"),
        company: Some("Alder Roofing".into()),
        ..ServeConfig::default()
    }
}

#[test]
fn the_server_speaks_tls_and_its_cookies_are_for_it_alone() {
    let folder = tempfile::tempdir().unwrap();
    let made = rcgen::generate_simple_self_signed(vec!["localhost".to_owned()]).unwrap();
    let (certificates, key) = (
        folder.path().join("cert.pem"),
        folder.path().join("key.pem"),
    );
    std::fs::write(&certificates, made.cert.pem()).unwrap();
    std::fs::write(&key, made.signing_key.serialize_pem()).unwrap();
    let with = |certificates: &std::path::Path, key: &std::path::Path| ServeConfig {
        way: Way::Tls {
            certificates: certificates.to_owned(),
            key: key.to_owned(),
        },
        ..config(folder.path())
    };
    assert!(matches!(
        Server::run(with(&key, &certificates)),
        Err(ServerError::Tls(_))
    ));
    let nothing = folder.path().join("nothing.pem");
    assert!(matches!(
        Server::run(with(&nothing, &key)),
        Err(ServerError::Tls(_))
    ));
    let server = Server::run(with(&certificates, &key)).unwrap();
    // The pages stand beside the devices' calls: passwords are safe on the way.
    assert_eq!(server.ready.pages, Some(server.ready.listen));

    let mut roots = rustls::RootCertStore::empty();
    roots.add(made.cert.der().clone()).unwrap();
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let client = rustls::ClientConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()
        .unwrap()
        .with_root_certificates(roots)
        .with_no_client_auth();
    let client = Arc::new(client);
    let say = |text: String| -> String {
        let name = "localhost".try_into().unwrap();
        let mut tls = rustls::ClientConnection::new(Arc::clone(&client), name).unwrap();
        let mut tcp = TcpStream::connect(server.ready.listen).unwrap();
        let mut stream = rustls::Stream::new(&mut tls, &mut tcp);
        stream.write_all(text.as_bytes()).unwrap();
        let mut answer = String::new();
        // The server may close without TLS's own goodbye.
        let _ = stream.read_to_string(&mut answer);
        answer
    };
    let health = say("GET /health HTTP/1.1\r\nhost: localhost\r\nconnection: close\r\n\r\n".into());
    assert!(health.starts_with("HTTP/1.1 200"), "{health}");
    let link = chalkwalk_sync_server::people::entry_link(
        &server.data,
        "Ada",
        chalkwalk_core::job::Role::Admin,
    );
    let entered = say(format!(
        "POST {} HTTP/1.1\r\nhost: localhost\r\norigin: https://localhost\r\nconnection: close\r\n\
         content-type: application/x-www-form-urlencoded\r\ncontent-length: 0\r\n\r\n",
        link.unwrap().path()
    ));
    assert!(
        entered.contains(" 303 ") && entered.contains("; Secure"),
        "{entered}"
    );
    // Words in the clear are no handshake, and hold up nobody.
    let mut clear = TcpStream::connect(server.ready.listen).unwrap();
    clear.write_all(b"GET / HTTP/1.1\r\n\r\n").unwrap();
    let idle = TcpStream::connect(server.ready.listen).unwrap();
    let health = say("GET /health HTTP/1.1\r\nhost: localhost\r\nconnection: close\r\n\r\n".into());
    assert!(health.starts_with("HTTP/1.1 200"), "{health}");
    drop(idle);
    server.stop();
}

#[test]
fn behind_a_proxy_its_words_count() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::run(ServeConfig {
        way: Way::Proxy,
        ..config(folder.path())
    })
    .unwrap();
    let at = server.ready.listen;
    let link = chalkwalk_sync_server::people::entry_link(
        &server.data,
        "Ada",
        chalkwalk_core::job::Role::Admin,
    )
    .unwrap();
    let headers = [
        ("x-forwarded-for", "192.0.2.7"),
        ("x-forwarded-proto", "https"),
        ("x-forwarded-host", "office.example"),
        ("origin", "https://office.example"),
        ("content-type", "application/x-www-form-urlencoded"),
    ];
    let entered = ask("POST", at, &link.path(), &headers, Some(b""));
    assert_eq!(entered.0, 303, "{}", String::from_utf8_lossy(&entered.2));
    assert!(
        entered.1["set-cookie"]
            .to_str()
            .unwrap()
            .contains("; Secure")
    );
    let admin = Browser {
        at,
        cookie: crate::stage::cookie_of(&entered.1),
    };
    let mut from_page = vec![("cookie", admin.cookie.as_str())];
    from_page.extend_from_slice(&headers);
    let code = ask(
        "POST",
        at,
        "/devices/invite",
        &from_page,
        Some(b"role=crew"),
    );
    let page = String::from_utf8(code.2).unwrap();
    assert!(
        page.contains("<code>https://office.example</code>"),
        "{page}"
    );
    // Metrics are for the machine itself, and the proxy speaks for others.
    assert_eq!(
        get(at, "/metrics", &[("x-forwarded-for", "192.0.2.7")]).0,
        403
    );
    server.stop();
}

#[test]
fn metrics_are_counts_without_people_or_houses() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::run(ServeConfig {
        metrics_token: Some("a token for those who watch".into()),
        ..config(folder.path())
    })
    .unwrap();
    let at = server.ready.listen;
    server.page("/");
    let elsewhere = [
        ("x-forwarded-for", "192.0.2.7"),
        ("authorization", "Bearer a token for those who watch"),
    ];
    let answer = get(at, "/metrics", &elsewhere);
    assert_eq!(answer.0, 200);
    let text = String::from_utf8(answer.2).unwrap();
    assert!(text.contains("chalkwalk_answers_total{method=\"GET\",route=\"/\",status=\"200\"} 1"));
    assert!(text.contains("chalkwalk_live_sessions 0"));
    assert!(!text.contains("Alder") && !text.contains("admin"));
    let wrong = [("authorization", "Bearer another")];
    assert_eq!(get(at, "/metrics", &wrong).0, 403);
    server.stop();
}

#[test]
fn uploads_that_nobody_can_go_on_with_are_swept_and_others_stay() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::run(config(folder.path())).unwrap();
    let mut rep = Phone::enrolled("Ada", &server);
    let job = rep.begin();
    rep.photo(job, Side::Front, 1, 200);
    rep.sync(&server);
    let whole = chalkwalk_core::job::PhotoHash::of(&rep.file(1));
    let staging = server.data.join("staging");
    server.stop();
    let day = Duration::from_secs(24 * 3_600);
    let put = |name: &str, days: u32| {
        let file = std::fs::File::create(staging.join(name)).unwrap();
        file.set_modified(std::time::SystemTime::now() - day * days)
            .unwrap();
    };
    let unknown = chalkwalk_core::job::PhotoHash::of(b"no photo names it");
    let (left, held) = ("whole-left-over.part", format!("original-{unknown}.part"));
    let there = format!("original-{whole}.part");
    put(left, 1);
    put(&held, 3);
    put(&there, 0);
    let wait_until_gone = |name: &str| {
        let until = std::time::Instant::now() + Duration::from_secs(20);
        while staging.join(name).exists() {
            assert!(std::time::Instant::now() < until, "{name} stays");
            std::thread::sleep(Duration::from_millis(20));
        }
    };
    // At the start, unasked: what cannot be gone on with.
    let server = Server::run(config(folder.path())).unwrap();
    wait_until_gone(left);
    wait_until_gone(&there);
    server.stop();
    assert!(
        staging.join(&held).exists(),
        "what a phone may go on with is gone"
    );
    // Asked to: what nobody went on with, though nothing else names it.
    let keeping = Keeping {
        partial_uploads_days: Some(2),
        ..Keeping::default()
    };
    let server = Server::run(ServeConfig {
        keeping,
        ..config(folder.path())
    })
    .unwrap();
    wait_until_gone(&held);
    server.stop();
}

#[test]
fn a_server_is_ready_apart_from_running() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::run(config(folder.path())).unwrap();
    let at = server.ready.listen;
    let ready = get(at, "/ready", &[]);
    assert_eq!((ready.0, ready.2.as_slice()), (200, b"ready\n".as_slice()));
    // A database that another holds takes no writes: the server runs, and is not ready.
    let file = rusqlite::Connection::open(server.data.join("records.sqlite")).unwrap();
    file.execute_batch("BEGIN EXCLUSIVE").unwrap();
    assert_eq!(get(at, "/ready", &[]).0, 503);
    assert_eq!(get(at, "/health", &[]).0, 200);
    file.execute_batch("ROLLBACK").unwrap();
    assert_eq!(get(at, "/ready", &[]).0, 200);
    server.stop();
}

#[test]
fn past_the_quota_the_phone_is_told_and_keeps_its_photo() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::run(ServeConfig {
        keeping: Keeping {
            jobs: Some(1),
            bytes: Some(20_000),
            ..Keeping::default()
        },
        ..config(folder.path())
    })
    .unwrap();
    let mut rep = Phone::enrolled("Ada", &server);
    let job = rep.begin();
    rep.photo(job, Side::Front, 1, 200);
    rep.sync_changes(&server);
    let token = rep.token(server.ready.listen, "").unwrap();
    let file = rep.file(1);
    assert!(file.len() > 20_000);
    let hash = chalkwalk_core::job::PhotoHash::of(&file);
    let path = format!("/photos/{hash}?job={job}");
    let bearer = format!("Bearer {token}");
    let headers = [("authorization", bearer.as_str())];
    let put = ask("PUT", server.ready.listen, &path, &headers, Some(&file));
    let words = String::from_utf8(put.2).unwrap();
    assert_eq!(put.0, 507, "{words}");
    assert!(words.contains("20000 bytes"), "{words}");
    assert!(
        rep.notebook
            .original_safe_at_office(hash)
            .is_ok_and(|safe| !safe)
    );
    rep.begin();
    let outcome = rep.sync(&server);
    let ending = outcome.ending.unwrap();
    assert!(ending.by_peer, "{ending:?}");
    server.stop();
}

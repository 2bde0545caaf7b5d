//! One past what a server takes at a time, of the limits that only real connections reach.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::{Duration, Instant};

use chalkwalk_core::job::{PhotoHash, Side};
use chalkwalk_core::limits as core_limits;
use chalkwalk_sync_server::limits;
use chalkwalk_sync_server::serve::{ServeConfig, Way};
use chalkwalk_sync_server::store::{Accounts, Actor, Deed, DeedKind, SqliteAccounts};

use crate::stage::{Phone, Server};

fn answered(stream: &mut TcpStream) -> String {
    stream
        .set_read_timeout(Some(Duration::from_secs(20)))
        .unwrap();
    let mut start = [0; 512];
    let read = stream.read(&mut start).unwrap();
    String::from_utf8_lossy(&start[..read]).into_owned()
}

#[test]
fn one_upload_too_many_is_asked_to_wait_and_taken_after() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let mut phone = Phone::enrolled("Ada", &server);
    let job = phone.begin();
    phone.photo(job, Side::Front, 1, 300);
    phone.sync_changes(&server);
    let token = phone.token(server.ready.listen, "").unwrap();
    let file = phone.file(1);
    let head = format!(
        "PUT /photos/{}?job={job} HTTP/1.1\r\nhost: office\r\nauthorization: Bearer {token}\r\n\
         content-length: {}\r\n\r\n",
        PhotoHash::of(&file),
        file.len()
    );
    let begin = |half: &[u8]| {
        let mut stream = TcpStream::connect(server.ready.listen).unwrap();
        stream.write_all(head.as_bytes()).unwrap();
        stream.write_all(half).unwrap();
        stream
    };
    let half = &file[..file.len() / 2];
    let mut under_way: Vec<TcpStream> = (0..limits::UPLOADS).map(|_| begin(half)).collect();
    let staged = || {
        std::fs::read_dir(folder.path().join("staging"))
            .unwrap()
            .count()
    };
    let until = Instant::now() + Duration::from_secs(30);
    while staged() < limits::UPLOADS {
        assert!(Instant::now() < until, "{} uploads are under way", staged());
        std::thread::sleep(Duration::from_millis(20));
    }
    let mut one_more = begin(&file);
    let said = answered(&mut one_more);
    assert!(said.starts_with("HTTP/1.1 503"), "{said}");
    // One ends, and the next is taken.
    let mut first = under_way.remove(0);
    first.write_all(&file[half.len()..]).unwrap();
    let said = answered(&mut first);
    assert!(said.starts_with("HTTP/1.1 201"), "{said}");
    let mut again = begin(&file);
    let said = answered(&mut again);
    assert!(said.starts_with("HTTP/1.1 200"), "{said}");
    drop(under_way);
    server.stop();
}

#[test]
fn silent_handshakes_hold_up_others_no_longer_than_their_time() {
    let folder = tempfile::tempdir().unwrap();
    let made = rcgen::generate_simple_self_signed(vec!["localhost".to_owned()]).unwrap();
    let (certificates, key) = (
        folder.path().join("cert.pem"),
        folder.path().join("key.pem"),
    );
    std::fs::write(&certificates, made.cert.pem()).unwrap();
    std::fs::write(&key, made.signing_key.serialize_pem()).unwrap();
    let server = Server::run(ServeConfig {
        data: folder.path().join("office"),
        company: Some("Alder Roofing".into()),
        way: Way::Tls { certificates, key },
        ..ServeConfig::default()
    })
    .unwrap();
    let at = server.ready.listen;
    // Words that are no handshake are answered at once, where there is a turn.
    let refused_after = || {
        let mut wrong = TcpStream::connect(at).unwrap();
        wrong.write_all(b"GET / HTTP/1.1\r\n\r\n").unwrap();
        let began = Instant::now();
        wrong
            .set_read_timeout(Some(Duration::from_millis(3 * limits::HANDSHAKE_MS)))
            .unwrap();
        let _ = wrong.read(&mut [0; 64]).unwrap();
        began.elapsed()
    };
    let soon = Duration::from_millis(limits::HANDSHAKE_MS / 2);
    let silent: Vec<TcpStream> = (1..limits::HANDSHAKES)
        .map(|_| TcpStream::connect(at).unwrap())
        .collect();
    assert!(refused_after() < soon, "one turn is left");
    let last = TcpStream::connect(at).unwrap();
    std::thread::sleep(Duration::from_millis(200));
    // One past them waits until the silent ones are cut.
    let waited = refused_after();
    assert!(waited > soon, "{waited:?}");
    assert!(waited < Duration::from_millis(limits::HANDSHAKE_MS + 5_000));
    for mut stream in silent.into_iter().chain([last]) {
        stream
            .set_read_timeout(Some(Duration::from_secs(5)))
            .unwrap();
        assert!(matches!(stream.read(&mut [0; 8]), Ok(0) | Err(_)));
    }
    assert!(refused_after() < soon);
    server.stop();
}

#[test]
fn one_session_too_many_is_asked_to_come_again() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let open = || {
        let mut stream = TcpStream::connect(server.ready.listen).unwrap();
        stream
            .write_all(
                b"GET /sync HTTP/1.1\r\nhost: office\r\nconnection: upgrade\r\nupgrade: websocket\r\n\
                  sec-websocket-version: 13\r\nsec-websocket-key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n",
            )
            .unwrap();
        let said = answered(&mut stream);
        (stream, said)
    };
    let mut held = Vec::new();
    for n in 0..core_limits::LIVE_SESSIONS {
        let (stream, said) = open();
        assert!(said.starts_with("HTTP/1.1 101"), "session {n}: {said}");
        held.push(stream);
    }
    let (_, said) = open();
    assert!(said.starts_with("HTTP/1.1 503"), "{said}");
    held.pop();
    let until = Instant::now() + Duration::from_secs(20);
    loop {
        let (_stream, said) = open();
        if said.starts_with("HTTP/1.1 101") {
            break;
        }
        assert!(Instant::now() < until, "the place is not given to another");
        std::thread::sleep(Duration::from_millis(50));
    }
    drop(held);
    server.stop();
}

#[test]
fn a_page_of_the_audit_is_cut_and_the_next_has_the_rest() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    server.page("/");
    let accounts = SqliteAccounts::open(&folder.path().join("accounts.sqlite")).unwrap();
    let runtime = tokio::runtime::Runtime::new().unwrap();
    for n in 0..=limits::AUDIT_PAGE {
        let deed = Deed {
            at: n as i64,
            who: Actor::Office,
            what: DeedKind::Swept,
            job: None,
            about: format!("[{n} partial uploads]"),
        };
        runtime.block_on(accounts.note(&deed)).unwrap();
    }
    let count = |page: &str| page.matches("partial uploads]").count();
    let first = server.admin().text("/audit");
    assert_eq!(count(&first), limits::AUDIT_PAGE);
    let at = first.find("/audit?before=").unwrap();
    let next: String = first[at..].chars().take_while(|c| *c != '"').collect();
    assert!(count(&server.admin().text(&next)) >= 1);
    server.stop();
}

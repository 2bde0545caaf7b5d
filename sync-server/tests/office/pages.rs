//! What the pages show, and to whom.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};

use chalkwalk_core::job::{JobId, PhotoHash, Side};
use chalkwalk_sync_server::serve::{Pages, ServeConfig};
use chalkwalk_sync_server::transport::Then;

use crate::stage::{Phone, Server, get};

#[test]
fn an_empty_list_says_what_to_do() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let (status, kind, page) = server.page("/");
    assert_eq!((status, kind.as_str()), (200, "text/html; charset=utf-8"));
    assert!(page.contains("Alder Roofing") && page.contains("No job has come in yet"));
    assert!(page.contains("chalkwalk invite"));
    server.stop();
}

#[test]
fn the_list_and_the_job_show_what_came_in() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let mut rep = Phone::enrolled("Ada", &server);
    let job = rep.begin();
    let struck = rep.finding(job, Side::Front, "a vehicle's dent");
    rep.finding(job, Side::Rear, "hail on the gutter");
    let strike = chalkwalk_core::document::Action::Strike {
        at: struck,
        reason: "wrong house".into(),
    };
    rep.notebook.act(job, &strike).unwrap();
    rep.photo(job, Side::Rear, 3, 500);
    rep.photo(job, Side::Front, 4, 500);
    // The thumbnails come; the link is cut before the originals do.
    rep.sync_until(&server, &mut |event| match event {
        chalkwalk_core::sync::Event::PeerKeptFile { .. } => Then::Cut,
        _ => Then::GoOn,
    })
    .unwrap();
    let (_, _, list) = server.page("/");
    assert!(list.contains("original"), "{list}");
    rep.sync(&server);

    let (_, _, list) = server.page("/");
    assert!(
        list.contains("12 Alder Way &lt;b&gt;") && list.contains("2026-05-02"),
        "{list}"
    );
    assert!(list.contains(&format!("/jobs/{job}")) && list.contains("nothing known to be missing"));
    for cell in [r#"data-label="Findings">1<"#, r#"data-label="Photos">2<"#] {
        assert!(list.contains(cell), "{cell}: {list}");
    }

    let (status, _, page) = server.page(&format!("/jobs/{job}"));
    assert_eq!(status, 200);
    for words in [
        "12 Alder Way &lt;b&gt;",
        "office only",
        "Ada",
        "Gutter",
        "rear elevation",
    ] {
        assert!(page.contains(words), "{words}: {page}");
    }
    assert!(
        !page.contains("a vehicle's dent"),
        "a struck finding is not on the front page"
    );

    // Front before rear, whatever was taken first.
    let (_, _, page) = server.page(&format!("/jobs/{job}/walk"));
    assert!(
        page.contains("picture 4") && page.contains("<b>1</b> of 2"),
        "{page}"
    );
    let next = link(&page, &format!("/jobs/{job}/walk/0"));
    let (status, _, other) = server.page(&next);
    assert_eq!(status, 200);
    assert!(other.contains("picture"), "{other}");
    assert_eq!(server.page(&format!("/jobs/{job}/walk/none")).0, 404);

    for part in ["thumbnail", "original"] {
        let path = link(&page, &format!("/jobs/{job}/{part}/"));
        let (status, headers, body) = server.admin().get(&path);
        assert_eq!(
            (status, headers["content-type"].to_str().unwrap()),
            (200, "image/jpeg")
        );
        assert_eq!(
            headers["content-length"].to_str().unwrap(),
            body.len().to_string()
        );
        assert!(body.starts_with(&[0xff, 0xd8, 0xff]));
        if part == "original" {
            assert!(path.ends_with(&PhotoHash::of(&body).to_string()));
            // The photo of one job is not shown under another.
            let other = path.replace(&job.to_string(), &JobId::from_bytes([9; 16]).to_string());
            assert_eq!(server.admin().get(&other).0, 404);
        }
    }
    server.stop();
}

fn link(page: &str, start: &str) -> String {
    let from = page.find(start).unwrap();
    page[from..].chars().take_while(|c| *c != '"').collect()
}

#[test]
fn every_answer_keeps_browsers_to_what_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    for path in ["/", "/style.css", "/health", "/jobs/none", "/nowhere"] {
        let (_, headers, _) = server.admin().get(path);
        assert_eq!(
            headers["x-content-type-options"].to_str().unwrap(),
            "nosniff"
        );
        let policy = headers["content-security-policy"].to_str().unwrap();
        assert!(policy.starts_with("default-src 'none'"), "{policy}");
        assert!(
            policy.contains("script-src 'self'") && !policy.contains("unsafe"),
            "{policy}"
        );
        assert_eq!(headers["referrer-policy"].to_str().unwrap(), "same-origin");
    }
    let (status, kind, style) = server.page("/style.css");
    assert_eq!((status, kind.as_str()), (200, "text/css; charset=utf-8"));
    assert!(!style.contains("http") && !style.contains("@import"));
    let nothing = format!("/jobs/{}", JobId::from_bytes([9; 16]));
    for path in [
        nothing.as_str(),
        "/jobs/none",
        "/jobs/none/original/none",
        "/nowhere",
    ] {
        assert_eq!(server.page(path).0, 404, "{path}");
    }
    server.stop();
}

#[test]
fn health_speaks_to_people_and_machines() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let (status, kind, text) = server.page("/health");
    assert_eq!((status, text.as_str()), (200, "ok\n"));
    assert!(kind.starts_with("text/plain"));
    let (_, headers, body) = get(
        server.ready.listen,
        "/health",
        &[("accept", "application/json")],
    );
    assert_eq!(
        headers["content-type"].to_str().unwrap(),
        "application/json"
    );
    let health: serde_json::Value = serde_json::from_slice(&body).unwrap();
    assert_eq!(
        (&health["status"], &health["live_sessions"]),
        (&"ok".into(), &0.into())
    );
    server.stop();
}

#[test]
fn pages_answer_this_machine_alone() {
    let folder = tempfile::tempdir().unwrap();
    let config = ServeConfig {
        data: folder.path().to_owned(),
        storage: Default::default(),
        listen: SocketAddr::new(IpAddr::V4(Ipv4Addr::UNSPECIFIED), 0),
        pages: Pages::ThisMachine,
        company: Some("Alder Roofing".into()),
        ..ServeConfig::default()
    };
    let server = Server::run(config).unwrap();
    let pages = server.ready.pages.unwrap();
    assert!(pages.ip().is_loopback() && pages.port() != server.ready.listen.port());
    let devices = SocketAddr::from(([127, 0, 0, 1], server.ready.listen.port()));
    for path in ["/", "/jobs/none", "/style.css"] {
        assert_eq!(get(devices, path, &[]).0, 404, "{path}");
    }
    assert_eq!(get(devices, "/health", &[]).0, 200);
    assert_eq!(get(pages, "/", &[]).0, 303);
    assert_eq!(server.page("/").0, 200);
    let port = pages.port();
    for host in [
        format!("localhost:{port}"),
        format!("[::1]:{port}"),
        "127.0.0.1".to_owned(),
    ] {
        assert_eq!(get(pages, "/sign-in", &[("host", &host)]).0, 200, "{host}");
    }
    // A name that somebody pointed at this machine, and a proxy that speaks for somebody else.
    for header in [
        ("host", "pages.example"),
        ("host", "127.0.0.1.example:80"),
        ("x-forwarded-for", "192.0.2.7"),
        ("forwarded", "for=192.0.2.7"),
        ("via", "1.1 proxy"),
    ] {
        assert_eq!(get(pages, "/", &[header]).0, 403, "{header:?}");
    }
    server.stop();
}

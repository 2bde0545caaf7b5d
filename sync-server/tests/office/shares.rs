//! Shared links: what they show, to whom, and that each opening is written down.

use chalkwalk_core::job::Side;

use crate::stage::{Answer, Phone, Server, get};

fn words(answer: &Answer) -> String {
    String::from_utf8_lossy(&answer.2).into_owned()
}

/// Makes a shared link: its path.
pub(crate) fn link(server: &Server, job: &str, note: &str) -> String {
    let form = format!("note={note}&days=3");
    let page = server.admin().post(&format!("/jobs/{job}/shares"), &form);
    let page = words(&page);
    let from = page.find("/shared/").unwrap_or_else(|| panic!("{page}"));
    page[from..].chars().take_while(|c| *c != '<').collect()
}

#[test]
fn a_shared_link_shows_what_is_shared_until_it_is_withdrawn() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let mut rep = Phone::enrolled("Ada", &server);
    let job = rep.begin();
    rep.finding(job, Side::Front, "a doubt of the office");
    rep.photo(job, Side::Front, 1, 80);
    rep.photo(job, Side::Rear, 2, 80);
    let other = rep.begin();
    rep.photo(other, Side::Front, 3, 80);
    rep.sync(&server);
    let at = server.ready.pages.unwrap();
    let path = link(&server, &job.to_string(), "adjuster");
    let to = get(at, path.trim_end_matches('/'), &[]);
    assert_eq!(
        (to.0, to.1["location"].to_str().unwrap()),
        (308, path.as_str())
    );

    let page = get(at, &path, &[]);
    assert_eq!(page.0, 200, "{}", words(&page));
    for (name, value) in [
        ("referrer-policy", "no-referrer"),
        ("cache-control", "private, no-store"),
        ("x-robots-tag", "noindex"),
    ] {
        assert_eq!(page.1[name].to_str().unwrap(), value);
    }
    let policy = page.1["content-security-policy"].to_str().unwrap();
    assert!(
        policy.starts_with("default-src 'none'") && !policy.contains("script"),
        "{policy}"
    );
    let html = words(&page);
    assert!(html.contains("12 Alder Way &lt;b&gt;") && html.contains("Alder Roofing"));
    // The finding is office-only.
    assert!(!html.contains("a doubt of the office"), "{html}");
    let file = |start: &str| -> String {
        let from = html
            .find(start)
            .unwrap_or_else(|| panic!("{start}: {html}"));
        html[from..].chars().take_while(|c| *c != '"').collect()
    };
    let (original, small) = (file("photos/001-"), file("thumbs/001-"));
    let picture = get(at, &format!("{path}{original}"), &[]);
    assert_eq!((picture.0, picture.2), (200, rep.file(1)));
    assert_eq!(get(at, &format!("{path}{small}"), &[]).0, 200);
    let table = get(at, &format!("{path}findings.csv"), &[]);
    assert_eq!(
        (table.0, table.1["content-type"].to_str().unwrap()),
        (200, "text/csv; charset=utf-8")
    );
    // Nothing else of the office, and nothing of another job.
    for name in [
        "photos/003-front.jpg",
        "custody.json",
        "../../sign-in",
        "%2e%2e/x",
    ] {
        assert_eq!(get(at, &format!("{path}{name}"), &[]).0, 404, "{name}");
    }
    let cookie = format!("chalkwalk={}", path.split('/').nth(2).unwrap());
    let inside = get(at, &format!("/jobs/{job}"), &[("cookie", &cookie)]);
    assert_eq!(inside.0, 303);

    let audit = server.page("/audit").2;
    for deed in [
        "made a shared link",
        "opened a shared link",
        "opened an original through",
    ] {
        assert!(audit.contains(deed), "{deed}");
    }
    let access = server.page(&format!("/jobs/{job}/access")).2;
    let from = access.find(&format!("/jobs/{job}/shares/")).unwrap();
    let withdraw: String = access[from..].chars().take_while(|c| *c != '"').collect();
    assert_eq!(server.admin().post(&withdraw, "").0, 303);
    for path in [
        path.clone(),
        format!("{path}{original}"),
        format!("{path}findings.csv"),
    ] {
        let gone = get(at, &path, &[]);
        assert_eq!(gone.0, 410);
        assert!(words(&gone).contains("Ask the office"));
    }
    let audit = server.page("/audit").2;
    assert!(audit.contains("withdrew a shared link"));
    assert!(audit.contains("was refused at a shared link"));
    server.stop();
}

#[test]
fn a_link_needs_a_reader_and_an_end() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let mut rep = Phone::enrolled("Ada", &server);
    let job = rep.begin();
    rep.sync(&server);
    let longest = "a".repeat(chalkwalk_sync_server::limits::SHARE_NOTE_BYTES);
    let most = chalkwalk_sync_server::limits::SHARE_DAYS;
    for (form, code) in [
        ("note=&days=3".to_owned(), 422),
        ("note=x&days=0".to_owned(), 422),
        (format!("note=x&days={}", most + 1), 422),
        ("note=x&days=soon".to_owned(), 422),
        (format!("note={longest}a&days=3"), 422),
        (format!("note={longest}&days={most}"), 200),
    ] {
        let answer = server.admin().post(&format!("/jobs/{job}/shares"), &form);
        assert_eq!(answer.0, code, "{form}");
    }
    let nowhere = format!(
        "/jobs/{}/shares",
        chalkwalk_core::job::JobId::from_bytes([9; 16])
    );
    assert_eq!(server.admin().post(&nowhere, "note=x&days=3").0, 404);
    server.stop();
}

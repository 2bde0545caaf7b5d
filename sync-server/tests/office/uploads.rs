//! Photos over HTTP: whole, in parts, and everything that is refused.

use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};

use chalkwalk_core::job::{JobId, PhotoHash, Side};
use chalkwalk_core::limits as core_limits;
use chalkwalk_sync_server::limits;
use serde_json::{Value, json};

use crate::stage::{Answer, Phone, Server, ask, post};

struct Site {
    server: Server,
    phone: Phone,
    token: String,
    job: JobId,
    file: Vec<u8>,
    _folder: tempfile::TempDir,
}

impl Site {
    /// An office that has a job's changes and none of its files.
    fn begun(pixels: u32) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let server = Server::start(folder.path());
        let mut phone = Phone::enrolled("Ada", &server);
        let job = phone.begin();
        phone.photo(job, Side::Front, 1, pixels);
        phone.sync_changes(&server);
        let token = phone.token(server.ready.listen, "").unwrap();
        let file = phone.file(1);
        Self {
            server,
            phone,
            token,
            job,
            file,
            _folder: folder,
        }
    }

    fn at(&self) -> SocketAddr {
        self.server.ready.listen
    }

    fn path(&self, rest: &str) -> String {
        let hash = PhotoHash::of(&self.file);
        format!("/photos/{hash}{rest}?job={}", self.job)
    }

    fn send(&self, method: &str, path: &str, more: &[(&str, &str)], body: Option<&[u8]>) -> Answer {
        let bearer = format!("Bearer {}", self.token);
        let mut headers = vec![("authorization", bearer.as_str())];
        headers.extend_from_slice(more);
        ask(method, self.at(), path, &headers, body)
    }

    fn lacking(&self) -> Value {
        let asked = json!({ "job": self.job, "hashes": [PhotoHash::of(&self.file)] });
        let answer = self.send(
            "POST",
            "/photos/lacking",
            &[],
            Some(asked.to_string().as_bytes()),
        );
        assert_eq!(answer.0, 200, "{}", words(&answer));
        serde_json::from_slice(&answer.2).unwrap()
    }

    fn held(&self) -> (String, String) {
        let answer = self.send("HEAD", &self.path(""), &[], None);
        assert_eq!(answer.0, 200);
        let text = |name: &str| answer.1[name].to_str().unwrap().to_owned();
        (text("upload-offset"), text("upload-complete"))
    }

    fn leftovers(&self) -> usize {
        let files = std::fs::read_dir(self.server.data.join("staging")).unwrap();
        files.count()
    }
}

fn words(answer: &Answer) -> String {
    String::from_utf8_lossy(&answer.2).into_owned()
}

#[test]
fn a_whole_file_is_put_once_and_given_in_ranges() {
    let mut site = Site::begun(300);
    let hash = PhotoHash::of(&site.file).to_string();
    let lack = json!({ "lacking": [{ "hash": hash, "held": 0 }], "unknown": [] });
    assert_eq!(site.lacking(), lack);
    assert_eq!(site.send("GET", &site.path(""), &[], None).0, 404);
    let put = site.send("PUT", &site.path(""), &[], Some(&site.file));
    assert_eq!(put.0, 201, "{}", words(&put));
    let said: Value = serde_json::from_slice(&put.2).unwrap();
    assert_eq!(said, json!({ "held": site.file.len(), "whole": true }));
    assert_eq!(site.lacking()["lacking"], json!([]));
    assert_eq!(site.leftovers(), 0);
    // Again, with other bytes even: it is there already, and never rewritten.
    let again = site.send("PUT", &site.path(""), &[], Some(b"other"));
    assert_eq!(again.0, 200);

    let whole = site.send("GET", &site.path(""), &[], None);
    assert_eq!((whole.0, whole.2.as_slice()), (200, site.file.as_slice()));
    assert_eq!(whole.1["content-type"].to_str().unwrap(), "image/jpeg");
    let part = site.send("GET", &site.path(""), &[("range", "bytes=10-19")], None);
    assert_eq!((part.0, part.2.as_slice()), (206, &site.file[10..20]));
    let of = format!("bytes 10-19/{}", site.file.len());
    assert_eq!(part.1["content-range"].to_str().unwrap(), of);
    let end = site.send("GET", &site.path(""), &[("range", "bytes=-7")], None);
    assert_eq!(
        (end.0, end.2.as_slice()),
        (206, &site.file[site.file.len() - 7..])
    );
    let past = format!("bytes={}-", site.file.len());
    assert_eq!(
        site.send("GET", &site.path(""), &[("range", &past)], None)
            .0,
        416
    );
    let mark = whole.1["etag"].to_str().unwrap().to_owned();
    let same = site.send("GET", &site.path(""), &[("if-none-match", &mark)], None);
    assert_eq!(same.0, 304);
    let stale = [("range", "bytes=0-1"), ("if-range", "\"other\"")];
    assert_eq!(site.send("GET", &site.path(""), &stale, None).0, 200);
    // The phone, which hears of it in its next session, has nothing left to send.
    let outcome = site.phone.sync(&site.server);
    assert_eq!(outcome.progress.originals_sent, 0);
    assert!(site.phone.notebook.status(site.job).unwrap().safe_at_office);
    site.server.stop();
}

#[test]
fn an_upload_goes_on_from_the_offset_that_is_held() {
    let site = Site::begun(900);
    assert!(
        site.file.len() > limits::UPLOAD_PIECE,
        "{}",
        site.file.len()
    );
    let cut = limits::UPLOAD_PIECE + 1_000;
    assert_eq!(site.held(), ("0".into(), "?0".into()));
    let patch = |offset: usize, bytes: &[u8]| {
        let offset = offset.to_string();
        site.send(
            "PATCH",
            &site.path(""),
            &[("upload-offset", &offset)],
            Some(bytes),
        )
    };
    let first = patch(0, &site.file[..cut]);
    assert_eq!(
        (first.0, first.1["upload-offset"].to_str().unwrap()),
        (200, "1049576")
    );
    assert_eq!(site.held(), (cut.to_string(), "?0".into()));
    let gap = patch(cut + 1, &site.file[cut + 1..]);
    assert_eq!(
        (gap.0, gap.1["upload-offset"].to_str().unwrap()),
        (409, "1049576")
    );
    assert_eq!(patch(0, &site.file[..10]).0, 409);
    let long = [&site.file[cut..], b"!"].concat();
    assert_eq!(patch(cut, &long).0, 413);
    assert_eq!(site.send("PATCH", &site.path(""), &[], Some(b"x")).0, 400);
    let rest = patch(cut, &site.file[cut..]);
    assert_eq!(rest.0, 200, "{}", words(&rest));
    let said: Value = serde_json::from_slice(&rest.2).unwrap();
    assert_eq!(said, json!({ "held": site.file.len(), "whole": true }));
    assert_eq!(site.held(), (site.file.len().to_string(), "?1".into()));
    assert_eq!(site.send("GET", &site.path(""), &[], None).2, site.file);
    assert_eq!(site.leftovers(), 0);
    site.server.stop();
}

#[test]
fn other_bytes_are_thrown_away_at_the_end() {
    let site = Site::begun(60);
    let mut other = site.file.clone();
    other[40] ^= 1;
    let put = site.send("PUT", &site.path(""), &[], Some(&other));
    assert_eq!(put.0, 422, "{}", words(&put));
    assert!(
        words(&put).contains("not those of the photo"),
        "{}",
        words(&put)
    );
    let first = [("upload-offset", "0")];
    let patched = site.send("PATCH", &site.path(""), &first, Some(&other));
    assert_eq!(patched.0, 422, "{}", words(&patched));
    assert_eq!(site.held().0, "0");
    for (bytes, code) in [
        (&site.file[1..], 400),
        (&[&site.file[..], b"!"].concat()[..], 413),
    ] {
        let answer = site.send("PUT", &site.path(""), &[], Some(bytes));
        assert_eq!(answer.0, code, "{}", words(&answer));
    }
    assert_eq!(site.lacking()["lacking"][0]["held"], 0);
    assert_eq!(site.leftovers(), 0);
    assert_eq!(
        site.send("PUT", &site.path(""), &[], Some(&site.file)).0,
        201
    );
    site.server.stop();
}

/// Writes a request by hand: the client would not break off.
fn raw(at: SocketAddr, head: &str, body: &[u8], cut: bool) -> String {
    let mut stream = TcpStream::connect(at).unwrap();
    stream.write_all(head.as_bytes()).unwrap();
    stream.write_all(body).unwrap();
    if cut {
        stream.shutdown(std::net::Shutdown::Write).unwrap();
    }
    let mut answer = String::new();
    // The server may close without a word.
    let _ = stream.read_to_string(&mut answer);
    answer
}

#[test]
fn a_file_that_breaks_off_leaves_nothing_of_a_put_and_what_came_of_a_patch() {
    let site = Site::begun(60);
    let (size, half) = (site.file.len(), site.file.len() / 2);
    let head = |method: &str, more: &str| {
        format!(
            "{method} {} HTTP/1.1\r\nhost: {}\r\nauthorization: Bearer {}\r\n\
             content-length: {size}\r\n{more}\r\n",
            site.path(""),
            site.at(),
            site.token
        )
    };
    let put = raw(site.at(), &head("PUT", ""), &site.file[..half], true);
    assert!(!put.contains(" 201 "), "{put}");
    assert_eq!(site.held().0, "0");
    raw(
        site.at(),
        &head("PATCH", "upload-offset: 0\r\n"),
        &site.file[..half],
        true,
    );
    let mut held = site.held().0;
    for _ in 0..50 {
        if held != "0" {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(50));
        held = site.held().0;
    }
    assert_eq!(held, half.to_string());
    // Longer than it says, in chunks, past the photo's size.
    let chunked = format!(
        "PUT {} HTTP/1.1\r\nhost: {}\r\nauthorization: Bearer {}\r\n\
         transfer-encoding: chunked\r\nconnection: close\r\n\r\n{:x}\r\n",
        site.path(""),
        site.at(),
        site.token,
        size + 1
    );
    let long = [&site.file[..], b"!\r\n0\r\n\r\n"].concat();
    let answer = raw(site.at(), &chunked, &long, false);
    assert!(answer.contains(" 413 "), "{answer}");
    let mut left = site.leftovers();
    for _ in 0..50 {
        if left == 1 {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(50));
        left = site.leftovers();
    }
    assert_eq!(left, 1, "the resumable part alone");
    site.server.stop();
}

#[test]
fn the_small_picture_comes_at_once_and_must_be_one() {
    let site = Site::begun(60);
    let path = site.path("/thumbnail");
    assert_eq!(
        site.send("PUT", &path, &[], Some(b"<html>not a picture")).0,
        415
    );
    let most = core_limits::THUMBNAIL_BYTES as usize;
    let large = small_picture(most + 1);
    assert_eq!(site.send("PUT", &path, &[], Some(&large)).0, 413);
    let small = small_picture(most);
    assert_eq!(site.send("PUT", &path, &[], Some(&small)).0, 201);
    assert_eq!(site.send("PUT", &path, &[], Some(&small[..9])).0, 200);
    assert_eq!(site.send("GET", &path, &[], None).2, small);
    site.server.stop();
}

#[test]
fn what_no_photo_names_is_refused() {
    let site = Site::begun(60);
    let hash = PhotoHash::of(b"elsewhere");
    let unknown = format!("/photos/{hash}?job={}", site.job);
    let put = site.send("PUT", &unknown, &[], Some(b"elsewhere"));
    assert_eq!(put.0, 404);
    assert!(words(&put).contains("sync the job's changes first"));
    for path in [
        format!("/photos/{hash}"),
        format!("/photos/{hash}?job=none"),
        format!("/photos/none?job={}", site.job),
    ] {
        assert_eq!(
            site.send("PUT", &path, &[], Some(b"elsewhere")).0,
            400,
            "{path}"
        );
    }
    let call = |asked: Value| {
        let body = asked.to_string();
        site.send("POST", "/photos/lacking", &[], Some(body.as_bytes()))
    };
    let most = vec![hash; limits::LACKING_HASHES];
    let answer = call(json!({ "job": site.job, "hashes": most }));
    let said: Value = serde_json::from_slice(&answer.2).unwrap();
    assert_eq!(
        said["unknown"].as_array().unwrap().len(),
        limits::LACKING_HASHES
    );
    let more = vec![hash; limits::LACKING_HASHES + 1];
    assert_eq!(call(json!({ "job": site.job, "hashes": more })).0, 413);
    assert_eq!(call(json!({ "hashes": [] })).0, 400);
    let long = "[".repeat(limits::CALL_BYTES + 1);
    let answer = site.send("POST", "/photos/lacking", &[], Some(long.as_bytes()));
    assert_eq!(answer.0, 413);
    site.server.stop();
}

#[test]
fn a_token_is_for_a_device_that_proves_its_key() {
    let site = Site::begun(60);
    let at = site.at();
    let device = site.phone.notebook.identity().device;
    let (_, _, body) = post(
        at,
        "/token/challenge",
        &json!({ "device": device }).to_string(),
    );
    let said: Value = serde_json::from_slice(&body).unwrap();
    let challenge = said["challenge"].as_str().unwrap();
    let bytes = chalkwalk_core::job::unhex(challenge).unwrap();
    let company = site.phone.notebook.office().unwrap().company;
    let sign = |key: &ed25519_dalek::SigningKey| {
        let signature = chalkwalk_core::sync::answer_challenge(key, company, &bytes);
        let signature = chalkwalk_core::job::hex(&signature);
        json!({ "challenge": challenge, "signature": signature }).to_string()
    };
    let other = Phone::enrolled("Ben", &site.server);
    assert_eq!(
        post(at, "/token", &sign(&other.notebook.identity().key)).0,
        403
    );
    let right = sign(&site.phone.notebook.identity().key);
    assert_eq!(post(at, "/token", &right).0, 200);
    let twice = post(at, "/token", &right);
    assert_eq!(twice.0, 403);
    assert!(
        words(&twice).contains("answered before"),
        "{}",
        words(&twice)
    );
    let forged = right.replace(&challenge[..8], "00000000");
    assert_eq!(post(at, "/token", &forged).0, 403);
    assert_eq!(post(at, "/token", "{}").0, 400);
    assert_eq!(post(at, "/token/challenge", "{}").0, 400);
    // A device that never joined is given a challenge and no token.
    let stranger = Phone::new("Cy");
    let id = stranger.notebook.identity().device;
    assert_eq!(
        post(at, "/token/challenge", &json!({ "device": id }).to_string()).0,
        200
    );
    site.server.stop();
}

/// The frame of a JPEG of one pixel (ITU-T T.81, B.2.2) in a file of so many bytes.
fn small_picture(bytes: usize) -> Vec<u8> {
    let mut file = vec![
        0xff, 0xd8, 0xff, 0xc0, 0, 17, 8, 0, 1, 0, 1, 3, 1, 0x22, 0, 2, 0x11, 1, 3, 0x11, 1,
    ];
    file.resize(bytes - 2, 0);
    file.extend([0xff, 0xd9]);
    file
}

//! The office's pages with the large job: `cargo bench -p chalkwalk-tests --bench pages`.
//!
//! Each line sets the first byte of a page against the read under it in the same run. That read is
//! what a page would do that keeps nothing: the job's status and the table of what is held of it from
//! storage, and a copy of the whole job out of its open document. It is taken without HTTP, sign-in
//! and HTML, which every page has on top.
//!
//! A page is asked for three times: at once after a change to the job, when what it shows has to be
//! worked out anew; a moment after a change, when the server has done so ahead, the median of three; and again
//! with nothing new, the median of several. A bench is not a test: it prints, and marks what is over its aim.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::hint::black_box;
use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::path::Path;
use std::sync::mpsc;
use std::time::{Duration, Instant};

use chalkwalk_core::document::ChangeRow;
use chalkwalk_core::job::{JobId, Place, RecordId, Role};
use chalkwalk_core::photo::walk_order;
use chalkwalk_decoders::large::{FINDINGS, PHOTOS, large_job};
use chalkwalk_sync_server::people::entry_link;
use chalkwalk_sync_server::serve::{ServeConfig, open_hub, serve};
use tokio::sync::oneshot;

/// The memory of the server's command.
#[global_allocator]
static MEMORY: tikv_jemallocator::Jemalloc = tikv_jemallocator::Jemalloc;

/// Most of a page, times the read under it.
const AIM: f64 = 3.0;
/// Largest page, bytes of HTML.
const MOST: usize = 300_000;
const RUNS: usize = 15;
/// Longer than the server waits for more news and works ahead.
const A_MOMENT: Duration = Duration::from_millis(1_500);

fn main() {
    let folder = tempfile::tempdir().unwrap();
    let runtime = tokio::runtime::Runtime::new().unwrap();
    let job = JobId::from_bytes([1; 16]);
    let (photos, finding, place, read) = runtime.block_on(fill(folder.path(), job));
    let (stop, stopped) = oneshot::channel::<()>();
    let (tell, told) = mpsc::channel();
    let config = ServeConfig {
        data: folder.path().to_owned(),
        company: Some("Bench Roofing (invented)".to_owned()),
        ..ServeConfig::default()
    };
    let server = runtime.spawn(async move {
        let ready = move |ready| tell.send(ready).unwrap();
        serve(config, ready, async { stopped.await.unwrap_or(()) })
            .await
            .unwrap();
    });
    let at = told.recv().unwrap().pages.unwrap();
    let cookie = sign_in(at, folder.path());
    println!(
        "pages of a job of {FINDINGS} findings and {PHOTOS} photos; the read under them takes \
         {read:.2} ms, the aim is {AIM} times that"
    );
    println!(
        "{:<26} {:>10} {:>9} {:>7} {:>9} {:>7} {:>9}",
        "page", "at once ms", "later ms", "ratio", "again ms", "ratio", "bytes"
    );
    let middle = format!("/jobs/{job}/walk/{}", photos[photos.len() / 2]);
    for (name, path) in [
        ("the jobs", "/".to_owned()),
        ("the house", format!("/jobs/{job}")),
        ("the walk", format!("/jobs/{job}/walk")),
        ("a photo of the walk", middle),
        ("sides and slopes", format!("/jobs/{job}/sides")),
        (
            "one place",
            format!("/jobs/{job}/sides/{}/{}", place.kind.code(), place.id),
        ),
        ("the findings", format!("/jobs/{job}/findings")),
        ("one finding", format!("/jobs/{job}/findings/{finding}")),
        (
            "a finding's form",
            format!("/jobs/{job}/records/finding/{finding}/edit"),
        ),
        ("open points", format!("/jobs/{job}/open")),
        (
            "a question's form",
            format!("/jobs/{job}/open/ask?about=finding/{finding}"),
        ),
        ("the scope", format!("/jobs/{job}/scope")),
        (
            "what a scope is made with",
            format!("/jobs/{job}/scope/inputs"),
        ),
        ("another's scope", format!("/jobs/{job}/beside")),
        ("the production sheet", format!("/jobs/{job}/production")),
        ("the owner's account", format!("/jobs/{job}/account")),
        ("custody", format!("/jobs/{job}/custody")),
        ("who sees it", format!("/jobs/{job}/access")),
        (
            "a photo's record",
            format!("/jobs/{job}/records/photo/{}", photos[0]),
        ),
    ] {
        // Somebody has this page open when the news comes.
        let (_, bytes) = asked(at, &cookie, &path);
        change(at, &cookie, job);
        let at_once = asked(at, &cookie, &path).0.as_secs_f64() * 1e3;
        let later = median(3, || {
            change(at, &cookie, job);
            std::thread::sleep(A_MOMENT);
            asked(at, &cookie, &path).0
        });
        let again = median(RUNS, || asked(at, &cookie, &path).0);
        let (news, still) = (later / read, again / read);
        let over = if news > AIM || still > AIM || bytes > MOST {
            "  over"
        } else {
            ""
        };
        println!(
            "{name:<26} {at_once:>10.2} {later:>9.2} {news:>7.2} {again:>9.2} {still:>7.2} \
             {bytes:>9}{over}"
        );
    }
    stop.send(()).unwrap();
    runtime.block_on(server).unwrap();
}

/// Keeps the large job, and times the read under every page of it.
async fn fill(folder: &Path, job: JobId) -> (Vec<RecordId>, RecordId, Place, f64) {
    let (rep, helper, both) = large_job();
    let rows: Vec<ChangeRow> = rep.rows.iter().chain(&helper.rows).cloned().collect();
    let hub = open_hub(folder, Some("Bench Roofing (invented)"))
        .await
        .unwrap();
    for batch in rows.chunks(500) {
        hub.records().append(job, batch, &[], 1).await.unwrap();
    }
    let read = hub.read(job).await.unwrap().unwrap();
    assert_eq!(read.records.photos.len(), both.job().records.photos.len());
    let mut times = Vec::new();
    for _ in 0..RUNS {
        let began = Instant::now();
        black_box(hub.records().job(job).await.unwrap());
        black_box(hub.records().table(job).await.unwrap());
        black_box((*read).clone());
        times.push(began.elapsed());
    }
    times.sort();
    let (finding, placed) = read
        .standing_findings()
        .find(|(_, finding)| finding.place.is_some())
        .unwrap();
    let place = placed.place.clone().unwrap();
    let took = times[RUNS / 2].as_secs_f64() * 1e3;
    (walk_order(&read), finding.clone(), place, took)
}

fn median(runs: usize, mut work: impl FnMut() -> Duration) -> f64 {
    let mut times: Vec<Duration> = (0..runs).map(|_| work()).collect();
    times.sort();
    times[runs / 2].as_secs_f64() * 1e3
}

fn sign_in(at: SocketAddr, data: &Path) -> String {
    let link = entry_link(data, "Bench", Role::Estimator).unwrap();
    let path = link.path();
    let form = "name=Bench&password=four+quiet+words+here&again=four+quiet+words+here";
    let head = format!(
        "POST {path} HTTP/1.1\r\nhost: {at}\r\nconnection: close\r\nsec-fetch-site: same-origin\r\n\
         content-type: application/x-www-form-urlencoded\r\ncontent-length: {}\r\n\r\n{form}",
        form.len()
    );
    let (_, answer) = sent(at, &head);
    let set = answer
        .lines()
        .find_map(|line| line.strip_prefix("set-cookie: "))
        .unwrap();
    set.split(';').next().unwrap().to_owned()
}

/// One more part is recorded at the pages.
fn change(at: SocketAddr, cookie: &str, job: JobId) {
    let form = "component=gutter&count=2";
    let head = format!(
        "POST /jobs/{job}/records/component HTTP/1.1\r\nhost: {at}\r\nconnection: close\r\n\
         cookie: {cookie}\r\nsec-fetch-site: same-origin\r\n\
         content-type: application/x-www-form-urlencoded\r\ncontent-length: {}\r\n\r\n{form}",
        form.len()
    );
    let (_, answer) = sent(at, &head);
    assert!(
        answer.starts_with("HTTP/1.1 303"),
        "{}",
        answer.lines().next().unwrap_or("")
    );
}

/// The time to the first byte, and the bytes of the page.
fn asked(at: SocketAddr, cookie: &str, path: &str) -> (Duration, usize) {
    let head = format!(
        "GET {path} HTTP/1.1\r\nhost: {at}\r\nconnection: close\r\ncookie: {cookie}\r\n\r\n"
    );
    let (first, answer) = sent(at, &head);
    assert!(
        answer.starts_with("HTTP/1.1 200"),
        "{path}: {}",
        answer.lines().next().unwrap_or("")
    );
    let body = answer
        .split_once("\r\n\r\n")
        .map_or(0, |(_, body)| body.len());
    (first, body)
}

fn sent(at: SocketAddr, head: &str) -> (Duration, String) {
    let mut stream = TcpStream::connect(at).unwrap();
    let began = Instant::now();
    stream.write_all(head.as_bytes()).unwrap();
    let mut answer = vec![0];
    stream.read_exact(&mut answer).unwrap();
    let first = began.elapsed();
    stream.read_to_end(&mut answer).unwrap();
    (first, String::from_utf8_lossy(&answer).into_owned())
}

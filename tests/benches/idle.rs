//! What 200 jobs that were looked at once and then left alone keep of the server's memory.
//!
//!     cargo bench -p chalkwalk-tests --bench idle
//!
//! Each job has 2,000 changes. A person opens the page of each; then nobody does anything.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::Path;
use std::time::Duration;

use chalkwalk_core::job::{JobId, Role};
use chalkwalk_sync_server::people::entry_link;
use chalkwalk_sync_server::store::{Records, Snapshot, SqliteRecords};
use chalkwalk_tests::yard::{Child, Device, Http, office, rss_of, serve_here};

const JOBS: u8 = 200;
const CHANGES: usize = 2_000;
const AIM: f64 = 64.0;

/// As the command has it.
#[global_allocator]
static MEMORY: tikv_jemallocator::Jemalloc = tikv_jemallocator::Jemalloc;

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    if arguments.get(1).is_some_and(|word| word == "--ours") {
        serve_here(Path::new(&arguments[2]));
    }
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("office");
    fill(&data);
    let link = entry_link(&data, "Boss", Role::Admin).unwrap();
    let server = Child::start(&["--ours", data.to_str().unwrap()]);
    let mut http = Http::new(server.said.parse().unwrap());
    let own = "sec-fetch-site: same-origin\r\ncontent-type: application/x-www-form-urlencoded\r\n";
    let (status, head, _) = http.ask("POST", &link.path(), own, b"");
    assert_eq!(status, 303, "{head}");
    let cookie = head
        .lines()
        .find_map(|line| line.strip_prefix("set-cookie: "))
        .and_then(|cookie| cookie.split(';').next())
        .unwrap();
    let cookie = format!("cookie: {cookie}\r\n");
    let mut open = |n: u8| {
        let path = format!("/jobs/{}", JobId::from_bytes([n; 16]));
        assert_eq!(http.ask("GET", &path, &cookie, b"").0, 200);
    };
    // One job first, so that what every server has once is not counted.
    open(1);
    std::thread::sleep(Duration::from_secs(2));
    let before = rss_of(server.id());
    (1..=JOBS).for_each(&mut open);
    let megabytes = |bytes: u64| bytes as f64 / f64::from(1 << 20);
    let busy = megabytes(rss_of(server.id()).saturating_sub(before));
    std::thread::sleep(Duration::from_secs(75));
    let idle = megabytes(rss_of(server.id()).saturating_sub(before));
    let mark = if idle <= AIM { "" } else { "  missed" };
    println!(
        "{JOBS} jobs of {CHANGES} changes: {:.0} MiB before, {busy:.0} MiB more right after, {idle:.0} MiB \
         more when idle (aim {AIM} MiB){mark}",
        megabytes(before)
    );
}

/// The same changes in each job: the server keeps them apart all the same.
fn fill(data: &Path) {
    let mut device = Device::new(3, &office(data));
    device.record(CHANGES);
    let snapshot = Snapshot {
        table: device.document.table(),
        heads: device.document.heads(),
        bytes: device.document.export(),
        made_at: 7,
    };
    let runtime = tokio::runtime::Runtime::new().unwrap();
    let records = SqliteRecords::open(&data.join("records.sqlite")).unwrap();
    runtime.block_on(async {
        for n in 1..=JOBS {
            let job = JobId::from_bytes([n; 16]);
            records.append(job, &device.rows, &[], 7).await.unwrap();
            records.put_snapshot(job, &snapshot).await.unwrap();
        }
    });
}

//! How long the core itself takes for what `tests/outside/pace.py` also does through the bindings:
//! recording durably, opening the large job, taking in a photo. Prints one JSON value.

#![allow(clippy::unwrap_used, clippy::print_stdout)]

use std::path::Path;
use std::time::Instant;

use chalkwalk_core::job::{JobId, Kind, Photo, PhotoRole, Property};
use chalkwalk_core::notebook::{NewIdentity, Notebook, PhotoNote};
use chalkwalk_sync_server::env::SystemEnv;
use chalkwalk_tests::large;
use serde_json::json;

/// Actions before the clock is looked at.
const WARM: usize = 30;

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let value = match arguments[..] {
        ["large", folder] => make_large(Path::new(folder)),
        ["record", folder, count] => record(Path::new(folder), count.parse().unwrap()),
        ["open", folder, job] => open(Path::new(folder), job.parse().unwrap()),
        ["photo", folder, warm, file] => photo(Path::new(folder), warm, file),
        _ => panic_usage(),
    };
    println!("{value}");
}

fn panic_usage() -> serde_json::Value {
    json!("pace large FOLDER | record FOLDER COUNT | open FOLDER JOB | photo FOLDER WARM FILE")
}

fn create(folder: &Path) -> (Notebook, JobId) {
    let who = NewIdentity {
        person: "Ada".to_owned(),
        device_name: "phone".to_owned(),
        role: chalkwalk_core::job::Role::Crew,
    };
    let mut notebook = Notebook::create(folder, who, Box::new(SystemEnv)).unwrap();
    let house = Property {
        street: Some("12 Alder Way".to_owned()),
        ..Property::default()
    };
    let job = notebook.begin(None, house).unwrap();
    (notebook, job)
}

fn make_large(folder: &Path) -> serde_json::Value {
    let (mut notebook, job) = create(folder);
    for number in 0..large::FINDINGS {
        notebook.add(job, large::finding(number)).unwrap();
    }
    for _ in 0..large::PHOTOS {
        let photo = Photo {
            role: Some(PhotoRole::CloseUp),
            ..Photo::default()
        };
        notebook.add(job, photo).unwrap();
    }
    notebook.close().unwrap();
    json!({ "job": job })
}

fn record(folder: &Path, count: usize) -> serde_json::Value {
    let (mut notebook, job) = create(folder);
    let mut times = Vec::new();
    for number in 0..WARM + count {
        let finding = large::finding(0);
        let start = Instant::now();
        notebook.add(job, finding).unwrap();
        if number >= WARM {
            times.push(milliseconds(start));
        }
    }
    json!({ "ms": median(times) })
}

fn open(folder: &Path, job: JobId) -> serde_json::Value {
    let start = Instant::now();
    let mut notebook = Notebook::open(folder, Box::new(SystemEnv)).unwrap();
    let screen = notebook.first_screen(job).unwrap();
    let shown = screen.standing_findings().count();
    let first = milliseconds(start);
    let start = Instant::now();
    let findings = notebook.job(job).unwrap().records.findings.clone();
    assert_eq!((shown, findings.len()), (large::FINDINGS, large::FINDINGS));
    assert_eq!(Kind::Finding.label(), "finding");
    json!({ "ms": first, "all_ms": milliseconds(start) })
}

fn photo(folder: &Path, warm: &str, file: &str) -> serde_json::Value {
    let (mut notebook, job) = create(folder);
    let mut take = |file: &str| {
        let start = Instant::now();
        notebook
            .add_photo(job, Path::new(file), PhotoNote::default())
            .unwrap();
        milliseconds(start)
    };
    take(warm);
    std::fs::write("/proc/self/clear_refs", "5").unwrap();
    let before = peak_kb();
    let ms = take(file);
    json!({ "ms": ms, "peak_kb": peak_kb() - before })
}

/// The most memory that the process has held since the mark was taken back.
fn peak_kb() -> i64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status.lines().find(|line| line.starts_with("VmHWM")).unwrap();
    line.split_whitespace().nth(1).unwrap().parse().unwrap()
}

fn milliseconds(start: Instant) -> f64 {
    start.elapsed().as_secs_f64() * 1_000.0
}

fn median(mut times: Vec<f64>) -> f64 {
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}

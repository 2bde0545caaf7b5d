//! How long the core itself takes for what `tests/outside/pace.py` also does through the bindings:
//! recording durably, opening the large job, taking in a photo. Prints one JSON value.

#![allow(clippy::unwrap_used, clippy::print_stdout)]

use std::path::Path;
use std::time::{Instant, SystemTime, UNIX_EPOCH};

use chalkwalk_core::env::SeededEnv;
use chalkwalk_core::job::*;
use chalkwalk_core::notebook::{NewIdentity, Notebook, PhotoNote};
use serde_json::json;

/// Actions before those that count as warm, and how many of the first count as cold.
const WARM: usize = 500;
const COLD: usize = 20;
/// Openings before those that count as warm, and how many are measured then; the first is cold.
const OPENINGS: usize = 15;
/// The large job's size, as in the other benches.
const FINDINGS: usize = 600;
const PHOTOS: usize = 2000;

fn env() -> Box<SeededEnv> {
    let now = SystemTime::now().duration_since(UNIX_EPOCH).unwrap();
    let seed = u64::try_from(now.as_nanos() & u128::from(u64::MAX)).unwrap();
    Box::new(SeededEnv::new(seed, 1_777_381_629_331, 7_321))
}

fn finding() -> Finding {
    Finding {
        place: Some(RecordRef::side(Side::Front)),
        component: Some(Component::Gutter),
        from_left: Some(3),
        unit_name: Some("unit 4".to_owned()),
        height: Some(Length::inches(68)),
        condition: Some(Condition::Damaged),
        cause: Some(Cause::Hail),
        cause_reason: Some("Facing the storm; the lee side of the house is clean.".to_owned()),
        units: Some(3),
        units_total: Some(8),
        material: Some(Material::Aluminium),
        finish: Some(Finish::Factory),
        severity: Some(Severity::Cosmetic),
        audience: Some(Audience::Shared),
        text: Some(
            "Dents along the face of the run, round and bright at the rim. Seen from the ladder, \
             hit 1."
                .to_owned(),
        ),
        ..Finding::default()
    }
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let value = match arguments[..] {
        ["large", folder] => make_large(Path::new(folder)),
        ["record", folder, count] => record(Path::new(folder), count.parse().unwrap()),
        ["open", folder, job] => open(Path::new(folder), job.parse().unwrap()),
        ["photo", folder, warm, file] => photo(Path::new(folder), warm, file),
        _ => json!("large FOLDER | record FOLDER COUNT | open FOLDER JOB | photo FOLDER WARM FILE"),
    };
    println!("{value}");
}

fn create(folder: &Path) -> (Notebook, JobId) {
    let who = NewIdentity {
        person: "Ada".to_owned(),
        device_name: "phone".to_owned(),
        role: Role::Crew,
    };
    let mut notebook = Notebook::create(folder, who, env()).unwrap();
    let house = Property {
        street: Some("12 Alder Way".to_owned()),
        ..Property::default()
    };
    let job = notebook.begin(None, house).unwrap();
    (notebook, job)
}

fn make_large(folder: &Path) -> serde_json::Value {
    let (mut notebook, job) = create(folder);
    for _ in 0..FINDINGS {
        notebook.add(job, finding()).unwrap();
    }
    for _ in 0..PHOTOS {
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
    let mut times: Vec<f64> = (0..WARM + count)
        .map(|_| {
            let finding = finding();
            let start = Instant::now();
            notebook.add(job, finding).unwrap();
            milliseconds(start)
        })
        .collect();
    let warm = times.split_off(WARM);
    times.truncate(COLD);
    json!({ "ms": median(warm), "cold_ms": median(times) })
}

fn open(folder: &Path, job: JobId) -> serde_json::Value {
    let (mut firsts, mut alls) = (Vec::new(), Vec::new());
    for _ in 0..2 * OPENINGS {
        let start = Instant::now();
        let mut notebook = Notebook::open(folder, env()).unwrap();
        let shown = card(&notebook.first_screen(job).unwrap());
        firsts.push(milliseconds(start));
        let start = Instant::now();
        let findings = notebook.job(job).unwrap().records.findings.clone();
        assert_eq!((shown, findings.len()), ((FINDINGS, PHOTOS, 0), FINDINGS));
        alls.push(milliseconds(start));
        notebook.close().unwrap();
    }
    json!({
        "cold_ms": firsts[0], "cold_all_ms": alls[0],
        "ms": median(firsts.split_off(OPENINGS)), "all_ms": median(alls.split_off(OPENINGS)),
    })
}

/// What the bindings' card of a job tells: its findings, photos and conflicts.
fn card(job: &Job) -> (usize, usize, usize) {
    let photos = job.records.photos.values().filter(|photo| photo.stands());
    let findings = job.standing_findings().count();
    (findings, photos.count(), job.conflicts().len())
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
    let line = status
        .lines()
        .find(|line| line.starts_with("VmHWM"))
        .unwrap();
    line.split_whitespace().nth(1).unwrap().parse().unwrap()
}

fn milliseconds(start: Instant) -> f64 {
    start.elapsed().as_secs_f64() * 1_000.0
}

fn median(mut times: Vec<f64>) -> f64 {
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}

//! Batches judged in real processes: one that a batch brings down takes nothing else with it.

use std::path::Path;
use std::process::Command;
use std::time::Duration;

use chalkwalk_core::job::Side;
use chalkwalk_core::sync::Reason;
use chalkwalk_sync_server::judge::{Judge, Judging, WorkerConfig};
use chalkwalk_sync_server::limits;
use chalkwalk_sync_server::serve::ServeConfig;

use crate::stage::{Phone, Server};

const CHALKWALK: &str = env!("CARGO_BIN_EXE_chalkwalk");

fn usual() -> WorkerConfig {
    WorkerConfig::of(CHALKWALK.into())
}

fn server(data: &Path, config: WorkerConfig) -> Server {
    Server::run(ServeConfig {
        data: data.to_owned(),
        company: Some("Alder Roofing".into()),
        judging: Judging::Workers(config),
        ..ServeConfig::default()
    })
    .unwrap()
}

/// Workers that this process started and that still run.
fn workers() -> Vec<u32> {
    let me = std::process::id().to_string();
    let mut found = Vec::new();
    for entry in std::fs::read_dir("/proc").unwrap().flatten() {
        let Ok(pid) = entry.file_name().to_string_lossy().parse::<u32>() else {
            continue;
        };
        let read = |name: &str| std::fs::read_to_string(entry.path().join(name));
        let (Ok(stat), Ok(command)) = (read("stat"), read("cmdline")) else {
            continue;
        };
        // State and parent stand behind the name in brackets.
        let behind = stat.rsplit(')').next().unwrap().to_owned();
        let mut fields = behind.split_whitespace();
        let alive = fields.next() != Some("Z");
        if alive && fields.next() == Some(&me) && command.contains("judge-batches") {
            found.push(pid);
        }
    }
    found
}

/// The reasons of what lies in the quarantine.
fn reasons(data: &Path) -> Vec<String> {
    let Ok(folder) = std::fs::read_dir(data.join("quarantine")) else {
        return Vec::new();
    };
    let mut reasons = Vec::new();
    for entry in folder.flatten() {
        if entry.path().extension().is_some_and(|end| end == "json") {
            let reason: serde_json::Value =
                serde_json::from_slice(&std::fs::read(entry.path()).unwrap()).unwrap();
            let batch = entry.path().with_extension("batch");
            assert_eq!(reason["bytes"], std::fs::metadata(batch).unwrap().len());
            reasons.push(reason["reason"].as_str().unwrap().to_owned());
        }
    }
    reasons
}

#[test]
fn the_usual_worker_has_the_limits_that_are_named() {
    let usual = usual();
    assert_eq!(usual.memory, limits::WORKER_MEMORY);
    assert_eq!(usual.time, Duration::from_millis(limits::WORKER_MS));
}

#[test]
fn what_a_worker_finds_good_is_kept_and_its_documents_stay_with_it() {
    let folder = tempfile::tempdir().unwrap();
    let server = server(folder.path(), usual());
    let mut rep = Phone::enrolled("Ada", &server);
    let job = rep.begin();
    for n in 0..6 {
        rep.finding(job, Side::Front, &format!("dent {n}"));
        assert_eq!(rep.sync(&server).ending.unwrap().reason, Reason::Finished);
    }
    assert!(rep.notebook.status(job).unwrap().safe_at_office);
    assert_eq!(workers().len(), 1);
    let mut other = Phone::enrolled("Ben", &server);
    other.sync(&server);
    assert_eq!(other.heads(job), rep.heads(job));
    server.stop();
    assert!(workers().is_empty(), "workers outlive their server");
    assert!(reasons(folder.path()).is_empty());
}

#[test]
fn a_batch_past_the_memory_brings_a_worker_down_and_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let tight = WorkerConfig {
        // More than twice what a small job takes, and half of what the batch does.
        memory: 16 << 20,
        ..usual()
    };
    let narrow = server(folder.path(), tight);
    let mut rep = Phone::enrolled("Ada", &narrow);
    let small = rep.begin();
    rep.finding(small, Side::Front, "a dent");
    assert_eq!(rep.sync(&narrow).ending.unwrap().reason, Reason::Finished);

    let mut greedy = Phone::enrolled("Ben", &narrow);
    let large = greedy.begin();
    let long = "x".repeat(chalkwalk_core::limits::TEXT_BYTES);
    for _ in 0..400 {
        greedy.finding(large, Side::Rear, &long);
    }
    let ending = greedy.sync(&narrow).ending.unwrap();
    assert_eq!(ending.reason, Reason::Limit, "{ending:?}");
    assert!(!greedy.notebook.status(large).unwrap().safe_at_office);
    let reasons = reasons(folder.path());
    assert_eq!(reasons.len(), 1, "{reasons:?}");
    assert!(reasons[0].contains("out of memory"), "{reasons:?}");

    // The good document is as it was, and others go on.
    rep.finding(small, Side::Left, "another");
    assert_eq!(rep.sync(&narrow).ending.unwrap().reason, Reason::Finished);
    assert!(rep.notebook.status(small).unwrap().safe_at_office);
    narrow.stop();

    // It was no more than large: with the usual memory it is taken.
    let wide = server(folder.path(), usual());
    assert_eq!(greedy.sync(&wide).ending.unwrap().reason, Reason::Finished);
    assert!(greedy.notebook.status(large).unwrap().safe_at_office);
    let mut last = Phone::enrolled("Cy", &wide);
    last.sync(&wide);
    assert_eq!(last.heads(large), greedy.heads(large));
    assert_eq!(last.heads(small), rep.heads(small));
    wide.stop();
}

#[test]
fn a_batch_past_its_time_is_refused_and_named() {
    let folder = tempfile::tempdir().unwrap();
    let hasty = WorkerConfig {
        time: Duration::from_nanos(1),
        ..usual()
    };
    let hurried = server(folder.path(), hasty);
    let mut rep = Phone::enrolled("Ada", &hurried);
    let job = rep.begin();
    let ending = rep.sync(&hurried).ending.unwrap();
    assert_eq!(ending.reason, Reason::Limit, "{ending:?}");
    let reasons = reasons(folder.path());
    assert!(reasons[0].contains("longer than"), "{reasons:?}");
    assert!(workers().is_empty(), "the late worker still runs");
    hurried.stop();
    let patient = server(folder.path(), usual());
    assert_eq!(rep.sync(&patient).ending.unwrap().reason, Reason::Finished);
    assert!(rep.notebook.status(job).unwrap().safe_at_office);
    patient.stop();
}

#[test]
fn a_worker_that_somebody_killed_is_replaced_and_the_batch_taken() {
    let folder = tempfile::tempdir().unwrap();
    let server = server(folder.path(), usual());
    let mut rep = Phone::enrolled("Ada", &server);
    let job = rep.begin();
    rep.sync(&server);
    for n in 0..3 {
        let before = workers();
        assert_eq!(before.len(), 1);
        let mut kill = Command::new("kill");
        kill.args(["-9", &before[0].to_string()]);
        assert!(kill.status().unwrap().success());
        rep.finding(job, Side::Front, &format!("dent {n}"));
        assert_eq!(rep.sync(&server).ending.unwrap().reason, Reason::Finished);
        assert_ne!(workers(), before);
    }
    assert!(rep.notebook.status(job).unwrap().safe_at_office);
    assert!(reasons(folder.path()).is_empty());
    server.stop();
}

#[test]
fn no_more_workers_than_the_limit_and_each_job_finds_its_own() {
    let folder = tempfile::tempdir().unwrap();
    let server = server(folder.path(), usual());
    let most = limits::WORKERS + 1;
    let mut phones: Vec<Phone> = (0..most)
        .map(|n| Phone::enrolled(&format!("Person {n}"), &server))
        .collect();
    std::thread::scope(|scope| {
        for phone in &mut phones {
            let server = &server;
            scope.spawn(move || {
                // More jobs than one worker keeps.
                for _ in 0..=limits::WORKER_DOCUMENTS / 2 {
                    let job = phone.begin();
                    phone.finding(job, Side::Front, "a dent");
                    let ending = phone.sync(server).ending.unwrap();
                    assert_eq!(ending.reason, Reason::Finished, "{ending:?}");
                    assert!(phone.notebook.status(job).unwrap().safe_at_office);
                }
            });
        }
    });
    assert!((1..=limits::WORKERS).contains(&workers().len()));
    server.stop();
}

#[test]
fn without_a_program_the_server_judges_itself() {
    let missing = Judging::Workers(WorkerConfig::of("/nowhere/chalkwalk".into()));
    let reason = Judge::start(&missing).unwrap_err();
    assert!(reason.contains("No such file"), "{reason}");
    // Another program that never says that it is ready, and does not stay.
    let other = Judging::Workers(WorkerConfig::of("/bin/true".into()));
    assert!(Judge::start(&other).is_err());
    assert!(!Judge::start(&Judging::Here).unwrap().has_workers());

    let folder = tempfile::tempdir().unwrap();
    let server = server(folder.path(), WorkerConfig::of("/nowhere/chalkwalk".into()));
    let mut rep = Phone::enrolled("Ada", &server);
    let job = rep.begin();
    rep.sync(&server);
    assert!(rep.notebook.status(job).unwrap().safe_at_office);
    server.stop();
}

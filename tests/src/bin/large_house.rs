//! The large job in a real notebook, for benches of other shells: `large_house NOTEBOOK` records it
//! and prints its id; `large_house NOTEBOOK JOB` prints the milliseconds of opening it (median of 5).

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::Path;
use std::process::ExitCode;
use std::time::Instant;

use chalkwalk_core::document::{Action, Author};
use chalkwalk_core::env::EnvIds;
use chalkwalk_core::job::{JobId, Kind, Property, RecordRef};
use chalkwalk_core::notebook::Notebook;
use chalkwalk_decoders::large::{FINDINGS, PHOTOS, Recorder, finding, photo};
use chalkwalk_sync_server::env::SystemEnv;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    match arguments.as_slice() {
        [folder] => println!("{}", record(Path::new(folder))),
        [folder, job] => println!("{:.1}", open(Path::new(folder), job.parse().unwrap())),
        _ => {
            eprintln!("usage: large_house NOTEBOOK [JOB]");
            return ExitCode::from(2);
        }
    }
    ExitCode::SUCCESS
}

fn record(folder: &Path) -> JobId {
    let mut notebook = Notebook::open(folder, Box::new(SystemEnv)).unwrap();
    let property = Property {
        street: Some("1 Large Lane".into()),
        ..Property::default()
    };
    let job = notebook.begin(None, property).unwrap();
    // Captures are signed by the notebook's own device.
    let mut recorder = Recorder::new(1);
    recorder.key = notebook.identity().key.clone();
    recorder.author = Author {
        device: notebook.identity().device,
        ..recorder.author
    };
    let mut shown = 0;
    for i in 0..FINDINGS {
        let at = notebook.add(job, finding(i)).unwrap();
        while shown * FINDINGS < (i + 1) * PHOTOS && shown < PHOTOS {
            let action = Action::Add {
                id: recorder.env.record_id(),
                record: photo(&mut recorder, shown).into(),
                hits: None,
                shows: vec![RecordRef::new(Kind::Finding, at.id.clone())],
            };
            notebook.act(job, &action).unwrap();
            shown += 1;
        }
    }
    job
}

fn open(folder: &Path, job: JobId) -> f64 {
    let mut times: Vec<f64> = (0..5)
        .map(|_| {
            let mut notebook = Notebook::open(folder, Box::new(SystemEnv)).unwrap();
            let began = Instant::now();
            assert_eq!(notebook.job(job).unwrap().records.photos.len(), PHOTOS);
            began.elapsed().as_secs_f64() * 1000.0
        })
        .collect();
    times.sort_by(f64::total_cmp);
    times[2]
}

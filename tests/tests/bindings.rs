//! What apps do to the bindings that a person would not: many threads, listeners that call back,
//! two openings, a full disk, a clock set back. A mistake inside is tried in Python
//! (`tests/outside`): a thread that it stopped keeps the process's hook for panics, which Rust's own
//! tests take back at their end.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::sync::Arc;
use std::sync::atomic::{AtomicI64, AtomicU32, Ordering};

use chalkwalk::{
    ChalkwalkError, Clock, Fields, ListenerFailure, NewPhoto, Notebook, PacketChoices, PhotoNote,
    ProgressListener, UploadMeaning, UploadToken,
};
use chalkwalk_core::job::{
    Component, Elevation, Finding, Interview, JobId, Kind, Note, Property, RecordRef, Role, Side,
};
use chalkwalk_core::packet::PacketKind;

fn notebook(folder: &std::path::Path) -> Arc<Notebook> {
    let folder = folder.to_string_lossy().into_owned();
    Notebook::create(folder, "Cy".into(), "phone".into(), Role::Crew, None).unwrap()
}

fn open(folder: &std::path::Path) -> Result<Arc<Notebook>, ChalkwalkError> {
    Notebook::open(folder.to_string_lossy().into_owned(), None)
}

fn begun(notebook: &Notebook) -> JobId {
    let house = Property {
        street: Some("12 Alder Way".into()),
        ..Property::default()
    };
    notebook.begin(house, None).unwrap()
}

fn note(text: &str) -> Fields {
    Fields::Note {
        fields: Note {
            text: Some(text.into()),
            ..Note::default()
        },
    }
}

fn photo(number: usize) -> String {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/photos");
    let mut files: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "jpg"))
        .collect();
    files.sort();
    files[number].to_string_lossy().into_owned()
}

#[test]
fn eight_threads_record_at_once_and_nothing_is_lost() {
    let folder = tempfile::tempdir().unwrap();
    let notebook = notebook(folder.path());
    let job = begun(&notebook);
    std::thread::scope(|scope| {
        for thread in 0..8 {
            let notebook = &notebook;
            scope.spawn(move || {
                for number in 0..25 {
                    let text = format!("{thread}, {number}");
                    notebook.add(job, note(&text), None, None).unwrap();
                    notebook.findings(job, true).unwrap();
                    notebook.jobs().unwrap();
                }
            });
        }
    });
    assert_eq!(notebook.records(job, Kind::Note).unwrap().len(), 200);
    notebook.shut().unwrap();
    assert!(matches!(
        notebook.jobs(),
        Err(ChalkwalkError::NotOpen { .. })
    ));
    let again = open(folder.path()).unwrap();
    assert_eq!(again.records(job, Kind::Note).unwrap().len(), 200);
    // Two more: the device joined, and the job was begun.
    assert_eq!(again.history(job).unwrap().len(), 202);
}

/// Ids of what every job has from its start: `core/src/sync/DOCUMENT.md`.
#[test]
fn what_every_job_has_is_added_to_and_never_twice() {
    let folder = tempfile::tempdir().unwrap();
    let notebook = notebook(folder.path());
    let job = begun(&notebook);
    let pets = |text: &str| Fields::Interview {
        fields: Interview {
            pets: Some(text.into()),
            ..Interview::default()
        },
    };
    let first = notebook.add(job, pets("a dog"), None, None).unwrap();
    let again = notebook.add(job, pets("two dogs"), None, None).unwrap();
    assert_eq!(first.record.to_string(), "interview/house");
    assert_eq!(again.record, first.record);
    let front = Fields::Elevation {
        fields: Elevation {
            side: Some(Side::Front),
            storeys: Some(2),
            ..Elevation::default()
        },
    };
    let front = notebook.add(job, front, None, None).unwrap();
    assert_eq!(front.record, RecordRef::side(Side::Front));
    assert_eq!(notebook.records(job, Kind::Interview).unwrap().len(), 1);
    assert_eq!(notebook.records(job, Kind::Elevation).unwrap().len(), 4);
    let own = notebook.add(job, pets("a cat"), None, Some("another".parse().unwrap()));
    assert!(matches!(own, Err(ChalkwalkError::Input { .. })));
    let court = Fields::Elevation {
        fields: Elevation {
            name: Some("court".into()),
            ..Elevation::default()
        },
    };
    notebook.add(job, court, None, None).unwrap();
    assert_eq!(notebook.records(job, Kind::Elevation).unwrap().len(), 5);
}

struct CallsBack {
    notebook: Arc<Notebook>,
    job: JobId,
    heard: AtomicU32,
    fail_at: u32,
}

impl ProgressListener for CallsBack {
    fn on_progress(&self, done: u32, of: u32) -> Result<(), ListenerFailure> {
        self.heard.fetch_add(1, Ordering::SeqCst);
        let text = format!("{done} of {of}");
        let added = self.notebook.add(self.job, note(&text), None, None);
        added.map_err(|error| ListenerFailure::Failed {
            words: error.to_string(),
        })?;
        if done == self.fail_at {
            let words = "the app had enough".to_owned();
            return Err(ListenerFailure::Failed { words });
        }
        Ok(())
    }
}

#[test]
fn a_listener_may_record_and_may_stop_a_long_call() {
    let folder = tempfile::tempdir().unwrap();
    let notebook = notebook(folder.path());
    let job = begun(&notebook);
    let listener = |fail_at| {
        Arc::new(CallsBack {
            notebook: Arc::clone(&notebook),
            job,
            heard: AtomicU32::new(0),
            fail_at,
        })
    };
    let mut photos: Vec<NewPhoto> = (0..4)
        .map(|number| NewPhoto {
            path: photo(number),
            note: PhotoNote::default(),
        })
        .collect();
    photos[1].path = "nowhere.jpg".into();
    let stops = listener(3);
    let outcomes = notebook
        .add_photos(job, photos, Some(stops.clone()))
        .unwrap();
    assert_eq!(stops.heard.load(Ordering::SeqCst), 3);
    let added: Vec<bool> = outcomes.iter().map(|one| one.added.is_some()).collect();
    assert_eq!(added, [true, false, true]);
    assert!(outcomes[1].refused.is_some());

    let hears = listener(0);
    let packet = notebook
        .write_packet(
            job,
            PacketKind::Archive,
            folder.path().join("out").to_string_lossy().into_owned(),
            PacketChoices::default(),
            Some(hears.clone()),
        )
        .unwrap();
    assert!(hears.heard.load(Ordering::SeqCst) >= 2);
    assert!(std::path::Path::new(&packet.page).is_file());
    // No office vouches for this notebook yet: nothing else is wrong with its packet.
    let whole = chalkwalk::check_packet(packet.folder).unwrap();
    let other: Vec<_> = whole
        .failures
        .iter()
        .filter(|words| !words.contains("certificate") && !words.contains("signed capture"))
        .collect();
    assert!(other.is_empty(), "{other:?}");
    let unsealed = |words: &&String| words.contains("signed capture");
    assert_eq!(whole.failures.iter().filter(unsealed).count(), 2);
    let small = outcomes[0].added.as_ref().unwrap().hash;
    assert!(
        notebook
            .thumbnail(small)
            .unwrap()
            .unwrap()
            .starts_with(&[0xff, 0xd8])
    );
}

#[test]
fn a_notebook_is_open_once() {
    let folder = tempfile::tempdir().unwrap();
    let first = notebook(folder.path());
    assert!(matches!(
        open(folder.path()),
        Err(ChalkwalkError::NotOpen { .. })
    ));
    let job = begun(&first);
    drop(first);
    // Dropped without a word, as when the app is killed.
    assert_eq!(open(folder.path()).unwrap().jobs().unwrap()[0].id, job);
    let nowhere = open(&folder.path().join("nowhere"));
    assert!(matches!(nowhere, Err(ChalkwalkError::NotFound { .. })));
}

#[test]
fn a_full_disk_loses_nothing_and_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let notebook = notebook(folder.path());
    let job = begun(&notebook);
    notebook.add(job, note("before"), None, None).unwrap();
    notebook.fill_disk(true).unwrap();
    let long = "a".repeat(30_000);
    let refused = (0..20).find_map(|_| notebook.add(job, note(&long), None, None).err());
    assert!(
        matches!(refused, Some(ChalkwalkError::DiskFull { .. })),
        "{refused:?}"
    );
    let kept = notebook.records(job, Kind::Note).unwrap();
    notebook.fill_disk(false).unwrap();
    notebook.add(job, note("after"), None, None).unwrap();
    assert_eq!(
        notebook.records(job, Kind::Note).unwrap().len(),
        kept.len() + 1
    );
}

struct Turned(AtomicI64);

impl Clock for Turned {
    fn now(&self) -> Result<i64, ListenerFailure> {
        Ok(self.0.load(Ordering::SeqCst))
    }
}

#[test]
fn a_clock_set_back_neither_fails_nor_orders_anew() {
    let folder = tempfile::tempdir().unwrap();
    let clock = Arc::new(Turned(AtomicI64::new(1_777_777_777_000)));
    let path = folder.path().to_string_lossy().into_owned();
    let notebook = Notebook::create(
        path,
        "Cy".into(),
        "phone".into(),
        Role::Crew,
        Some(clock.clone()),
    )
    .unwrap();
    let job = begun(&notebook);
    let first = notebook.add(job, note("first"), None, None).unwrap();
    clock.0.store(1_000, Ordering::SeqCst);
    let second = notebook.add(job, note("second"), None, None).unwrap();
    let deeds = notebook.history(job).unwrap();
    let place = |record: &RecordRef| {
        deeds
            .iter()
            .position(|deed| deed.record.as_ref() == Some(record))
            .unwrap()
    };
    assert!(place(&first.record) < place(&second.record));
    assert_eq!(deeds[place(&second.record)].at, 1_000);
    notebook.check(job).unwrap();
}

#[test]
fn refusals_have_their_kind_and_words() {
    let folder = tempfile::tempdir().unwrap();
    let notebook = notebook(folder.path());
    let job = begun(&notebook);
    let finding = |units, units_total| Fields::Finding {
        fields: Finding {
            place: Some(RecordRef::side(Side::Front)),
            component: Some(Component::Gutter),
            units: Some(units),
            units_total: Some(units_total),
            ..Finding::default()
        },
    };
    let over = notebook.add(job, finding(3, 2), None, None);
    let Err(ChalkwalkError::Input { words }) = over else {
        panic!("{over:?}");
    };
    assert_eq!(words, "3 of 2 cannot be damaged: check both numbers");
    let missing = notebook.strike(job, "finding/none".parse().unwrap(), "a shadow".into());
    assert!(matches!(missing, Err(ChalkwalkError::NotFound { .. })));
    let token = UploadToken {
        token: String::new(),
        expires_at: 0,
    };
    let uploads = notebook.uploads(job, token);
    assert!(matches!(uploads, Err(ChalkwalkError::NotEnrolled { .. })));
    let enrolled = notebook.enrol("a menu".into());
    assert!(matches!(enrolled, Err(ChalkwalkError::Input { .. })));
}

#[test]
fn an_answer_to_an_upload_that_is_not_the_offices_frees_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let notebook = notebook(folder.path());
    let job = begun(&notebook);
    let added = notebook
        .add_photo(job, photo(0), PhotoNote::default())
        .unwrap();
    let upload = chalkwalk::Upload {
        hash: added.hash,
        job,
        method: "PUT".into(),
        url: String::new(),
        headers: Vec::new(),
        path: String::new(),
        size: added.size,
    };
    let whole = format!("{{\"held\":{},\"whole\":true}}", added.size);
    let short = format!("{{\"held\":{},\"whole\":true}}", added.size - 1);
    let ask = |status, body: &str, after: Option<&str>| {
        let after = after.map(str::to_owned);
        notebook
            .upload_answered(upload.clone(), status, body.to_owned(), after)
            .unwrap()
    };
    // No session with an office took place: its word is not known yet.
    assert_eq!(ask(201, &whole, None), UploadMeaning::SyncFirst);
    for body in ["<html>a hotel's page</html>", &short, "{}"] {
        assert_eq!(ask(200, body, None), UploadMeaning::Later { seconds: 60 });
    }
    assert_eq!(ask(0, "", None), UploadMeaning::Later { seconds: 60 });
    assert_eq!(ask(503, "", Some("7")), UploadMeaning::Later { seconds: 7 });
    assert_eq!(ask(401, "", None), UploadMeaning::NewToken);
    assert_eq!(ask(404, "", None), UploadMeaning::SyncFirst);
    let words = "ask the office".to_owned();
    let refused = ask(403, "{\"error\":\"ask the office\"}", None);
    assert_eq!(refused, UploadMeaning::Refused { words });
    assert!(!notebook.photos(job).unwrap()[0].safe_at_office);
}

//! Devices and the office: all sides hold the same, whatever is cut.

use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use chalkwalk_core::job::{BlobKind, DeviceId, JobId, Side};
use chalkwalk_core::sync::{Event, Reason};
use chalkwalk_sync_server::serve::open_hub;
use chalkwalk_sync_server::transport::{LinkError, Outcome, Then, sync_ws};

use crate::stage::{Phone, Server};

#[test]
fn two_phones_meet_at_the_office() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let (mut rep, mut helper) = (
        Phone::enrolled("Ada", &server),
        Phone::enrolled("Ben", &server),
    );
    let job = rep.begin();
    rep.finding(job, Side::Front, "hail on the gutter");
    rep.photo(job, Side::Front, 1, 600);
    let sent = rep.sync(&server);
    assert_eq!(sent.ending.unwrap().reason, Reason::Finished);
    assert_eq!(
        (sent.progress.thumbnails_sent, sent.progress.originals_sent),
        (1, 1)
    );
    assert!(rep.notebook.status(job).unwrap().safe_at_office);

    let taken = helper.sync(&server);
    assert_eq!(
        (
            taken.progress.thumbnails_taken,
            taken.progress.originals_taken
        ),
        (1, 1)
    );
    assert_eq!(helper.heads(job), rep.heads(job));
    helper.finding(job, Side::Rear, "shutter");
    helper.photo(job, Side::Rear, 2, 300);
    helper.sync(&server);
    assert_ne!(helper.heads(job), rep.heads(job));
    rep.sync(&server);
    assert_eq!(helper.heads(job), rep.heads(job));
    assert_eq!(
        rep.notebook.job(job).unwrap(),
        helper.notebook.job(job).unwrap()
    );

    // Nothing new: nothing crosses but the greeting.
    let nothing = rep.sync(&server);
    assert_eq!(
        (
            nothing.progress.changes_sent,
            nothing.progress.changes_taken
        ),
        (0, 0)
    );
    let heads = rep.heads(job);
    server.stop();
    let at_office = office_heads(folder.path(), job);
    assert_eq!(at_office, heads);
}

fn office_heads(data: &std::path::Path, job: chalkwalk_core::job::JobId) -> Vec<[u8; 32]> {
    let runtime = tokio::runtime::Runtime::new().unwrap();
    runtime.block_on(async {
        let hub = open_hub(data, None).await.unwrap();
        let all = hub
            .records()
            .lacking(job, &Default::default(), usize::MAX)
            .await
            .unwrap();
        let mut document = chalkwalk_core::document::Document::new().unwrap();
        document.replay(&all).unwrap();
        assert_eq!(
            hub.read(job).await.unwrap().as_deref(),
            Some(document.job())
        );
        document.heads()
    })
}

#[test]
fn an_upload_that_is_cut_goes_on_where_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let mut rep = Phone::enrolled("Ada", &server);
    let job = rep.begin();
    for seed in 1..=3 {
        rep.photo(job, Side::Front, seed, 900);
    }
    let cut = rep
        .sync_until(&server, &mut |event| match event {
            Event::PeerKeptFile {
                kind: BlobKind::Original,
                ..
            } => Then::Cut,
            _ => Then::GoOn,
        })
        .unwrap();
    assert_eq!(cut.ending, None);
    assert!(!rep.notebook.status(job).unwrap().safe_at_office);
    let rest = rep.sync(&server);
    assert!(rest.progress.originals_sent < 3, "{:?}", rest.progress);
    assert_eq!(rest.progress.changes_sent, 0);
    assert!(rep.notebook.status(job).unwrap().safe_at_office);
    server.stop();
}

/// A phone that stays connected until it has taken an original. Returns once all is exchanged that
/// there was.
fn stays(mut phone: Phone, server: &Server) -> JoinHandle<(Phone, Outcome)> {
    let mut config = phone.notebook.session(true, None, true).unwrap();
    config.live = true;
    let address = server.address();
    let (told, settled) = std::sync::mpsc::channel();
    let listening = std::thread::spawn(move || {
        let outcome = sync_ws(
            &address,
            &mut phone.notebook,
            config,
            &mut |event| match event {
                Event::TookFile {
                    kind: BlobKind::Original,
                    ..
                } => Then::Leave,
                event => {
                    // Nobody listens after the first time.
                    let _ = matches!(event, Event::Settled).then(|| told.send(()));
                    Then::GoOn
                }
            },
        );
        (phone, outcome.unwrap())
    });
    settled.recv().unwrap();
    listening
}

#[test]
fn a_live_phone_gets_a_job_as_soon_as_it_is_assigned() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let mut rep = Phone::enrolled("Ada", &server);
    let mut helper = Phone::enrolled("Ben", &server);
    let assign = |job: JobId, phone: DeviceId| {
        let form = format!("device={phone}");
        let path = format!("/jobs/{job}/assign");
        assert_eq!(server.admin().post(&path, &form).0, 303);
    };
    let job = rep.begin();
    rep.photo(job, Side::Left, 7, 300);
    rep.sync(&server);
    assign(job, rep.notebook.identity().device);
    helper.sync(&server);
    assert!(helper.notebook.jobs().unwrap().is_empty());

    let device = helper.notebook.identity().device;
    let listening = stays(helper, &server);
    assign(job, device);
    let (mut helper, outcome) = listening.join().unwrap();
    assert_eq!(outcome.progress.originals_taken, 1);
    assert_eq!(helper.heads(job), rep.heads(job));
    server.stop();
}

#[test]
fn a_live_phone_hears_what_another_brings() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let mut rep = Phone::enrolled("Ada", &server);
    let mut helper = Phone::enrolled("Ben", &server);
    let job = rep.begin();
    rep.sync(&server);
    helper.sync(&server);
    let listening = stays(helper, &server);
    rep.finding(job, Side::Left, "screen");
    rep.photo(job, Side::Left, 7, 300);
    rep.sync(&server);
    let (mut helper, outcome) = listening.join().unwrap();
    let progress = outcome.progress;
    assert_eq!((progress.changes_taken, progress.originals_taken), (2, 1));
    assert_eq!(helper.heads(job), rep.heads(job));
    server.stop();
}

#[test]
fn a_server_that_stops_says_goodbye_to_live_phones() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let mut helper = Phone::enrolled("Ben", &server);
    let mut config = helper.notebook.session(true, None, true).unwrap();
    config.live = true;
    let address = server.address();
    let (told, settled) = std::sync::mpsc::channel();
    let listening = std::thread::spawn(move || {
        sync_ws(&address, &mut helper.notebook, config, &mut |event| {
            if matches!(event, Event::Settled) {
                told.send(()).unwrap();
            }
            Then::GoOn
        })
    });
    settled.recv().unwrap();
    let began = Instant::now();
    server.stop();
    assert!(
        began.elapsed() < Duration::from_secs(4),
        "{:?}",
        began.elapsed()
    );
    let ending = listening.join().unwrap().unwrap().ending.unwrap();
    assert_eq!((ending.reason, ending.by_peer), (Reason::Finished, true));
}

#[test]
fn a_device_that_was_shut_out_and_one_of_another_office_get_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let mut rep = Phone::enrolled("Ada", &server);
    let job = rep.begin();
    rep.sync(&server);
    let runtime = tokio::runtime::Runtime::new().unwrap();
    let device = rep.notebook.identity().device;
    runtime.block_on(async {
        let hub = open_hub(folder.path(), None).await.unwrap();
        assert!(hub.revoke(device).await.unwrap());
    });
    rep.finding(job, Side::Front, "late");
    let outcome = rep.sync(&server);
    assert_eq!(outcome.ending.unwrap().reason, Reason::Forbidden);
    assert_eq!(outcome.progress.changes_kept_by_peer, 0);

    let elsewhere = tempfile::tempdir().unwrap();
    let other = Server::start(elsewhere.path());
    let mut stranger = Phone::enrolled("Cy", &other);
    stranger.begin();
    let outcome = stranger.sync(&server);
    assert_eq!(outcome.ending.unwrap().reason, Reason::Identity);
    other.stop();
    server.stop();
}

#[test]
fn an_address_where_nobody_answers_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let mut rep = Phone::enrolled("Ada", &server);
    let address = server.address();
    server.stop();
    let mut sync = |address: &str| {
        let config = rep.notebook.session(true, None, true).unwrap();
        sync_ws(address, &mut rep.notebook, config, &mut |_| Then::GoOn)
    };
    assert!(matches!(sync(&address), Err(LinkError::Unreachable { .. })));
    assert!(matches!(sync("not an address"), Err(LinkError::Address(_))));
    assert!(matches!(
        sync("ftp://192.0.2.7"),
        Err(LinkError::Address(_))
    ));
}

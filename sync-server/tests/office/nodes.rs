//! Two nodes on one database: any takes any write, and each hears of the other's, hints or none.

use std::path::Path;
use std::sync::mpsc;
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use chalkwalk_core::job::{BlobKind, Side};
use chalkwalk_core::sync::Event;
use chalkwalk_sync_server::serve::{Keeping, ServeConfig, open_hub_on};
use chalkwalk_sync_server::storage::Storage;
use chalkwalk_sync_server::transport::{LinkError, Outcome, Then, sync_ws};

use crate::engines;
use crate::stage::{Phone, Server};

/// Two nodes that share a database, and a bucket or else a folder.
pub(crate) struct Pair {
    pub(crate) one: Server,
    pub(crate) two: Server,
    pub(crate) storage: Storage,
    pub(crate) folder: tempfile::TempDir,
}

pub(crate) fn pair(settings: &str, bucket: bool) -> Option<Pair> {
    keeping(settings, bucket, Keeping::default())
}

/// Two nodes whose company may keep so much.
pub(crate) fn keeping(settings: &str, bucket: bool, keeping: Keeping) -> Option<Pair> {
    let (database, s3) = (engines::postgres()?, engines::bucket()?);
    let folder = tempfile::tempdir().unwrap();
    let name = engines::own_name(folder.path());
    let records = format!("{database}?schema={name}{settings}");
    let blobs = if bucket {
        s3.replace('?', &format!("/{name}?"))
    } else {
        format!("file://{}", folder.path().join("photos").display())
    };
    let storage = Storage::parse(Some(&records), Some(&blobs)).unwrap();
    let node = |name: &str| {
        let config = ServeConfig {
            data: folder.path().join(name),
            storage: storage.clone(),
            company: Some("Alder Roofing".into()),
            keeping,
            ..ServeConfig::default()
        };
        Server::run(config).unwrap()
    };
    let one = node("one");
    copy_keys(&folder.path().join("one"), &folder.path().join("two"));
    let two = node("two");
    Some(Pair {
        one,
        two,
        storage,
        folder,
    })
}

pub(crate) fn copy_keys(from: &Path, to: &Path) {
    std::fs::create_dir_all(to.join("keys")).unwrap();
    for name in ["office.key", "server.key"] {
        std::fs::copy(from.join("keys").join(name), to.join("keys").join(name)).unwrap();
    }
}

type Listening = JoinHandle<(Phone, Result<Outcome, LinkError>)>;

/// A live session that ends after so many originals; done once it is settled.
fn listen(server: &Server, mut phone: Phone, originals: usize) -> Listening {
    let mut config = phone.notebook.session(true, None, true).unwrap();
    config.live = true;
    let address = server.address();
    let (told, settled) = mpsc::channel();
    let listening = std::thread::spawn(move || {
        let (mut settled_once, mut taken) = (false, 0);
        let outcome = sync_ws(&address, &mut phone.notebook, config, &mut |event| {
            match event {
                Event::Settled if !settled_once => {
                    settled_once = true;
                    told.send(()).unwrap();
                }
                Event::TookFile {
                    kind: BlobKind::Original,
                    ..
                } => taken += 1,
                _ => {}
            }
            if taken >= originals {
                Then::Leave
            } else {
                Then::GoOn
            }
        });
        (phone, outcome)
    });
    settled.recv().unwrap();
    listening
}

fn each_hears_the_other(pair: Pair) {
    let (mut ada, mut ben) = (
        Phone::enrolled("Ada", &pair.one),
        Phone::enrolled("Ben", &pair.two),
    );
    let job = ada.begin();
    ada.sync(&pair.one);
    ben.sync(&pair.two);
    assert_eq!(ada.heads(job), ben.heads(job));
    for turn in 0..2_u8 {
        // Listens at one node while the other phone writes through the other.
        let (here, there) = if turn == 0 {
            (&pair.two, &pair.one)
        } else {
            (&pair.one, &pair.two)
        };
        let listening = listen(here, ben, 1);
        ada.finding(job, Side::Left, &format!("screen {turn}"));
        ada.photo(job, Side::Left, 7 + turn, 300);
        ada.sync(there);
        let (listened, outcome) = listening.join().unwrap();
        ben = listened;
        let progress = outcome.unwrap().progress;
        assert_eq!((progress.changes_taken, progress.originals_taken), (2, 1));
        assert_eq!(ben.heads(job), ada.heads(job));
    }
    pair.one.stop();
    pair.two.stop();
}

#[test]
fn a_session_hears_what_the_other_node_took_in() {
    if let Some(pair) = pair("", true) {
        each_hears_the_other(pair);
    }
}

#[test]
fn a_session_hears_it_without_any_hint() {
    if let Some(pair) = pair("&hints=off", false) {
        each_hears_the_other(pair);
    }
}

#[test]
fn a_device_that_is_shut_out_at_one_node_is_cut_off_at_the_other() {
    let Some(pair) = pair("&hints=off", false) else {
        return;
    };
    let ben = Phone::enrolled("Ben", &pair.two);
    let device = ben.notebook.identity().device;
    let listening = listen(&pair.two, ben, usize::MAX);
    let runtime = tokio::runtime::Runtime::new().unwrap();
    let began = Instant::now();
    runtime.block_on(async {
        let hub = open_hub_on(&pair.one.data, &pair.storage, None)
            .await
            .unwrap();
        assert!(hub.revoke(device).await.unwrap());
    });
    let (_, outcome) = listening.join().unwrap();
    assert!(outcome.unwrap().ending.is_some());
    assert!(
        began.elapsed() < Duration::from_secs(15),
        "{:?}",
        began.elapsed()
    );
    pair.one.stop();
    pair.two.stop();
}

/// Partial uploads are a node's own: at another the file starts again, and nothing that was
/// acknowledged is lost.
#[test]
fn a_phone_that_changes_nodes_in_mid_upload_ends_with_everything_there() {
    let Some(pair) = pair("", true) else { return };
    let mut ada = Phone::enrolled("Ada", &pair.one);
    let job = ada.begin();
    for seed in 1..=3 {
        ada.photo(job, Side::Front, seed, 900);
    }
    let cut = ada
        .sync_until(&pair.one, &mut |event| match event {
            Event::PeerKeptFile {
                kind: BlobKind::Original,
                ..
            } => Then::Cut,
            _ => Then::GoOn,
        })
        .unwrap();
    assert_eq!(cut.ending, None);
    pair.one.stop();
    let rest = ada.sync(&pair.two);
    assert_eq!(rest.progress.changes_sent, 0);
    assert!(rest.progress.originals_sent < 3, "{:?}", rest.progress);
    assert!(ada.notebook.status(job).unwrap().safe_at_office);
    // The first node comes back and has all of it.
    let one = Server::on(&pair.folder.path().join("one"), pair.storage.clone());
    let mut ben = Phone::enrolled("Ben", &one);
    let taken = ben.sync(&one);
    assert_eq!(taken.progress.originals_taken, 3);
    assert_eq!(ben.heads(job), ada.heads(job));
    one.stop();
    pair.two.stop();
}

/// Both nodes take changes of one job at the same time, again and again.
#[test]
fn two_phones_that_write_one_job_through_two_nodes_agree() {
    let Some(pair) = pair("", false) else { return };
    let mut ada = Phone::enrolled("Ada", &pair.one);
    let mut ben = Phone::enrolled("Ben", &pair.two);
    let job = ada.begin();
    ada.sync(&pair.one);
    ben.sync(&pair.two);
    std::thread::scope(|scope| {
        for (phone, server, side) in [
            (&mut ada, &pair.one, Side::Left),
            (&mut ben, &pair.two, Side::Right),
        ] {
            scope.spawn(move || {
                for n in 0..8_u8 {
                    phone.finding(job, side, &format!("finding {n}"));
                    if n % 4 == 0 {
                        let seed = 20 + n + 40 * u8::from(side == Side::Left);
                        phone.photo(job, side, seed, 200);
                    }
                    let sent = phone.sync(server);
                    let reason = sent.ending.unwrap().reason;
                    assert_eq!(reason, chalkwalk_core::sync::Reason::Finished);
                }
            });
        }
    });
    ada.sync(&pair.two);
    ben.sync(&pair.one);
    assert_eq!(ada.heads(job), ben.heads(job));
    for phone in [&mut ada, &mut ben] {
        assert!(phone.notebook.status(job).unwrap().safe_at_office);
    }
    pair.one.stop();
    pair.two.stop();
}

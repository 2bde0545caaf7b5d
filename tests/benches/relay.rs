//! A document of 2,000 changes handed in to a server that has none of it, and one more change
//! passed on to eight readers, against the general-purpose library for relaying such documents.
//!
//!     cargo bench -p chalkwalk-tests --bench relay
//!
//! Each server runs in a process of its own. Ours proves who speaks, judges every change, checks
//! its signature and has it on the disk before it acknowledges and passes it on; the baseline does
//! none of the first three, and its storage flushes what it is given to the disk as well. Of
//! processor time the server's own is counted; what its gate takes of it is shown apart, as the
//! server itself tells it in its metrics.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::collections::HashMap;
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, mpsc};
use std::time::{Duration, Instant};

use automerge::{Automerge, ChangeHash, ReadDoc};
use chalkwalk_core::document::{ChangeRow, Document};
use chalkwalk_core::sync::{Event, Session};
use chalkwalk_sync_server::env::now;
use chalkwalk_sync_server::transport::{Then, sync_ws};
use chalkwalk_tests::yard::{Child, Device, Ear, Http, cpu_of, line, office, serve_here};
use futures_util::StreamExt;
use samod::storage::StorageKey;
use samod::tokio_io::TcpDialer;
use samod::{BackoffConfig, DocHandle, Repo};
use tokio::runtime::Runtime;
use tokio_tungstenite::tungstenite::{Message, WebSocket, client};

const CHANGES: usize = 2_000;
const READERS: usize = 8;
const MORE: usize = 30;
const ROUNDS: usize = 10;

/// As the command has it.
#[global_allocator]
static MEMORY: tikv_jemallocator::Jemalloc = tikv_jemallocator::Jemalloc;

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    match arguments.get(1).map(String::as_str) {
        Some("--ours") => serve_here(Path::new(&arguments[2])),
        Some("--baseline") => relay(Path::new(&arguments[2])),
        _ => {}
    }
    let folder = tempfile::tempdir().unwrap();
    let keys = folder.path().join("keys");
    let mut device = Device::new(3, &office(&keys));
    device.record(CHANGES + MORE);
    let (mut ours, mut base) = (Round::default(), Round::default());
    for round in 0..ROUNDS {
        let at = |name: &str| folder.path().join(format!("{name}-{round}"));
        base.add(&baseline(&at("baseline"), &device));
        ours.add(&of_ours(&at("ours"), &keys, &device));
    }
    let gate = ours.gate / ROUNDS as f64;
    println!(
        "{CHANGES} changes cold, mean of {ROUNDS}; then {MORE} one by one to {READERS} readers, best of {ROUNDS}"
    );
    let (all, theirs) = (ours.mean(), base.mean());
    line(
        "server's processor, cold upload, the gate apart",
        all - gate,
        theirs,
        "ms",
        1.0,
        false,
    );
    // It has a copy of the document, applies to it, reads it, and has it read back.
    println!(
        "  the gate takes {gate:.0} ms more, {all:.0} ms in all: {:.2} of the baseline, which has none",
        all / theirs
    );
    line(
        "one change until all readers have it",
        ours.passed_on,
        base.passed_on,
        "ms",
        1.0,
        false,
    );
}

/// What the rounds of one server came to, milliseconds.
struct Round {
    /// Processor of the cold uploads, together: one alone is told in steps of 10 ms.
    cold: f64,
    /// Of it that of the gate; none at the baseline.
    gate: f64,
    /// The least median of one change to all readers.
    passed_on: f64,
}

impl Default for Round {
    fn default() -> Self {
        Self {
            cold: 0.0,
            gate: 0.0,
            passed_on: f64::MAX,
        }
    }
}

impl Round {
    fn add(&mut self, round: &Self) {
        self.cold += round.cold;
        self.gate += round.gate;
        self.passed_on = self.passed_on.min(round.passed_on);
    }

    fn mean(&self) -> f64 {
        self.cold / ROUNDS as f64
    }
}

fn millis(duration: Duration) -> f64 {
    duration.as_secs_f64() * 1e3
}

fn median(mut times: Vec<f64>) -> f64 {
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}

/// Processor time that a server's gate has taken since its start, milliseconds.
fn gate_of(port: &str) -> f64 {
    let mut http = Http::new(port.parse().unwrap());
    let (status, _, text) = http.ask("GET", "/metrics", "", b"");
    let text = String::from_utf8(text).unwrap();
    assert_eq!(status, 200, "{text}");
    let name = "chalkwalk_judging_cpu_seconds_total ";
    let told = text.lines().find_map(|line| line.strip_prefix(name));
    told.unwrap().parse::<f64>().unwrap() * 1e3
}

/// Processor of the cold upload, and the median time of one change to all readers, milliseconds.
fn of_ours(data: &Path, keys: &Path, device: &Device) -> Round {
    for name in ["records.sqlite", "keys/office.key", "keys/server.key"] {
        let to = data.join(name);
        std::fs::create_dir_all(to.parent().unwrap()).unwrap();
        std::fs::copy(keys.join(name), to).unwrap();
    }
    let server = Child::start(&["--ours", data.to_str().unwrap()]);
    let address = format!("127.0.0.1:{}", server.said);
    let before = cpu_of(server.id());
    let mut cold = ear(device, &device.rows[..CHANGES]);
    let go_on = &mut |_: &Event| Then::GoOn;
    let sent = sync_ws(&address, &mut cold, device.session(false), go_on).unwrap();
    assert_eq!(sent.progress.changes_sent, CHANGES as u64);
    let cpu = millis(cpu_of(server.id()) - before);
    let gate = gate_of(&server.said);

    let (heard, hears) = mpsc::channel();
    let (settled, settles) = mpsc::channel();
    for _ in 0..READERS {
        let (address, heard, settled) = (address.clone(), heard.clone(), settled.clone());
        let mut reader = ear(device, &device.rows[..CHANGES]);
        let config = device.session(true);
        std::thread::spawn(move || {
            // Ends with the server.
            let _ = sync_ws(&address, &mut reader, config, &mut |event| {
                match event {
                    Event::Settled => settled.send(()).unwrap_or(()),
                    Event::Took { .. } => heard.send(Instant::now()).unwrap_or(()),
                    _ => {}
                }
                Then::GoOn
            });
        });
    }
    for _ in 0..READERS {
        settles.recv().unwrap();
    }
    let mut writer = Writer::open(&address, device);
    let mut times = Vec::new();
    for n in CHANGES..CHANGES + MORE {
        let began = Instant::now();
        writer.send(&device.rows[n]);
        let last = (0..READERS).map(|_| hears.recv().unwrap()).max().unwrap();
        times.push(millis(last - began));
        writer.hear_out();
    }
    Round {
        cold: cpu,
        gate,
        passed_on: median(times),
    }
}

fn ear(device: &Device, rows: &[ChangeRow]) -> Ear {
    Ear {
        job: device.job,
        rows: rows.to_vec(),
        signed: device.signed.clone(),
    }
}

/// A live session that sends one change after the other.
struct Writer {
    session: Session,
    ear: Ear,
    socket: WebSocket<TcpStream>,
}

impl Writer {
    fn open(address: &str, device: &Device) -> Self {
        let stream = TcpStream::connect(address).unwrap();
        stream.set_nodelay(true).unwrap();
        let (socket, _) = client(format!("ws://{address}/sync"), stream).unwrap();
        let mut writer = Self {
            session: Session::new(device.session(true), now()).unwrap(),
            ear: ear(device, &device.rows[..CHANGES]),
            socket,
        };
        writer.until(|event| matches!(event, Event::Settled));
        writer
    }

    fn send(&mut self, row: &ChangeRow) {
        self.ear.rows.push(row.clone());
        self.session.wake(self.ear.job);
        self.say();
    }

    fn hear_out(&mut self) {
        self.until(|event| matches!(event, Event::PeerKept { .. }));
    }

    fn say(&mut self) {
        while let Some(frame) = self.session.poll_outgoing(&mut self.ear) {
            self.socket.send(Message::binary(frame)).unwrap();
        }
    }

    fn until(&mut self, wanted: impl Fn(&Event) -> bool) {
        loop {
            self.say();
            while let Some(event) = self.session.poll_event() {
                if wanted(&event) {
                    return;
                }
            }
            if let Message::Binary(frame) = self.socket.read().unwrap() {
                self.session.receive(&mut self.ear, &frame, now());
            }
        }
    }
}

/// The same with the baseline.
fn baseline(folder: &Path, device: &Device) -> Round {
    let mut before = Document::new().unwrap();
    before.replay(&device.rows[..CHANGES]).unwrap();
    let document = Automerge::load(&before.save()).unwrap();
    let server = Child::start(&["--baseline", folder.to_str().unwrap()]);
    let port: u16 = server.said.parse().unwrap();
    let runtime = Runtime::new().unwrap();
    runtime.block_on(async {
        let writer = Repo::build_tokio().load().await;
        let handle = writer.create(document).await.unwrap();
        let cpu_before = cpu_of(server.id());
        let link = dial(&writer, port);
        link.established().await.unwrap();
        let connection = link.connection_id().unwrap();
        handle.they_have_our_changes(connection).await;
        // What it was given goes to its storage after it was heard.
        settle(server.id()).await;
        let cpu = millis(cpu_of(server.id()) - cpu_before);

        let mut readers: Vec<(Repo, DocHandle)> = Vec::new();
        for _ in 0..READERS {
            let reader = Repo::build_tokio().load().await;
            dial(&reader, port).established().await.unwrap();
            let found = reader.find(handle.document_id().clone()).await.unwrap();
            readers.push((reader, found.unwrap()));
        }
        let mut times = Vec::new();
        for row in &device.rows[CHANGES..CHANGES + MORE] {
            let change = automerge::Change::from_bytes(row.bytes.clone()).unwrap();
            let hash = change.hash();
            let waits: Vec<_> = readers
                .iter()
                .map(|(_, doc)| has(doc.clone(), hash))
                .collect();
            let waits: Vec<_> = waits.into_iter().map(tokio::spawn).collect();
            tokio::time::sleep(Duration::from_millis(20)).await;
            let began = Instant::now();
            handle.with_document(|document| document.apply_changes([change]).unwrap());
            let mut last = began;
            for wait in waits {
                last = last.max(wait.await.unwrap());
            }
            times.push(millis(last - began));
        }
        Round {
            cold: cpu,
            gate: 0.0,
            passed_on: median(times),
        }
    })
}

/// Waits until a process has done nothing for a moment.
async fn settle(process: u32) {
    let mut last = cpu_of(process);
    loop {
        tokio::time::sleep(Duration::from_millis(300)).await;
        let now = cpu_of(process);
        if now == last {
            return;
        }
        last = now;
    }
}

/// The moment at which a document has a change.
async fn has(document: DocHandle, hash: ChangeHash) -> Instant {
    let mut changes = std::pin::pin!(document.changes());
    loop {
        if document.with_document(|held| held.get_change_by_hash(&hash).is_some()) {
            return Instant::now();
        }
        changes.next().await.unwrap();
    }
}

fn dial(repo: &Repo, port: u16) -> samod::DialerHandle {
    let dialer = TcpDialer::new_host_port("127.0.0.1".to_owned(), port);
    repo.dial(BackoffConfig::default(), Arc::new(dialer))
        .unwrap()
}

/// The baseline's server.
fn relay(folder: &Path) -> ! {
    let folder = folder.to_owned();
    Runtime::new().unwrap().block_on(async move {
        std::fs::create_dir_all(&folder).unwrap();
        let storage = Flushed {
            folder: Arc::new(folder),
            held: Arc::default(),
        };
        let repo = Repo::build_tokio().with_storage(storage).load().await;
        let listener = tokio::net::TcpListener::bind(("127.0.0.1", 0))
            .await
            .unwrap();
        let port = listener.local_addr().unwrap().port();
        let url = url::Url::parse(&format!("tcp://127.0.0.1:{port}")).unwrap();
        let acceptor = repo.make_acceptor(url).unwrap();
        println!("{port}");
        loop {
            let (stream, _) = listener.accept().await.unwrap();
            stream.set_nodelay(true).unwrap();
            acceptor.accept_tokio_io(stream).unwrap();
        }
    })
}

/// Storage that flushes each value and its folder to the disk.
#[derive(Clone)]
struct Flushed {
    folder: Arc<PathBuf>,
    held: Arc<Mutex<HashMap<StorageKey, Vec<u8>>>>,
}

impl Flushed {
    fn path(&self, key: &StorageKey) -> PathBuf {
        let name = blake3::hash(key.to_string().as_bytes());
        self.folder.join(name.to_hex().as_str())
    }
}

impl samod::storage::Storage for Flushed {
    async fn load(&self, key: StorageKey) -> Option<Vec<u8>> {
        self.held.lock().unwrap().get(&key).cloned()
    }

    async fn load_range(&self, prefix: StorageKey) -> HashMap<StorageKey, Vec<u8>> {
        let held = self.held.lock().unwrap();
        let within = held.iter().filter(|(key, _)| prefix.is_prefix_of(key));
        within
            .map(|(key, value)| (key.clone(), value.clone()))
            .collect()
    }

    async fn put(&self, key: StorageKey, data: Vec<u8>) {
        let (path, folder) = (self.path(&key), Arc::clone(&self.folder));
        self.held.lock().unwrap().insert(key, data.clone());
        let written = tokio::task::spawn_blocking(move || {
            use std::io::Write;
            let mut file = std::fs::File::create(path).unwrap();
            file.write_all(&data).unwrap();
            file.sync_data().unwrap();
            std::fs::File::open(&*folder).unwrap().sync_all().unwrap();
        });
        written.await.unwrap();
    }

    async fn delete(&self, key: StorageKey) {
        self.held.lock().unwrap().remove(&key);
        // It may be gone.
        let _ = tokio::fs::remove_file(self.path(&key)).await;
    }
}

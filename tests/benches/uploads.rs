//! Durable photo uploads against a bare handler that does what durability takes and no more.
//!
//!     cargo bench -p chalkwalk-tests --bench uploads
//!
//! Both servers run in a process of their own and take the same files over the same number of
//! connections. The bare one hashes, writes, flushes the file, renames it and flushes the folder.
//! Ours also checks the token, the job and the photo, and writes down that the file is whole and
//! who handed it in, durably.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::Instant;

use axum::Router;
use axum::body::Body;
use axum::extract::{DefaultBodyLimit, State};
use axum::http::StatusCode;
use axum::routing::put;
use chalkwalk_core::job::PhotoHash;
use chalkwalk_tests::yard::{Child, Device, Http, line, office, serve_here, token};
use futures_util::StreamExt;

/// As the command has it.
#[global_allocator]
static MEMORY: tikv_jemallocator::Jemalloc = tikv_jemallocator::Jemalloc;

const FILES: usize = 48;
const BYTES: usize = 3_000_000;
const ROUNDS: usize = 4;

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    match arguments.get(1).map(String::as_str) {
        Some("--ours") => serve_here(Path::new(&arguments[2])),
        Some("--bare") => bare(Path::new(&arguments[2])),
        _ => {}
    }
    let files: Vec<Vec<u8>> = (0..FILES as u64).map(noise).collect();
    // Folders stay to the end: some file systems are slow to make files where many have just gone.
    let all = tempfile::tempdir().unwrap();
    let count = std::cell::Cell::new(0);
    let fresh = || {
        count.set(count.get() + 1);
        all.path().join(count.get().to_string())
    };
    println!("{FILES} files of {BYTES} bytes, megabytes a second, best of {ROUNDS}");
    for connections in [1, 4] {
        let (mut ours, mut baseline) = (0.0_f64, 0.0_f64);
        for _ in 0..ROUNDS {
            baseline = baseline.max(round(&fresh(), &files, connections, false));
            ours = ours.max(round(&fresh(), &files, connections, true));
        }
        let what = format!("uploads over {connections} connections");
        line(&what, ours, baseline, "MB/s", 0.85, true);
    }
}

fn noise(n: u64) -> Vec<u8> {
    let mut file = vec![0; BYTES];
    blake3::Hasher::new()
        .update(&n.to_le_bytes())
        .finalize_xof()
        .fill(&mut file);
    file
}

/// Megabytes a second into a fresh folder.
fn round(folder: &Path, files: &[Vec<u8>], connections: usize, ours: bool) -> f64 {
    let data = folder.join("office");
    let at = data.to_str().unwrap();
    std::fs::create_dir_all(&data).unwrap();
    let (server, headers, query);
    if ours {
        let office = office(&data);
        let mut device = Device::new(3, &office);
        device.photos(files);
        hand_in(&data, &device);
        server = Child::start(&["--ours", at]);
        let token = token(server.said.parse().unwrap(), &device);
        headers = format!("authorization: Bearer {token}\r\n");
        query = format!("?job={}", device.job);
    } else {
        server = Child::start(&["--bare", at]);
        (headers, query) = (String::new(), String::new());
    }
    let port = server.said.parse().unwrap();
    let began = Instant::now();
    std::thread::scope(|scope| {
        for turn in 0..connections {
            let (headers, query) = (&headers, &query);
            scope.spawn(move || {
                let mut http = Http::new(port);
                for file in files.iter().skip(turn).step_by(connections) {
                    let path = format!("/photos/{}{query}", PhotoHash::of(file));
                    let said = http.ask("PUT", &path, headers, file);
                    assert_eq!(said.0, 201, "{}", String::from_utf8_lossy(&said.2));
                }
            });
        }
    });
    (files.len() * BYTES) as f64 / 1e6 / began.elapsed().as_secs_f64()
}

/// Hands in the changes that name the photos.
fn hand_in(data: &Path, device: &Device) {
    let runtime = tokio::runtime::Runtime::new().unwrap();
    let hub = runtime
        .block_on(chalkwalk_sync_server::serve::open_hub(data, None))
        .unwrap();
    let mut replica = hub.replica(runtime.handle().clone());
    let shown = [device.signed.clone()];
    let rows = device.rows.clone();
    chalkwalk_core::sync::Replica::accept(
        &mut replica,
        &device.certificate,
        device.job,
        rows,
        &shown,
    )
    .unwrap();
}

/// The bare server.
fn bare(folder: &Path) -> ! {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .unwrap();
    let folder = folder.to_owned();
    runtime.block_on(async move {
        let listener = tokio::net::TcpListener::bind(("127.0.0.1", 0))
            .await
            .unwrap();
        println!("{}", listener.local_addr().unwrap().port());
        let routes = Router::new()
            .route("/photos/{hash}", put(take))
            .layer(DefaultBodyLimit::disable())
            .with_state(folder);
        axum::serve(listener, routes).await.unwrap();
    });
    std::process::exit(0)
}

async fn take(
    State(folder): State<PathBuf>,
    axum::extract::Path(hash): axum::extract::Path<String>,
    body: Body,
) -> StatusCode {
    let (give, mut coming) = tokio::sync::mpsc::channel::<axum::body::Bytes>(8);
    let written = tokio::task::spawn_blocking(move || {
        let part = folder.join(format!("{hash}.part"));
        let mut file = std::fs::File::create_new(&part).unwrap();
        let mut hasher = blake3::Hasher::new();
        while let Some(bytes) = coming.blocking_recv() {
            hasher.update(&bytes);
            file.write_all(&bytes).unwrap();
        }
        if hasher.finalize().to_hex().as_str() != hash {
            return StatusCode::UNPROCESSABLE_ENTITY;
        }
        file.sync_data().unwrap();
        std::fs::rename(&part, folder.join(&hash)).unwrap();
        std::fs::File::open(&folder).unwrap().sync_all().unwrap();
        StatusCode::CREATED
    });
    let mut stream = body.into_data_stream();
    while let Some(Ok(bytes)) = stream.next().await {
        if give.send(bytes).await.is_err() {
            break;
        }
    }
    drop(give);
    written.await.unwrap()
}

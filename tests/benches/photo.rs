//! Taking in a 12-megapixel photo, measured against libjpeg-turbo's scaled decode and the same
//! two hashes in the same run.
//!
//! `cargo bench -p chalkwalk-tests --features turbojpeg --bench photo`

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::hint::black_box;
use std::time::Instant;

use chalkwalk_core::job::DeviceId;
use chalkwalk_core::photo::{PhotoStore, look};
use sha2::{Digest, Sha256};
use turbojpeg::{Decompressor, Image, PixelFormat, ScalingFactor, Subsamp};

const WIDTH: usize = 4032;
const HEIGHT: usize = 3024;
const ROUNDS: usize = 21;
/// At most this many times the baseline.
const TARGET: f64 = 2.0;

fn main() {
    let pixels = roof();
    for quality in [85, 95] {
        measure(&pixels, quality);
    }
}

fn measure(pixels: &[u8], quality: i32) {
    let picture = Image {
        pixels,
        width: WIDTH,
        pitch: WIDTH * 3,
        height: HEIGHT,
        format: PixelFormat::RGB,
    };
    let jpeg = turbojpeg::compress(picture, quality, Subsamp::Sub2x2).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("photo.jpg");
    std::fs::write(&path, &jpeg[..]).unwrap();
    let device = DeviceId::from_bytes([1; 16]);

    let mut small = vec![0u8; WIDTH / 8 * (HEIGHT / 8) * 3];
    let (mut decode, mut hashes, mut ours, mut stored) = (vec![], vec![], vec![], vec![]);
    // One after the other in each round, so that a busy machine slows all of them alike.
    for round in 0..ROUNDS {
        decode.push(millis(|| turbo_eighth(&jpeg, &mut small)));
        hashes.push(millis(|| {
            black_box(blake3::hash(&jpeg));
            black_box(Sha256::digest(&jpeg[..]));
        }));
        ours.push(millis(|| {
            black_box(look(&path, device, 0).unwrap().thumbnail.unwrap());
        }));
        let store = PhotoStore::open(folder.path().join(format!("store{round}"))).unwrap();
        stored.push(millis(|| {
            black_box(store.intake(&path, device, 0).unwrap());
        }));
    }
    let (decode, hashes) = (median(decode), median(hashes));
    let (ours, stored) = (median(ours), median(stored));
    let baseline = decode + hashes;
    println!(
        "photo of {WIDTH} x {HEIGHT}, quality {quality}, {} bytes, median of {ROUNDS}",
        jpeg.len()
    );
    println!("  libjpeg-turbo at an eighth       {decode:8.1} ms");
    println!("  BLAKE3 and SHA-256               {hashes:8.1} ms");
    println!("  baseline, both                   {baseline:8.1} ms   1.00");
    let ratio = ours / baseline;
    let verdict = if ratio <= TARGET { "met" } else { "missed" };
    println!(
        "  read, hashes, EXIF, thumbnail    {ours:8.1} ms   {ratio:.2}   (at most {TARGET:.2}: {verdict})"
    );
    println!(
        "  the same, copied and synced      {stored:8.1} ms   {:.2}",
        stored / baseline
    );
}

fn turbo_eighth(jpeg: &[u8], pixels: &mut [u8]) {
    let mut decoder = Decompressor::new().unwrap();
    decoder
        .set_scaling_factor(ScalingFactor::ONE_EIGHTH)
        .unwrap();
    decoder.read_header(jpeg).unwrap();
    let picture = Image {
        pixels,
        width: WIDTH / 8,
        pitch: WIDTH / 8 * 3,
        height: HEIGHT / 8,
        format: PixelFormat::RGB,
    };
    decoder.decompress(jpeg, picture).unwrap();
}

fn millis(work: impl FnOnce()) -> f64 {
    let start = Instant::now();
    work();
    start.elapsed().as_secs_f64() * 1e3
}

fn median(mut times: Vec<f64>) -> f64 {
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}

/// A roof as a camera sees it: courses and tabs, light that falls off, and granules of many sizes.
fn roof() -> Vec<u8> {
    let mut pixels = Vec::with_capacity(WIDTH * HEIGHT * 3);
    for y in 0..HEIGHT {
        let course = y / 170;
        for x in 0..WIDTH {
            let edge = y % 170 < 6 || (x + course * 90) % 400 < 5;
            let mut light = if edge { 55.0 } else { 90.0 };
            for (size, depth) in [(256, 60.0), (64, 36.0), (16, 22.0), (4, 13.0), (1, 8.0)] {
                light += depth * (smooth(x, y, size) - 0.3);
            }
            for share in [1.0, 0.95, 0.87] {
                pixels.push((light * share).clamp(0.0, 255.0) as u8);
            }
        }
    }
    pixels
}

/// Noise that changes over `size` pixels, 0 to 1.
fn smooth(x: usize, y: usize, size: usize) -> f32 {
    let (column, row) = (x / size, y / size);
    let (across, down) = (
        (x % size) as f32 / size as f32,
        (y % size) as f32 / size as f32,
    );
    let between = |a: f32, b: f32, share: f32| a + (b - a) * share;
    let grain = |column, row| grain(column, row, size);
    between(
        between(grain(column, row), grain(column + 1, row), across),
        between(grain(column, row + 1), grain(column + 1, row + 1), across),
        down,
    )
}

fn grain(column: usize, row: usize, size: usize) -> f32 {
    let mut mixed = (column as u32).wrapping_mul(374_761_393)
        ^ (row as u32).wrapping_mul(668_265_263)
        ^ (size as u32).wrapping_mul(2_246_822_519);
    mixed = (mixed ^ (mixed >> 13)).wrapping_mul(1_274_126_177);
    ((mixed ^ (mixed >> 16)) & 0xFFFF) as f32 / 65_535.0
}

//! Every place where bytes of strangers are read, one function each: never a panic, never
//! without bound. The fuzz targets, the committed corpora and the `hostile` command all go
//! through here.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod changes;
mod files;
pub mod large;
mod mutate;
mod packet;

use std::io::Write;
use std::path::Path;

use chalkwalk_core::document::{Document, DocumentError, parse_change};
use chalkwalk_core::job::{CompanyId, DeviceId, PhotoHash};
use chalkwalk_core::photo;
use chalkwalk_core::sync::testing::{MemoryReplica, Net, Office, photo_words};
use chalkwalk_core::sync::{FrameReader, Session, bundle};

pub use changes::{Changes, Verdict};
pub use mutate::mutate;

/// A decoder with its name: adding one is one line in [`DECODERS`].
pub type Decoder = (&'static str, fn(&[u8]));

/// The decoders that take bytes alone.
pub const DECODERS: &[Decoder] = &[
    ("frames", frames),
    ("change", change),
    ("signed-change", signed_change),
    ("bundle", bundle_file),
    ("picture", picture),
    ("saved-document", saved_document),
    ("scope-file", files::scope_file),
    ("measurement-report", files::measurement_report),
    ("measurement-rows", files::measurement_rows),
    ("price-list", files::price_list),
    ("storm-file", files::storm_file),
    ("roof-plan", files::roof_plan),
    ("enrolment-text", files::enrolment_text),
    ("typed-values", files::typed_values),
    ("packet-file", packet::packet_file),
];

/// Panics that the gate catches stay caught and unsaid; one that leaves a decoder still ends the
/// run.
pub fn quiet() {
    std::panic::set_hook(Box::new(|_| {}));
}

/// Hands bytes to the decoder of this name. For fuzz targets, which know their names alone.
pub fn decode(name: &str, bytes: &[u8]) {
    let (_, decode) = DECODERS
        .iter()
        .find(|(decoder, _)| *decoder == name)
        .unwrap_or_else(|| panic!("there is no decoder {name}"));
    decode(bytes);
}

/// A stream of frames, as a peer on one network sends them, heard by a session that has a job.
pub fn frames(bytes: &[u8]) {
    let mut victim = victim();
    let config = victim.device().config(false, 7);
    let Ok(mut session) = Session::new(config, 0) else {
        return;
    };
    let mut reader = FrameReader::new();
    reader.push(bytes);
    while let Ok(Some(frame)) = reader.pop() {
        session.receive(&mut victim, &frame, 0);
        while session.poll_outgoing(&mut victim).is_some() {}
        while session.poll_event().is_some() {}
    }
}

/// One change chunk.
pub fn change(bytes: &[u8]) {
    drop(parse_change(bytes));
}

thread_local! {
    static CHANGES: Changes = Changes::new();
}

/// One change chunk, its head mended and signed by the author it names, sent to the gate: the
/// document is never spoiled by it.
pub fn signed_change(bytes: &[u8]) {
    CHANGES.with(|changes| {
        assert_ne!(changes.send_chunk(bytes.to_vec()), Verdict::Spoiled);
    });
}

/// A bundle file.
pub fn bundle_file(mut bytes: &[u8]) {
    let mut victim = victim();
    let office = victim.device().office;
    drop(bundle::read(
        &mut victim,
        &office,
        CompanyId::from_bytes([1; 16]),
        &mut bytes,
    ));
}

/// A picture file with its EXIF.
pub fn picture(bytes: &[u8]) {
    let Ok(mut file) = tempfile::NamedTempFile::new_in(scratch()) else {
        return;
    };
    if file.write_all(bytes).is_ok() {
        drop(photo::look(file.path(), DeviceId::from_bytes([1; 16]), 0));
    }
}

/// A saved document, as it comes back from a damaged disk.
pub fn saved_document(bytes: &[u8]) {
    let loaded: Result<Document, DocumentError> = Document::load(bytes);
    if let Ok(document) = loaded {
        drop(document.job().conflicts());
    }
}

/// A memory disk where there is one.
pub fn scratch() -> std::path::PathBuf {
    let in_memory = Path::new("/dev/shm");
    if in_memory.is_dir() {
        in_memory.to_owned()
    } else {
        std::env::temp_dir()
    }
}

const JOB: chalkwalk_core::job::JobId = chalkwalk_core::job::JobId::from_bytes([7; 16]);

fn victim() -> MemoryReplica {
    let device = Office::new(1).device(1).unwrap();
    let mut victim = MemoryReplica::new(device, 1);
    victim.record(JOB, "ours").unwrap();
    victim
}

/// Bytes that each decoder reads well: what the hostile ones are made from.
pub fn good(decoder: &str, fixtures: &Path) -> Vec<Vec<u8>> {
    match decoder {
        "frames" => conversation(),
        "change" | "signed-change" => Changes::new()
            .rows()
            .iter()
            .map(|row| row.bytes.clone())
            .collect(),
        "bundle" => vec![bundle_bytes()],
        "picture" => ["h01-eave-front-tape.jpg", "r60-fence-marks.jpg"]
            .iter()
            .filter_map(|name| small_picture(&fixtures.join("photos").join(name)))
            .collect(),
        "saved-document" => vec![Changes::new().document().export()],
        "packet-file" => packet::good(),
        other => files::good(other, fixtures),
    }
}

/// The EXIF of a real file before a small picture: quick to decode, and all fields there.
fn small_picture(file: &Path) -> Option<Vec<u8>> {
    let bytes = std::fs::read(file).ok()?;
    // APP1 stands first in these files: marker, length, then the block.
    let length = usize::from(u16::from_be_bytes([*bytes.get(4)?, *bytes.get(5)?]));
    let exif = bytes.get(2..4 + length)?;
    let mut plain = std::io::Cursor::new(Vec::new());
    let picture =
        image::RgbImage::from_fn(40, 30, |x, y| image::Rgb([x as u8 * 6, y as u8 * 8, 90]));
    picture
        .write_to(&mut plain, image::ImageFormat::Jpeg)
        .ok()?;
    let plain = plain.into_inner();
    let mut small = plain.get(..2)?.to_vec();
    small.extend_from_slice(exif);
    small.extend_from_slice(plain.get(2..)?);
    Some(small)
}

/// What one side says in a whole exchange of changes and files.
fn conversation() -> Vec<Vec<u8>> {
    let office = Office::new(1);
    let mut replicas = Vec::new();
    for n in 1..=2 {
        replicas.push(MemoryReplica::new(office.device(n).unwrap(), 1));
    }
    let original = vec![5; 3000];
    replicas[1].take_photo(JOB, &original, &[4; 60]).unwrap();
    let words = photo_words(PhotoHash::of(&original));
    replicas[1].record(JOB, &words).unwrap();
    replicas[0].record(JOB, "ours").unwrap();
    let mut net = Net::new(replicas);
    let link = net.connect_with(1, 0, |config| config.live = true).unwrap();
    let mut said = Vec::new();
    for _ in 0..12 {
        for end in 0..2 {
            net.poll(link, end);
            if end == 0 {
                for frame in &net.links[link].wires[0] {
                    said.extend(chalkwalk_core::sync::encode_stream(frame));
                }
            }
            while net.deliver(link, end) {}
        }
    }
    vec![said]
}

fn bundle_bytes() -> Vec<u8> {
    let office = Office::new(1);
    let maker = office.device(2).unwrap();
    let mut replica = MemoryReplica::new(maker.clone(), 1);
    let original = vec![5; 3000];
    replica.take_photo(JOB, &original, &[4; 60]).unwrap();
    replica.record(JOB, "theirs").unwrap();
    let mut contents = bundle::Contents::default();
    contents.jobs.insert(JOB, Default::default());
    let hash = PhotoHash::of(&original);
    for kind in [
        chalkwalk_core::job::BlobKind::Thumbnail,
        chalkwalk_core::job::BlobKind::Original,
    ] {
        contents.files.push((JOB, kind, hash));
    }
    let mut out = Vec::new();
    bundle::write(
        &mut replica,
        &maker.certificate,
        &maker.key,
        &contents,
        &mut out,
    )
    .unwrap();
    out
}

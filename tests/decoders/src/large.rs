//! The large job of the benches: 600 findings and 2,000 photos, recorded by two people at once.
//! Its content is invented and the same on every run.

use chalkwalk_core::document::{Action, Author, ChangeRow, Document};
use chalkwalk_core::env::{Env, EnvIds, SeededEnv};
use chalkwalk_core::job::{Audience, Kind};
use chalkwalk_core::job::{
    Capture, CapturePlace, Cause, Component, Condition, DeviceId, Finding, Finish, Length,
    Material, North, Photo, PhotoHash, PhotoRole, PictureFormat, RecordId, RecordRef, Severity,
    Side, SignedCapture, Usability,
};
use ed25519_dalek::SigningKey;
use sha2::Digest;

/// Findings of the large job.
pub const FINDINGS: usize = 600;
/// Photos of the large job.
pub const PHOTOS: usize = 2000;

/// One device that records.
pub struct Recorder {
    /// The author of its changes.
    pub author: Author,
    /// Its key.
    pub key: SigningKey,
    /// Its document.
    pub document: Document,
    /// Its own changes.
    pub rows: Vec<ChangeRow>,
    /// Its clock and ids.
    pub env: SeededEnv,
}

impl Recorder {
    /// A device with an empty document.
    pub fn new(n: u8) -> Self {
        let mut env = SeededEnv::new(u64::from(n), 1_777_381_629_331, 7_321);
        let mut device = [0; 16];
        env.random(&mut device);
        let mut nonce = [0; 8];
        env.random(&mut nonce);
        let mut secret = [0; 32];
        env.random(&mut secret);
        Self {
            author: Author {
                device: DeviceId::from_bytes(device),
                nonce,
            },
            key: SigningKey::from_bytes(&secret),
            document: Document::new().unwrap(),
            rows: Vec::new(),
            env,
        }
    }

    /// Does one action.
    pub fn act(&mut self, action: &Action) {
        let now = self.env.now();
        let applied = self
            .document
            .apply(self.author, &self.key, action, now)
            .unwrap()
            .unwrap();
        self.rows.push(applied.row);
    }
}

/// The `i`th finding as a person would record it.
pub fn finding(i: usize) -> Finding {
    let pick = |n: usize| (i * 7919 + n * 104_729) % 97;
    let components = [
        Component::Gutter,
        Component::Screen,
        Component::Shingles,
        Component::Shutter,
    ];
    let texts = [
        "Dents along the face of the run, round and bright at the rim.",
        "Mesh torn in the lower half; the frame shows two small dents.",
        "Soft round bruises, granules gone in the middle of each.",
        "Cracked slats, the break is clean and pale.",
    ];
    let kind = pick(1) % 4;
    Finding {
        place: Some(RecordRef::side(Side::ALL[pick(2) % 4])),
        component: Some(components[kind]),
        storey: Some(1),
        from_left: Some(pick(3) as u32 % 9 + 1),
        unit_name: Some(format!("unit {}", pick(4) % 12 + 1)),
        height: Some(Length::inches(60 + pick(5) as i64)),
        condition: Some(Condition::Damaged),
        cause: Some(Cause::ALL[pick(6) % 3]),
        cause_reason: Some("Facing the storm; the lee side of the house is clean.".into()),
        units: Some(pick(7) as u32 % 4 + 1),
        units_total: Some(8),
        material: Some(Material::Aluminium),
        finish: Some(Finish::Factory),
        severity: Some(Severity::ALL[pick(8) % 2]),
        audience: Some(if pick(9) == 0 {
            Audience::OfficeOnly
        } else {
            Audience::Shared
        }),
        text: Some(format!(
            "{} Seen from the ladder, hit {}.",
            texts[kind],
            i + 1
        )),
        ..Finding::default()
    }
}

/// A photo as a device records it, with a signed capture.
pub fn photo(recorder: &mut Recorder, i: usize) -> Photo {
    let mut noise = [0u8; 32];
    recorder.env.random(&mut noise);
    photo_of(recorder, i, &noise, noise)
}

/// The same for a file that there is.
pub fn photo_of(recorder: &mut Recorder, i: usize, file: &[u8], noise: [u8; 32]) -> Photo {
    let hash = PhotoHash::of(file);
    let at = recorder.env.now();
    let tail = f64::from(u32::from(noise[0]) * 256 + u32::from(noise[1]));
    let capture = Capture {
        version: Capture::VERSION,
        hash,
        sha256: sha2::Sha256::digest(file).to_vec(),
        size: if file.len() > noise.len() {
            file.len() as u64
        } else {
            2_400_000 + u64::from(noise[2]) * 4096 + u64::from(noise[3])
        },
        format: PictureFormat::Jpeg,
        width: 4032,
        height: 3024,
        orientation: if noise[4] < 64 { 6 } else { 1 },
        file_name: format!("IMG_{:04}.jpg", i + 1),
        local_time: Some(at - 5 * 3_600_000),
        utc_offset_min: Some(-300),
        place: Some(CapturePlace {
            latitude: 33.2127 + tail / 1e9,
            longitude: -98.7431 - tail / 1e9,
            altitude_m: Some(318.0),
            accuracy_m: Some(4.7),
        }),
        bearing: Some(f64::from(noise[5]) * 1.4),
        bearing_from: Some(North::True),
        camera: Some("rep phone".into()),
        usability: Some(Usability {
            sharpness: 80.0 + tail / 100.0,
            brightness: f64::from(noise[6]),
            likeness: u64::from_le_bytes(noise[8..16].try_into().unwrap()),
        }),
        device: recorder.author.device,
        taken_in_at: at,
    };
    let signed = SignedCapture::sign(&capture, &recorder.key)
        .unwrap()
        .to_bytes()
        .unwrap();
    Photo {
        capture: Some(serde_bytes::ByteBuf::from(signed)),
        role: Some(PhotoRole::ALL[i % 3]),
        place: Some(RecordRef::side(Side::ALL[i / 40 % 4])),
        ..Photo::default()
    }
}

/// One person's half: findings, each followed by its photos.
pub fn record_half(recorder: &mut Recorder, findings: usize, photos: usize) {
    let mut shown = 0;
    for i in 0..findings {
        let id = recorder.env.record_id();
        let record = finding(i).into();
        recorder.act(&Action::Add {
            id: id.clone(),
            record,
            hits: Some(3),
            shows: vec![],
        });
        while shown * findings < (i + 1) * photos && shown < photos {
            let record = photo(recorder, shown).into();
            let photo_id: RecordId = recorder.env.record_id();
            let shows = vec![RecordRef::new(Kind::Finding, id.clone())];
            recorder.act(&Action::Add {
                id: photo_id,
                record,
                hits: None,
                shows,
            });
            shown += 1;
        }
    }
}

/// Both halves, apart, and the document that holds both.
pub fn large_job() -> (Recorder, Recorder, Document) {
    let (mut rep, mut helper) = (Recorder::new(1), Recorder::new(2));
    record_half(&mut rep, FINDINGS / 2, PHOTOS / 2);
    record_half(&mut helper, FINDINGS / 2, PHOTOS / 2);
    let mut both = rep.document.clone();
    both.replay(&helper.rows).unwrap();
    (rep, helper, both)
}

//! What the page's worker calls. Values come and go as JSON, bytes as bytes.

use std::collections::{BTreeMap, BTreeSet};

use chalkwalk_core::document::{Action, Author, Held, Table};
use chalkwalk_core::job::{
    BlobKind, DeviceId, JobId, Mark, PhotoHash, RecordId, RecordRef, Role, SignedCertificate, hex,
    unhex,
};
use chalkwalk_core::sync::{Session, answer_challenge};
use js_sys::{Array, Uint8Array};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Value, json};
use wasm_bindgen::prelude::*;

use crate::book::Book;
use crate::identity::{Enrolment, Identity, Office};
use crate::staged::Staged;
use crate::{held, meet, tools};

type Answer<T> = Result<T, JsError>;

/// The engine of one page.
#[wasm_bindgen]
pub struct Engine {
    book: Book,
    /// By the number of their link: the office, and another phone.
    sessions: BTreeMap<u32, Session>,
}

impl std::fmt::Debug for Engine {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.book.fmt(f)
    }
}

/// A fresh device with a key of its own.
#[wasm_bindgen(js_name = freshIdentity)]
pub fn fresh_identity(person: &str, device_name: &str, role: &str) -> Answer<String> {
    let role = Role::from_code(role).ok_or_else(|| JsError::new("no such part in the job"))?;
    write(&Identity::fresh(person, device_name, role))
}

/// Accepts an office's answer only where it is about this device, and from the office of the pin
/// where one is known.
#[wasm_bindgen(js_name = checkEnrolment)]
pub fn check_enrolment(identity: &str, answer: &str, pin: Option<String>) -> Answer<()> {
    let (identity, answer): (Identity, Enrolment) = (read(identity)?, read(answer)?);
    said(Office::check(&answer, &identity, pin.as_deref()).map(|_| ()))
}

/// The words of the trade and the texts that a page must show.
#[wasm_bindgen]
pub fn vocabulary() -> Answer<String> {
    write(&tools::vocabulary())
}

/// An angle from level, degrees, as a pitch.
#[wasm_bindgen]
pub fn pitch(degrees: f64) -> Answer<String> {
    write(&said(tools::pitch(degrees))?)
}

/// How the sun meets a wall, or a slope of a pitch in twelve, now and later today.
#[wasm_bindgen]
pub fn sun(
    latitude: f64,
    longitude: f64,
    bearing: f64,
    pitch: Option<f64>,
    offset_min: i32,
    now: f64,
) -> Answer<String> {
    let place = (latitude, longitude);
    write(&said(tools::sun(
        place, bearing, pitch, offset_min, now as i64,
    ))?)
}

#[wasm_bindgen]
impl Engine {
    /// An engine for this device; `enrolment` is what the office answered.
    #[wasm_bindgen(constructor)]
    pub fn new(identity: &str, enrolment: Option<String>) -> Answer<Engine> {
        let enrolment: Option<Enrolment> = enrolment.as_deref().map(read).transpose()?;
        let book = said(Book::new(read(identity)?, enrolment.as_ref()))?;
        Ok(Self {
            book,
            sessions: BTreeMap::new(),
        })
    }

    /// Opens a job, from a snapshot that ends at the chunk with this key; gives how many chunks
    /// could not be used.
    pub fn open(
        &mut self,
        job: &str,
        snapshot: Option<Vec<u8>>,
        upto: f64,
        chunks: Array,
    ) -> Answer<usize> {
        // Keys stay far below what a float holds exactly.
        let snapshot = snapshot.as_deref().map(|bytes| (bytes, upto as u64));
        said(self.book.open(id(job)?, snapshot, &all_bytes(&chunks)))
    }

    /// Whether a meeting needs all chunks of this job handed in.
    #[wasm_bindgen(js_name = needsRows)]
    pub fn needs_rows(&self, job: &str) -> Answer<bool> {
        Ok(said(self.book.job(id(job)?))?.rows.is_none())
    }

    /// Hands in every chunk of a job.
    #[wasm_bindgen(js_name = handInRows)]
    pub fn hand_in_rows(&mut self, job: &str, chunks: Array) -> Answer<()> {
        self.book.hand_in_rows(id(job)?, &all_bytes(&chunks));
        Ok(())
    }

    /// A snapshot of a job, which holds every chunk up to this key.
    pub fn snapshot(&self, job: &str, upto: f64) -> Answer<Option<Vec<u8>>> {
        Ok(self.book.snapshot(id(job)?, upto as u64))
    }

    /// Begins a job; gives its id.
    pub fn begin(&mut self, property: &str) -> Answer<String> {
        Ok(said(self.book.begin(read(property)?))?.to_string())
    }

    /// Does one action; gives the receipt. It counts once what is staged is written.
    pub fn act(&mut self, job: &str, action: &str) -> Answer<String> {
        let action: Action = read(action)?;
        write(&said(self.book.act(id(job)?, &action))?)
    }

    /// Adds a record with a fresh id.
    pub fn add(&mut self, job: &str, record: &str, hits: Option<u32>) -> Answer<String> {
        write(&said(self.book.add(id(job)?, read(record)?, hits))?)
    }

    /// The device: what reads a picture file writes it into the capture.
    pub fn device(&self) -> String {
        self.book.identity.device.to_string()
    }

    /// Signs what was read of a picture file. Nothing is kept.
    #[wasm_bindgen(js_name = signCapture)]
    pub fn sign_capture(&self, read: &[u8]) -> Answer<Vec<u8>> {
        said(self.book.sign_capture(read))
    }

    /// Adds the record of a photo whose files the page holds durably.
    #[wasm_bindgen(js_name = addPhoto)]
    pub fn add_photo(&mut self, job: &str, capture: Vec<u8>, note: &str) -> Answer<String> {
        write(&said(self.book.add_photo(id(job)?, capture, read(note)?))?)
    }

    /// Draws marks beside a photo.
    pub fn mark(&mut self, job: &str, photo: &str, marks: &str) -> Answer<String> {
        let marks: Vec<Mark> = read(marks)?;
        let photo: RecordId = photo.parse().map_err(|_| JsError::new("no such photo"))?;
        let action = Action::Amend {
            id: photo,
            set: said(tools::marks(&marks))?,
            clear: Vec::new(),
        };
        write(&said(self.book.act(id(job)?, &action))?)
    }

    /// The house of a job.
    pub fn house(&self, job: &str) -> Answer<String> {
        write(&said(self.book.house(id(job)?))?)
    }

    /// One place of a job.
    pub fn place(&self, job: &str, place: &str) -> Answer<String> {
        write(&said(self.book.place(id(job)?, &at(place)?))?)
    }

    /// One record of a job.
    pub fn record(&self, job: &str, record: &str) -> Answer<String> {
        write(&said(self.book.record(id(job)?, &at(record)?))?)
    }

    /// The photos of a job.
    pub fn photos(&self, job: &str) -> Answer<String> {
        write(&said(self.book.photos(id(job)?))?)
    }

    /// Fields that two people stated differently.
    pub fn conflicts(&self, job: &str) -> Answer<String> {
        write(&said(self.book.conflicts(id(job)?))?)
    }

    /// The check before leaving.
    pub fn check(&mut self, job: &str) -> Answer<String> {
        write(&said(self.book.check(id(job)?))?)
    }

    /// The plain account for the owner.
    pub fn account(&self, job: &str) -> Answer<String> {
        write(&said(self.book.account(id(job)?))?)
    }

    /// The heads of a job and its count of changes.
    pub fn heads(&self, job: &str) -> Answer<String> {
        write(&said(self.book.heads(id(job)?))?)
    }

    /// Everything as other programs read it: the document of a job.
    pub fn export(&self, job: &str) -> Answer<Vec<u8>> {
        Ok(said(self.book.job(id(job)?))?.document.export())
    }

    /// What must be written before anybody is told, as `[{what, …}]`.
    #[wasm_bindgen(js_name = takeStaged)]
    pub fn take_staged(&mut self) -> Answer<Array> {
        let out = Array::new();
        for staged in std::mem::take(&mut self.book.staged) {
            out.push(&said(as_js(staged))?);
        }
        Ok(out)
    }

    /// Hands in a certificate that the page kept.
    #[wasm_bindgen(js_name = knowCertificate)]
    pub fn know_certificate(&mut self, device: &str, kept: &[u8]) -> Answer<()> {
        let signed: SignedCertificate = rmp_serde::from_slice(kept)?;
        let device: DeviceId = device.parse().map_err(|_| JsError::new("no such device"))?;
        self.book.certificates.insert(device, signed);
        Ok(())
    }

    /// Hands in a device that was met.
    #[wasm_bindgen(js_name = knowPeer)]
    pub fn know_peer(&mut self, device: &str, name: &str, office: bool) -> Answer<()> {
        let device: DeviceId = device.parse().map_err(|_| JsError::new("no such device"))?;
        self.book.peers.insert(device, (name.to_owned(), office));
        Ok(())
    }

    /// Hands in that another device holds a file whole; without a device, the office.
    #[wasm_bindgen(js_name = knowHeld)]
    pub fn know_held(&mut self, device: Option<String>, original: bool, hash: &str) -> Answer<()> {
        let kind = if original {
            BlobKind::Original
        } else {
            BlobKind::Thumbnail
        };
        let hash = photo_hash(hash)?;
        let devices: Vec<DeviceId> = match device {
            Some(device) => {
                vec![device.parse().map_err(|_| JsError::new("no such device"))?]
            }
            None => {
                let peers = self.book.peers.iter();
                peers
                    .filter(|(_, (_, office))| *office)
                    .map(|(device, _)| *device)
                    .collect()
            }
        };
        for device in devices {
            self.book.files_at.insert((device, kind, hash));
        }
        Ok(())
    }

    /// Hands in what another device holds of a job.
    #[wasm_bindgen(js_name = knowTable)]
    pub fn know_table(&mut self, device: &str, job: &str, table: &str) -> Answer<()> {
        let device: DeviceId = device.parse().map_err(|_| JsError::new("no such device"))?;
        let table: Vec<(String, u64, String)> = read(table)?;
        let mut held = Table::new();
        for (author, number, short) in table {
            let author = unhex(&author).and_then(|bytes| Author::from_bytes(&bytes));
            let short_hash = unhex(&short).and_then(|bytes| bytes.try_into().ok());
            if let Some((author, short_hash)) = author.zip(short_hash) {
                held.insert(author, Held { number, short_hash });
            }
        }
        self.book.note_changes(device, id(job)?, &held);
        Ok(())
    }

    /// Hands in that the page holds a small picture; `kept` where a meeting may send it.
    #[wasm_bindgen(js_name = knowThumbnail)]
    pub fn know_thumbnail(&mut self, hash: &str, kept: Option<Vec<u8>>) -> Answer<()> {
        let hash = photo_hash(hash)?;
        self.book.thumbnails_here.insert(hash);
        if let Some(kept) = kept {
            self.book.thumbnails.insert(hash, kept);
        }
        Ok(())
    }

    /// Hands in that the page holds an original of so many bytes.
    #[wasm_bindgen(js_name = knowOriginal)]
    pub fn know_original(&mut self, hash: &str, size: f64) -> Answer<()> {
        // Sizes stay far below what a float holds exactly.
        let hash = photo_hash(hash)?;
        self.book.originals_here.insert(hash, size as u64);
        Ok(())
    }

    /// Hands in how a piece of an original is read: `(hash, offset, most) => bytes`.
    #[wasm_bindgen(js_name = readBy)]
    pub fn read_by(&mut self, reader: js_sys::Function) {
        self.book.reader = Some(reader);
    }

    /// Lets small pictures go from memory; the page holds them.
    #[wasm_bindgen(js_name = forgetThumbnails)]
    pub fn forget_thumbnails(&mut self) {
        self.book.thumbnails.clear();
    }

    /// How many changes of a job other devices hold: `[{name, office, lacking}]`.
    pub fn peers(&self, job: &str) -> Answer<String> {
        let job = id(job)?;
        let table = said(self.book.job(job))?.document.table();
        let peers = self.book.peers.iter().map(|(device, (name, office))| {
            let held = self.book.changes_at.get(&(*device, job));
            let lacking: u64 = table
                .iter()
                .map(|(author, own)| {
                    let theirs = held.and_then(|held| held.get(author));
                    own.number
                        .saturating_sub(theirs.map_or(0, |held| held.number))
                })
                .sum();
            json!({"name": name, "office": office, "lacking": lacking})
        });
        write(&peers.collect::<Vec<Value>>())
    }

    /// Begins a session on a link; frames are then polled.
    #[wasm_bindgen(js_name = beginSession)]
    pub fn begin_session(
        &mut self,
        link: u32,
        initiator: bool,
        originals: bool,
        jobs: Option<Vec<String>>,
    ) -> Answer<()> {
        let jobs = match jobs {
            Some(jobs) => {
                let jobs: Result<BTreeSet<JobId>, JsError> = jobs.iter().map(|j| id(j)).collect();
                Some(jobs?)
            }
            None => None,
        };
        let session = said(self.book.session(initiator, true, originals, jobs))?;
        self.sessions.insert(link, session);
        Ok(())
    }

    /// Hands a frame of the peer to the session.
    pub fn receive(&mut self, link: u32, frame: &[u8]) {
        let now = self.book.now();
        if let Some(session) = self.sessions.get_mut(&link) {
            session.receive(&mut self.book, frame, now);
        }
    }

    /// Tells the session the time and, where a job is named, that it has news.
    pub fn tick(&mut self, link: u32, job: Option<String>) -> Answer<()> {
        let now = self.book.now();
        if let Some(session) = self.sessions.get_mut(&link) {
            session.handle_timeout(now);
            if let Some(job) = job {
                session.wake(id(&job)?);
            }
        }
        Ok(())
    }

    /// Frames to send once what is staged is written.
    pub fn frames(&mut self, link: u32) -> Array {
        let out = Array::new();
        if let Some(session) = self.sessions.get_mut(&link) {
            while let Some(frame) = session.poll_outgoing(&mut self.book) {
                out.push(&bytes(&frame));
            }
        }
        out
    }

    /// What the session tells, as JSON.
    pub fn events(&mut self, link: u32) -> Answer<String> {
        let mut events = Vec::new();
        if let Some(session) = self.sessions.get_mut(&link) {
            while let Some(event) = session.poll_event() {
                events.push(meet::told(&event));
            }
        }
        write(&events)
    }

    /// Lets the session go, with a word to the peer; poll frames once more.
    #[wasm_bindgen(js_name = leaveSession)]
    pub fn leave_session(&mut self, link: u32) {
        if let Some(session) = self.sessions.get_mut(&link) {
            session.leave();
        }
    }

    /// Drops the session.
    #[wasm_bindgen(js_name = dropSession)]
    pub fn drop_session(&mut self, link: u32) {
        self.sessions.remove(&link);
    }

    /// A bundle of jobs.
    #[wasm_bindgen(js_name = writeBundle)]
    pub fn write_bundle(&mut self, jobs: Vec<String>) -> Answer<Vec<u8>> {
        let jobs: Result<Vec<JobId>, JsError> = jobs.iter().map(|job| id(job)).collect();
        said(self.book.write_bundle(&jobs?))
    }

    /// Takes what is in a bundle; it counts once what is staged is written.
    #[wasm_bindgen(js_name = readBundle)]
    pub fn read_bundle(&mut self, bundle: &[u8]) -> Answer<String> {
        write(&said(self.book.read_bundle(bundle))?)
    }

    /// Signs the office's challenge for a token.
    #[wasm_bindgen(js_name = answerChallenge)]
    pub fn answer_challenge(&self, challenge: &str) -> Answer<String> {
        let no = || JsError::new("this phone is not enrolled with an office yet");
        let office = self.book.office.as_ref().ok_or_else(no)?;
        let unread = || JsError::new("the challenge of the office cannot be read");
        let challenge = unhex(challenge).ok_or_else(unread)?;
        let key = said(self.book.identity.signing_key())?;
        Ok(hex(&answer_challenge(&key, office.company, &challenge)))
    }

    /// The office's name; empty before enrolment.
    #[wasm_bindgen(js_name = officeName)]
    pub fn office_name(&self) -> String {
        let office = self.book.office.as_ref();
        office
            .map(|office| office.company_name.clone())
            .unwrap_or_default()
    }
}

fn as_js(staged: Staged) -> Result<JsValue, String> {
    let object = js_sys::Object::new();
    let set = |key: &str, value: JsValue| {
        js_sys::Reflect::set(&object, &key.into(), &value)
            .map(|_| ())
            .map_err(|_| "an object could not be filled".to_owned())
    };
    match staged {
        Staged::Row(job, row) => {
            set("what", "row".into())?;
            set("job", job.to_string().into())?;
            set("bytes", bytes(&held::encode(job, &row)?))?;
        }
        Staged::Piece(hash, at, piece) => {
            set("what", "piece".into())?;
            set("hash", hash.to_string().into())?;
            set("offset", (at as f64).into())?;
            set("bytes", bytes(&piece))?;
        }
        Staged::Original(job, hash, size) => {
            set("what", "original".into())?;
            set("job", job.to_string().into())?;
            set("hash", hash.to_string().into())?;
            set("size", (size as f64).into())?;
        }
        Staged::Thumbnail(hash, kept) => {
            set("what", "thumbnail".into())?;
            set("hash", hash.to_string().into())?;
            set("bytes", bytes(&kept))?;
        }
        Staged::Certificate(device, signed) => {
            set("what", "certificate".into())?;
            set("device", device.to_string().into())?;
            let kept = rmp_serde::to_vec(&signed).map_err(|error| error.to_string())?;
            set("bytes", bytes(&kept))?;
        }
        Staged::PeerHolds(device, job, table) => {
            let rows: Vec<(String, u64, String)> = table
                .iter()
                .map(|(author, held)| (hex(&author.to_bytes()), held.number, hex(&held.short_hash)))
                .collect();
            set("what", "table".into())?;
            set("device", device.to_string().into())?;
            set("job", job.to_string().into())?;
            let text = serde_json::to_string(&rows).map_err(|error| error.to_string())?;
            set("table", text.into())?;
        }
        Staged::PeerHoldsFile(device, kind, hash) => {
            set("what", "held".into())?;
            set("device", device.to_string().into())?;
            set("original", (kind == BlobKind::Original).into())?;
            set("hash", hash.to_string().into())?;
        }
        Staged::Peer(device, name, office) => {
            set("what", "peer".into())?;
            set("device", device.to_string().into())?;
            set("name", name.into())?;
            set("office", office.into())?;
        }
    }
    Ok(object.into())
}

fn bytes(of: &[u8]) -> JsValue {
    Uint8Array::from(of).into()
}

fn all_bytes(of: &Array) -> Vec<Vec<u8>> {
    of.iter()
        .map(|chunk| Uint8Array::new(&chunk).to_vec())
        .collect()
}

fn said<T>(result: Result<T, String>) -> Answer<T> {
    result.map_err(|words| JsError::new(&words))
}

fn read<T: DeserializeOwned>(text: &str) -> Answer<T> {
    Ok(serde_json::from_str(text)?)
}

fn write<T: Serialize>(value: &T) -> Answer<String> {
    Ok(serde_json::to_string(value)?)
}

fn id(text: &str) -> Answer<JobId> {
    text.parse()
        .map_err(|_| JsError::new("this is not the id of a job"))
}

fn at(text: &str) -> Answer<RecordRef> {
    Ok(text.parse::<RecordRef>()?)
}

fn photo_hash(text: &str) -> Answer<PhotoHash> {
    text.parse()
        .map_err(|_| JsError::new("this is not the name of a photo"))
}

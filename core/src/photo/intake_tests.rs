use super::*;
use crate::env::SeededEnv;
use crate::job::{BlobKind, PhotoHash, SignedCapture};
use crate::photo::{OriginalState, samples};
use ed25519_dalek::SigningKey;
use std::io;

const DEVICE: DeviceId = DeviceId::from_bytes([9; 16]);

struct Bench {
    folder: tempfile::TempDir,
    store: PhotoStore,
}

impl Bench {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let store = PhotoStore::open(folder.path().join("store")).unwrap();
        Self { folder, store }
    }

    fn file(&self, name: &str, bytes: &[u8]) -> PathBuf {
        let path = self.folder.path().join(name);
        fs::write(&path, bytes).unwrap();
        path
    }

    fn take(&self, name: &str, bytes: &[u8]) -> Result<Taken, PhotoError> {
        self.store.intake(&self.file(name, bytes), DEVICE, 77)
    }
}

fn phone_photo(seed: u32) -> Vec<u8> {
    let mut fields = samples::phone_fields("2024:06:11 14:30:05", 38.5, -97.25);
    fields.push(samples::short(::exif::Tag::Orientation, 6));
    samples::jpeg_with(&samples::scene(640, 480, seed), &fields)
}

#[test]
fn a_phone_photo_is_kept_and_described() {
    let bench = Bench::new();
    let data = phone_photo(1);
    let taken = bench.take("IMG_1.jpg", &data).unwrap();
    let capture = &taken.capture;
    assert_eq!(taken.warnings, []);
    assert_eq!(capture.hash, PhotoHash::of(&data));
    assert_eq!(capture.size, data.len() as u64);
    assert_eq!(
        (capture.width, capture.height, capture.orientation),
        (640, 480, 6)
    );
    assert_eq!(capture.file_name, "IMG_1.jpg");
    assert_eq!((capture.device, capture.taken_in_at), (DEVICE, 77));
    assert_eq!(capture.taken_at(), Some(1_718_116_205_250 + 300 * 60_000));
    assert!(capture.usability.unwrap().sharpness > 10.0);
    let kept = bench
        .store
        .read(BlobKind::Original, capture.hash, 0, usize::MAX);
    assert_eq!(kept.unwrap(), data);
    let thumbnail = bench
        .store
        .read(BlobKind::Thumbnail, capture.hash, 0, usize::MAX);
    assert_eq!(taken.thumbnail, thumbnail.ok());
    let shown = image::load_from_memory(&taken.thumbnail.unwrap()).unwrap();
    assert_eq!((shown.width(), shown.height()), (240, 320));
    let key = SigningKey::from_bytes(&[3; 32]);
    let signed = SignedCapture::sign(capture, &key).unwrap();
    assert_eq!(signed.verify(&key.verifying_key()), Ok(capture.clone()));
    let looked = look(&bench.folder.path().join("IMG_1.jpg"), DEVICE, 77).unwrap();
    assert_eq!(&looked.capture, capture);
    let streamed = Bench::new()
        .store
        .intake_from(&mut &data[..], "IMG_1.jpg", DEVICE, 77);
    assert_eq!(streamed.unwrap().capture, looked.capture);
}

#[test]
fn the_same_photo_twice_is_said() {
    let bench = Bench::new();
    bench.take("a.jpg", &phone_photo(1)).unwrap();
    let again = bench.take("b.jpg", &phone_photo(1)).unwrap();
    assert_eq!(again.warnings, [PhotoWarning::AlreadyHere]);
    assert_eq!(again.capture.file_name, "b.jpg");
    assert!(again.thumbnail.is_some());
}

/// Every kind of wrong file in one batch: each gets its word, and the good ones are taken in.
#[test]
fn wrong_files_never_stop_a_batch() {
    let bench = Bench::new();
    let good = phone_photo(1);
    let mut flat = samples::jpeg(&samples::scene(64, 48, 2), 80);
    let plain = flat.clone();
    // The frame header of the encoder: FF C0, length, precision, height, width.
    let frame = flat.windows(2).position(|w| w == [0xFF, 0xC0]).unwrap();
    flat[frame + 5..frame + 9].copy_from_slice(&[0xFF, 0xFF, 0xFF, 0xFF]);
    let heic = [&b"\0\0\0\x18ftypheic\0\0\0\0mif1heic"[..], &[0; 40]].concat();
    let sources = vec![
        bench.file("good.jpg", &good),
        bench.file("empty.jpg", b""),
        bench.file("words.jpg", b"these are words, not a picture"),
        bench.file("cut.jpg", &good[..good.len() * 2 / 3]),
        bench.file("start.jpg", &good[..40]),
        bench.file("huge.jpg", &flat),
        bench.file("plain.jpg", &plain),
        bench.file("phone.heic", &heic),
        bench.file("screen.png", &samples::png(&samples::scene(80, 60, 3))),
        bench.folder.path().to_owned(),
        bench.folder.path().join("none.jpg"),
    ];
    let mut env = SeededEnv::new(1, 0, 1);
    let mut told = Vec::new();
    let results = bench
        .store
        .intake_all(&sources, DEVICE, &mut env, &mut |done, _, result| {
            told.push((done, result.is_ok()));
        });
    use PhotoWarning::*;
    let expected: [Result<&[PhotoWarning], PhotoError>; 11] = [
        Ok(&[]),
        Err(PhotoError::Empty),
        Err(PhotoError::NotAPicture),
        Ok(&[Truncated]),
        Ok(&[BrokenExif, NoTime, NoPlace, Undecodable]),
        Ok(&[NoExif, NoTime, NoPlace, TooManyPixels]),
        Ok(&[NoExif, NoTime, NoPlace]),
        Ok(&[NoExif, NoTime, NoPlace, NotDecoded]),
        Ok(&[NoExif, NoTime, NoPlace]),
        Err(PhotoError::NotAFile),
        Err(PhotoError::Unreadable(io::ErrorKind::NotFound)),
    ];
    for ((result, expected), source) in results.iter().zip(expected).zip(&sources) {
        let found = result.as_ref().map(|taken| taken.warnings.clone());
        let expected = expected.map(<[PhotoWarning]>::to_vec);
        assert_eq!(found.map_err(Clone::clone), expected, "{source:?}");
        if let Ok(taken) = result {
            let state = bench.store.check(taken.capture.hash).unwrap();
            assert_eq!(state, OriginalState::Whole);
        }
    }
    assert_eq!(told.len(), sources.len());
    assert_eq!(told.last(), Some(&(11, false)));
    let huge = results[5].as_ref().unwrap();
    assert_eq!((huge.capture.width, huge.capture.height), (65_535, 65_535));
    assert!(huge.thumbnail.is_none());
    let png = results[8].as_ref().unwrap();
    assert_eq!(png.capture.format, PictureFormat::Png);
    assert!(png.thumbnail.is_some());
}

/// A HEIC file with EXIF, built box by box after ISO/IEC 14496-12 and 23008-12: the item named
/// `Exif` holds four bytes of offset, then the TIFF block.
#[test]
fn a_heic_file_is_read_for_its_exif() {
    let exif = samples::tiff(&samples::phone_fields("2024:06:11 14:30:05", 38.5, -97.25));
    let boxed = |name: &[u8; 4], body: &[u8]| {
        let mut bytes = u32::try_from(body.len() + 8)
            .unwrap()
            .to_be_bytes()
            .to_vec();
        bytes.extend(name);
        bytes.extend(body);
        bytes
    };
    let ftyp = boxed(b"ftyp", b"heic\0\0\0\0mif1heic");
    let item = boxed(b"infe", b"\x02\0\0\0\0\x01\0\0Exif\0");
    let iinf = boxed(b"iinf", &[&b"\0\0\0\0\0\x01"[..], &item].concat());
    let payload = [&[0u8; 4][..], &exif].concat();
    let meta = |offset: u32| {
        let mut iloc = b"\0\0\0\0\x44\0\0\x01\0\x01\0\0\0\x01".to_vec();
        iloc.extend(offset.to_be_bytes());
        iloc.extend(u32::try_from(payload.len()).unwrap().to_be_bytes());
        let body = [&[0u8; 4][..], &iinf, &boxed(b"iloc", &iloc)].concat();
        boxed(b"meta", &body)
    };
    let start = u32::try_from(ftyp.len() + meta(0).len() + 8).unwrap();
    let heic = [ftyp, meta(start), boxed(b"mdat", &payload)].concat();
    let bench = Bench::new();
    let taken = bench.take("phone.heic", &heic).unwrap();
    assert_eq!(taken.warnings, [PhotoWarning::NotDecoded]);
    assert_eq!(taken.capture.format, PictureFormat::Heic);
    assert_eq!(taken.capture.local_time, Some(1_718_116_205_250));
    assert_eq!(taken.capture.place.unwrap().latitude, 38.5);
    assert_eq!(taken.capture.usability, None);
}

#[test]
fn a_file_past_the_limit_is_refused_unread() {
    let bench = Bench::new();
    let path = bench.file("long.jpg", &phone_photo(1));
    let limit = limits::ORIGINAL_BYTES;
    let file = File::options().write(true).open(&path).unwrap();
    file.set_len(limit + 1).unwrap();
    let refused = bench.store.intake(&path, DEVICE, 0);
    assert_eq!(refused.err(), Some(PhotoError::TooLarge { limit }));
}

#[test]
fn long_names_are_cut_between_letters() {
    let name = format!("{}.jpg", "é".repeat(200));
    let cut = file_name(Path::new(&name));
    assert_eq!(cut.len(), 254);
    assert!(name.starts_with(&cut));
    assert_eq!(file_name(Path::new("/")), "");
}

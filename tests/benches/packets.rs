//! What leaves the house: `cargo bench -p chalkwalk-tests --bench packets`.
//!
//! The PDF of a job with 150 photos against bare typst that sets the same files, two to a row and
//! without a word; its peak memory, in a process of its own; and the bag against a plain copy of
//! the same files that takes the same two hashes. `CHALKWALK_BENCH_PHOTOS` sets how many photos. A
//! bench is not a test: it prints, and marks what is over its aim.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::cell::Cell;
use std::fs;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

use chalkwalk_core::env::SeededEnv;
use chalkwalk_core::job::{Finding, JobId, Property, RecordRef, Role};
use chalkwalk_core::notebook::{NewIdentity, Notebook, PhotoNote};
use chalkwalk_core::packet::{Choices, NoRenderer, PacketError, PacketKind, Renderer, Rendering};
use chalkwalk_sync_server::press::{Press, document};
use sha2::{Digest, Sha256};
use typst::diag::{FileError, FileResult};
use typst::foundations::{Array, Bytes, Datetime, Dict, Duration, IntoValue};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};

const PDF_AIM: f64 = 1.5;
const BAG_AIM: f64 = 1.2;
const MEMORY_AIM_MIB: u64 = 500;
const RUNS: usize = 3;

fn main() {
    let mut asked = std::env::args().skip(1);
    if asked.next().as_deref() == Some("--peak") {
        return peak(Path::new(&asked.next().unwrap()));
    }
    let photos = std::env::var("CHALKWALK_BENCH_PHOTOS");
    let photos = photos.map_or(150, |count| count.parse().unwrap());
    let folder = tempfile::tempdir().unwrap();
    let files = pictures(&folder.path().join("pictures"), photos);
    let (mut notebook, job) = recorded(&folder.path().join("notebook"), &files);
    println!("packets: {photos} photos, {} MB", bytes(&files) >> 20);

    let (mut ours, mut bare) = (Vec::new(), Vec::new());
    let (mut bag, mut copy) = (Vec::new(), Vec::new());
    for run in 0..RUNS {
        let out = folder.path().join(format!("run-{run}"));
        let timed = Timed(Cell::new(0.0));
        written(&mut notebook, job, &out.join("pdf"), &timed);
        ours.push(timed.0.get());
        bare.push(seconds(|| bare_typst(&files)));
        bag.push(seconds(|| {
            written(&mut notebook, job, &out.join("bag"), &NoRenderer)
        }));
        copy.push(seconds(|| plain_copy(&files, &out.join("copy"))));
        fs::remove_dir_all(&out).unwrap();
    }
    drop(notebook);
    println!(
        "{:<44} {:>9} {:>9} {:>6} {:>5}",
        "what", "ours s", "bare s", "ratio", "aim"
    );
    line("the PDF, against bare typst", &ours, &bare, PDF_AIM);
    line(
        "the bag, against a plain copy with hashes",
        &bag,
        &copy,
        BAG_AIM,
    );
    let own = Command::new(std::env::current_exe().unwrap())
        .args(["--peak".as_ref(), folder.path().as_os_str()])
        .output()
        .unwrap();
    print!("{}", String::from_utf8_lossy(&own.stdout));
}

fn line(what: &str, ours: &[f64], bare: &[f64], aim: f64) {
    let least = |times: &[f64]| times.iter().copied().fold(f64::MAX, f64::min);
    let (ours, bare) = (least(ours), least(bare));
    let ratio = ours / bare;
    let mark = if ratio <= aim { "" } else { "  over" };
    println!("{what:<44} {ours:>9.2} {bare:>9.2} {ratio:>6.2} {aim:>5}{mark}");
}

/// Makes the whole packet and says the most memory that this process ever held.
fn peak(folder: &Path) {
    let env = SeededEnv::new(8, 1_777_390_000_000, 1_000);
    let mut notebook = Notebook::open(&folder.join("notebook"), Box::new(env)).unwrap();
    let job = *notebook.jobs().unwrap().first().unwrap();
    written(&mut notebook, job, &folder.join("peak"), &Press);
    let status = fs::read_to_string("/proc/self/status").unwrap();
    let held = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let held: u64 = held
        .unwrap()
        .trim()
        .trim_end_matches(" kB")
        .parse()
        .unwrap();
    let mark = if held >> 10 <= MEMORY_AIM_MIB {
        ""
    } else {
        "  over"
    };
    println!(
        "peak memory of a packet with its PDF: {} MiB, aim {MEMORY_AIM_MIB}{mark}",
        held >> 10
    );
}

/// The demo's pictures over and over, each a file of its own by a byte after its end.
fn pictures(folder: &Path, count: usize) -> Vec<PathBuf> {
    fs::create_dir_all(folder).unwrap();
    let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/photos");
    let mut known: Vec<PathBuf> = fs::read_dir(fixtures)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|end| end == "jpg"))
        .collect();
    known.sort();
    (0..count)
        .map(|at| {
            let mut bytes = fs::read(&known[at % known.len()]).unwrap();
            bytes.extend(vec![0; at / known.len()]);
            let path = folder.join(format!("{at:03}.jpg"));
            fs::write(&path, bytes).unwrap();
            path
        })
        .collect()
}

fn bytes(files: &[PathBuf]) -> u64 {
    files
        .iter()
        .map(|file| fs::metadata(file).unwrap().len())
        .sum()
}

/// A notebook with a finding for every three photos.
fn recorded(at: &Path, files: &[PathBuf]) -> (Notebook, JobId) {
    let who = NewIdentity {
        person: "Robin Vale".to_owned(),
        device_name: "phone".to_owned(),
        role: Role::Crew,
    };
    let env = SeededEnv::new(7, 1_777_381_629_331, 1_000);
    let mut notebook = Notebook::create(at, who, Box::new(env)).unwrap();
    let job = notebook.begin(None, Property::default()).unwrap();
    let mut finding: Option<RecordRef> = None;
    for (index, file) in files.iter().enumerate() {
        if index % 3 == 0 {
            let text = format!("Round dents along the run, number {index}.");
            let fields = Finding {
                text: Some(text),
                ..Finding::default()
            };
            finding = Some(notebook.add(job, fields).unwrap());
        }
        let note = PhotoNote {
            shows: finding.iter().cloned().collect(),
            ..PhotoNote::default()
        };
        notebook.add_photo(job, file, note).unwrap();
    }
    (notebook, job)
}

fn written(notebook: &mut Notebook, job: JobId, out: &Path, renderer: &dyn Renderer) {
    let choices = Choices::default();
    let kind = PacketKind::Shared;
    notebook
        .write_packet(job, kind, out, (&choices, renderer), &mut |_, _| true)
        .unwrap();
}

/// Sets the PDF and notes how long it took.
struct Timed(Cell<f64>);

impl Renderer for Timed {
    fn render(
        &self,
        rendering: &Rendering<'_>,
        progress: &mut dyn FnMut() -> bool,
    ) -> Result<Vec<(String, Vec<u8>)>, PacketError> {
        let start = Instant::now();
        let pdf = document(rendering, progress)?;
        self.0.set(start.elapsed().as_secs_f64());
        Ok(vec![("report.pdf".to_owned(), pdf)])
    }
}

fn seconds<T>(work: impl FnOnce() -> T) -> f64 {
    let start = Instant::now();
    std::hint::black_box(work());
    start.elapsed().as_secs_f64()
}

/// Copies the files and takes SHA-256 and BLAKE3 of each.
fn plain_copy(files: &[PathBuf], to: &Path) -> usize {
    fs::create_dir_all(to).unwrap();
    let mut sums = Vec::new();
    for file in files {
        let mut from = fs::File::open(file).unwrap();
        let mut into = fs::File::create(to.join(file.file_name().unwrap())).unwrap();
        let (mut sha, mut blake) = (Sha256::new(), blake3::Hasher::new());
        let mut piece = vec![0; 256 << 10];
        loop {
            let read = from.read(&mut piece).unwrap();
            if read == 0 {
                break;
            }
            sha.update(&piece[..read]);
            blake.update(&piece[..read]);
            into.write_all(&piece[..read]).unwrap();
        }
        into.sync_all().unwrap();
        sums.push((sha.finalize(), blake.finalize()));
    }
    sums.len()
}

/// The files two to a row, by typst alone.
fn bare_typst(files: &[PathBuf]) -> usize {
    let read = |file: &PathBuf| Bytes::new(fs::read(file).unwrap()).into_value();
    let pictures: Array = files.iter().map(read).collect();
    let inputs: Dict = [("pictures".into(), pictures.into_value())]
        .into_iter()
        .collect();
    let path = RootedPath::new(VirtualRoot::Project, VirtualPath::new("bare.typ").unwrap());
    let text =
        "#grid(columns: (1fr, 1fr), gutter: 5mm, ..sys.inputs.pictures.map(one => image(one)))";
    let bare = Bare {
        library: LazyHash::new(Library::builder().with_inputs(inputs).build()),
        book: LazyHash::new(FontBook::new()),
        source: Source::new(path.intern(), text.to_owned()),
    };
    let paged = typst::compile::<typst_layout::PagedDocument>(&bare)
        .output
        .unwrap();
    let pdf = typst_pdf::pdf(&paged, &typst_pdf::PdfOptions::default()).unwrap();
    typst::comemo::evict(0);
    pdf.len()
}

struct Bare {
    library: LazyHash<Library>,
    book: LazyHash<FontBook>,
    source: Source,
}

impl World for Bare {
    fn library(&self) -> &LazyHash<Library> {
        &self.library
    }
    fn book(&self) -> &LazyHash<FontBook> {
        &self.book
    }
    fn main(&self) -> FileId {
        self.source.id()
    }
    fn source(&self, id: FileId) -> FileResult<Source> {
        let own = (id == self.source.id()).then(|| self.source.clone());
        own.ok_or(FileError::AccessDenied)
    }
    fn file(&self, _: FileId) -> FileResult<Bytes> {
        Err(FileError::AccessDenied)
    }
    fn font(&self, _: usize) -> Option<Font> {
        None
    }
    fn today(&self, _: Option<Duration>) -> Option<Datetime> {
        None
    }
}

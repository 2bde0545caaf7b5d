//! What a template sees: the templates themselves, four fonts, and the data of one report. No file
//! of the machine, no network, no clock.

use std::sync::LazyLock;

use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Dict, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};

const MAIN: &str = "main.typ";
/// The templates, by the names under which they import each other.
const TEMPLATES: &[(&str, &str)] = &[
    (MAIN, include_str!("../../assets/paper/main.typ")),
    ("report.typ", include_str!("../../assets/paper/report.typ")),
    ("look.typ", include_str!("../../assets/paper/look.typ")),
    ("photos.typ", include_str!("../../assets/paper/photos.typ")),
    (
        "findings.typ",
        include_str!("../../assets/paper/findings.typ"),
    ),
    (
        "account.typ",
        include_str!("../../assets/paper/account.typ"),
    ),
    ("office.typ", include_str!("../../assets/paper/office.typ")),
];
const FONTS: &[&[u8]] = &[
    include_bytes!("../../assets/fonts/print/text.ttf"),
    include_bytes!("../../assets/fonts/print/text-bold.ttf"),
    include_bytes!("../../assets/fonts/print/text-italic.ttf"),
    include_bytes!("../../assets/fonts/print/head.ttf"),
];

/// What is the same for every report.
struct Stock {
    sources: Vec<Source>,
    fonts: Vec<Font>,
    book: LazyHash<FontBook>,
}

static STOCK: LazyLock<Stock> = LazyLock::new(|| {
    let sources = TEMPLATES.iter().filter_map(|(name, text)| {
        let path = VirtualPath::new(name).ok()?;
        let id = RootedPath::new(VirtualRoot::Project, path).intern();
        Some(Source::new(id, (*text).to_owned()))
    });
    let fonts: Vec<Font> = FONTS
        .iter()
        .flat_map(|bytes| Font::iter(Bytes::new(*bytes)))
        .collect();
    Stock {
        sources: sources.collect(),
        book: LazyHash::new(FontBook::from_fonts(&fonts)),
        fonts,
    }
});

/// The world of one report.
pub(super) struct Shop {
    library: LazyHash<Library>,
    main: FileId,
}

impl Shop {
    /// With the report's data as the template's inputs; `None` where there is no template.
    pub(super) fn new(inputs: Dict) -> Option<Self> {
        Some(Self {
            library: LazyHash::new(Library::builder().with_inputs(inputs).build()),
            main: STOCK.sources.first()?.id(),
        })
    }
}

/// True for a letter that one of the fonts has.
pub(super) fn has_letter(letter: char) -> bool {
    let mut fonts = STOCK.fonts.iter();
    fonts.any(|font| font.info().coverage.contains(u32::from(letter)))
}

impl World for Shop {
    fn library(&self) -> &LazyHash<Library> {
        &self.library
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &STOCK.book
    }

    fn main(&self) -> FileId {
        self.main
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        let mut sources = STOCK.sources.iter();
        let found = sources.find(|source| source.id() == id).cloned();
        found.ok_or(FileError::AccessDenied)
    }

    fn file(&self, _: FileId) -> FileResult<Bytes> {
        Err(FileError::AccessDenied)
    }

    fn font(&self, index: usize) -> Option<Font> {
        STOCK.fonts.get(index).cloned()
    }

    fn today(&self, _: Option<Duration>) -> Option<Datetime> {
        None
    }
}

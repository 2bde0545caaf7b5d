//! What a shell sets in formats that core does not write: the report, its pictures, the drawing.

use std::io::{self, Read};

use super::input::{PaperSize, PhotoSource, Progress};
use super::photos::PlacedPhoto;
use super::report::FullReport;
use super::{PacketError, PacketInput, Selection};
use crate::drawing::house_marks::house_of_job;
use crate::job::{Capture, Mark, PhotoHash, Place};
use crate::limits;
use crate::review::{FindingsList, State};

/// What a shell adds to a bag in formats that core does not write.
pub trait Renderer {
    /// Files for the report, by their names below `data/`; written in their order. `progress` says
    /// whether to go on.
    ///
    /// # Errors
    /// Where a format cannot be written, and [`PacketError::Stopped`].
    fn render(
        &self,
        rendering: &Rendering<'_>,
        progress: &mut dyn FnMut() -> bool,
    ) -> Result<Vec<(String, Vec<u8>)>, PacketError>;
}

/// Adds nothing.
#[derive(Clone, Copy, Debug, Default)]
pub struct NoRenderer;

impl Renderer for NoRenderer {
    fn render(
        &self,
        _: &Rendering<'_>,
        _: &mut dyn FnMut() -> bool,
    ) -> Result<Vec<(String, Vec<u8>)>, PacketError> {
        Ok(Vec::new())
    }
}

/// A report with all that is needed to set it on paper.
pub struct Rendering<'a> {
    /// The report. Nothing that its reader may not see is in it, nor in the rest.
    pub report: &'a FullReport,
    /// The job's id, as the running heads have it.
    pub job: String,
    /// The house from above with what was found, as SVG.
    pub drawing: String,
    /// The pictures of the report's photos, in their order.
    pub pictures: Vec<Picture>,
    /// Their files.
    pub photos: &'a dyn PhotoSource,
    /// The paper.
    pub paper: PaperSize,
}

/// The picture of one photo.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Picture {
    /// The original; `None` where it is not in the bag.
    pub original: Option<PhotoHash>,
    /// Its EXIF orientation, 1 to 8.
    pub orientation: u8,
    /// Marks drawn beside it, in thousandths of its width and height.
    pub marks: Vec<Mark>,
}

impl Rendering<'_> {
    /// The bytes of a picture's original; `None` where it is not here.
    ///
    /// # Errors
    /// Where it cannot be read.
    pub fn read(&self, picture: &Picture) -> io::Result<Option<Vec<u8>>> {
        let Some(hash) = picture.original else {
            return Ok(None);
        };
        let Some(reader) = self.photos.original(hash)? else {
            return Ok(None);
        };
        let mut bytes = Vec::new();
        let read = reader
            .take(limits::ORIGINAL_BYTES)
            .read_to_end(&mut bytes)?;
        Ok((read > 0).then_some(bytes))
    }
}

/// The rendering of a report.
pub(super) fn rendering<'a>(
    input: &PacketInput<'a>,
    selection: &Selection<'_>,
    report: &'a FullReport,
    list: &FindingsList,
    photos: &[PlacedPhoto<'_>],
) -> Rendering<'a> {
    let job = selection.job();
    let found = |at: &Place| found_at(list, at);
    Rendering {
        report,
        job: job.id.map(|id| id.to_string()).unwrap_or_default(),
        drawing: house_of_job(job, format!("{} from above", report.head.address), &found),
        pictures: photos.iter().map(picture).collect(),
        photos: input.photos,
        paper: input.choices.paper,
    }
}

fn picture(placed: &PlacedPhoto<'_>) -> Picture {
    let capture = placed.shown.capture.as_ref();
    let marks = placed.shown.photo.marks.as_ref();
    Picture {
        original: capture
            .filter(|_| placed.lacking.is_none())
            .map(|capture: &Capture| capture.hash),
        orientation: capture.map_or(1, |capture| capture.orientation),
        marks: marks
            .and_then(|bytes| Mark::from_bytes(bytes))
            .unwrap_or_default(),
    }
}

/// What the list has at a place: its findings from left to right, then parts that were cleared.
fn found_at(list: &FindingsList, at: &Place) -> Vec<State> {
    let groups = list.groups.iter();
    let here: Vec<_> = groups
        .filter(|group| group.place.as_ref() == Some(at))
        .collect();
    let rows = here.iter().flat_map(|group| &group.findings);
    let mut states: Vec<State> = rows
        .filter(|row| row.struck.is_none())
        .map(|row| row.state)
        .collect();
    let said = states
        .iter()
        .filter(|state| **state == State::Cleared)
        .count();
    let cleared: usize = here.iter().map(|group| group.counts.cleared as usize).sum();
    states.extend(std::iter::repeat_n(
        State::Cleared,
        cleared.saturating_sub(said),
    ));
    states
}

/// Asks whether to go on, with the photos done already.
pub(super) fn still<'p>(
    progress: &'p mut Progress<'_>,
    photos: usize,
) -> impl FnMut() -> bool + 'p {
    move || progress(photos, photos)
}

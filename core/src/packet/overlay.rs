//! Marks drawn beside a photo, laid over its picture. The picture itself stays as it is.

use maud::{Markup, html};

use crate::job::{Capture, Mark, Photo};

/// Most marks drawn over one photo.
const MARKS: usize = 500;

/// The marks that a photo's record holds; none where they cannot be read.
pub fn marks_of(photo: &Photo) -> Vec<Mark> {
    let bytes = photo.marks.as_ref();
    bytes
        .and_then(|bytes| Mark::from_bytes(bytes))
        .unwrap_or_default()
}

/// The marks of a photo as a picture to lay over it, of any size; `None` where there are none. It
/// covers its box as the photo does that is cut to it (`object-fit: cover`).
pub fn overlay(photo: &Photo, capture: Option<&Capture>) -> Option<Markup> {
    let marks = marks_of(photo);
    (!marks.is_empty()).then(|| drawn(&marks, capture))
}

/// The same of marks that stand in no record yet.
pub fn drawn(marks: &[Mark], capture: Option<&Capture>) -> Markup {
    let tall = capture.map_or(1.0, height_for_width);
    let y = |thousandths: u16| format!("{:.1}", f64::from(thousandths) * tall);
    html! {
        svg.marks viewBox=(format!("0 0 1000 {:.0}", 1000.0 * tall))
            preserveAspectRatio="xMidYMid slice" aria-hidden="true" {
            @for mark in marks.iter().take(MARKS) {
                @match mark {
                    Mark::Ring { x, y: down, r } => { circle.ring cx=(x) cy=(y(*down)) r=(r) {} }
                    Mark::Arrow { from, to } => {
                        line x1=(from.0) y1=(y(from.1)) x2=(to.0) y2=(y(to.1)) {}
                        circle.tip cx=(to.0) cy=(y(to.1)) r="12" {}
                    }
                    Mark::Text { x, y: down, text } => { text x=(x) y=(y(*down)) { (text) } }
                }
            }
        }
    }
}

/// Height of the upright picture as a part of its width.
fn height_for_width(capture: &Capture) -> f64 {
    let (width, height) = match capture.orientation {
        5..=8 => (capture.height, capture.width),
        _ => (capture.width, capture.height),
    };
    if width == 0 || height == 0 {
        return 1.0;
    }
    f64::from(height) / f64::from(width)
}

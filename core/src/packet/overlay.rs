//! Marks drawn beside a photo, laid over its small picture. The picture itself stays as it is.

use maud::{Markup, html};

use crate::job::{Capture, Mark, Photo};

/// Most marks drawn over one photo.
const MARKS: usize = 500;

/// The marks of a photo as a picture to lay over it, of any size; `None` where there are none.
pub fn overlay(photo: &Photo, capture: Option<&Capture>) -> Option<Markup> {
    let marks = Mark::from_bytes(photo.marks.as_ref()?)?;
    if marks.is_empty() {
        return None;
    }
    let tall = capture.map_or(1.0, height_for_width);
    Some(html! {
        svg.marks viewBox="0 0 1000 1000" preserveAspectRatio="none" aria-hidden="true" {
            @for mark in marks.iter().take(MARKS) {
                @match mark {
                    Mark::Ring { x, y, r } => {
                        ellipse cx=(x) cy=(y) rx=(r) ry=(format!("{:.1}", f64::from(*r) / tall)) {}
                    }
                    Mark::Arrow { from, to } => {
                        line x1=(from.0) y1=(from.1) x2=(to.0) y2=(to.1) {}
                        circle.tip cx=(to.0) cy=(to.1) r="12" {}
                    }
                    Mark::Text { x, y, text } => { text x=(x) y=(y) { (text) } }
                }
            }
        }
    })
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

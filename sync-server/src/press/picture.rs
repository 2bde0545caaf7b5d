//! A photo as it is set on paper: an upright copy with its marks drawn over it, as SVG. The copy
//! keeps its JPEG as it is, so that setting it takes no memory for its pixels.

use std::fmt::Write;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use chalkwalk_core::job::Mark;
use chalkwalk_core::photo::PrintCopy;

use super::letters::settled;

/// Pixels of the long side: 300 dots an inch where it is set largest, 85 mm wide.
pub(super) const SIDE: u32 = 1000;
/// Most marks drawn over one photo.
const MARKS: usize = 500;
/// Of a mark, and of the dark line behind it.
const BRIGHT: &str = "#ffd23e";
const DARK: &str = "#14191c";

/// The picture as SVG.
pub(super) fn svg(copy: &PrintCopy, marks: &[Mark]) -> Vec<u8> {
    let (width, height) = copy.upright();
    let (width, height) = (f64::from(width), f64::from(height));
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" \
         viewBox=\"0 0 {width} {height}\"><g transform=\"matrix({})\"><image width=\"{}\" \
         height=\"{}\" href=\"data:image/jpeg;base64,",
        turn(copy),
        copy.width,
        copy.height,
    );
    STANDARD.encode_string(&copy.jpeg, &mut out);
    out.push_str("\"/></g>");
    let across = |x: u16| f64::from(x) * width / 1000.0;
    let down = |y: u16| f64::from(y) * height / 1000.0;
    for mark in marks.iter().take(MARKS) {
        for (colour, line) in [(DARK, width / 130.0), (BRIGHT, width / 260.0)] {
            let stroke = format!("fill=\"none\" stroke=\"{colour}\" stroke-width=\"{line:.2}\"");
            // Writing to a string does not fail.
            let _ = match mark {
                Mark::Ring { x, y, r } => write!(
                    out,
                    "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"{:.1}\" {stroke}/>",
                    across(*x),
                    down(*y),
                    across(*r)
                ),
                Mark::Arrow { from, to } => write!(
                    out,
                    "<path d=\"M{:.1} {:.1}L{:.1} {:.1}\" {stroke}/><circle cx=\"{2:.1}\" \
                     cy=\"{3:.1}\" r=\"{4:.1}\" fill=\"{colour}\"/>",
                    across(from.0),
                    down(from.1),
                    across(to.0),
                    down(to.1),
                    line * 2.2
                ),
                Mark::Text { x, y, text } => write!(
                    out,
                    "<text x=\"{:.1}\" y=\"{:.1}\" font-size=\"{:.1}\" fill=\"{BRIGHT}\" \
                     stroke=\"{DARK}\" stroke-width=\"{:.2}\" paint-order=\"stroke\">{}</text>",
                    across(*x),
                    down(*y),
                    width / 23.0,
                    width / 300.0,
                    maud::html! { (settled(text).0) }.into_string()
                ),
            };
        }
    }
    out.push_str("</svg>");
    out.into_bytes()
}

/// The matrix that turns and mirrors as EXIF says. Source: EXIF 2.32 (CIPA DC-008), tag 0x0112.
fn turn(copy: &PrintCopy) -> String {
    let (width, height) = (copy.width, copy.height);
    match copy.orientation {
        2 => format!("-1 0 0 1 {width} 0"),
        3 => format!("-1 0 0 -1 {width} {height}"),
        4 => format!("1 0 0 -1 0 {height}"),
        5 => "0 1 1 0 0 0".to_owned(),
        6 => format!("0 1 -1 0 {height} 0"),
        7 => format!("0 -1 -1 0 {height} {width}"),
        8 => format!("0 -1 1 0 0 {width}"),
        _ => "1 0 0 1 0 0".to_owned(),
    }
}

/// The marks in words, for who cannot see them; empty where there are none.
pub(super) fn in_words(marks: &[Mark]) -> String {
    let mut rings = 0;
    let mut arrows = 0;
    let mut texts = Vec::new();
    for mark in marks.iter().take(MARKS) {
        match mark {
            Mark::Ring { .. } => rings += 1,
            Mark::Arrow { .. } => arrows += 1,
            Mark::Text { text, .. } => texts.push(format!("\u{201c}{text}\u{201d}")),
        }
    }
    let counted = |count: usize, one: &str| match count {
        0 => None,
        1 => Some(format!("1 {one}")),
        many => Some(format!("{many} {one}s")),
    };
    let parts = [counted(rings, "ring"), counted(arrows, "arrow")];
    let parts: Vec<String> = parts.into_iter().flatten().chain(texts).collect();
    parts.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn copy() -> PrintCopy {
        PrintCopy {
            jpeg: vec![1, 2, 3],
            width: 1000,
            height: 750,
            orientation: 1,
        }
    }

    /// Where each corner of the stored picture comes to lie, against the `image` crate.
    #[test]
    fn a_picture_is_turned_as_exif_says() {
        use image::metadata::Orientation;
        for orientation in 1..=8 {
            let copy = PrintCopy {
                jpeg: Vec::new(),
                width: 3,
                height: 2,
                orientation,
            };
            let by = turn(&copy);
            let by: Vec<i32> = by.split(' ').map(|part| part.parse().unwrap()).collect();
            let stored = image::GrayImage::from_fn(3, 2, |x, y| {
                image::Luma([u8::try_from(x + 3 * y).unwrap()])
            });
            let mut turned = image::DynamicImage::from(stored.clone());
            turned.apply_orientation(Orientation::from_exif(orientation).unwrap());
            let turned = turned.into_luma8();
            assert_eq!(copy.upright(), turned.dimensions());
            for (x, y, pixel) in stored.enumerate_pixels() {
                // Twice the middle of a pixel.
                let (x, y) = (2 * x as i32 + 1, 2 * y as i32 + 1);
                let to = (
                    by[0] * x + by[2] * y + 2 * by[4],
                    by[1] * x + by[3] * y + 2 * by[5],
                );
                let to = ((to.0 - 1) as u32 / 2, (to.1 - 1) as u32 / 2);
                assert_eq!(turned.get_pixel(to.0, to.1), pixel, "{orientation}");
            }
        }
    }

    #[test]
    fn marks_lie_where_they_were_drawn_and_words_stay_words() {
        let marks = [
            Mark::Ring {
                x: 500,
                y: 200,
                r: 50,
            },
            Mark::Text {
                x: 100,
                y: 1000,
                text: "<dent> & \"more\"".to_owned(),
            },
        ];
        let svg = String::from_utf8(svg(&copy(), &marks)).unwrap();
        assert!(
            svg.contains("cx=\"500.0\" cy=\"150.0\" r=\"50.0\""),
            "{svg}"
        );
        assert!(svg.contains("&lt;dent&gt; &amp;"), "{svg}");
        assert!(!svg.contains("<dent>"), "{svg}");
        assert_eq!(
            in_words(&marks),
            "1 ring, \u{201c}<dent> & \"more\"\u{201d}"
        );
        assert_eq!(in_words(&[]), "");
    }
}

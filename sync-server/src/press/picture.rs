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
    let (width, height) = (f64::from(copy.width), f64::from(copy.height));
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" \
         viewBox=\"0 0 {width} {height}\"><image width=\"{width}\" height=\"{height}\" \
         href=\"data:image/jpeg;base64,"
    );
    STANDARD.encode_string(&copy.jpeg, &mut out);
    out.push_str("\"/>");
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

//! The SVG's text: shapes and letters, escaped, numbers to the hundredth.

use std::fmt::Write as _;

use super::RoofDrawing;
use super::place::WIDE;

/// Where a text stands by its place.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
}

/// An SVG as it is written.
pub(super) struct Sheet {
    body: String,
}

/// A number to the hundredth, with no minus before zero.
fn number(value: f64) -> String {
    let rounded = (value * 100.0).round() / 100.0;
    let text = format!("{:.2}", if rounded == 0.0 { 0.0 } else { rounded });
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Feet to the tenth.
pub(super) fn feet(value: f64) -> String {
    format!("{value:.1}")
}

/// Square feet to the tenth.
pub(super) fn square_feet(value: f64) -> String {
    format!("{value:.1} sq ft")
}

/// `6 in 12`, to the tenth.
pub(super) fn pitch(rise: f64) -> String {
    let text = format!("{rise:.1}");
    format!("{} in 12", text.strip_suffix(".0").unwrap_or(&text))
}

/// About the width of a text on the sheet: letters are a little over half as wide as high.
pub(super) fn width(text: &str, size: f64) -> f64 {
    text.chars().count() as f64 * size * 0.56
}

/// A text in rows of at most so many letters, parted between words where it can be.
pub(super) fn rows(text: &str, most: usize) -> Vec<String> {
    let mut rows: Vec<String> = Vec::new();
    let mut used = most;
    for word in text.split_whitespace() {
        let letters: Vec<char> = word.chars().collect();
        for part in letters.chunks(most.max(1)) {
            if used + 1 + part.len() > most {
                rows.push(String::new());
                used = 0;
            }
            if let Some(row) = rows.last_mut() {
                if used > 0 {
                    row.push(' ');
                    used += 1;
                }
                row.extend(part);
                used += part.len();
            }
        }
    }
    rows
}

/// Text for XML: what has a meaning there is escaped, what XML forbids is left out.
pub(super) fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            '\t' | '\n' | '\r' => safe.push(' '),
            '\u{FFFE}' | '\u{FFFF}' => {}
            letter if letter.is_control() => {}
            letter => safe.push(letter),
        }
    }
    safe
}

impl Sheet {
    pub(super) fn new() -> Self {
        Self {
            body: String::new(),
        }
    }

    fn push(&mut self, element: std::fmt::Arguments<'_>) {
        // Writing to a string does not fail.
        let _ = self.body.write_fmt(element);
        self.body.push('\n');
    }

    fn points(corners: &[[f64; 2]]) -> String {
        let pairs = corners
            .iter()
            .map(|at| format!("{},{}", number(at[0]), number(at[1])));
        pairs.collect::<Vec<_>>().join(" ")
    }

    pub(super) fn plane(&mut self, corners: &[[f64; 2]], marked: bool) {
        let shade = if marked { 0.14 } else { 0.04 };
        let points = Self::points(corners);
        self.push(format_args!(
            "<polygon points=\"{points}\" fill=\"currentColor\" fill-opacity=\"{shade}\"/>"
        ));
    }

    pub(super) fn outline(&mut self, corners: &[[f64; 2]]) {
        let points = Self::points(corners);
        self.push(format_args!(
            "<polygon points=\"{points}\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"0.6\"/>"
        ));
    }

    pub(super) fn walls(&mut self, corners: &[[f64; 2]]) {
        let points = Self::points(corners);
        self.push(format_args!(
            "<polygon points=\"{points}\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"0.7\" \
             stroke-dasharray=\"1 4\" stroke-opacity=\"0.55\"/>"
        ));
    }

    pub(super) fn line(&mut self, from: [f64; 2], to: [f64; 2], wide: f64, dashes: &str) {
        let dashes = if dashes.is_empty() {
            String::new()
        } else {
            format!(" stroke-dasharray=\"{dashes}\"")
        };
        let [x1, y1, x2, y2] = [from[0], from[1], to[0], to[1]].map(number);
        self.push(format_args!(
            "<line x1=\"{x1}\" y1=\"{y1}\" x2=\"{x2}\" y2=\"{y2}\" stroke=\"currentColor\" \
             stroke-width=\"{wide}\"{dashes}/>"
        ));
    }

    pub(super) fn text(&mut self, at: [f64; 2], anchor: Anchor, size: f64, bold: bool, text: &str) {
        self.turned(at, anchor, size, bold, "", text);
    }

    fn turned(
        &mut self,
        at: [f64; 2],
        anchor: Anchor,
        size: f64,
        bold: bool,
        transform: &str,
        text: &str,
    ) {
        let (x, y, text) = (number(at[0]), number(at[1]), escaped(text));
        let anchor = match anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
        };
        let bold = if bold { " font-weight=\"600\"" } else { "" };
        self.push(format_args!(
            "<text x=\"{x}\" y=\"{y}\"{anchor} font-size=\"{size}\"{bold}{transform}>{text}</text>"
        ));
    }

    /// A label that runs beside a line, on the given side of it.
    pub(super) fn along(&mut self, from: [f64; 2], to: [f64; 2], text: &str, side: [f64; 2]) {
        let (mut a, mut b) = (from, to);
        // Left to right, and upward where the line is upright.
        if a[0] > b[0] + 1e-6 || ((a[0] - b[0]).abs() <= 1e-6 && a[1] < b[1]) {
            std::mem::swap(&mut a, &mut b);
        }
        let angle = (b[1] - a[1]).atan2(b[0] - a[0]);
        let middle = [(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0];
        // Letters stand on their base line: a third of their height brings them to the middle.
        let off = 10.0;
        let at = [
            middle[0] + side[0] * off - angle.sin() * 3.5,
            middle[1] + side[1] * off + angle.cos() * 3.5,
        ];
        let [turn, x, y] = [angle.to_degrees(), at[0], at[1]].map(number);
        let transform = format!(" transform=\"rotate({turn} {x} {y})\"");
        self.turned(at, Anchor::Middle, 10.0, false, &transform, text);
    }

    /// An arrow that points the way a plane falls, its pitch beside it.
    pub(super) fn arrow(&mut self, middle: [f64; 2], way: [f64; 2], pitch: &str) {
        let wide = width(pitch, 11.0);
        let centre = [middle[0] - wide / 2.0 - 4.0, middle[1]];
        let tip = [centre[0] + way[0] * 7.5, centre[1] + way[1] * 7.5];
        let tail = [centre[0] - way[0] * 7.5, centre[1] - way[1] * 7.5];
        self.line(tail, tip, 1.4, "");
        let wing = |turn: f64| {
            [
                tip[0] - way[0] * 6.0 - way[1] * turn,
                tip[1] - way[1] * 6.0 + way[0] * turn,
            ]
        };
        self.solid(&[tip, wing(3.5), wing(-3.5)]);
        let text = [middle[0] - wide / 2.0 + 11.0, middle[1] + 4.0];
        self.text(text, Anchor::Start, 11.0, false, pitch);
    }

    pub(super) fn solid(&mut self, corners: &[[f64; 2]]) {
        let points = Self::points(corners);
        self.push(format_args!(
            "<polygon points=\"{points}\" fill=\"currentColor\"/>"
        ));
    }

    /// The whole drawing.
    pub(super) fn finish(self, height: f64, drawing: &RoofDrawing, description: &str) -> String {
        let plain = |letter: &char| letter.is_ascii_alphanumeric() || *letter == '-';
        let id: String = drawing.id.chars().filter(plain).collect();
        let (title, description) = (escaped(&drawing.title), escaped(description));
        let (wide, high) = (number(WIDE), number(height));
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {wide} {high}\" role=\"img\" \
             aria-labelledby=\"{id}-title {id}-desc\" \
             font-family=\"system-ui, 'DejaVu Sans', sans-serif\" fill=\"currentColor\">\n\
             <title id=\"{id}-title\">{title}</title>\n<desc id=\"{id}-desc\">{description}</desc>\n\
             {}</svg>\n",
            self.body
        )
    }
}

//! A sheet of SVG: text that is escaped, numbers of fixed length, a title and a description.

use std::fmt::Write;

/// SVG in the making.
pub(super) struct Sheet {
    body: String,
}

impl Sheet {
    /// A sheet of a size in pixels. The title and description are read to those who do not see it;
    /// the id tells several drawings of one page apart.
    pub(super) fn new(id: &str, width: f64, height: f64, title: &str, description: &str) -> Self {
        let (id, title, description) = (escaped(id), escaped(title), escaped(description));
        let (w, h) = (number(width), number(height));
        let body = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w} {h}\" width=\"{w}\" \
             height=\"{h}\" role=\"img\" aria-labelledby=\"{id}-title {id}-description\" \
             font-family=\"system-ui, 'DejaVu Sans', sans-serif\">\n\
             <title id=\"{id}-title\">{title}</title>\n\
             <desc id=\"{id}-description\">{description}</desc>\n\
             <rect width=\"{w}\" height=\"{h}\" fill=\"#ffffff\"/>\n"
        );
        Self { body }
    }

    /// An element by its name, its attributes and numbers for them, closed at once.
    pub(super) fn shape(&mut self, name: &str, numbers: &[(&str, f64)], style: &str) {
        let _ = write!(self.body, "<{name}");
        for (attribute, value) in numbers {
            let _ = write!(self.body, " {attribute}=\"{}\"", number(*value));
        }
        let _ = writeln!(self.body, " {style}/>");
    }

    /// A closed outline.
    pub(super) fn polygon(&mut self, corners: &[(f64, f64)], style: &str) {
        let points: Vec<String> = corners
            .iter()
            .map(|(x, y)| format!("{},{}", number(*x), number(*y)))
            .collect();
        let _ = writeln!(
            self.body,
            "<polygon points=\"{}\" {style}/>",
            points.join(" ")
        );
    }

    /// A line of text, `anchor` one of start, middle and end.
    pub(super) fn text(&mut self, x: f64, y: f64, anchor: &str, style: &str, text: &str) {
        let (x, y, text) = (number(x), number(y), escaped(text));
        let _ = writeln!(
            self.body,
            "<text x=\"{x}\" y=\"{y}\" text-anchor=\"{anchor}\" {style}>{text}</text>"
        );
    }

    /// Markup that holds no text of anybody's.
    pub(super) fn raw(&mut self, markup: &str) {
        self.body.push_str(markup);
        self.body.push('\n');
    }

    /// The finished SVG.
    pub(super) fn finish(mut self) -> String {
        self.body.push_str("</svg>\n");
        self.body
    }
}

/// Two decimals at most, and never a negative nought; nought for what is no number.
pub(super) fn number(value: f64) -> String {
    let value = if value.is_finite() { value } else { 0.0 };
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

/// Text that is safe in markup. Characters that XML 1.0 does not allow become spaces.
pub(super) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

/// The beginning of a text, with a mark where it goes on.
pub(super) fn short(text: &str, letters: usize) -> String {
    if text.chars().count() <= letters {
        return text.to_owned();
    }
    let kept: String = text.chars().take(letters.saturating_sub(1)).collect();
    format!("{}…", kept.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    // Extensible Markup Language (XML) 1.0, sections 2.2 and 2.4.
    #[test]
    fn text_cannot_become_markup() {
        assert_eq!(
            escaped("<a b=\"1\">&\u{1}"),
            "&lt;a b=&quot;1&quot;&gt;&amp; "
        );
    }

    #[test]
    fn numbers_are_short_and_finite() {
        assert_eq!(number(1.0 / 3.0), "0.33");
        assert_eq!(number(-0.001), "0");
        assert_eq!(number(f64::NAN), "0");
        assert_eq!(short("Tessel Ford", 7), "Tessel…");
    }
}

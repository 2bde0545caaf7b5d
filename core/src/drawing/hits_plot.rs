//! Hits by the way each surface faces, as a rose with north up, and the wind that fits them.

use std::collections::BTreeMap;
use std::fmt::Write;

use crate::trade::pattern::{Arc, Directions, Fit, Judged, Pattern, degrees};
use crate::trade::wind::angle_between;

const WIDTH: f64 = 480.0;
/// Middle of the rose.
const MIDDLE: (f64, f64) = (240.0, 252.0);
/// Where bars begin.
const INNER: f64 = 38.0;
/// Length of the scale: the longest line of a covering ends there.
const SCALE: f64 = 94.0;
/// The ring of the wind.
const RING: (f64, f64) = (158.0, 184.0);
const LETTERS: f64 = 199.0;
/// Facings so close stand beside each other.
const BESIDE: f64 = 15.0;
const LINE: f64 = 17.0;

/// How the bars of a covering are filled: patterns differ, so that colour is not needed.
const FILLS: [(&str, &str); 4] = [
    ("plain", "#2f5266"),
    ("stripes", "#9c3d22"),
    ("dots", "#37694a"),
    ("hollow", "#6a5a86"),
];

/// The pattern as an SVG picture. `id` tells several pictures on one page apart; of it letters and
/// digits are used.
pub fn hits_plot(pattern: &Pattern, id: &str) -> String {
    let id: String = id.chars().filter(char::is_ascii_alphanumeric).collect();
    let coverings = coverings(&pattern.surfaces);
    let legend = legend(pattern, &coverings);
    let height = MIDDLE.1 + LETTERS + 30.0 + LINE * legend.len() as f64 + 12.0;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH:.0} {height:.0}\" \
         role=\"img\" aria-labelledby=\"{id}-title {id}-desc\" \
         font-family=\"system-ui, 'DejaVu Sans', sans-serif\" font-size=\"12\" fill=\"#23282b\">\n\
         <title id=\"{id}-title\">Hits by the way each surface faces</title>\n\
         <desc id=\"{id}-desc\">{}</desc>\n",
        escaped(&description(pattern))
    );
    svg.push_str(&fills(&id));
    line(
        &mut svg,
        &format!("<rect width=\"{WIDTH:.0}\" height=\"{height:.0}\" fill=\"#fffefb\"/>"),
    );
    line(
        &mut svg,
        "<text x=\"16\" y=\"26\" font-size=\"15\" font-weight=\"600\">\
                    Hits by the way each surface faces</text>",
    );
    compass(&mut svg);
    if let Some(fit) = &pattern.fit {
        wind(&mut svg, fit, &id);
    }
    bars(&mut svg, &pattern.surfaces, &coverings, &id);
    for (number, (fill, words)) in legend.iter().enumerate() {
        let y = MIDDLE.1 + LETTERS + 30.0 + LINE * number as f64;
        if let Some(fill) = fill {
            let swatch = format!(
                "<rect x=\"16\" y=\"{:.1}\" width=\"12\" height=\"12\" {}/>",
                y - 10.0,
                filled(*fill, &id)
            );
            line(&mut svg, &swatch);
        }
        let x = if fill.is_some() { 36 } else { 16 };
        line(
            &mut svg,
            &format!("<text x=\"{x}\" y=\"{y:.1}\">{}</text>", escaped(words)),
        );
    }
    svg.push_str("</svg>\n");
    svg
}

/// Coverings by name: their number, and the rate where their scale ends.
fn coverings(surfaces: &[Judged]) -> BTreeMap<&str, (usize, f64)> {
    let mut coverings: BTreeMap<&str, (usize, f64)> = BTreeMap::new();
    for row in surfaces {
        let end = coverings.entry(&row.surface.covering).or_default();
        end.1 = end.1.max(row.rate_high);
    }
    for (number, covering) in coverings.values_mut().enumerate() {
        covering.0 = number;
    }
    coverings
}

fn description(pattern: &Pattern) -> String {
    let mut words = pattern.sentence.clone();
    for row in &pattern.surfaces {
        let surface = &row.surface;
        let _ = write!(
            words,
            " {}, facing {:.0}°: {} hits on {:.0} {}.",
            surface.name, surface.facing.bearing, surface.hits, surface.exposure, surface.unit
        );
    }
    words
}

fn legend(
    pattern: &Pattern,
    coverings: &BTreeMap<&str, (usize, f64)>,
) -> Vec<(Option<usize>, String)> {
    let mut lines = Vec::new();
    for (covering, (number, end)) in coverings {
        let of_it = |row: &&Judged| row.surface.covering == **covering;
        let unit = match pattern.surfaces.iter().find(of_it) {
            Some(row) => row.surface.unit.as_str(),
            None => "",
        };
        let covering: String = covering.chars().take(32).collect();
        let words = match unit {
            "sq ft" | "ft" => format!(
                "{covering}: outer ring {:.1} hits for 100 {unit}",
                end * 100.0
            ),
            unit => format!("{covering}: outer ring {end:.1} hits for each one ({unit})"),
        };
        lines.push((Some(*number), words));
    }
    if pattern.surfaces.is_empty() {
        lines.push((
            None,
            "No hits were counted on a surface whose facing is known.".to_owned(),
        ));
    } else {
        let level = pattern.fit.as_ref().map_or(String::new(), |fit| {
            format!(" ({:.0} %)", fit.level * 100.0)
        });
        lines.push((
            None,
            format!("Figures are hits counted, thin lines exact intervals{level}."),
        ));
    }
    match &pattern.fit {
        Some(fit) if fit.directions == Directions::Any => {
            lines.push((None, "No direction of the wind can be told.".to_owned()));
        }
        Some(fit) => lines.extend(arrow_words(fit)),
        None => lines.push((None, "Too little data for a wind.".to_owned())),
    }
    lines
}

fn arrow_words(fit: &Fit) -> [(Option<usize>, String); 2] {
    let arcs = match &fit.directions {
        Directions::Any => &Vec::new(),
        Directions::Arcs(arcs) => arcs,
    };
    let mut parts: Vec<String> = arcs
        .iter()
        .take(3)
        .map(|arc| format!("{} to {}", degrees(arc.from), degrees(arc.to)))
        .collect();
    if arcs.len() > parts.len() {
        parts.push("others".to_owned());
    }
    [
        (
            None,
            format!("Arrow: where the hail came from, {}.", degrees(fit.from)),
        ),
        (
            None,
            format!(
                "Striped ring: directions that fit as well, {}.",
                parts.join(" and ")
            ),
        ),
    ]
}

fn fills(id: &str) -> String {
    let mut defs = String::from("<defs>\n");
    let tile = |name: &str, inside: String| {
        format!(
            "<pattern id=\"{id}-{name}\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\">\
             <rect width=\"6\" height=\"6\" fill=\"#fffefb\"/>{inside}</pattern>\n"
        )
    };
    let stripe = |colour: &str| {
        format!("<path d=\"M-1 1L1 -1M0 6L6 0M5 7L7 5\" stroke=\"{colour}\" stroke-width=\"2\"/>")
    };
    let (_, stripes) = FILLS[1];
    let (_, dots) = FILLS[2];
    defs.push_str(&tile("stripes", stripe(stripes)));
    defs.push_str(&tile(
        "dots",
        format!("<circle cx=\"3\" cy=\"3\" r=\"1.7\" fill=\"{dots}\"/>"),
    ));
    defs.push_str(&tile("wind", stripe("#c9a24a")));
    defs.push_str("</defs>\n");
    defs
}

fn filled(number: usize, id: &str) -> String {
    let (name, colour) = FILLS[number % FILLS.len()];
    let fill = match name {
        "plain" => colour.to_owned(),
        "hollow" => "#fffefb".to_owned(),
        name => format!("url(#{id}-{name})"),
    };
    format!("fill=\"{fill}\" stroke=\"{colour}\" stroke-width=\"1.2\"")
}

fn compass(svg: &mut String) {
    let (x, y) = MIDDLE;
    for radius in [INNER, INNER + SCALE] {
        line(
            svg,
            &format!(
                "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{radius:.1}\" fill=\"none\" stroke=\"#d9d7cf\"/>"
            ),
        );
    }
    for (letter, bearing) in [("N", 0.0), ("E", 90.0), ("S", 180.0), ("W", 270.0)] {
        let (x, y) = at(bearing, LETTERS);
        line(
            svg,
            &format!(
                "<text x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\" font-weight=\"600\">{letter}</text>",
                y + 4.0
            ),
        );
    }
}

/// The point at a bearing and a distance from the middle; north is up.
fn at(bearing: f64, radius: f64) -> (f64, f64) {
    let (sin, cos) = bearing.to_radians().sin_cos();
    (MIDDLE.0 + radius * sin, MIDDLE.1 - radius * cos)
}

fn wind(svg: &mut String, fit: &Fit, id: &str) {
    match &fit.directions {
        Directions::Any => {
            for radius in [RING.0, RING.1] {
                line(
                    svg,
                    &format!(
                        "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"{radius:.1}\" fill=\"none\" \
                     stroke=\"#8a6400\" stroke-dasharray=\"4 3\"/>",
                        MIDDLE.0, MIDDLE.1
                    ),
                );
            }
        }
        Directions::Arcs(arcs) => {
            for arc in arcs {
                line(svg, &wedge(*arc, id));
            }
            arrow(svg, fit.from);
        }
    }
}

fn wedge(arc: Arc, id: &str) -> String {
    let (inner, outer) = RING;
    let (x1, y1) = at(arc.from, outer);
    let (x2, y2) = at(arc.to, outer);
    let (x3, y3) = at(arc.to, inner);
    let (x4, y4) = at(arc.from, inner);
    let large = u8::from(arc.width() > 180.0);
    format!(
        "<path d=\"M{x1:.1} {y1:.1}A{outer:.1} {outer:.1} 0 {large} 1 {x2:.1} {y2:.1}L{x3:.1} \
         {y3:.1}A{inner:.1} {inner:.1} 0 {large} 0 {x4:.1} {y4:.1}Z\" fill=\"url(#{id}-wind)\" \
         stroke=\"#8a6400\"/>"
    )
}

/// An arrow from outside the ring towards the middle.
fn arrow(svg: &mut String, from: f64) {
    let (x1, y1) = at(from, RING.1 + 2.0);
    let (x2, y2) = at(from, RING.0 - 2.0);
    line(
        svg,
        &format!(
            "<path d=\"M{x1:.1} {y1:.1}L{x2:.1} {y2:.1}\" stroke=\"#23282b\" stroke-width=\"4\"/>"
        ),
    );
    let (x, y) = at(from, RING.0 - 14.0);
    let (xa, ya) = at(from - 3.2, RING.0);
    let (xb, yb) = at(from + 3.2, RING.0);
    line(
        svg,
        &format!("<path d=\"M{x:.1} {y:.1}L{xa:.1} {ya:.1}L{xb:.1} {yb:.1}Z\" fill=\"#23282b\"/>"),
    );
}

fn bars(svg: &mut String, surfaces: &[Judged], coverings: &BTreeMap<&str, (usize, f64)>, id: &str) {
    for (index, row) in surfaces.iter().enumerate() {
        let bearing = row.surface.facing.bearing;
        let beside =
            |other: &&Judged| angle_between(other.surface.facing.bearing, bearing) <= BESIDE;
        let group = surfaces.iter().filter(beside).count().max(1);
        let place = surfaces.iter().take(index).filter(beside).count();
        let width = (54.0 / group as f64).min(15.0);
        let along = (place as f64 - (group as f64 - 1.0) / 2.0) * (width + 3.0);
        let (number, end) = coverings
            .get(row.surface.covering.as_str())
            .copied()
            .unwrap_or_default();
        bar(svg, row, (along, width), end, &filled(number, id));
    }
}

/// One bar in a frame turned to its bearing, its figure upright.
fn bar(svg: &mut String, row: &Judged, (along, width): (f64, f64), end: f64, fill: &str) {
    let bearing = row.surface.facing.bearing;
    let scale = |rate: f64| {
        if end > 0.0 {
            SCALE * (rate / end).min(1.0)
        } else {
            0.0
        }
    };
    let (length, low) = (scale(row.rate), scale(row.rate_low));
    let high = scale(row.rate_high);
    let (x, y) = MIDDLE;
    let _ = writeln!(
        svg,
        "<g transform=\"rotate({bearing:.1} {x:.1} {y:.1})\">\
         <rect x=\"{:.1}\" y=\"{:.1}\" width=\"{width:.1}\" height=\"{length:.1}\" {fill}/>\
         <path d=\"M{:.1} {:.1}V{:.1}\" stroke=\"#fffefb\" stroke-width=\"3\"/>\
         <path d=\"M{:.1} {:.1}V{:.1}\" stroke=\"#23282b\" stroke-width=\"1.3\"/></g>",
        x + along - width / 2.0,
        y - INNER - length,
        x + along,
        y - INNER - low,
        y - INNER - high,
        x + along,
        y - INNER - low,
        y - INNER - high,
    );
    let (sin, cos) = bearing.to_radians().sin_cos();
    let out = INNER + high.max(length) + 9.0;
    let _ = writeln!(
        svg,
        "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\" font-weight=\"600\">{}</text>",
        x + out * sin + along * cos,
        y - out * cos + along * sin + 4.0,
        row.surface.hits
    );
}

fn line(svg: &mut String, text: &str) {
    svg.push_str(text);
    svg.push('\n');
}

fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            // XML has no place for other control characters.
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
#[path = "hits_plot_tests.rs"]
mod tests;

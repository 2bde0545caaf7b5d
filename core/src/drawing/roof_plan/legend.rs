//! Beside and beneath the roof: north, the scale, the totals by kind and the planes as a list.

use crate::trade::roof::{Roof, squares};

use super::place::{Frame, WIDE};
use super::sheet::{self, Anchor, Sheet, feet, square_feet};
use super::{RoofDrawing, mark, name, style};

/// Lengths a scale bar may have, feet.
const BARS: [f64; 12] = [
    1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1_000.0, 2_000.0, 5_000.0,
];
const LINE: f64 = 18.0;
/// Letters in a row of the list of planes.
const ROW: usize = 64;

/// An arrow to north: the plan's +y is up, and `north` is its bearing.
pub(super) fn north_arrow(sheet: &mut Sheet, roof: &Roof) {
    let turn = (-roof.north).to_radians();
    let way = [turn.sin(), -turn.cos()];
    let middle = [WIDE - 50.0, 66.0];
    let tip = [middle[0] + way[0] * 22.0, middle[1] + way[1] * 22.0];
    let tail = [middle[0] - way[0] * 20.0, middle[1] - way[1] * 20.0];
    sheet.line(tail, tip, 1.6, "");
    let wing = |turn: f64| {
        [
            tip[0] - way[0] * 12.0 - way[1] * turn,
            tip[1] - way[1] * 12.0 + way[0] * turn,
        ]
    };
    sheet.solid(&[tip, wing(5.0), wing(-5.0)]);
    let letter = [middle[0] + way[0] * 33.0, middle[1] + way[1] * 33.0 + 4.5];
    sheet.text(letter, Anchor::Middle, 13.0, true, "N");
}

/// A bar of a round length, at most a quarter of the sheet.
pub(super) fn scale_bar(sheet: &mut Sheet, frame: &Frame) {
    let fits = |bar: &&f64| **bar * frame.scale <= WIDE / 4.0;
    let bar = BARS.iter().rfind(fits).copied().unwrap_or(BARS[0]);
    let y = frame.bottom() + 52.0;
    let end = 20.0 + bar * frame.scale;
    sheet.line([20.0, y], [end, y], 1.6, "");
    for x in [20.0, end] {
        sheet.line([x, y - 4.0], [x, y + 4.0], 1.6, "");
    }
    sheet.text(
        [end + 8.0, y + 4.0],
        Anchor::Start,
        11.0,
        false,
        &format!("{bar} ft"),
    );
}

/// The totals on the left, the planes on the right; where the sheet ends.
pub(super) fn lists(sheet: &mut Sheet, roof: &Roof, drawing: &RoofDrawing, frame: &Frame) -> f64 {
    let top = frame.bottom() + 86.0;
    let mut y = top;
    let head = "Edges, true length";
    sheet.text([20.0, y], Anchor::Start, 12.0, true, head);
    for total in roof.totals.iter().filter(|total| total.count > 0) {
        y += LINE;
        let (letter, wide, dashes) = style(total.kind);
        sheet.line([20.0, y - 4.0], [62.0, y - 4.0], wide, dashes);
        let words = format!("{letter}  {}", total.kind.label());
        sheet.text([72.0, y], Anchor::Start, 12.0, false, &words);
        let length = feet(total.length);
        let length = match total.count {
            1 => format!("1 edge, {length} ft"),
            count => format!("{count} edges, {length} ft in all"),
        };
        sheet.text([156.0, y], Anchor::Start, 12.0, false, &length);
    }
    y += LINE;
    let walls = "walls of the house";
    let corners = [[20.0, y - 4.0], [62.0, y - 4.0]];
    sheet.walls(&corners);
    sheet.text([72.0, y], Anchor::Start, 12.0, false, walls);
    let right = planes(sheet, roof, drawing, top);
    y.max(right) + 20.0
}

fn planes(sheet: &mut Sheet, roof: &Roof, drawing: &RoofDrawing, top: f64) -> f64 {
    let mut y = top;
    let all = format!(
        "Planes, {} on the slopes ({:.2} squares)",
        square_feet(roof.area),
        squares(roof.area)
    );
    sheet.text([330.0, y], Anchor::Start, 12.0, true, &all);
    for (at, plane) in roof.planes.iter().enumerate() {
        y += LINE;
        let letter = roof.plane_name(at);
        sheet.text([330.0, y], Anchor::Start, 12.0, true, &letter);
        let area = square_feet(plane.area);
        let facing = format!("faces {}", compass(plane.facing));
        let mut words = format!("{area}, {}, {facing}", sheet::pitch(plane.pitch));
        let given = name(roof, drawing, at);
        if given != letter {
            words = format!("{given}: {words}");
        }
        if let Some(text) = mark(drawing, at) {
            words.push_str(". ");
            words.push_str(text);
        }
        for (row, text) in sheet::rows(&words, ROW).iter().enumerate() {
            if row > 0 {
                y += LINE;
            }
            sheet.text([358.0, y], Anchor::Start, 12.0, false, text);
        }
    }
    y
}

/// A bearing in whole degrees with the nearest of eight winds.
fn compass(bearing: f64) -> String {
    const WINDS: [&str; 8] = ["N", "NE", "E", "SE", "S", "SW", "W", "NW"];
    let eighth = (bearing / 45.0).round() as usize % WINDS.len();
    format!("{}° {}", bearing.round() % 360.0, WINDS[eighth])
}

//! A solved roof as an SVG: planes outlined, edges by kind with their lengths, a pitch arrow in
//! each plane, north, a scale, and beneath it the totals and the planes as a list.
//!
//! Kinds differ by line and letter, not by colour. Lines and letters take the
//! colour of the text round the drawing, so that it reads on light and on dark. Same roof, same
//! text, to the byte.

mod legend;
mod place;
mod sheet;

#[cfg(test)]
mod tests;

use crate::trade::roof::{EdgeKind, Roof};

use place::{Frame, inside};
use sheet::{Anchor, Sheet, feet, square_feet};

/// What a page adds to the drawing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RoofDrawing {
    /// Stands above it, and is its title to a screen reader.
    pub title: String,
    /// Sets this drawing's ids apart from others on the same page; letters, digits and hyphens.
    pub id: String,
    /// Notes by plane, in the roof's order; may be shorter than the planes are many.
    pub planes: Vec<PlaneNote>,
}

/// What a page says of one plane.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PlaneNote {
    /// A name, such as "front"; the plane's letter stands where there is none.
    pub name: Option<String>,
    /// A finding, such as "11 hits in test square".
    pub mark: Option<String>,
}

/// How a kind of edge is drawn: letter, width, dashes.
fn style(kind: EdgeKind) -> (&'static str, f64, &'static str) {
    match kind {
        EdgeKind::Ridge => ("R", 3.2, ""),
        EdgeKind::Hip => ("H", 1.8, ""),
        EdgeKind::Valley => ("V", 2.0, "8 4"),
        EdgeKind::Eave => ("E", 1.2, ""),
        EdgeKind::Rake => ("K", 1.6, "12 3 2 3"),
        EdgeKind::Wall => ("W", 2.2, "2 3"),
        EdgeKind::Top => ("T", 3.2, "14 4"),
    }
}

/// Draws a roof. Names, marks and the title are escaped.
pub fn roof_plan(roof: &Roof, drawing: &RoofDrawing) -> String {
    let frame = Frame::new(roof);
    let mut sheet = Sheet::new();
    sheet.text([20.0, 28.0], Anchor::Start, 16.0, true, &drawing.title);
    planes(&mut sheet, roof, drawing, &frame);
    edges(&mut sheet, roof, &frame);
    legend::north_arrow(&mut sheet, roof);
    legend::scale_bar(&mut sheet, &frame);
    let height = legend::lists(&mut sheet, roof, drawing, &frame);
    sheet.finish(height, drawing, &described(roof))
}

/// The drawing in words.
fn described(roof: &Roof) -> String {
    let mut words = format!(
        "Roof plan seen from above: {} planes, {} on the slopes, {} in plan.",
        roof.planes.len(),
        square_feet(roof.area),
        square_feet(roof.plan_area),
    );
    for total in roof.totals.iter().filter(|total| total.count > 0) {
        let label = total.kind.label();
        let length = feet(total.length);
        words.push_str(&format!(" {} x {label}, {length} ft in all.", total.count));
    }
    words
}

/// The name of a plane: the page's, or its letter.
fn name(roof: &Roof, drawing: &RoofDrawing, plane: usize) -> String {
    let given = drawing.planes.get(plane).and_then(|note| note.name.clone());
    given.unwrap_or_else(|| roof.plane_name(plane))
}

fn mark(drawing: &RoofDrawing, plane: usize) -> Option<&str> {
    drawing.planes.get(plane)?.mark.as_deref()
}

/// Each plane's outline, and in it, as far as there is room, its name, area, arrow and mark.
fn planes(sheet: &mut Sheet, roof: &Roof, drawing: &RoofDrawing, frame: &Frame) {
    for (at, plane) in roof.planes.iter().enumerate() {
        let corners: Vec<[f64; 2]> = plane.corners.iter().map(|c| frame.spot(c)).collect();
        sheet.plane(&corners, mark(drawing, at).is_some());
        let (middle, room) = inside(&corners);
        let label = name(roof, drawing, at);
        let fits = |text: &str, size: f64| sheet::width(text, size) / 2.0 <= room * 1.15;
        if !fits(&label, 13.0) || room < 9.0 {
            let letter = roof.plane_name(at);
            sheet.text(
                [middle[0], middle[1] + 4.0],
                Anchor::Middle,
                10.0,
                true,
                &letter,
            );
            continue;
        }
        let bearing = (plane.facing - roof.north).to_radians();
        let (area, pitch) = (square_feet(plane.area), sheet::pitch(plane.pitch));
        let marked = mark(drawing, at).filter(|text| fits(text, 11.0));
        let full = room >= 30.0 && fits(&area, 11.0);
        if !full {
            let y = if room >= 20.0 { -2.0 } else { 4.0 };
            sheet.text(
                [middle[0], middle[1] + y],
                Anchor::Middle,
                13.0,
                true,
                &label,
            );
            if room >= 20.0 {
                sheet.text(
                    [middle[0], middle[1] + 12.0],
                    Anchor::Middle,
                    11.0,
                    false,
                    &pitch,
                );
            }
            continue;
        }
        let lift = if marked.is_some() { 8.0 } else { 0.0 };
        let line = |below: f64| [middle[0], middle[1] + below - lift];
        sheet.text(line(-10.0), Anchor::Middle, 13.0, true, &label);
        sheet.text(line(5.0), Anchor::Middle, 11.0, false, &area);
        sheet.arrow(line(17.5), [bearing.sin(), -bearing.cos()], &pitch);
        if let Some(text) = marked {
            sheet.text(line(36.0), Anchor::Middle, 11.0, true, text);
        }
    }
}

/// Each edge in its kind's line, with its letter and length where there is room.
fn edges(sheet: &mut Sheet, roof: &Roof, frame: &Frame) {
    let outline: Vec<[f64; 2]> = roof.outline.iter().map(|at| frame.at(*at)).collect();
    let walls: Vec<[f64; 2]> = roof.walls.iter().map(|at| frame.at(*at)).collect();
    sheet.walls(&walls);
    sheet.outline(&outline);
    for edge in &roof.edges {
        let (_, wide, dashes) = style(edge.kind);
        sheet.line(frame.spot(&edge.from), frame.spot(&edge.to), wide, dashes);
    }
    for edge in &roof.edges {
        let (from, to) = (frame.spot(&edge.from), frame.spot(&edge.to));
        let text = format!("{} {}'", style(edge.kind).0, feet(edge.length));
        let long = (to[0] - from[0]).hypot(to[1] - from[1]);
        if long < sheet::width(&text, 10.0) + 6.0 {
            continue;
        }
        let outward = edge.kind == EdgeKind::Eave || edge.kind == EdgeKind::Rake;
        sheet.along(from, to, &text, place::side(from, to, &outline, outward));
    }
}

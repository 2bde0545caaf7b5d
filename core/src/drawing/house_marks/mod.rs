//! The house from above, the front at the foot of the sheet: its slopes, its four sides, and what
//! was found on each as marks. Where the roof was worked out it is that roof; else a plain hip,
//! which the sheet says.
//!
//! States differ by shape and are told in words beneath; the colour says nothing of its own.

mod frame;
mod marks;
mod of_job;
#[cfg(test)]
mod tests;

use super::sheet::{Sheet, short};
use crate::job::Side;
use crate::review::State;
use crate::trade::roof::Roof;

pub use of_job::house_of_job;

use frame::{Frame, PLAIN, Spot};
use marks::{SHAPES, row, shape, summed};

const WIDTH: f64 = 760.0;
const HEIGHT: f64 = 640.0;
const INK: &str = "#20272b";
const SOFT: &str = "#545f65";
/// Marks that stand one by one beside a side; more are counted.
const SINGLY: usize = 15;
/// Between two marks.
const STEP: f64 = 22.0;

/// What is drawn.
#[derive(Clone, Debug, Default)]
pub struct HouseMarks<'a> {
    /// Its title, to a screen reader too.
    pub title: String,
    /// Sets its ids apart from others on a page.
    pub id: String,
    /// What was found on each side, from left to right as one faces it.
    pub sides: Vec<(Side, Vec<State>)>,
    /// The slopes.
    pub slopes: Vec<SlopeMarks>,
    /// True bearing that the front faces, degrees clockwise from north.
    pub front_bearing: Option<f64>,
    /// The roof, where it was worked out.
    pub roof: Option<&'a Roof>,
}

/// One slope.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SlopeMarks {
    /// Its name.
    pub name: String,
    /// The side below it.
    pub side: Option<Side>,
    /// Its plane in the roof; where any slope has none, the roof is not drawn.
    pub plane: Option<usize>,
    /// What was found on it.
    pub found: Vec<State>,
    /// Hits in its test square.
    pub square_hits: Option<u32>,
}

/// Draws the house. Names are escaped.
pub fn house_marks(house: &HouseMarks<'_>) -> String {
    let mut sheet = Sheet::new(
        &plain(&house.id),
        WIDTH,
        HEIGHT,
        &house.title,
        &described(house),
    );
    let known = house.slopes.iter().all(|slope| slope.plane.is_some());
    let roof = house.roof.filter(|_| known && !house.slopes.is_empty());
    match roof {
        Some(roof) => drawn_roof(&mut sheet, house, roof),
        None => plain_roof(&mut sheet, house),
    }
    for (side, found) in &house.sides {
        beside(&mut sheet, *side, found);
    }
    if let Some(bearing) = house.front_bearing.filter(|bearing| bearing.is_finite()) {
        north(&mut sheet, bearing);
    }
    legend(&mut sheet, roof.is_some());
    sheet.finish()
}

fn plain(id: &str) -> String {
    let safe = |letter: &char| letter.is_ascii_alphanumeric() || *letter == '-';
    id.chars().filter(safe).collect()
}

/// The drawing in words.
fn described(house: &HouseMarks<'_>) -> String {
    let mut words = "The house from above, the front at the foot.".to_owned();
    for (side, found) in &house.sides {
        words.push_str(&format!(
            " {} side: {}.",
            capital(side.label()),
            summed(found)
        ));
    }
    for slope in &house.slopes {
        words.push_str(&format!(" Slope {}: {}", slope.name, summed(&slope.found)));
        if let Some(hits) = slope.square_hits {
            words.push_str(&format!(", {hits} hits in the test square"));
        }
        words.push('.');
    }
    words
}

fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().collect::<String>() + letters.as_str()
    })
}

fn drawn_roof(sheet: &mut Sheet, house: &HouseMarks<'_>, roof: &Roof) {
    let frame = Frame::of(roof, house.front_bearing);
    for plane in &roof.planes {
        let corners: Vec<Spot> = plane
            .corners
            .iter()
            .map(|c| frame.at([c[0], c[1]]))
            .collect();
        sheet.polygon(&corners, PLANE);
    }
    let outline: Vec<Spot> = roof.outline.iter().map(|at| frame.at(*at)).collect();
    sheet.polygon(&outline, OUTLINE);
    for slope in &house.slopes {
        let Some(plane) = slope.plane.and_then(|plane| roof.planes.get(plane)) else {
            continue;
        };
        let corners: Vec<Spot> = plane
            .corners
            .iter()
            .map(|c| frame.at([c[0], c[1]]))
            .collect();
        let (middle, room) = frame::inside(&corners);
        within(sheet, middle, room, std::slice::from_ref(slope));
    }
}

const PLANE: &str = "fill=\"#f1eee6\" stroke=\"#8b9296\" stroke-width=\"1\"";
const OUTLINE: &str = "fill=\"none\" stroke=\"#20272b\" stroke-width=\"2\"";

fn plain_roof(sheet: &mut Sheet, house: &HouseMarks<'_>) {
    for (side, corners, middle, room) in PLAIN {
        sheet.polygon(corners, PLANE);
        let here: Vec<SlopeMarks> = house
            .slopes
            .iter()
            .filter(|slope| slope.side == Some(*side))
            .cloned()
            .collect();
        within(sheet, *middle, *room, &here);
    }
    sheet.polygon(&frame::PLAIN_OUTLINE, OUTLINE);
}

/// Names and marks of the slopes in one plane.
fn within(sheet: &mut Sheet, middle: Spot, room: f64, slopes: &[SlopeMarks]) {
    const NAME: &str = "font-size=\"14\" font-weight=\"600\" fill=\"#20272b\"";
    const LINES: usize = 3;
    let letters = (room * 2.0 / 7.4).max(8.0) as usize;
    let shown = &slopes[..slopes.len().min(LINES)];
    let tall = 46.0 * shown.len() as f64;
    let mut y = middle.1 - tall / 2.0 + 16.0;
    for slope in shown {
        sheet.text(middle.0, y, "middle", NAME, &short(&slope.name, letters));
        row(
            sheet,
            (middle.0, y + 15.0),
            room,
            &slope.found,
            slope.square_hits,
        );
        y += 46.0;
    }
    if slopes.len() > LINES {
        let more = format!("and {} more", slopes.len() - LINES);
        sheet.text(middle.0, y, "middle", &small(), &more);
    }
}

fn small() -> String {
    format!("font-size=\"12\" fill=\"{SOFT}\"")
}

/// What stands beside one side: its name, and its marks from left to right as one faces it.
fn beside(sheet: &mut Sheet, side: Side, found: &[State]) {
    let name = format!("font-size=\"15\" font-weight=\"600\" fill=\"{INK}\"");
    let (from, step, label, anchor) = frame::wall(side);
    sheet.text(label.0, label.1, anchor, &name, &capital(side.label()));
    if found.is_empty() {
        let below = (label.0, label.1 + 17.0);
        sheet.text(below.0, below.1, anchor, &small(), "nothing recorded");
        return;
    }
    if found.len() > SINGLY {
        counted(sheet, side, found, label, anchor);
        return;
    }
    for (at, state) in found.iter().enumerate() {
        let along = (at as f64 - (found.len() - 1) as f64 / 2.0) * STEP;
        shape(
            sheet,
            (from.0 + step.0 * along, from.1 + step.1 * along),
            *state,
        );
    }
}

fn counted(sheet: &mut Sheet, side: Side, found: &[State], label: Spot, anchor: &str) {
    let upright = matches!(side, Side::Left | Side::Right);
    let text = format!("font-size=\"14\" fill=\"{INK}\"");
    let states = SHAPES.iter().filter_map(|(state, _)| {
        let count = found.iter().filter(|other| *other == state).count();
        (count > 0).then_some((*state, count))
    });
    for (at, (state, count)) in states.enumerate() {
        let at = at as f64;
        let spot = match (upright, anchor) {
            (true, "start") => (label.0 + 8.0, label.1 + 24.0 + at * 24.0),
            (true, _) => (label.0 - 46.0, label.1 + 24.0 + at * 24.0),
            (false, _) => (label.0 - 110.0 + at * 62.0, label.1 + 24.0),
        };
        shape(sheet, spot, state);
        sheet.text(
            spot.0 + 13.0,
            spot.1 + 5.0,
            "start",
            &text,
            &count.to_string(),
        );
    }
}

/// An arrow to north; the front, at the foot, faces `bearing`.
fn north(sheet: &mut Sheet, bearing: f64) {
    let turn = bearing.to_radians();
    let way = (turn.sin(), turn.cos());
    let middle = (WIDTH - 52.0, 56.0);
    let on = |along: f64, across: f64| {
        (
            middle.0 + way.0 * along - way.1 * across,
            middle.1 + way.1 * along + way.0 * across,
        )
    };
    let (tail, tip) = (on(-20.0, 0.0), on(20.0, 0.0));
    let stroke = format!("stroke=\"{INK}\" stroke-width=\"1.6\"");
    let ends = [("x1", tail.0), ("y1", tail.1), ("x2", tip.0), ("y2", tip.1)];
    sheet.shape("line", &ends, &stroke);
    let head = [on(20.0, 0.0), on(9.0, 5.0), on(9.0, -5.0)];
    sheet.polygon(&head, &format!("fill=\"{INK}\""));
    let letter = on(32.0, 0.0);
    let style = format!("font-size=\"13\" font-weight=\"600\" fill=\"{INK}\"");
    sheet.text(letter.0, letter.1 + 4.5, "middle", &style, "N");
}

fn legend(sheet: &mut Sheet, to_scale: bool) {
    let text = format!("font-size=\"13\" fill=\"{INK}\"");
    let y = HEIGHT - 40.0;
    for (at, (state, _)) in SHAPES.iter().enumerate() {
        let x = 34.0 + at as f64 * 118.0;
        shape(sheet, (x, y), *state);
        sheet.text(x + 15.0, y + 5.0, "start", &text, state.label());
    }
    let words = if to_scale {
        "The roof as worked out from the plan."
    } else {
        "Not to scale: no plan that fits the recorded slopes."
    };
    sheet.text(24.0, HEIGHT - 12.0, "start", &small(), words);
}

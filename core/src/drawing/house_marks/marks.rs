//! The marks: a shape for each state.

use super::frame::Spot;
use super::{INK, Sheet, State};

/// Each state that is drawn, in the order in which they are told, and its colour.
pub(super) const SHAPES: &[(State, &str)] = &[
    (State::Damaged, "#9c3d22"),
    (State::Prior, "#6a5a86"),
    (State::Unsure, "#7d5b00"),
    (State::Open, "#545f65"),
    (State::Cleared, "#37694a"),
    (State::NotPresent, "#545f65"),
];

/// One mark: a filled triangle, a hollow square, a question mark in a ring, a dashed ring, a
/// tick, a bar.
pub(super) fn shape(sheet: &mut Sheet, at: Spot, state: State) {
    let colour = SHAPES
        .iter()
        .find(|(known, _)| *known == state)
        .map_or(INK, |(_, colour)| colour);
    let line = format!("fill=\"none\" stroke=\"{colour}\" stroke-width=\"2\"");
    let (x, y) = at;
    match state {
        State::Damaged => {
            let corners = [(x, y - 8.5), (x + 8.5, y + 7.0), (x - 8.5, y + 7.0)];
            sheet.polygon(&corners, &format!("fill=\"{colour}\""));
        }
        State::Prior => {
            let numbers = [
                ("x", x - 7.0),
                ("y", y - 7.0),
                ("width", 14.0),
                ("height", 14.0),
            ];
            sheet.shape("rect", &numbers, &line);
        }
        State::Unsure => {
            sheet.shape("circle", &[("cx", x), ("cy", y), ("r", 8.5)], &line);
            let style = format!("font-size=\"12\" font-weight=\"700\" fill=\"{colour}\"");
            sheet.text(x, y + 4.3, "middle", &style, "?");
        }
        State::Open => {
            let dashed = format!("{line} stroke-dasharray=\"3 3\"");
            sheet.shape("circle", &[("cx", x), ("cy", y), ("r", 7.5)], &dashed);
        }
        State::Cleared => {
            let stroke =
                format!("stroke=\"{colour}\" stroke-width=\"2.6\" stroke-linecap=\"round\"");
            let ends = |a: Spot, b: Spot| [("x1", a.0), ("y1", a.1), ("x2", b.0), ("y2", b.1)];
            sheet.shape("line", &ends((x - 7.0, y), (x - 2.0, y + 6.0)), &stroke);
            sheet.shape(
                "line",
                &ends((x - 2.0, y + 6.0), (x + 7.5, y - 6.5)),
                &stroke,
            );
        }
        State::NotPresent => {
            let ends = [("x1", x - 7.0), ("y1", y), ("x2", x + 7.0), ("y2", y)];
            sheet.shape("line", &ends, &line);
        }
    }
}

/// Marks with their counts in a row round a middle; the hits of a test square behind them, or
/// beneath where there is no room for both.
pub(super) fn row(
    sheet: &mut Sheet,
    middle: Spot,
    room: f64,
    found: &[State],
    square_hits: Option<u32>,
) {
    let text = format!("font-size=\"13\" fill=\"{INK}\"");
    let parts: Vec<(State, usize)> = counts(found);
    let wide = 42.0 * parts.len() as f64;
    let hits = square_hits.map(|hits| format!("{hits} in square"));
    let tail = hits.as_ref().map_or(0.0, |hits| hits.len() as f64 * 7.0);
    let apart = wide > 0.0 && wide + tail > room * 2.0;
    let own = if apart { 0.0 } else { tail };
    let mut x = middle.0 - (wide + own) / 2.0 + 10.0;
    for (state, count) in parts {
        shape(sheet, (x, middle.1), state);
        sheet.text(x + 12.0, middle.1 + 5.0, "start", &text, &count.to_string());
        x += 42.0;
    }
    match hits {
        Some(hits) if apart => {
            sheet.text(middle.0, middle.1 + 23.0, "middle", &text, &hits);
        }
        Some(hits) => sheet.text(x - 8.0, middle.1 + 5.0, "start", &text, &hits),
        None => {}
    }
}

fn counts(found: &[State]) -> Vec<(State, usize)> {
    let counted = SHAPES.iter().map(|(state, _)| {
        let here = found.iter().filter(|other| *other == state).count();
        (*state, here)
    });
    counted.filter(|(_, count)| *count > 0).collect()
}

/// The counts in words.
pub(super) fn summed(found: &[State]) -> String {
    let words: Vec<String> = counts(found)
        .iter()
        .map(|(state, count)| format!("{count} {}", state.label()))
        .collect();
    if words.is_empty() {
        "nothing recorded".to_owned()
    } else {
        words.join(", ")
    }
}

//! The picture of a house with a known pattern.

use super::*;
use crate::job::Placement;
use crate::trade::pattern::{Question, Surface, pattern};
use crate::trade::wind::Facing;

fn house(counts: [u64; 8]) -> Vec<Surface> {
    let bearings = [140.0, 50.0, 320.0, 230.0];
    let mut surfaces = Vec::new();
    for (number, hits) in counts.into_iter().enumerate() {
        let bearing = bearings[number % 4];
        let roof = number < 4;
        surfaces.push(Surface {
            name: format!("{} {bearing:.0}", if roof { "slope" } else { "screens" }),
            facing: if roof {
                Facing::slope(bearing, 6.0)
            } else {
                Facing::wall(bearing)
            },
            exposure: if roof { 100.0 } else { 4.0 },
            unit: if roof { "sq ft" } else { "screens" }.to_owned(),
            covering: if roof {
                "three-tab shingle"
            } else {
                "window screen"
            }
            .to_owned(),
            hits,
            placement: roof.then_some(Placement::Typical),
        });
    }
    surfaces
}

fn drawn(counts: [u64; 8]) -> String {
    hits_plot(
        &pattern(&house(counts), &Question::default()).unwrap(),
        "hits",
    )
}

#[test]
fn the_picture_is_as_it_was_looked_at() {
    insta::assert_snapshot!(drawn([8, 4, 6, 11, 5, 0, 3, 12]));
}

#[test]
fn the_picture_says_all_in_words_too() {
    let svg = drawn([8, 4, 6, 11, 5, 0, 3, 12]);
    for words in [
        "<title",
        "<desc",
        "south-west",
        "slope 140, facing 140°: 8 hits",
        ">N<",
    ] {
        assert!(svg.contains(words), "{words}");
    }
    let even = drawn([8, 8, 8, 8, 0, 0, 0, 0]);
    assert!(even.contains("No direction of the wind can be told"));
    let none = hits_plot(&pattern(&[], &Question::default()).unwrap(), "hits");
    assert!(none.contains("Too little data") && none.contains("No hits were counted"));
}

#[test]
fn names_cannot_break_the_picture() {
    let mut surfaces = house([8, 4, 6, 11, 5, 0, 3, 12]);
    surfaces[0].name = "<script>&\"\u{0}".to_owned();
    surfaces[0].covering = "</text>".to_owned();
    let found = pattern(&surfaces, &Question::default()).unwrap();
    let svg = hits_plot(&found, "a\"><b>");
    assert!(!svg.contains("<script>") && !svg.contains("</text></text>"));
    assert!(!svg.contains('\u{0}') && svg.contains("id=\"ab-title\""));
}

#[test]
fn every_covering_has_a_fill_of_its_own_kind() {
    let fills: Vec<String> = (0..FILLS.len()).map(|number| filled(number, "x")).collect();
    for (number, fill) in fills.iter().enumerate() {
        assert!(!fills[..number].contains(fill));
    }
}

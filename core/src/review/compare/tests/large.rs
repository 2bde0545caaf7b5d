//! A scope of the size of the largest job.

use std::fmt::Write;

use super::*;

/// Lines of ours and rows of theirs: one gutter each at six hundred places.
const SIZE: usize = 600;

#[test]
fn a_large_scope_is_matched_line_by_line() {
    let mut house = House::empty();
    let mut lines = Vec::new();
    let mut rows = String::new();
    for number in 0..SIZE {
        let structure = Structure {
            name: Some(format!("shed number {number}")),
            ..Structure::default()
        };
        let word = format!("s{number}");
        house
            .job
            .records
            .structures
            .insert(id(&word), record(structure));
        let place = Some(at(Kind::Structure, &word));
        lines.push(line(
            place,
            Item::Gutter,
            WorkAction::RemoveAndReplace,
            20.0,
        ));
        writeln!(
            rows,
            "\"Gutter, 5 in\",Shed number {number},R&R,20,LF,1.00,20.00"
        )
        .unwrap();
    }
    let began = std::time::Instant::now();
    let their = theirs(&rows);
    let read = began.elapsed();
    let result = compare(
        &house.job,
        &scope_of(lines),
        &their,
        None,
        &Options::default(),
    );
    println!(
        "read {SIZE} rows in {read:?}, compared in {:?}",
        began.elapsed() - read
    );
    assert_eq!(result.counts[&Outcome::Same], 600);
}

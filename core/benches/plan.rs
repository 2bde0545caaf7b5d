//! The roof solver on an outline with forty sides, against cutting the same outline into triangles
//! with the `earcutr` crate: `cargo bench -p chalkwalk-core --bench plan`.
//!
//! A bench is not a test: it prints, and says where an aim is missed.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::hint::black_box;
use std::time::Instant;

use chalkwalk_core::trade::roof::{PlanSide, Roof, RoofPlan, SideForm, solve};

const SIDES: usize = 40;
/// Aim for one solve, milliseconds.
const AIM: f64 = 2.0;
const ROUNDS: usize = 60;

fn main() {
    println!("roof over {SIDES} sides, median of {ROUNDS}, against earcutr in the same run");
    let heads = ["what", "ours", "baseline", "ratio"];
    println!(
        "{:<44} {:>10} {:>12} {:>8}",
        heads[0], heads[1], heads[2], heads[3]
    );
    let alike = |_: usize| PlanSide::default();
    let differing = |side: usize| PlanSide {
        pitch: Some(4.0 + (side % 5) as f64),
        ..PlanSide::default()
    };
    let gables = |side: usize| PlanSide {
        form: if side % 4 == 1 && side > SIDES / 2 {
            SideForm::Gable
        } else {
            SideForm::Hip
        },
        ..PlanSide::default()
    };
    line(
        "square corners and ten wings, one pitch",
        &plan(house(), &alike),
    );
    line("the same, five pitches", &plan(house(), &differing));
    line("the same, some gables", &plan(house(), &gables));
    line("no square corner, five pitches", &plan(star(), &differing));
}

fn line(what: &str, plan: &RoofPlan) {
    let roof: Roof = solve(plan).unwrap();
    let flat: Vec<f64> = plan.points.iter().flatten().copied().collect();
    let mut ours = Vec::new();
    let mut theirs = Vec::new();
    for _ in 0..ROUNDS {
        ours.push(millis(|| {
            black_box(solve(black_box(plan)).unwrap());
        }));
        theirs.push(millis(|| {
            black_box(earcutr::earcut(black_box(&flat), &[], 2).unwrap());
        }));
    }
    let (ours, theirs) = (median(ours), median(theirs));
    let verdict = if ours <= AIM { "met" } else { "missed" };
    println!(
        "{what:<44} {ours:>7.3} ms {theirs:>9.4} ms {:>8.1}   {} planes (at most {AIM} ms: {verdict})",
        ours / theirs,
        roof.planes.len(),
    );
}

fn plan(points: Vec<[f64; 2]>, side: &dyn Fn(usize) -> PlanSide) -> RoofPlan {
    RoofPlan {
        sides: (0..points.len()).map(side).collect(),
        points,
        pitch: Some(6.0),
        overhang: Some(1.0),
        ..RoofPlan::default()
    }
}

/// Columns of differing depth, side by side.
fn house() -> Vec<[f64; 2]> {
    let mut below = Vec::new();
    let mut above = Vec::new();
    for column in 0..SIDES / 4 {
        let (left, right) = (column as f64 * 14.0, column as f64 * 14.0 + 14.0);
        let low = -((column * 7 % 5) as f64) * 6.0;
        let high = 24.0 + ((column * 3 % 7) as f64) * 5.0;
        below.extend([[left, low], [right, low]]);
        above.extend([[left, high], [right, high]]);
    }
    above.reverse();
    below.extend(above);
    below
}

fn star() -> Vec<[f64; 2]> {
    let place = |at: usize| {
        let angle = (at as f64 + (at * 7 % 10) as f64 / 14.0) / SIDES as f64;
        let reach = 40.0 + ((at * 13) % 17) as f64;
        let angle = angle * std::f64::consts::TAU;
        [reach * angle.cos(), reach * angle.sin()]
    };
    (0..SIDES).map(place).collect()
}

fn millis(work: impl FnOnce()) -> f64 {
    let start = Instant::now();
    work();
    start.elapsed().as_secs_f64() * 1e3
}

fn median(mut times: Vec<f64>) -> f64 {
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}

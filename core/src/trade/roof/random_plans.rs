//! What holds of any roof, on random houses with square corners and on random outlines.

use proptest::prelude::*;

use super::*;

/// A house with square corners and wings, one column beside the other.
fn house() -> impl Strategy<Value = Vec<[f64; 2]>> {
    let column = (4..20i32, -20..0i32, 6..30i32);
    proptest::collection::vec(column, 1..8).prop_map(|columns| {
        let mut below = Vec::new();
        let mut above = Vec::new();
        let mut x = 0.0;
        for (width, low, high) in columns {
            let next = x + f64::from(width);
            below.extend([[x, f64::from(low)], [next, f64::from(low)]]);
            above.extend([[x, f64::from(high)], [next, f64::from(high)]]);
            x = next;
        }
        above.reverse();
        below.extend(above);
        below
    })
}

/// An outline with corners at uneven distances round a middle.
fn star() -> impl Strategy<Value = Vec<[f64; 2]>> {
    let corner = (0.05..0.95f64, 10.0..40.0f64);
    proptest::collection::vec(corner, 3..24).prop_map(|corners| {
        let count = corners.len() as f64;
        let place = |(at, (turn, reach)): (usize, &(f64, f64))| {
            let angle = (at as f64 + turn) / count * std::f64::consts::TAU;
            [reach * angle.cos(), reach * angle.sin()]
        };
        corners.iter().enumerate().map(place).collect()
    })
}

fn any_plan() -> impl Strategy<Value = RoofPlan> {
    let pitches = proptest::collection::vec(prop_oneof![Just(6.0), Just(8.0), 2.0..20.0f64], 64);
    let points = prop_oneof![house(), star()];
    let overhang = prop_oneof![Just(0.0), 0.0..2.0f64];
    (
        points,
        pitches,
        any::<bool>(),
        overhang,
        0.0..360.0f64,
        any::<u64>(),
    )
        .prop_map(|(points, pitches, alike, overhang, north, gables)| {
            let count = points.len();
            let side = |at: usize| PlanSide {
                pitch: (!alike).then(|| pitches[at % pitches.len()]),
                form: if gables & (1 << at) != 0 && gable_fits(&points, at) && at % 2 == 1 {
                    SideForm::Gable
                } else {
                    SideForm::Hip
                },
                overhang: None,
            };
            RoofPlan {
                sides: (0..count).map(side).collect(),
                pitch: Some(pitches[0]),
                overhang: Some(overhang),
                north,
                points,
                holes: Vec::new(),
            }
        })
}

/// Whether a side of a counter-clockwise outline has an outside corner at both ends.
fn gable_fits(points: &[[f64; 2]], at: usize) -> bool {
    let count = points.len();
    let outside = |at: usize| {
        let (a, b, c) = (
            points[(at + count - 1) % count],
            points[at],
            points[(at + 1) % count],
        );
        (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0]) > 1.0
    };
    outside(at) && outside((at + 1) % count)
}

fn plan_perimeter(plane: &RoofPlane) -> f64 {
    let next = plane.corners.iter().cycle().skip(1);
    let sides = plane.corners.iter().zip(next);
    sides.map(|(a, b)| (b[0] - a[0]).hypot(b[1] - a[1])).sum()
}

/// The height of a plane at a place, from the side it rises from and nothing else: sides that are
/// as good as in line are one, from the start of the first to the end of the last.
fn height_at(plan: &RoofPlan, plane: &RoofPlane, place: &Spot) -> f64 {
    let count = plan.points.len();
    let ends = |step: usize| {
        let beside = |side: &&usize| !plane.sides.contains(&((**side + step) % count));
        *plane.sides.iter().find(beside).unwrap()
    };
    let (first, last) = (ends(count - 1), ends(1));
    let (a, b) = (plan.points[first], plan.points[(last + 1) % count]);
    let along = [b[0] - a[0], b[1] - a[1]];
    let size = along[0].hypot(along[1]);
    // Of a plan drawn clockwise the house is on the other hand.
    let hand = super::geometry::area(&plan.points).signum();
    let off = hand * (along[0] * (place[1] - a[1]) - along[1] * (place[0] - a[0]));
    let overhang = plan.overhang.unwrap_or_default();
    (off / size + overhang) * plane.pitch / 12.0
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]
    #[test]
    fn what_holds_of_any_roof(plan in any_plan()) {
        let roof = match solve(&plan) {
            Ok(roof) => roof,
            Err(
                PlanError::OverhangCloses(_) | PlanError::InLine(..) | PlanError::Open
                | PlanError::OnlyGables,
            ) => return Ok(()),
            Err(error) => return Err(TestCaseError::fail(error.to_string())),
        };
        prop_assert_eq!(&solve(&plan).unwrap(), &roof);
        let outline = super::geometry::area(&roof.outline);
        prop_assert!((roof.plan_area - outline).abs() < 1e-5, "{} of {outline}", roof.plan_area);
        for (at, plane) in roof.planes.iter().enumerate() {
            for corner in &plane.corners {
                let off = corner[2] - height_at(&plan, plane, corner);
                prop_assert!(off.abs() < 1e-5, "a corner of plane {at} is off by {off}");
            }
            let beside = roof.edges.iter().filter(|edge| edge.planes.contains(&at));
            let border: f64 = beside.map(|edge| edge.plan_length).sum();
            prop_assert!((border - plan_perimeter(plane)).abs() < 1e-4, "border of {at}");
        }
        for edge in &roof.edges {
            let shared = matches!(edge.kind, EdgeKind::Ridge | EdgeKind::Hip | EdgeKind::Valley);
            prop_assert_eq!(edge.planes.len(), if shared { 2 } else { 1 });
            for plane in &edge.planes {
                for end in [edge.from, edge.to] {
                    let off = end[2] - height_at(&plan, &roof.planes[*plane], &end);
                    prop_assert!(off.abs() < 1e-5, "an end of {edge:?} is off by {off}");
                }
            }
            if edge.kind == EdgeKind::Ridge {
                let facing = |at: usize| roof.planes[edge.planes[at]].facing;
                let apart = ((facing(0) - facing(1)).abs() - 180.0).abs();
                let rise = edge.to[2] - edge.from[2];
                // Between facings that are nearly opposite a ridge is nearly level: neither is said.
                prop_assert!(apart > 1e-6 || rise < 1e-5, "{edge:?} apart {apart}");
                let clearly = apart > 1.0 && edge.plan_length > 1.0;
                prop_assert!(!clearly || rise > 1e-5, "{edge:?} apart {apart}");
            }
        }
    }
}

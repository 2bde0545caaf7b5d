//! Plans that are no house: each is refused with what to do, and nothing panics.

use proptest::prelude::*;

use super::worked_cases::{ELL, RECTANGLE, plan};
use super::*;
use crate::limits::{
    PLAN_BYTES, ROOF_EXTENT_FT, ROOF_OVERHANG_FT, ROOF_POINTS, ROOF_RISE_LEAST, ROOF_RISE_MOST,
};

fn refused(plan: &RoofPlan) -> PlanError {
    solve(plan).unwrap_err()
}

#[test]
fn corners_that_make_no_outline() {
    let bow_tie = [[0.0, 0.0], [10.0, 10.0], [10.0, 0.0], [0.0, 10.0]];
    assert_eq!(
        refused(&plan(&bow_tie, 6.0, &[])),
        PlanError::Crossing(1, 3)
    );
    let touch = [[0.0, 0.0], [9.0, 0.0], [9.0, 9.0], [4.0, 0.0], [0.0, 9.0]];
    assert_eq!(refused(&plan(&touch, 6.0, &[])), PlanError::Crossing(1, 3));
    let fold = [[0.0, 0.0], [9.0, 0.0], [3.0, 0.0], [3.0, 9.0]];
    assert_eq!(refused(&plan(&fold, 6.0, &[])), PlanError::Crossing(1, 2));
    let in_one_line = [[0.0, 0.0], [9.0, 0.0], [18.0, 0.0], [18.0, 0.0]];
    assert!(matches!(
        refused(&plan(&in_one_line, 6.0, &[])),
        PlanError::TooFew(_)
    ));
    assert_eq!(refused(&plan(&[], 6.0, &[])), PlanError::TooFew(0));
    assert_eq!(
        refused(&plan(&[[1.0, 1.0]; 9], 6.0, &[])),
        PlanError::TooFew(1)
    );
}

#[test]
fn corners_that_are_no_places() {
    for wrong in [f64::NAN, f64::INFINITY, ROOF_EXTENT_FT * 1.001, -1e300] {
        let mut points = RECTANGLE;
        points[2][1] = wrong;
        assert_eq!(refused(&plan(&points, 6.0, &[])), PlanError::Corner(3));
    }
    let mut wide = RECTANGLE.map(|[x, y]| [x * 200.0 - 4_000.0, y]);
    let error = refused(&plan(&wide, 6.0, &[]));
    assert!(error.to_string().contains("8000 ft across"), "{error}");
    wide = wide.map(|[x, y]| [x / 2.0, y]);
    assert!(solve(&plan(&wide, 6.0, &[])).is_ok());
}

#[test]
fn one_corner_too_many() {
    let ring = |count: usize| -> Vec<[f64; 2]> {
        let angle = |at: usize| at as f64 / count as f64 * std::f64::consts::TAU;
        let corner = |at: usize| [100.0 * angle(at).cos(), 100.0 * angle(at).sin()];
        (0..count).map(corner).collect()
    };
    let most = solve(&plan(&ring(ROOF_POINTS), 6.0, &[])).unwrap();
    assert_eq!(most.planes.len(), ROOF_POINTS);
    let error = refused(&plan(&ring(ROOF_POINTS + 1), 6.0, &[]));
    assert_eq!(error, PlanError::TooMany(ROOF_POINTS + 1));
    let long = format!("{{\"points\": [{}]}}", " ".repeat(PLAN_BYTES));
    assert!(matches!(RoofPlan::read(&long), Err(PlanError::TooLong(_))));
}

#[test]
fn figures_out_of_range() {
    for rise in [
        0.0,
        ROOF_RISE_LEAST * 0.99,
        ROOF_RISE_MOST * 1.01,
        -6.0,
        f64::NAN,
    ] {
        let error = refused(&plan(&RECTANGLE, rise, &[]));
        assert!(matches!(error, PlanError::Pitch { side: 1, .. }), "{error}");
    }
    for feet in [-0.5, ROOF_OVERHANG_FT * 1.01, f64::NAN] {
        let mut wrong = plan(&RECTANGLE, 6.0, &[]);
        wrong.sides[2].overhang = Some(feet);
        let error = refused(&wrong);
        assert!(
            matches!(error, PlanError::Overhang { side: 3, .. }),
            "{error}"
        );
    }
    for north in [361.0, f64::NAN] {
        let mut wrong = plan(&RECTANGLE, 6.0, &[]);
        wrong.north = north;
        assert!(matches!(refused(&wrong), PlanError::North(_)));
    }
    let mut wrong = plan(&RECTANGLE, 6.0, &[]);
    wrong.pitch = None;
    assert_eq!(refused(&wrong), PlanError::NoPitch(1));
    wrong.sides.pop();
    let sides = PlanError::Sides {
        corners: 4,
        sides: 3,
    };
    assert_eq!(refused(&wrong), sides);
}

#[test]
fn forms_that_make_no_roof() {
    assert_eq!(
        refused(&plan(&RECTANGLE, 6.0, &[0, 1, 2, 3])),
        PlanError::OnlyGables
    );
    let mut courtyard = plan(&RECTANGLE, 6.0, &[]);
    courtyard.holes = vec![vec![[10.0, 10.0], [20.0, 10.0], [20.0, 20.0]]];
    assert!(refused(&courtyard).to_string().contains("courtyard"));
    let flush = [
        [0.0, 0.0],
        [15.0, 0.0],
        [40.0, 0.0],
        [40.0, 30.0],
        [0.0, 30.0],
    ];
    let error = refused(&plan(&flush, 6.0, &[0]));
    assert_eq!(error, PlanError::InLine(1, 2));
    // One eave on the end of an ell cannot rise round its inside corner.
    assert_eq!(refused(&plan(&ELL, 6.0, &[0, 1, 2, 3, 5])), PlanError::Open);
}

#[test]
fn an_overhang_that_closes_a_notch() {
    let notched = [
        [0.0, 0.0],
        [40.0, 0.0],
        [40.0, 30.0],
        [22.0, 30.0],
        [22.0, 20.0],
        [20.0, 20.0],
        [20.0, 30.0],
        [0.0, 30.0],
    ];
    let mut house = plan(&notched, 6.0, &[]);
    house.overhang = Some(0.9);
    assert!(solve(&house).is_ok());
    house.overhang = Some(1.0);
    assert_eq!(refused(&house), PlanError::OverhangCloses(5));
}

#[test]
fn text_that_is_no_plan() {
    for text in [
        "",
        "[]",
        "{\"point\": []}",
        "{\"points\": [[0]]}",
        "{\"points\": [[1e999,0]]}",
    ] {
        let error = RoofPlan::read(text).unwrap_err();
        assert!(error.to_string().contains("A plan is written"), "{error}");
    }
}

proptest! {
    #[test]
    fn nothing_panics(
        points in proptest::collection::vec(any::<[f64; 2]>(), 0..12),
        small in proptest::collection::vec([-3..3i8, -3..3i8], 0..12),
        figures in proptest::collection::vec(any::<f64>(), 12),
        rise in 0.05..45.0f64,
    ) {
        let wild = RoofPlan { points: points.clone(), pitch: Some(figures[0]), ..RoofPlan::default() };
        prop_assert!(solve(&wild).is_err());
        // Small whole numbers: repeated corners, corners in line, crossings, and houses.
        let points: Vec<[f64; 2]> = small.iter().map(|p| p.map(f64::from)).collect();
        let side = |at: usize| PlanSide {
            pitch: figures.get(at).copied().filter(|f| f.abs() < 50.0),
            form: if at.is_multiple_of(3) { SideForm::Gable } else { SideForm::Hip },
            overhang: at.is_multiple_of(2).then_some(0.1),
        };
        let sides = (0..points.len()).map(side).collect();
        let house = RoofPlan { points, sides, pitch: Some(rise), ..RoofPlan::default() };
        let _ = solve(&house);
        let _ = RoofPlan::read(&format!("{figures:?}"));
    }
}

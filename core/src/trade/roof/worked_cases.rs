//! Roofs worked by hand (plane geometry), one for each form a house has.

use super::*;

const GABLE: PlanSide = PlanSide {
    pitch: None,
    form: SideForm::Gable,
    overhang: None,
};
const HIP: PlanSide = PlanSide {
    pitch: None,
    form: SideForm::Hip,
    overhang: None,
};

fn plan(points: &[[f64; 2]], pitch: f64, gables: &[usize]) -> RoofPlan {
    RoofPlan {
        points: points.to_vec(),
        pitch: Some(pitch),
        sides: (0..points.len())
            .map(|side| if gables.contains(&side) { GABLE } else { HIP })
            .collect(),
        ..RoofPlan::default()
    }
}

fn near(a: f64, b: f64, what: &str) {
    assert!((a - b).abs() < 1e-6, "{what}: {a} is not {b}");
}

const RECTANGLE: [[f64; 2]; 4] = [[0.0, 0.0], [40.0, 0.0], [40.0, 30.0], [0.0, 30.0]];

#[test]
fn a_hip_roof() {
    let roof = solve(&plan(&RECTANGLE, 6.0, &[])).unwrap();
    near(roof.area, 1_200.0 * 1.25_f64.sqrt(), "area");
    near(roof.length(EdgeKind::Ridge), 10.0, "ridge");
    near(roof.length(EdgeKind::Hip), 90.0, "hips");
    near(roof.length(EdgeKind::Eave), 140.0, "eaves");
    near(roof.height, 7.5, "height");
    assert_eq!(roof.planes.len(), 4);
    let facings: Vec<f64> = roof.planes.iter().map(|plane| plane.facing).collect();
    assert_eq!(facings, [180.0, 90.0, 0.0, 270.0]);
}

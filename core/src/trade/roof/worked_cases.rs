//! Roofs worked by hand (plane geometry: runs, rises and right triangles), one for each form a
//! house has.

use super::*;

pub(super) fn plan(points: &[[f64; 2]], pitch: f64, gables: &[usize]) -> RoofPlan {
    let side = |side: usize| PlanSide {
        form: if gables.contains(&side) {
            SideForm::Gable
        } else {
            SideForm::Hip
        },
        ..PlanSide::default()
    };
    RoofPlan {
        points: points.to_vec(),
        pitch: Some(pitch),
        sides: (0..points.len()).map(side).collect(),
        ..RoofPlan::default()
    }
}

fn near(a: f64, b: f64, what: &str) {
    assert!((a - b).abs() < 1e-6, "{what}: {a} is not {b}");
}

fn kinds(roof: &Roof) -> Vec<(EdgeKind, usize)> {
    let some = roof.totals.iter().filter(|total| total.count > 0);
    some.map(|total| (total.kind, total.count)).collect()
}

pub(super) const RECTANGLE: [[f64; 2]; 4] = [[0.0, 0.0], [40.0, 0.0], [40.0, 30.0], [0.0, 30.0]];
pub(super) const ELL: [[f64; 2]; 6] = [
    [0.0, 0.0],
    [40.0, 0.0],
    [40.0, 20.0],
    [20.0, 20.0],
    [20.0, 50.0],
    [0.0, 50.0],
];
pub(super) const TEE: [[f64; 2]; 8] = [
    [0.0, 0.0],
    [22.0, 0.0],
    [22.0, -20.0],
    [38.0, -20.0],
    [38.0, 0.0],
    [60.0, 0.0],
    [60.0, 20.0],
    [0.0, 20.0],
];
/// sqrt(1 + (6/12)^2).
const SIX: f64 = 1.118_033_988_749_895;

#[test]
fn a_hip_roof() {
    let roof = solve(&plan(&RECTANGLE, 6.0, &[])).unwrap();
    near(roof.area, 1_200.0 * SIX, "area");
    near(roof.length(EdgeKind::Ridge), 10.0, "ridge");
    near(roof.length(EdgeKind::Hip), 90.0, "hips");
    near(roof.length(EdgeKind::Eave), 140.0, "eaves");
    near(roof.height, 7.5, "height");
    let facings: Vec<f64> = roof.planes.iter().map(|plane| plane.facing).collect();
    assert_eq!(facings, [180.0, 90.0, 0.0, 270.0]);
}

#[test]
fn a_gable_on_the_same_plan() {
    let roof = solve(&plan(&RECTANGLE, 6.0, &[1, 3])).unwrap();
    near(roof.area, 1_200.0 * SIX, "area");
    near(roof.length(EdgeKind::Ridge), 40.0, "ridge");
    near(roof.length(EdgeKind::Rake), 60.0 * SIX, "rakes");
    near(roof.length(EdgeKind::Eave), 80.0, "eaves");
    let count = [
        (EdgeKind::Ridge, 1),
        (EdgeKind::Eave, 2),
        (EdgeKind::Rake, 4),
    ];
    assert_eq!(kinds(&roof), count);
}

#[test]
fn an_overhang_for_all_and_one_for_a_side() {
    let mut wide = plan(&RECTANGLE, 6.0, &[1, 3]);
    wide.overhang = Some(1.5);
    near(solve(&wide).unwrap().plan_area, 43.0 * 33.0, "all round");
    wide.sides[1].overhang = Some(0.5);
    wide.sides[3].overhang = Some(0.0);
    let roof = solve(&wide).unwrap();
    near(roof.plan_area, 40.5 * 33.0, "narrow rakes");
    near(roof.length(EdgeKind::Ridge), 40.5, "ridge");
    assert_eq!(roof.outline[0], [0.0, -1.5]);
    assert_eq!(roof.walls[0], [0.0, 0.0]);
}

#[test]
fn an_ell_hipped_and_with_gable_ends() {
    let hipped = solve(&plan(&ELL, 6.0, &[])).unwrap();
    near(hipped.area, 1_400.0 * SIX, "area");
    near(hipped.length(EdgeKind::Ridge), 20.0 + 30.0, "ridges");
    near(hipped.length(EdgeKind::Hip), 5.0 * 15.0, "hips");
    near(hipped.length(EdgeKind::Valley), 15.0, "valley");
    near(hipped.length(EdgeKind::Eave), 180.0, "eaves");
    let gabled = solve(&plan(&ELL, 6.0, &[1, 4])).unwrap();
    near(gabled.length(EdgeKind::Ridge), 30.0 + 40.0, "ridges");
    near(gabled.length(EdgeKind::Hip), 15.0, "hip");
    near(gabled.length(EdgeKind::Valley), 15.0, "valley");
    near(gabled.length(EdgeKind::Rake), 40.0 * SIX, "rakes");
}

#[test]
fn a_tee_whose_stem_runs_into_one_front_slope() {
    let roof = solve(&plan(&TEE, 6.0, &[2, 5, 7])).unwrap();
    near(roof.area, 1_520.0 * SIX, "area");
    near(roof.length(EdgeKind::Ridge), 60.0 + 28.0, "ridges");
    near(roof.length(EdgeKind::Valley), 2.0 * 8.0 * 1.5, "valleys");
    near(roof.length(EdgeKind::Rake), 56.0 * SIX, "rakes");
    near(roof.length(EdgeKind::Eave), 144.0, "eaves");
    let sides: Vec<&[usize]> = roof.planes.iter().map(|p| p.sides.as_slice()).collect();
    assert_eq!(sides, [&[0, 4][..], &[1], &[3], &[6]]);
    near(roof.planes[0].plan_area, 600.0 - 64.0, "front");
}

#[test]
fn a_saltbox_has_its_ridge_off_the_middle() {
    let mut saltbox = plan(&RECTANGLE, 12.0, &[1, 3]);
    saltbox.sides[2].pitch = Some(4.0);
    let roof = solve(&saltbox).unwrap();
    // 12 in 12 over 7.5 ft and 4 in 12 over 22.5 ft rise alike.
    near(roof.height, 7.5, "height");
    near(roof.planes[0].area, 40.0 * 7.5 * 2.0_f64.sqrt(), "front");
    near(
        roof.planes[1].area,
        40.0 * (22.5_f64.powi(2) + 7.5_f64.powi(2)).sqrt(),
        "rear",
    );
    near(roof.length(EdgeKind::Ridge), 40.0, "ridge");
}

#[test]
fn a_low_wing_dies_in_the_gable_of_the_house() {
    let points = [
        [0.0, 0.0],
        [30.0, 0.0],
        [30.0, 10.0],
        [50.0, 10.0],
        [50.0, 26.0],
        [30.0, 26.0],
        [30.0, 40.0],
        [0.0, 40.0],
    ];
    let roof = solve(&plan(&points, 6.0, &[1, 3, 5, 7])).unwrap();
    near(roof.length(EdgeKind::Ridge), 30.0 + 20.0, "ridges");
    near(roof.length(EdgeKind::Wall), 16.0 * SIX, "flashed walls");
    near(roof.length(EdgeKind::Rake), (80.0 + 16.0) * SIX, "rakes");
    near(roof.height, 10.0, "height");
    assert_eq!(roof.planes.len(), 4);
}

#[test]
fn a_shed_rises_to_a_top_edge() {
    let shed = [[0.0, 0.0], [20.0, 0.0], [20.0, 10.0], [0.0, 10.0]];
    let roof = solve(&plan(&shed, 3.0, &[1, 2, 3])).unwrap();
    near(roof.height, 2.5, "height");
    near(roof.length(EdgeKind::Top), 20.0, "top");
    near(
        roof.length(EdgeKind::Rake),
        20.0 * 1.062_5_f64.sqrt(),
        "rakes",
    );
    let corner = solve(&plan(&shed, 3.0, &[1, 2])).unwrap();
    near(
        corner.length(EdgeKind::Hip),
        10.0 * 2.062_5_f64.sqrt(),
        "hip between two sheds",
    );
}

#[test]
fn slopes_that_come_into_line_at_different_pitches_part_at_a_step() {
    let points = [
        [45.0, 49.0],
        [45.0, 10.0],
        [38.0, 10.0],
        [38.0, 0.0],
        [0.0, 0.0],
        [0.0, 49.0],
    ];
    let mut house = plan(&points, 12.0, &[]);
    house.sides[0].pitch = Some(4.0);
    let roof = solve(&house).unwrap();
    // 45 - 3z = 38 - z at z = 3.5, where the short side has come in to y = 13.5.
    for kind in [EdgeKind::Wall, EdgeKind::Rake] {
        let edge = roof.edges.iter().find(|edge| edge.kind == kind).unwrap();
        for (is, worked) in edge.from.iter().zip([34.5, 13.5, 3.5]) {
            near(*is, worked, kind.label());
        }
    }
    near(roof.plan_area, 45.0 * 39.0 + 38.0 * 10.0, "plan area");
}

#[test]
fn a_pyramid_an_octagon_and_a_cross_come_to_points() {
    let square = [[0.0, 0.0], [20.0, 0.0], [20.0, 20.0], [0.0, 20.0]];
    let pyramid = solve(&plan(&square, 12.0, &[])).unwrap();
    assert_eq!(kinds(&pyramid), [(EdgeKind::Hip, 4), (EdgeKind::Eave, 4)]);
    near(pyramid.length(EdgeKind::Hip), 40.0 * 3.0_f64.sqrt(), "hips");
    let cut = 10.0 * (2.0_f64.sqrt() - 1.0);
    let (a, b) = (10.0 - cut, 10.0 + cut);
    let octagon = [
        [a, 0.0],
        [b, 0.0],
        [20.0, a],
        [20.0, b],
        [b, 20.0],
        [a, 20.0],
        [0.0, b],
        [0.0, a],
    ];
    let tower = solve(&plan(&octagon, 12.0, &[])).unwrap();
    assert_eq!(kinds(&tower), [(EdgeKind::Hip, 8), (EdgeKind::Eave, 8)]);
    near(tower.height, 10.0, "height");
    let cross = [
        [10.0, 0.0],
        [20.0, 0.0],
        [20.0, 10.0],
        [30.0, 10.0],
        [30.0, 20.0],
        [20.0, 20.0],
        [20.0, 30.0],
        [10.0, 30.0],
        [10.0, 20.0],
        [0.0, 20.0],
        [0.0, 10.0],
        [10.0, 10.0],
    ];
    let cross = solve(&plan(&cross, 6.0, &[0, 3, 6, 9])).unwrap();
    let count = [
        (EdgeKind::Ridge, 4),
        (EdgeKind::Valley, 4),
        (EdgeKind::Eave, 8),
        (EdgeKind::Rake, 8),
    ];
    assert_eq!(kinds(&cross), count);
    near(cross.length(EdgeKind::Valley), 4.0 * 7.5, "valleys");
}

#[test]
fn winding_repeats_and_corners_in_line_change_nothing() {
    let plain = solve(&plan(&RECTANGLE, 6.0, &[1, 3])).unwrap();
    let mut other = RECTANGLE.to_vec();
    other.insert(1, [15.0, 0.0]);
    other.insert(3, [40.0, 0.0]);
    other.push([0.0, 0.0]);
    other.reverse();
    let told = |from: [f64; 2], to: [f64; 2]| PlanSide {
        form: if from[0] == to[0] && from[1] != to[1] {
            SideForm::Gable
        } else {
            SideForm::Hip
        },
        ..PlanSide::default()
    };
    let sides = other
        .windows(2)
        .map(|pair| told(pair[0], pair[1]))
        .collect();
    let again = RoofPlan {
        points: other,
        sides,
        pitch: Some(6.0),
        ..RoofPlan::default()
    };
    let again = solve(&again).unwrap();
    assert_eq!(kinds(&again), kinds(&plain));
    near(again.area, plain.area, "area");
    let front = again
        .planes
        .iter()
        .find(|plane| plane.facing == 180.0)
        .unwrap();
    assert_eq!(front.sides, [4, 5]);
}

#[test]
fn facing_turns_with_the_plan() {
    let mut turned = plan(&RECTANGLE, 6.0, &[]);
    turned.north = -60.0;
    let roof = solve(&turned).unwrap();
    let facings: Vec<f64> = roof.planes.iter().map(|plane| plane.facing).collect();
    assert_eq!(facings, [120.0, 30.0, 300.0, 210.0]);
    assert_eq!(roof.north, 300.0);
}

#[test]
fn the_json_of_the_modules_page_is_read() {
    let plan = RoofPlan::read(
        r#"{"points": [[0,0],[40,0],[40,30],[0,30]],
            "pitch": 6, "overhang": 1,
            "sides": [{}, {"form": "gable", "overhang": 0.5}, {"pitch": 8}, {"form": "gable"}],
            "north": 0}"#,
    );
    let roof = solve(&plan.unwrap()).unwrap();
    near(roof.plan_area, 41.5 * 32.0, "plan area");
    let pitches: Vec<f64> = roof.planes.iter().map(|plane| plane.pitch).collect();
    assert_eq!(pitches, [6.0, 8.0]);
    let short = RoofPlan::read(r#"{"points": [[0,0],[40,0],[40,30],[0,30]], "pitch": 6}"#).unwrap();
    let text = serde_json::to_string(&short).unwrap();
    assert_eq!(RoofPlan::read(&text).unwrap(), short);
}

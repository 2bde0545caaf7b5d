use super::*;
use crate::trade::roof::{PlanSide, RoofPlan, SideForm, solve};

fn roof(points: &[[f64; 2]], gables: &[usize], overhang: f64, north: f64) -> Roof {
    let side = |side: usize| PlanSide {
        form: if gables.contains(&side) {
            SideForm::Gable
        } else {
            SideForm::Hip
        },
        ..PlanSide::default()
    };
    let plan = RoofPlan {
        points: points.to_vec(),
        pitch: Some(6.0),
        overhang: Some(overhang),
        sides: (0..points.len()).map(side).collect(),
        north,
        holes: Vec::new(),
    };
    solve(&plan).unwrap()
}

fn titled(title: &str, planes: Vec<PlaneNote>) -> RoofDrawing {
    RoofDrawing {
        title: title.to_owned(),
        id: "roof".to_owned(),
        planes,
    }
}

fn note(name: Option<&str>, mark: Option<&str>) -> PlaneNote {
    PlaneNote {
        name: name.map(str::to_owned),
        mark: mark.map(str::to_owned),
    }
}

#[test]
fn a_hip_roof_with_names_and_marks() {
    let corners = [[0.0, 0.0], [40.0, 0.0], [40.0, 30.0], [0.0, 30.0]];
    let notes = vec![
        note(Some("front"), Some("11 hits")),
        note(None, Some("0 hits")),
        note(Some("rear"), None),
    ];
    let svg = roof_plan(&roof(&corners, &[], 1.0, 15.0), &titled("House", notes));
    insta::assert_snapshot!(svg);
}

#[test]
fn an_ell_with_a_valley() {
    let corners = [
        [0.0, 0.0],
        [48.0, 0.0],
        [48.0, 24.0],
        [22.0, 24.0],
        [22.0, 50.0],
        [0.0, 50.0],
    ];
    let svg = roof_plan(&roof(&corners, &[4], 1.5, 0.0), &titled("Ell", Vec::new()));
    insta::assert_snapshot!(svg);
}

#[test]
fn a_tee_with_gables() {
    let corners = [
        [0.0, 0.0],
        [22.0, 0.0],
        [22.0, -20.0],
        [38.0, -20.0],
        [38.0, 0.0],
        [60.0, 0.0],
        [60.0, 24.0],
        [0.0, 24.0],
    ];
    let svg = roof_plan(
        &roof(&corners, &[2, 5, 7], 1.0, 330.0),
        &titled("Tee", Vec::new()),
    );
    insta::assert_snapshot!(svg);
}

#[test]
fn what_people_write_is_escaped() {
    let corners = [[0.0, 0.0], [40.0, 0.0], [40.0, 30.0], [0.0, 30.0]];
    let notes = vec![note(Some("<b>&\"'\u{0}x"), Some("</text><script>"))];
    let drawing = RoofDrawing {
        title: "a < b".to_owned(),
        id: "x\" onload=\"y".to_owned(),
        planes: notes,
    };
    let svg = roof_plan(&roof(&corners, &[1, 3], 0.0, 0.0), &drawing);
    assert!(svg.contains("&lt;b&gt;&amp;&quot;&#39;x"));
    assert!(!svg.contains("<script") && !svg.contains("onload=") && !svg.contains('\u{0}'));
    assert!(svg.contains("<title id=\"xonloady-title\">a &lt; b</title>"));
}

#[test]
fn a_long_remark_runs_over_rows() {
    let words = "eleven hits in the test square by the valley, and a seam that has come open";
    let rows = sheet::rows(words, 30);
    assert!(rows.iter().all(|row| row.chars().count() <= 30), "{rows:?}");
    assert_eq!(rows.join(" "), words);
    assert_eq!(sheet::rows(&"x".repeat(70), 30).len(), 3);
    assert!(sheet::rows("  ", 30).is_empty());
}

/// Every kind has a line or a letter of its own, so that none rests on colour.
#[test]
fn kinds_differ_without_colour() {
    let styles: Vec<_> = EdgeKind::ALL.iter().map(|kind| style(*kind)).collect();
    for (at, one) in styles.iter().enumerate() {
        for other in &styles[at + 1..] {
            assert_ne!(one.0, other.0);
            assert!(one.1 != other.1 || one.2 != other.2, "{one:?} {other:?}");
        }
    }
}

//! Worked roofs. The arithmetic stands beside each figure; `tests/outside` does it again apart.

use std::collections::BTreeSet;

use super::*;
use crate::job::{EdgeKind, ValleyLining};
use crate::limits;

/// A hip roof on a plan of 40 by 30 ft at 6 in 12: 1341.641 sq ft, ridge 10 ft, four hips of 22.5
/// ft (plane geometry).
fn hip_roof() -> MaterialInputs {
    let edge = |kind, length_ft| RoofEdge {
        kind,
        name: format!("{kind}s"),
        length_ft: Some(length_ft),
        slope: Some(0),
    };
    MaterialInputs {
        slopes: vec![RoofArea {
            name: "roof".into(),
            area_sq_ft: Some(1200.0 * 1.25f64.sqrt()),
            rise: Some(6.0),
            overhang_in: Some(12.0),
            wall_in: Some(6.0),
        }],
        edges: vec![
            edge(EdgeKind::Eave, 140.0),
            edge(EdgeKind::Ridge, 10.0),
            edge(EdgeKind::Hip, 90.0),
        ],
        none_of: BTreeSet::from([
            EdgeKind::Rake,
            EdgeKind::Valley,
            EdgeKind::Sidewall,
            EdgeKind::Headwall,
        ]),
        waste: Some(Waste {
            name: "hip roof".into(),
            percent: 10.0,
        }),
        code_edition: Some("IRC 2018".into()),
        ice_barrier_designated: Some(true),
        starter_at_rakes: Some(false),
        gutter_apron: Some(true),
        high_wind: Some(false),
        pipe_boots: Some(3),
        box_vents: Some(4),
        vent_area_asked: Some((1440.0, "IRC 2018, R806.2".into())),
        ..MaterialInputs::default()
    }
}

fn line(inputs: &MaterialInputs, item: MaterialItem) -> MaterialLine {
    let lines = materials(inputs).unwrap();
    let mut found = lines.into_iter().filter(|line| line.item == item);
    let line = found.next().unwrap_or_else(|| panic!("no {item:?}"));
    assert_eq!(found.next(), None);
    line
}

#[test]
fn a_hip_roof_takes_what_the_arithmetic_says() {
    let inputs = hip_roof();
    for (item, quantity) in [
        // 13.416 SQ x 1.1 = 14.758; / (1/3) = 44.27
        (MaterialItem::ShingleBundles, 45.0),
        // 140 / 100
        (MaterialItem::Starter, 2.0),
        // 140 / 9.8333 = 14.24
        (MaterialItem::DripEdge, 15.0),
        (MaterialItem::GutterApron, 15.0),
        // 100 / 25
        (MaterialItem::RidgeAndHipCap, 4.0),
        // 42 in x 1.118 = 46.957 in: 2 courses; 280 / 66.67 = 4.2
        (MaterialItem::IceBarrier, 5.0),
        // 1475.8 x 12 / 34 = 520.9 ft; / 144 = 3.62
        (MaterialItem::UnderlaymentSingle, 4.0),
        // 14.758 x 80 x 4 = 4722.6
        (MaterialItem::Fasteners, 4723.0),
        (MaterialItem::FastenerBoxes, 1.0),
        (MaterialItem::PipeBoots, 3.0),
        (MaterialItem::BoxVents, 4.0),
        (MaterialItem::VentAreaHigh, 720.0),
        (MaterialItem::VentAreaThere, 200.0),
    ] {
        assert_eq!(line(&inputs, item).quantity, Some(quantity), "{item:?}");
    }
    let squares = line(&inputs, MaterialItem::ShingleSquares);
    assert!((squares.quantity.unwrap() - 14.758).abs() < 0.0005);
    assert_eq!(squares.arithmetic, "13.416 SQ x 1.1 (hip roof: 10 %)");
    let bundles = line(&inputs, MaterialItem::ShingleBundles);
    assert_eq!(
        bundles.arithmetic,
        "13.416 SQ x 1.1 / 0.333 SQ a bundle, rounded up"
    );
    assert!(bundles.used.iter().any(|used| used.source == PRACTICE));
    assert!(
        bundles
            .used
            .iter()
            .any(|used| used.name == "waste: hip roof")
    );
}

#[test]
fn the_waste_is_never_taken_for_granted() {
    let mut inputs = hip_roof();
    inputs.waste = None;
    let bundles = line(&inputs, MaterialItem::ShingleBundles);
    assert_eq!(bundles.quantity, None);
    // 13.416 / (1/3) = 40.25, without waste.
    assert_eq!(bundles.at_least, Some(41.0));
    assert_eq!(bundles.not_known, ["the waste to add"]);
    // Edges do not depend on it.
    assert_eq!(line(&inputs, MaterialItem::Starter).quantity, Some(2.0));
}

#[test]
fn what_is_not_known_stays_unknown() {
    let mut inputs = hip_roof();
    inputs.slopes[0].wall_in = None;
    inputs.edges[0].length_ft = None;
    inputs.slopes.push(RoofArea {
        name: "porch".into(),
        rise: Some(3.0),
        ..RoofArea::default()
    });
    let ice = line(&inputs, MaterialItem::IceBarrier);
    assert_eq!(ice.quantity, None);
    assert_eq!(ice.not_known, ["length of the eave", "wall thickness"]);
    let squares = line(&inputs, MaterialItem::ShingleSquares);
    assert_eq!(squares.quantity, None);
    assert_eq!(squares.not_known, ["area of porch"]);
    assert!((squares.at_least.unwrap() - 14.758).abs() < 0.0005);
    let starter = line(&inputs, MaterialItem::Starter);
    assert_eq!((starter.quantity, starter.at_least), (None, None));

    for line in materials(&MaterialInputs::default()).unwrap() {
        assert_eq!((line.quantity, line.at_least), (None, None), "{line:?}");
        assert!(!line.not_known.is_empty(), "{line:?}");
    }
}

// IRC R905.1.1: 19 in strip, then 36 in sheets lapped 19 in, below 4 in 12.
#[test]
fn a_low_slope_takes_two_layers() {
    let mut inputs = hip_roof();
    inputs.slopes[0].rise = Some(3.0);
    inputs.slopes[0].area_sq_ft = Some(1000.0);
    // 1100 x 12 / 17 = 776.47 ft + 140 x 19 / 36 = 73.89 ft; 850.36 / 144 = 5.905
    let double = line(&inputs, MaterialItem::UnderlaymentDouble);
    assert_eq!(double.quantity, Some(6.0), "{double:?}");
    assert_eq!(double.rule.as_deref(), Some("IRC 2018, R905.1.1"));
    let lines = materials(&inputs).unwrap();
    assert!(
        lines
            .iter()
            .all(|l| l.item != MaterialItem::UnderlaymentSingle)
    );
}

#[test]
fn walls_valleys_and_wind() {
    let mut inputs = hip_roof();
    inputs.none_of.clear();
    inputs.exposure_in = Some(5.0);
    for (length, name) in [(12.0, "left wall"), (10.1, "right wall")] {
        inputs.edges.push(RoofEdge {
            kind: EdgeKind::Sidewall,
            name: name.into(),
            length_ft: Some(length),
            slope: None,
        });
    }
    // 28.8 -> 29 and 24.24 -> 25
    assert_eq!(
        line(&inputs, MaterialItem::StepFlashing).quantity,
        Some(54.0)
    );
    inputs.edges.push(RoofEdge {
        kind: EdgeKind::Valley,
        name: "valley".into(),
        length_ft: Some(19.0),
        slope: None,
    });
    let valley = line(&inputs, MaterialItem::ValleyLining);
    assert_eq!((valley.quantity, valley.at_least), (None, Some(19.0)));
    for (lining, count) in [
        (ValleyLining::OpenMetal, 2.0), // 19 / 9.5
        (ValleyLining::ClosedCut, 1.0),
        (ValleyLining::MembraneUnder, 1.0),
    ] {
        inputs.valley_lining = Some(lining);
        let valley = line(&inputs, MaterialItem::ValleyLining);
        assert_eq!(valley.quantity, Some(count), "{lining}");
    }
    inputs.high_wind = Some(true);
    // 14.758 x 80 x 6 = 7083.9
    assert_eq!(
        line(&inputs, MaterialItem::Fasteners).quantity,
        Some(7084.0)
    );
    // No rake was said to be absent any more.
    assert_eq!(line(&inputs, MaterialItem::DripEdge).quantity, None);
}

#[test]
fn an_entered_coverage_replaces_the_default_and_names_its_source() {
    let mut inputs = hip_roof();
    inputs.coverages.insert(
        CoverageKey::StarterBundle,
        Entered {
            value: 120.0,
            source: "label on the bundle".into(),
        },
    );
    let starter = line(&inputs, MaterialItem::Starter);
    assert_eq!(starter.quantity, Some(2.0)); // 140 / 120
    assert!(
        starter
            .used
            .iter()
            .any(|u| u.source == "label on the bundle")
    );
    assert_eq!(COVERAGES.len(), CoverageKey::ALL.len());
    assert!(COVERAGES.iter().all(|row| !row.source.is_empty()));
}

#[test]
fn impossible_numbers_are_refused_with_what_to_do() {
    let with = |change: fn(&mut MaterialInputs)| {
        let mut inputs = hip_roof();
        change(&mut inputs);
        materials(&inputs).unwrap_err().to_string()
    };
    let most = limits::ROOF_MEASURE;
    assert!(with(|i| i.slopes[0].area_sq_ft = Some(-1.0)).contains("area of roof is -1"));
    assert!(with(|i| i.slopes[0].rise = Some(f64::NAN)).contains("pitch of roof"));
    assert!(with(|i| i.edges[0].length_ft = Some(limits::ROOF_MEASURE + 1.0)).contains("eaves"));
    assert!(
        with(|i| i.waste.as_mut().unwrap().percent = limits::WASTE_PERCENT + 1.0)
            .contains("from 0 to 100")
    );
    let entered = |value| Entered {
        value,
        source: String::new(),
    };
    for value in [
        0.0,
        -1.0,
        f64::NAN,
        limits::LEAST_COVERAGE / 2.0,
        most + 1.0,
    ] {
        let mut inputs = hip_roof();
        inputs
            .coverages
            .insert(CoverageKey::CapBundle, entered(value));
        assert!(materials(&inputs).is_err(), "{value}");
    }
    let mut inputs = hip_roof();
    inputs
        .coverages
        .insert(CoverageKey::IceBarrierLap, entered(36.0));
    assert!(materials(&inputs).is_err());
}

mod any_input {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn never_panics_and_never_says_less_than_nothing(
            numbers in proptest::collection::vec(any::<f64>(), 16),
            sound in proptest::collection::vec(0.0..1e6f64, 16),
            mix in proptest::collection::vec(0u8..3, 16),
        ) {
            let pick = |i: usize| match mix[i] {
                0 => None,
                1 => Some(sound[i]),
                _ => Some(numbers[i]),
            };
            let mut inputs = hip_roof();
            inputs.slopes[0] = RoofArea {
                name: "any".into(),
                area_sq_ft: pick(0),
                rise: pick(1).map(|rise| rise % 40.0),
                overhang_in: pick(2),
                wall_in: pick(3),
            };
            for (at, edge) in inputs.edges.iter_mut().enumerate() {
                edge.length_ft = pick(4 + at);
            }
            inputs.exposure_in = pick(8);
            inputs.ridge_vent_ft = pick(9);
            inputs.waste.as_mut().unwrap().percent = pick(10).unwrap_or(0.0) % 100.0;
            if let Some(value) = pick(11) {
                let entered = Entered { value, source: "any".into() };
                inputs.coverages.insert(CoverageKey::EdgeMetalLap, entered);
            }
            if let Ok(lines) = materials(&inputs) {
                prop_assert_eq!(&lines, &materials(&inputs).unwrap());
                for line in lines {
                    let said = line.quantity.or(line.at_least).unwrap_or(0.0);
                    prop_assert!(said.is_finite() && said >= 0.0, "{:?}", line);
                }
            }
        }
    }
}

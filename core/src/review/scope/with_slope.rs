//! What stands on a slope that is replaced, or at its eave, and has to be dealt with for that:
//! boots, vents, dishes, guards, chimneys.

use super::Item;
use super::along::{along, edges};
use super::amounts::item_words;
use super::required::Code;
use super::roof::{Plane, Roof};
use super::sheet::{Part, Sheet};
use crate::job::*;
use crate::review::view::standing;
use crate::trade::code::CodeRule;

use WorkAction::{DetachAndReset, RemoveAndReplace};

/// What becomes of a part that is in order when its slope is replaced (common practice, no
/// source), and what stays unsure with it.
const WITH_THE_SLOPE: &[(Component, WorkAction, Option<&str>)] = &[
    (Component::PipeBoot, RemoveAndReplace, None),
    (Component::BoxVent, DetachAndReset, None),
    (Component::TurbineVent, DetachAndReset, None),
    (
        Component::PowerVent,
        DetachAndReset,
        Some("a licensed electrician may be needed"),
    ),
    (Component::ExhaustCap, DetachAndReset, None),
    (Component::RidgeVent, RemoveAndReplace, None),
    (
        Component::SatelliteDish,
        DetachAndReset,
        Some("find out whether the dish is still in use"),
    ),
    (
        Component::SolarPanel,
        DetachAndReset,
        Some("a licensed installer takes panels off and puts them back"),
    ),
    (Component::Mast, DetachAndReset, None),
    (
        Component::Skylight,
        DetachAndReset,
        Some("find out whether a flashing kit for this skylight can still be had"),
    ),
    (Component::ChimneyFlashing, RemoveAndReplace, None),
];

pub(super) fn write(sheet: &mut Sheet<'_>, roof: &Roof<'_>) {
    for plane in roof.planes.values() {
        for (component, action, doubt) in WITH_THE_SLOPE {
            part_of(sheet, plane, *component, *action, *doubt);
        }
        chimney(sheet, plane);
    }
    guards(sheet, roof);
}

/// Standing counts of a part at a place, as far as there is any of it.
fn counts<'a>(
    sheet: &Sheet<'a>,
    place: Option<&Place>,
    component: Component,
) -> Vec<(RecordRef, &'a Record<ComponentCount>)> {
    sheet
        .view
        .parts(component)
        .filter(|(_, count)| count.place.as_ref() == place)
        .filter(|(_, count)| count.condition != Some(Condition::NotPresent))
        .filter(|(_, count)| count.count != Some(0))
        .collect()
}

fn part_of(
    sheet: &mut Sheet<'_>,
    plane: &Plane<'_>,
    component: Component,
    action: WorkAction,
    doubt: Option<&str>,
) {
    let counts = counts(sheet, Some(&plane.at), component);
    if counts.is_empty() {
        return;
    }
    let item = Item::of(component);
    let (there, how) = match component.facts().unit {
        Unit::LinearFoot => run(sheet, plane, &counts),
        _ => number(&counts),
    };
    let hit = sheet.amount_of(Some(&plane.at), &item, RemoveAndReplace);
    let material = counts.iter().find_map(|(_, count)| count.material);
    let part = Part::new(Some(plane.at.clone()), item.clone(), action)
        .words(item_words(&item, None, material))
        .on(counts.iter().map(|(at, _)| at.clone()))
        .unsure(doubt.map(str::to_owned));
    let part = match (there, hit) {
        (None, Some(_)) if action == RemoveAndReplace => part.proof(),
        (None, _) => part.doubt(format!(
            "how many {}s there are was not counted",
            component.label()
        )),
        (Some(there), hit) => {
            // Those that were hit stand on their own line or on this one already.
            let rest = there - hit.unwrap_or(0.0);
            match (hit, action) {
                (_, DetachAndReset) if rest <= 0.0 => return,
                (Some(_), RemoveAndReplace) if rest <= 0.0 => part.proof(),
                (Some(_), _) => {
                    part.amount(rest, format!("{how}, the rest of them with the slope"))
                }
                (None, _) => part.amount(rest, format!("{how}, with the slope")),
            }
        }
    };
    sheet.put(part);
}

fn number(counts: &[(RecordRef, &Record<ComponentCount>)]) -> (Option<f64>, String) {
    let known: Vec<u32> = counts.iter().filter_map(|(_, count)| count.count).collect();
    let sum: f64 = known.iter().map(|count| f64::from(*count)).sum();
    (
        (!known.is_empty()).then_some(sum),
        format!("{sum} on the slope"),
    )
}

/// A run by its own length, else by that of the ridge it stands on.
fn run(
    sheet: &Sheet<'_>,
    plane: &Plane<'_>,
    counts: &[(RecordRef, &Record<ComponentCount>)],
) -> (Option<f64>, String) {
    let lengths: Vec<Length> = counts
        .iter()
        .filter_map(|(_, count)| count.length)
        .collect();
    if !lengths.is_empty() {
        let sum: f64 = lengths.iter().map(|length| length.to_feet()).sum();
        return (Some(sum), "its length as recorded".to_owned());
    }
    let ridge = edges(sheet.view, &[EdgeKind::Ridge], |side| {
        side == Some(&plane.at)
    });
    let sum: f64 = ridge
        .iter()
        .filter_map(|one| one.edge.length)
        .map(Length::to_feet)
        .sum();
    (
        (sum > 0.0).then_some(sum),
        "along the whole ridge".to_owned(),
    )
}

/// The flashing of a chimney goes with the slope; a wide chimney may need a cricket.
fn chimney(sheet: &mut Sheet<'_>, plane: &Plane<'_>) {
    let chimneys = counts(sheet, Some(&plane.at), Component::Chimney);
    let flashing = counts(sheet, Some(&plane.at), Component::ChimneyFlashing);
    if chimneys.is_empty() {
        return;
    }
    let hit = sheet.amount_of(Some(&plane.at), &Item::ChimneyFlashing, RemoveAndReplace);
    let there = number(&chimneys).0.unwrap_or(1.0);
    let records: Vec<RecordRef> = chimneys.iter().map(|(at, _)| at.clone()).collect();
    if flashing.is_empty() {
        let part = Part::new(
            Some(plane.at.clone()),
            Item::ChimneyFlashing,
            RemoveAndReplace,
        )
        .on(records.clone());
        let rest = there - hit.unwrap_or(0.0);
        sheet.put(if hit.is_some() && rest <= 0.0 {
            part.proof()
        } else {
            part.amount(rest, "one a chimney, with the slope")
        });
    }
    let code = Code::of(sheet);
    let Some(rule) = code.rule(CodeRule::Cricket) else {
        return;
    };
    let over = rule.figure("cricket over width").unwrap_or(f64::INFINITY);
    for (at, chimney) in chimneys {
        let Some(width) = chimney.length.filter(|width| width.to_inches() > over) else {
            continue;
        };
        let part = Part::new(Some(plane.at.clone()), Item::Cricket, WorkAction::Install)
            .amount(1.0, format!("one above a chimney {width} wide"))
            .on([at])
            .doubt("whether there is a cricket was not recorded: look at the photos")
            .unsure(code.doubt())
            .basis(code.basis(rule, &format!("The chimney is {width} wide.")));
        sheet.put(part);
    }
}

/// Guards come off and go back where the slope above or the gutter below is replaced. Those that
/// were hit are replaced and stand on their own line.
fn guards(sheet: &mut Sheet<'_>, roof: &Roof<'_>) {
    let counts: Vec<(RecordRef, &Record<ComponentCount>)> = standing_guards(sheet);
    for (at, count) in counts {
        let place = count.place.as_ref();
        let side = sheet.view.side(place);
        let planes: Vec<&Plane<'_>> = roof
            .planes
            .values()
            .filter(|plane| place.is_none() || (side.is_some() && plane.slope.side == side))
            .collect();
        let gutter = sheet.amount_of(place, &Item::Gutter, RemoveAndReplace);
        if planes.is_empty() && gutter.is_none() {
            continue;
        }
        let hit = sheet.amount_of(place, &Item::GutterGuard, RemoveAndReplace);
        let part = Part::new(count.place.clone(), Item::GutterGuard, DetachAndReset)
            .words(item_words(&Item::GutterGuard, None, count.material))
            .on([at])
            .unsure(held(count));
        let part = match (count.length.map(Length::to_feet), hit) {
            (Some(run), Some(hit)) if run - hit <= 0.0 => continue,
            (Some(run), Some(hit)) => part.amount(run - hit, "the run less what was hit"),
            (Some(run), None) => part.amount(run, "the run as recorded"),
            // Without a length of the whole run the part that was hit is all that is known.
            (None, Some(_)) => continue,
            (None, None) => {
                let eaves = edges(sheet.view, &[EdgeKind::Eave], |slope| {
                    planes.iter().any(|plane| slope == Some(&plane.at))
                });
                along(part, &eaves, "eave", "slopes above the guards")
            }
        };
        sheet.put(part);
    }
}

fn standing_guards<'a>(sheet: &Sheet<'a>) -> Vec<(RecordRef, &'a Record<ComponentCount>)> {
    standing(Kind::Component, &sheet.view.job.records.components)
        .filter(|(_, count)| count.component == Some(Component::GutterGuard))
        .filter(|(_, count)| count.condition != Some(Condition::NotPresent))
        .filter(|(_, count)| count.count != Some(0))
        .collect()
}

fn held(count: &ComponentCount) -> Option<String> {
    let said = count
        .details
        .as_ref()
        .is_some_and(|details| !details.trim().is_empty());
    (!said).then(|| "how the guards are held was not recorded".to_owned())
}

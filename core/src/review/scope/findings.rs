//! Lines from what was found: one finding after the other, wherever it is.

use super::amounts::{self, item_words};
use super::causes::{Outcome, outcome};
use super::roof::{Roof, slope_of};
use super::sheet::{Part, Sheet};
use super::{Item, Withheld, colour};
use crate::job::*;
use crate::review::office_only_finding;

/// What stays unsure with an item whatever was found (common practice, no source).
pub(super) const DOUBTS: &[(Component, &str)] = &[
    (
        Component::GarageDoor,
        "find out whether single panels of this door can still be had; else the whole door is in question",
    ),
    (
        Component::Siding,
        "find out whether the profile and colour can still be had",
    ),
    (
        Component::Shutter,
        "find out whether the pattern and colour can still be had, as shutters hang in pairs",
    ),
];

/// Parts that are often painted at the house, so that the finish has to be known.
const PAINTED: &[Component] = &[
    Component::Gutter,
    Component::Downspout,
    Component::Fascia,
    Component::Soffit,
    Component::Siding,
    Component::Trim,
    Component::EntryDoor,
    Component::GarageDoor,
];

pub(super) fn write(sheet: &mut Sheet<'_>, roof: &Roof<'_>) {
    for (at, finding) in sheet.view.findings() {
        match outcome(finding) {
            Outcome::InOrder => {}
            Outcome::Withheld(reason) => withhold(sheet, at, finding, &reason),
            Outcome::Inspect(doubt) => inspect(sheet, at, finding, doubt),
            Outcome::Work => work(sheet, roof, at, finding),
        }
    }
    counted_as_damaged(sheet);
}

fn withhold(sheet: &mut Sheet<'_>, at: RecordRef, finding: &Record<Finding>, reason: &str) {
    let because = match &finding.cause_reason {
        Some(words) => format!(" The crew's reason: {}", words.trim()),
        None => String::new(),
    };
    let office_only = office_only_finding(finding);
    sheet.withheld.push(Withheld {
        words: format!("{}: {reason}.{because}", sheet.view.call(finding)),
        audience: if office_only {
            Audience::OfficeOnly
        } else {
            Audience::Shared
        },
        finding: at,
    });
}

fn inspect(sheet: &mut Sheet<'_>, at: RecordRef, finding: &Record<Finding>, doubt: String) {
    let Some(component) = finding.component else {
        return;
    };
    let doubt = match &finding.cause_reason {
        Some(reason) => format!("{doubt}: {}", reason.trim()),
        None => doubt,
    };
    let part = measured(sheet, at, finding, component, WorkAction::Inspect).doubt(doubt);
    sheet.put(part);
}

fn work(sheet: &mut Sheet<'_>, roof: &Roof<'_>, at: RecordRef, finding: &Record<Finding>) {
    let Some(component) = finding.component else {
        return;
    };
    match component {
        Component::Shingles => shingles(sheet, roof, at, finding),
        Component::Condenser => condenser(sheet, at, finding),
        Component::Ceiling | Component::Wall => interior(sheet, at, finding, component),
        // Along a slope that is replaced the valley is lined anew; the rules for edges count it.
        Component::Valley => valley(sheet, roof, at, finding),
        _ => {
            let part = measured(
                sheet,
                at.clone(),
                finding,
                component,
                WorkAction::RemoveAndReplace,
            );
            colour::write(sheet, at, finding, component, &part);
            sheet.put(part);
        }
    }
}

/// The part of a line that a finding gives, with its amount.
fn measured(
    sheet: &Sheet<'_>,
    at: RecordRef,
    finding: &Record<Finding>,
    component: Component,
    action: WorkAction,
) -> Part {
    let amount = amounts::of_finding(sheet.view, finding, component);
    let item = Item::of(component);
    let (size, size_from) = match component {
        Component::Gutter => gutter_width(sheet, finding.place.as_ref()),
        _ => (None, None),
    };
    let words = item_words(&item, size, finding.material);
    let mut part = Part::new(finding.place.clone(), item, action)
        .words(words)
        .on([at])
        .on(amount.from)
        .on(size_from);
    part.size = size;
    part.how = amount.how;
    match amount.value {
        Ok(value) => part.amount = Some(value),
        Err(reason) => part.unsure.push(reason),
    }
    if component == Component::Gutter && size.is_none() {
        part =
            part.doubt("the gutter's width was not measured: five and six inches are both common");
    }
    if action == WorkAction::RemoveAndReplace {
        if PAINTED.contains(&component) && colour::finish(sheet, finding, component).is_none() {
            part = part.doubt(
                "whether the colour is the factory's or was put on at the house was not recorded: \
                 if at the house, paint to match",
            );
        }
        let doubts = DOUBTS.iter().filter(|(of, _)| *of == component);
        part = part.unsure(doubts.map(|(_, doubt)| (*doubt).to_owned()));
    }
    part
}

/// The width that was measured where the gutter hangs.
fn gutter_width(sheet: &Sheet<'_>, place: Option<&Place>) -> (Option<Length>, Option<RecordRef>) {
    let measured = sheet
        .view
        .measures(MeasuredThing::GutterWidth)
        .find(|(_, measure)| measure.place.as_ref() == place && measure.length.is_some());
    match measured {
        Some((at, measure)) => (measure.length, Some(at)),
        None => (None, None),
    }
}

/// Shingles of a slope that is replaced stand on its line; else wind damage is a repair.
fn shingles(sheet: &mut Sheet<'_>, roof: &Roof<'_>, at: RecordRef, finding: &Record<Finding>) {
    let slope = finding
        .place
        .as_ref()
        .and_then(|place| slope_of(sheet.view, place));
    let known = slope
        .as_ref()
        .filter(|slope| roof.has(Some(slope)) || roof.under.contains_key(&slope.id));
    if known.is_some() && (roof.has(known) || finding.cause != Some(Cause::Wind)) {
        return;
    }
    let mut part = Part::new(finding.place.clone(), Item::Shingles, WorkAction::Repair)
        .words(item_words(&Item::Shingles, None, finding.material))
        .on([at]);
    match (
        finding.units.filter(|units| *units > 0),
        finding.extent_area,
    ) {
        (Some(units), _) => {
            part.unit = Unit::Each;
            part = part.amount(f64::from(units), format!("{units} counted"));
        }
        (None, Some(area)) => {
            part = part.amount(area.to_squares(), format!("{area:.1} as recorded"));
        }
        (None, None) => {
            part = part.doubt("name the slope on which the shingles were found damaged");
        }
    }
    sheet.put(part);
}

/// Light damage to the fins is combed; where the unit does its work less well, somebody licensed
/// looks first; what is gone is replaced (common practice, no source).
fn condenser(sheet: &mut Sheet<'_>, at: RecordRef, finding: &Record<Finding>) {
    let mut put = |action| {
        let part = measured(sheet, at.clone(), finding, Component::Condenser, action);
        let one_unit_a_place = sheet
            .amount_of(part.place.as_ref(), &part.item, action)
            .is_some();
        let part = if one_unit_a_place { part.proof() } else { part };
        sheet.put(match action {
            WorkAction::Inspect => part.doubt(
                "a licensed technician says whether the fins can be combed or the coil is replaced",
            ),
            _ => part,
        });
    };
    if finding.condition == Some(Condition::Missing) {
        put(WorkAction::RemoveAndReplace);
        return;
    }
    put(WorkAction::StraightenFins);
    if finding.severity == Some(Severity::Functional) {
        put(WorkAction::Inspect);
    }
}

/// What is wet or broken is replaced; paint runs from wall to wall (common practice, no source).
fn interior(sheet: &mut Sheet<'_>, at: RecordRef, finding: &Record<Finding>, component: Component) {
    let part = measured(
        sheet,
        at.clone(),
        finding,
        component,
        WorkAction::RemoveAndReplace,
    );
    let mut paint = Part::new(
        finding.place.clone(),
        Item::of(component),
        WorkAction::Paint,
    )
    .on([at]);
    paint = match amounts::room_area(sheet.view, finding.place.as_ref(), component) {
        Some(amount) => {
            paint = paint.on(amount.from);
            match (
                amount.value,
                sheet.amount_of(part.place.as_ref(), &part.item, WorkAction::Paint),
            ) {
                (Ok(_), Some(_)) => paint.proof(),
                (Ok(value), None) => paint.amount(value, amount.how),
                (Err(reason), _) => paint.doubt(reason),
            }
        }
        None => paint.doubt("the room's size was not measured"),
    };
    sheet.put(part);
    sheet.put(paint);
}

/// A valley beside a slope that stays is replaced as far as it was hit.
fn valley(sheet: &mut Sheet<'_>, roof: &Roof<'_>, at: RecordRef, finding: &Record<Finding>) {
    let slope = finding
        .place
        .as_ref()
        .and_then(|place| slope_of(sheet.view, place));
    let measured_edges = crate::review::view::standing(Kind::Edge, &sheet.view.job.records.edges)
        .any(|(_, edge)| {
            edge.kind == Some(EdgeKind::Valley)
                && edge.length.is_some()
                && [&edge.slope, &edge.other_slope]
                    .into_iter()
                    .any(|side| side.is_some() && *side == slope)
        });
    let mut part = measured(
        sheet,
        at,
        finding,
        Component::Valley,
        WorkAction::RemoveAndReplace,
    );
    if roof.has(slope.as_ref()) && measured_edges {
        // The edges give the length, and the line names them; the finding proves the damage.
        part = part.proof();
        part.unsure.clear();
    }
    part.place = None;
    let linings = super::along::linings_at(sheet.view, slope.as_ref());
    if let Some(lining) = linings.first() {
        part.item = Item::of_valley(*lining);
        part.item_words = item_words(&part.item, None, finding.material);
    }
    sheet.put(part);
}

/// A part that was counted as damaged and has no finding gets a line to inspect.
fn counted_as_damaged(sheet: &mut Sheet<'_>) {
    let counts = crate::review::view::standing(Kind::Component, &sheet.view.job.records.components);
    for (at, count) in counts {
        let (Some(component), Some(Condition::Damaged | Condition::Missing)) =
            (count.component, count.condition)
        else {
            continue;
        };
        let found = sheet.view.findings().any(|(_, finding)| {
            finding.component == Some(component) && finding.place == count.place
        });
        if !found {
            let part = Part::new(
                count.place.clone(),
                Item::of(component),
                WorkAction::Inspect,
            )
            .words(item_words(&Item::of(component), None, count.material))
            .on([at])
            .doubt("it was counted as damaged and no finding says how much and from what");
            sheet.put(part);
        }
    }
}

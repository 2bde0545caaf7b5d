//! Lines along the edges of the slopes that are replaced, for the roof as a whole: starter, caps,
//! edge metal, valleys, flashings. An edge between two such slopes counts once.

use super::Item;
use super::causes::{Outcome, outcome};
use super::eaves::{LayerAt, layer_at};
use super::ice;
use super::required::Code;
use super::roof::{Plane, Roof};
use super::sheet::{Part, Sheet};
use crate::job::*;
use crate::review::view::{View, standing};
use crate::trade::code::CodeRule;

const REPLACE: WorkAction = WorkAction::RemoveAndReplace;

pub(super) fn write(sheet: &mut Sheet<'_>, roof: &Roof<'_>) {
    if roof.planes.is_empty() {
        return;
    }
    let code = Code::of(sheet);
    for plane in roof.planes.values() {
        starter(sheet, plane);
        drip_edge(sheet, plane, &code);
        gutter_apron(sheet, plane);
        ice::write(sheet, plane, &code);
    }
    caps(sheet, roof);
    valleys(sheet, roof);
    walls(sheet, roof, &code);
}

/// An edge as the record has it.
pub(super) struct EdgeAt<'a> {
    pub(super) at: RecordRef,
    pub(super) edge: &'a Record<Edge>,
}

/// Standing edges of some kinds that lie on any slope for which `on` holds.
pub(super) fn edges<'a>(
    view: &View<'a>,
    kinds: &[EdgeKind],
    on: impl Fn(Option<&Place>) -> bool,
) -> Vec<EdgeAt<'a>> {
    standing(Kind::Edge, &view.job.records.edges)
        .filter(|(_, edge)| edge.kind.is_some_and(|kind| kinds.contains(&kind)))
        .filter(|(_, edge)| on(edge.slope.as_ref()) || on(edge.other_slope.as_ref()))
        .map(|(at, edge)| EdgeAt { at, edge })
        .collect()
}

/// A part along edges; what was not measured, and edges that nobody recorded, are named.
pub(super) fn along(part: Part, edges: &[EdgeAt<'_>], what: &str, whose: &str) -> Part {
    if edges.is_empty() {
        return part.doubt(format!("no {what} of the {whose} is recorded: measure it"));
    }
    let lengths: Vec<Length> = edges
        .iter()
        .filter_map(|one| one.edge.length.filter(|length| length.as_64ths() > 0))
        .collect();
    let lacking = edges.len() - lengths.len();
    let mut part = part.on(edges.iter().map(|one| one.at.clone()));
    if lacking > 0 {
        part = part.doubt(format!(
            "{lacking} of {} edges ({what}, {whose}) have no length",
            edges.len()
        ));
    }
    if lengths.is_empty() {
        return part;
    }
    let words: Vec<String> = lengths.iter().map(ToString::to_string).collect();
    let sum: f64 = lengths.iter().map(|length| length.to_feet()).sum();
    part.amount(sum, format!("{what} of the {whose}: {}", words.join(" + ")))
}

/// Edges that end a slope; one that names two slopes belongs to the first.
fn of_plane<'a>(sheet: &Sheet<'a>, plane: &Plane<'_>, kinds: &[EdgeKind]) -> Vec<EdgeAt<'a>> {
    let mut edges = edges(sheet.view, kinds, |side| side == Some(&plane.at));
    edges
        .retain(|one| one.edge.slope.as_ref().or(one.edge.other_slope.as_ref()) == Some(&plane.at));
    edges
}

/// The eaves of a slope.
pub(super) fn eaves_of<'a>(sheet: &Sheet<'a>, plane: &Plane<'_>) -> Vec<EdgeAt<'a>> {
    of_plane(sheet, plane, &[EdgeKind::Eave])
}

fn starter(sheet: &mut Sheet<'_>, plane: &Plane<'_>) {
    let seen = layer_at(sheet.view, &plane.at, "starter", |eave| eave.starter);
    let rakes = sheet.inputs.starter_at_rakes;
    let (kinds, what): (&[EdgeKind], _) = if rakes {
        (&[EdgeKind::Eave, EdgeKind::Rake], "eaves and rakes")
    } else {
        (&[EdgeKind::Eave], "eave")
    };
    let edges = of_plane(sheet, plane, kinds);
    let mut part = Part::new(None, Item::Starter, REPLACE);
    if seen.is_absent() {
        part.action = WorkAction::Install;
        part = part.doubt(
            "no starter was seen there: the new shingles' instructions say what the first course \
             needs",
        );
    }
    if seen.kind() == Some(StarterKind::ReversedShingle) {
        part = part.doubt(
            "the first course starts on reversed shingles: the new shingles' instructions say \
             whether a strip is needed",
        );
    }
    let name = sheet.at(&plane.at);
    let part = along(part, &edges, what, &name)
        .on(seen.from)
        .unsure(seen.unsure);
    sheet.put(part);
}

fn drip_edge(sheet: &mut Sheet<'_>, plane: &Plane<'_>, code: &Code) {
    let seen = layer_at(sheet.view, &plane.at, "drip edge", |eave| eave.drip_edge);
    let edges = of_plane(sheet, plane, &[EdgeKind::Eave, EdgeKind::Rake]);
    let name = sheet.at(&plane.at);
    let mut part = Part::new(None, Item::DripEdge, REPLACE);
    if seen.kind().is_none() {
        let Some(rule) = code.rule(CodeRule::DripEdge) else {
            return;
        };
        let trigger = if seen.is_absent() {
            "None was seen there."
        } else {
            "Whether there is one was not seen."
        };
        part.action = WorkAction::Install;
        part = part.basis(code.basis(rule, trigger)).unsure(code.doubt());
    }
    let part = along(part, &edges, "eaves and rakes", &name)
        .on(seen.from)
        .unsure(seen.unsure);
    sheet.put(part);
}

/// What is there is replaced; no section asks for one where none is.
fn gutter_apron(sheet: &mut Sheet<'_>, plane: &Plane<'_>) {
    let seen: LayerAt<EdgeMetal> = layer_at(sheet.view, &plane.at, "gutter apron", |eave| {
        eave.gutter_apron
    });
    if seen.is_absent() {
        return;
    }
    let action = match seen.kind() {
        Some(_) => REPLACE,
        None => WorkAction::Inspect,
    };
    let edges = of_plane(sheet, plane, &[EdgeKind::Eave]);
    let name = sheet.at(&plane.at);
    let part = along(
        Part::new(None, Item::GutterApron, action),
        &edges,
        "eave",
        &name,
    );
    sheet.put(part.on(seen.from).unsure(seen.unsure));
}

fn caps(sheet: &mut Sheet<'_>, roof: &Roof<'_>) {
    let edges = edges(sheet.view, &[EdgeKind::Ridge, EdgeKind::Hip], |side| {
        roof.has(side)
    });
    let part = Part::new(None, Item::RidgeCap, REPLACE);
    sheet.put(along(
        part,
        &edges,
        "ridges and hips",
        "slopes to be replaced",
    ));
}

/// How the valleys of a slope are lined, each way once.
pub(super) fn linings_at(view: &View<'_>, slope: Option<&Place>) -> Vec<ValleyLining> {
    let Some(slope) = slope else {
        return Vec::new();
    };
    let mut linings = Vec::new();
    for one in edges(view, &[EdgeKind::Valley], |side| side == Some(slope)) {
        let (lining, _) = lining_of(view, &one);
        if let Some(lining) = lining.filter(|lining| !linings.contains(lining)) {
            linings.push(lining);
        }
    }
    linings
}

/// How a valley is lined, by its own record or by an eave opening beside it.
fn lining_of(view: &View<'_>, one: &EdgeAt<'_>) -> (Option<ValleyLining>, Vec<RecordRef>) {
    if let Some(Layer::Seen(lining) | Layer::Inferred(lining)) = one.edge.lining {
        return (Some(lining), Vec::new());
    }
    let sides = [&one.edge.slope, &one.edge.other_slope];
    let opened = view.eaves().find_map(|(at, eave)| {
        let beside = eave.slope.is_some() && sides.contains(&&eave.slope);
        match eave.valley_lining.filter(|_| beside) {
            Some(Layer::Seen(lining) | Layer::Inferred(lining)) => Some((lining, at)),
            _ => None,
        }
    });
    match opened {
        Some((lining, at)) => (Some(lining), vec![at]),
        None => (None, Vec::new()),
    }
}

fn valleys(sheet: &mut Sheet<'_>, roof: &Roof<'_>) {
    for one in edges(sheet.view, &[EdgeKind::Valley], |side| roof.has(side)) {
        let (lining, from) = lining_of(sheet.view, &one);
        let mut part = Part::new(None, lining.map_or(Item::Valley, Item::of_valley), REPLACE);
        if lining.is_none() {
            part = part.doubt("how a valley is lined was not seen: confirm at tear-off");
        } else if one.edge.lining.is_some_and(|lining| lining.to_confirm()) {
            part = part.doubt("how a valley is lined was inferred: confirm at tear-off");
        } else if !from.is_empty() && one.edge.lining.is_none() {
            part = part.doubt("the lining was seen at an eave opening beside one valley: confirm the others at tear-off");
        }
        let whose = match (&one.edge.slope, &one.edge.other_slope) {
            (Some(one), Some(other)) => format!("{} and the {}", sheet.at(one), sheet.at(other)),
            (Some(one), None) | (None, Some(one)) => sheet.at(one),
            (None, None) => "roof".to_owned(),
        };
        sheet.put(along(part, &[one], "valley", &whose).on(from));
    }
}

/// Flashing along walls: what is there is replaced with the slope; where nobody recorded it the
/// code asks for it. Counter flashing is taken off and put back.
fn walls(sheet: &mut Sheet<'_>, roof: &Roof<'_>, code: &Code) {
    let replaced = "slopes to be replaced";
    let sidewalls = edges(sheet.view, &[EdgeKind::Sidewall], |side| roof.has(side));
    if !sidewalls.is_empty() {
        let there = sheet.view.present(Component::StepFlashing);
        let mut part = Part::new(None, Item::StepFlashing, REPLACE).on(to_show(sheet, &there));
        if there.is_empty() {
            let Some(rule) = code.rule(CodeRule::Sidewall) else {
                return;
            };
            part.action = WorkAction::Install;
            part = part
                .basis(code.basis(rule, "Whether there is flashing was not recorded."))
                .unsure(code.doubt());
        }
        sheet.put(along(part, &sidewalls, "sidewalls", replaced));
        let counter = sheet.view.present(Component::CounterFlashing);
        if !counter.is_empty() {
            let part = Part::new(None, Item::CounterFlashing, WorkAction::DetachAndReset)
                .on(to_show(sheet, &counter))
                .doubt("counter flashing let into masonry may have to be cut and replaced");
            sheet.put(along(part, &sidewalls, "sidewalls", replaced));
        }
    }
    let headwalls = edges(sheet.view, &[EdgeKind::Headwall], |side| roof.has(side));
    if !headwalls.is_empty() {
        let part = Part::new(None, Item::HeadwallFlashing, REPLACE);
        sheet.put(along(part, &headwalls, "headwalls", replaced));
    }
}

/// Of records that say a part is there, those that may stand behind a line: not a finding that is
/// withheld, as one for the office alone is.
fn to_show(sheet: &Sheet<'_>, records: &[RecordRef]) -> Vec<RecordRef> {
    let findings = &sheet.view.job.records.findings;
    let shown = |at: &&RecordRef| {
        let finding = findings.get(&at.id).filter(|_| at.kind == Kind::Finding);
        !finding.is_some_and(|finding| matches!(outcome(finding), Outcome::Withheld(_)))
    };
    records.iter().filter(shown).cloned().collect()
}

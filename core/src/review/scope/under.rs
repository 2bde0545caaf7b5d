//! Lines for what lies under the shingles of a slope that is replaced: underlayment and deck.

use super::Item;
use super::eaves::layer_at;
use super::required::Code;
use super::roof::Plane;
use super::sheet::Sheet;
use super::slopes::over_area;
use crate::job::*;
use crate::trade::code::CodeRule;

pub(super) fn write(sheet: &mut Sheet<'_>, plane: &Plane<'_>) {
    let code = Code::of(sheet);
    underlayment(sheet, plane, &code);
    deck(sheet, plane, &code);
}

fn underlayment(sheet: &mut Sheet<'_>, plane: &Plane<'_>, code: &Code) {
    let seen = layer_at(sheet.view, &plane.at, "underlayment", |eave| {
        eave.underlayment
    });
    let rule = code.rule(CodeRule::Underlayment);
    let asked = |trigger: String| rule.map(|rule| code.basis(rule, &trigger));
    if seen.is_absent() {
        if let Some(basis) = asked("None was seen there.".to_owned()) {
            let part = over_area(plane, Item::Underlayment, WorkAction::Install)
                .on(seen.from)
                .unsure(seen.unsure)
                .unsure(code.doubt())
                .basis(basis);
            sheet.put(part);
        }
    } else {
        let mut part = over_area(plane, Item::Underlayment, WorkAction::RemoveAndReplace);
        if let Some(kind) = seen.kind() {
            part = part.words(format!("underlayment, {}", kind.label()));
        }
        sheet.put(part.on(seen.from).unsure(seen.unsure));
    }
    let low = rule.and_then(|rule| {
        let double = rule.figure("two layers from rise")?;
        let single = rule.figure("one layer from rise")?;
        let pitch = plane.pitch?;
        (double..single).contains(&pitch.rise()).then_some(pitch)
    });
    if let Some(pitch) = low
        && let Some(basis) = asked(format!("The slope has {pitch}."))
    {
        let mut part = over_area(plane, Item::Underlayment, WorkAction::Install)
            .words("underlayment, second layer")
            .unsure(code.doubt())
            .basis(basis);
        part.how = format!("the second of two layers at {pitch}; {}", plane.area_how);
        sheet.put(part);
    }
}

/// Boards with gaps wider than the rule in use are covered or replaced.
fn deck(sheet: &mut Sheet<'_>, plane: &Plane<'_>, code: &Code) {
    let seen = layer_at(sheet.view, &plane.at, "deck", |eave| eave.deck);
    if seen.kind().is_none() {
        deck_not_seen(sheet, plane);
        return;
    }
    let Some(kind @ (DeckKind::Planks | DeckKind::SpacedBoards)) = seen.kind() else {
        return;
    };
    let most = sheet.inputs.widest_gap;
    let gaps = sheet.view.eaves().filter(|(at, _)| seen.from.contains(at));
    let widest = gaps.filter_map(|(_, eave)| eave.widest_gap).max();
    let Some(rule) = code.rule(CodeRule::Deck) else {
        return;
    };
    let Some(gap) = widest else {
        let part = over_area(plane, Item::RoofDeck, WorkAction::Inspect)
            .words(kind.label())
            .on(seen.from)
            .unsure(seen.unsure)
            .doubt("the gaps between the boards were not measured: look from the attic");
        sheet.put(part);
        return;
    };
    if gap <= most {
        return;
    }
    let trigger = format!(
        "{} with gaps of up to {gap} were seen.",
        capital(kind.label())
    );
    let mut part = over_area(plane, Item::RoofDeck, WorkAction::Install)
        .on(seen.from)
        .unsure(seen.unsure)
        .unsure(code.doubt())
        .doubt(format!(
            "gaps over {most} are counted as too wide ({}): confirm with the local authority",
            sheet.inputs.gap_rule
        ))
        .doubt(
            "whether sheets go over the boards or the boards are replaced is settled at tear-off",
        )
        .basis(code.basis(rule, &trigger));
    part.how = format!("gaps of up to {gap} between the boards; {}", plane.area_how);
    sheet.put(part);
}

/// Where boards were seen under one slope, the others are looked at before they are ordered for.
fn deck_not_seen(sheet: &mut Sheet<'_>, plane: &Plane<'_>) {
    let boards: Vec<RecordRef> = sheet
        .view
        .eaves()
        .filter(|(_, eave)| {
            matches!(
                eave.deck,
                Some(
                    Layer::Seen(DeckKind::Planks | DeckKind::SpacedBoards)
                        | Layer::Inferred(DeckKind::Planks | DeckKind::SpacedBoards)
                )
            )
        })
        .map(|(at, _)| at)
        .collect();
    if boards.is_empty() {
        return;
    }
    let part = over_area(plane, Item::RoofDeck, WorkAction::Inspect).on(boards).doubt(
        "boards were seen under another slope and the deck was not seen here: look from the attic, \
         and confirm at tear-off",
    );
    sheet.put(part);
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}

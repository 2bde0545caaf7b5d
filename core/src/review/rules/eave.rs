//! The eave opening, layer by layer.

use super::super::tear_off::layers;
use super::super::view::{View, standing};
use super::Raise;
use crate::job::*;

pub(super) fn opening(view: &View<'_>, raise: &mut Raise<'_>) {
    if view.eaves().next().is_none() {
        raise.point("No eave opening was recorded.", vec![]);
    }
}

pub(super) fn all_layers(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, eave) in view.eaves() {
        let missing: Vec<&str> = layers(eave)
            .into_iter()
            .filter(|layer| layer.words.is_none())
            .map(|layer| layer.name)
            .collect();
        if !missing.is_empty() {
            let name = view.job.place_name(&at);
            raise.point(
                format!(
                    "{name}: seen, seen absent, could not see or inferred is not said for {}.",
                    missing.join(", ")
                ),
                vec![at],
            );
        }
    }
}

pub(super) fn layer_photo(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, _) in view.eaves() {
        if view.taken_at(&at).next().is_none() {
            let name = view.job.place_name(&at);
            raise.point(format!("{name}: no photo of the layers."), vec![at]);
        }
    }
}

pub(super) fn deck_gap(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, eave) in view.eaves() {
        let boards = matches!(
            eave.deck,
            Some(
                Layer::Seen(DeckKind::Planks | DeckKind::SpacedBoards)
                    | Layer::Inferred(DeckKind::Planks | DeckKind::SpacedBoards)
            )
        );
        if boards && eave.widest_gap.is_none() {
            let name = view.job.place_name(&at);
            raise.point(
                format!("{name}: a deck of boards without its widest gap."),
                vec![at],
            );
        }
    }
}

pub(super) fn reason(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, eave) in view.eaves() {
        let doubt = layers(eave).iter().any(|layer| layer.to_confirm);
        let told = eave.reason.as_ref().is_some_and(|r| !r.trim().is_empty());
        if doubt && !told {
            let name = view.job.place_name(&at);
            raise.point(
                format!("{name}: something was not seen or is inferred, without saying why."),
                vec![at],
            );
        }
    }
}

pub(super) fn valley_lining(view: &View<'_>, raise: &mut Raise<'_>) {
    let by_eave = |edge: &Edge| {
        view.eaves().any(|(_, eave)| {
            eave.valley_lining.is_some()
                && (eave.slope.is_none()
                    || eave.slope == edge.slope
                    || eave.slope == edge.other_slope)
        })
    };
    for (at, edge) in standing(Kind::Edge, &view.job.records.edges) {
        if edge.kind == Some(EdgeKind::Valley) && edge.lining.is_none() && !by_eave(edge) {
            raise.point("How a valley is lined was not recorded.", vec![at]);
        }
    }
}

pub(super) fn beside_valley(view: &View<'_>, raise: &mut Raise<'_>) {
    let valleys: Vec<RecordRef> = standing(Kind::Edge, &view.job.records.edges)
        .filter(|(_, edge)| edge.kind == Some(EdgeKind::Valley))
        .map(|(at, _)| at)
        .collect();
    let opened = view
        .eaves()
        .any(|(_, eave)| eave.beside_valley == Some(true));
    if !valleys.is_empty() && view.eaves().next().is_some() && !opened {
        raise.point("No eave was opened beside a valley.", valleys);
    }
}

//! The roof itself: deck, layers, obstacles, what to confirm.

use super::{Certainty, Sheet, SheetLine};
use crate::job::*;
use crate::review::requirements::roof_slopes;
use crate::review::tear_off;

impl Sheet<'_> {
    pub(super) fn deck(&self) -> Vec<SheetLine> {
        let mut lines = Vec::new();
        for (at, eave) in self.view.eaves() {
            let place = self.place(&at, eave.slope.as_ref());
            let line = match eave.deck {
                Some(Layer::Seen(deck)) => self.known(
                    format!("{place}: {deck}{}.", gap_words(deck, eave.widest_gap)),
                    vec![at],
                ),
                Some(Layer::Inferred(deck)) => self.line(
                    Certainty::Confirm,
                    format!("{place}: {deck}, inferred; confirm at tear-off."),
                    vec![at],
                ),
                Some(Layer::CouldNotSee) => self.line(
                    Certainty::Confirm,
                    format!("{place}: the deck could not be seen; confirm at tear-off."),
                    vec![at],
                ),
                Some(Layer::SeenAbsent) => {
                    self.known(format!("{place}: no deck was seen there."), vec![at])
                }
                None => self.unknown(format!("{place}: unknown deck."), vec![at]),
            };
            lines.push(line);
        }
        for slope in roof_slopes(self.view) {
            if slope.eaves.is_empty() {
                let text = format!("{}: unknown deck, no eave was opened there.", slope.name);
                lines.push(self.unknown(text, vec![slope.at]));
            }
        }
        if lines.is_empty() {
            lines.push(self.unknown("Unknown deck: no eave was opened.".to_owned(), vec![]));
        }
        lines
    }

    /// "eave, front (main front slope)".
    fn place(&self, at: &RecordRef, slope: Option<&Place>) -> String {
        let name = self.view.job.place_name(at);
        match slope {
            Some(slope) => format!("{name} ({})", self.view.job.place_name(slope)),
            None => name,
        }
    }

    pub(super) fn layers(&self) -> Vec<SheetLine> {
        let mut lines: Vec<SheetLine> = roof_slopes(self.view)
            .into_iter()
            .map(|slope| match slope.layers {
                Some((1, from)) => self.known(format!("{}: one layer.", slope.name), from),
                Some((layers, from)) => self.known(
                    format!("{}: {layers} layers to take off.", slope.name),
                    from,
                ),
                None => {
                    let text = format!("{}: unknown number of layers.", slope.name);
                    self.unknown(text, vec![slope.at])
                }
            })
            .collect();
        if lines.is_empty() {
            let text = "Unknown number of layers: no slope is recorded.";
            lines.push(self.unknown(text.to_owned(), vec![]));
        }
        lines
    }

    pub(super) fn obstacles(&self) -> Vec<SheetLine> {
        let parts = Component::ALL.iter().filter(|part| part.facts().obstacle);
        parts.flat_map(|part| self.part(*part, true)).collect()
    }

    pub(super) fn detach_and_reset(&self) -> Vec<SheetLine> {
        // Common practice, no source: these come off for the roof and go back on.
        const PARTS: &[Component] = &[
            Component::GutterGuard,
            Component::SatelliteDish,
            Component::SolarPanel,
            Component::Mast,
        ];
        PARTS
            .iter()
            .flat_map(|part| self.part(*part, false))
            .collect()
    }

    /// What is recorded of a part; where nobody said anything, that is a line if `ask`.
    fn part(&self, component: Component, ask: bool) -> Vec<SheetLine> {
        let mut lines = Vec::new();
        let mut absent = false;
        for (at, part) in self.view.parts(component) {
            if part.condition == Some(Condition::NotPresent) || part.count == Some(0) {
                absent = true;
                continue;
            }
            let count = part
                .count
                .map_or("an unknown number".to_owned(), |n| n.to_string());
            let mut text = format!("{component}: {count}{}", self.on(part.place.as_ref()));
            if let Some(details) = &part.details {
                text = format!("{text}. {}", details.trim_end_matches('.'));
            }
            lines.push(self.known(format!("{text}."), vec![at]));
        }
        if lines.is_empty() {
            for (at, finding) in self.findings() {
                let there = finding.condition != Some(Condition::NotPresent);
                absent |= finding.component == Some(component) && !there;
                if finding.component == Some(component) && there {
                    let place = self.on(finding.place.as_ref());
                    lines.push(self.known(format!("{component}{place}, not counted."), vec![at]));
                }
            }
        }
        if lines.is_empty() && !absent && ask {
            let text = format!("{component}: unknown, nobody said whether there is one.");
            lines.push(self.unknown(text, vec![]));
        }
        lines
    }

    pub(super) fn confirm_at_tear_off(&self) -> Vec<SheetLine> {
        let lines = tear_off(self.view.job).into_iter().map(|line| {
            let mut text = format!("{}: {} ({})", line.place, line.what, line.known);
            if let Some(reason) = line.reason {
                text = format!("{text}. {}", reason.trim_end_matches('.'));
            }
            self.line(Certainty::Confirm, format!("{text}."), vec![line.from])
        });
        lines.collect()
    }
}

/// Boards need their gap; sheets do not.
fn gap_words(deck: DeckKind, gap: Option<Length>) -> String {
    match (deck, gap) {
        (DeckKind::Planks | DeckKind::SpacedBoards, Some(gap)) => {
            format!(", gaps up to {gap}; ask which gap the authority and the manufacturer accept")
        }
        (DeckKind::Planks | DeckKind::SpacedBoards, None) => ", unknown gaps".to_owned(),
        _ => String::new(),
    }
}

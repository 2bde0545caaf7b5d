//! The site: access, what was there before, paint.

use super::{Sheet, SheetLine};
use crate::job::*;
use crate::review::requirements::roof_slopes;
use crate::review::view::standing;
use crate::review::{Reader, State, office_only_finding};

impl Sheet<'_> {
    /// Standing findings that the reader may read.
    pub(super) fn findings(&self) -> impl Iterator<Item = (RecordRef, &Record<Finding>)> {
        let anyone = self.reader == Reader::Anyone;
        self.view
            .findings()
            .filter(move |(_, finding)| !anyone || !office_only_finding(finding))
    }

    /// ", main front slope"; nothing where there is no place.
    pub(super) fn on(&self, place: Option<&Place>) -> String {
        place.map_or_else(String::new, |place| {
            format!(", {}", self.view.job.place_name(place))
        })
    }

    pub(super) fn access(&self) -> Vec<SheetLine> {
        let mut lines = self.interview();
        lines.extend(self.height());
        lines.extend(self.steep());
        for (at, side) in standing(Kind::Elevation, &self.view.job.records.elevations) {
            if let Some(blocked) = &side.blocked_by {
                let name = self.view.job.place_name(&at);
                let text = format!("{name} is blocked by {}.", blocked.trim_end_matches('.'));
                lines.push(self.known(text, vec![at]));
            }
        }
        lines
    }

    fn interview(&self) -> Vec<SheetLine> {
        let at = RecordRef::new(Kind::Interview, Job::only());
        let interview = self.view.job.interview().filter(|i| i.stands());
        let said = |value: Option<&String>, what: &str| match value {
            Some(words) => self.known(
                format!("{what}: {}.", words.trim_end_matches('.')),
                vec![at.clone()],
            ),
            None => self.unknown(format!("{what}: unknown, nobody asked."), vec![]),
        };
        vec![
            said(
                interview.and_then(|i| i.locked_gates.as_ref()),
                "Locked gates",
            ),
            said(interview.and_then(|i| i.pets.as_ref()), "Pets"),
        ]
    }

    fn height(&self) -> Vec<SheetLine> {
        let mut lines = Vec::new();
        let property = RecordRef::new(Kind::Property, Job::only());
        let storeys = self.view.job.property().filter(|p| p.stands());
        let high = self.options.high_from_storeys;
        match storeys.and_then(|property| property.storeys) {
            Some(storeys) if storeys >= high => {
                let text = format!("High access: {storeys} storeys, high from {high}.");
                lines.push(self.known(text, vec![property]));
            }
            Some(1) => lines.push(self.known("One storey.".to_owned(), vec![property])),
            Some(storeys) => {
                lines.push(self.known(format!("{storeys} storeys."), vec![property]));
            }
            None => lines.push(self.unknown("Unknown number of storeys.".to_owned(), vec![])),
        }
        for (at, side) in standing(Kind::Elevation, &self.view.job.records.elevations) {
            if let Some(height) = side.eave_height {
                let name = self.view.job.place_name(&at);
                let text = format!("{name}: {height} from grade to the eave.");
                lines.push(self.known(text, vec![at]));
            }
        }
        lines
    }

    fn steep(&self) -> Vec<SheetLine> {
        let over = self.options.steep_over_rise;
        let slopes = roof_slopes(self.view).into_iter();
        let lines = slopes.filter_map(|slope| match slope.pitch {
            Some((pitch, _, from)) if pitch.rise() > over => {
                let text = format!(
                    "{}: {pitch}, steep (over {over} in 12): guardrails, nets or a harness as \
                     your rules ask.",
                    slope.name
                );
                Some(self.known(text, vec![from]))
            }
            Some(_) => None,
            None => {
                let text = format!("{}: unknown pitch.", slope.name);
                Some(self.unknown(text, vec![slope.at]))
            }
        });
        lines.collect()
    }

    pub(super) fn prior_conditions(&self) -> Vec<SheetLine> {
        let prior = self
            .findings()
            .filter(|(_, f)| State::of(f) == State::Prior);
        let lines = prior.map(|(at, finding)| {
            let mut text = self.view.call(finding);
            if let Some(words) = &finding.text {
                text = format!("{text}: {}", words.trim_end_matches('.'));
            }
            self.known(format!("{text}."), vec![at])
        });
        lines.collect()
    }

    /// Parts coloured on the house that are damaged, or that come off with the work.
    pub(super) fn paint_to_match(&self) -> Vec<SheetLine> {
        let coloured = |finish| matches!(finish, Some(Finish::FieldPainted | Finish::Stained));
        let mut lines = Vec::new();
        for (at, finding) in self.findings() {
            let finish = finding.finish.filter(|_| coloured(finding.finish));
            if let (Some(finish), State::Damaged) = (finish, State::of(finding)) {
                let text = format!("{}: {finish}; match it after.", self.view.call(finding));
                lines.push(self.known(text, vec![at]));
            }
        }
        for (at, part) in standing(Kind::Component, &self.view.job.records.components) {
            let gutter = matches!(
                part.component,
                Some(Component::Gutter | Component::Downspout)
            );
            let there = part.condition != Some(Condition::NotPresent);
            if let (Some(component), Some(finish), true, true, true) = (
                part.component,
                part.finish,
                coloured(part.finish),
                gutter,
                there,
            ) {
                let place = self.on(part.place.as_ref());
                let text = format!("{component}{place}: {finish}; match it where it is replaced.");
                lines.push(self.known(text, vec![at]));
            }
        }
        lines
    }
}

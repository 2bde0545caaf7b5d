//! The job laid out for the rules: photos by what they show and where they were taken.

use std::collections::BTreeMap;

use super::{Facts, State, side_of};
use crate::job::*;
use crate::sorted::Sorted;

/// A standing photo with its capture.
pub(crate) struct Shot<'a> {
    pub(crate) id: &'a RecordId,
    pub(crate) photo: &'a Record<Photo>,
    pub(crate) capture: Option<Capture>,
}

impl Shot<'_> {
    pub(crate) fn at(&self) -> RecordRef {
        RecordRef::new(Kind::Photo, self.id.clone())
    }

    pub(crate) fn is(&self, role: PhotoRole) -> bool {
        self.photo.role == Some(role)
    }

    /// When it was taken, by the best clock there is.
    pub(crate) fn time(&self) -> Millis {
        match &self.capture {
            Some(capture) => capture.order_time(),
            None => self.photo.made.at,
        }
    }
}

/// The job laid out for the rules.
pub(crate) struct View<'a> {
    pub(crate) job: &'a Job,
    pub(crate) facts: &'a Facts,
    shots: Vec<Shot<'a>>,
    by_shown: BTreeMap<&'a RecordRef, Vec<usize>>,
    by_place: BTreeMap<&'a Place, Vec<usize>>,
}

impl<'a> View<'a> {
    pub(crate) fn new(job: &'a Job, facts: &'a Facts) -> Self {
        let mut shots: Vec<Shot<'a>> = job
            .records
            .photos
            .iter()
            .filter(|(_, photo)| photo.stands())
            .map(|(id, photo)| Shot {
                id,
                photo,
                capture: capture_of(photo),
            })
            .collect();
        shots.order_by_key(|shot| (shot.time(), shot.id));
        let mut by_shown: BTreeMap<&RecordRef, Vec<usize>> = BTreeMap::new();
        let mut by_place: BTreeMap<&Place, Vec<usize>> = BTreeMap::new();
        for (index, shot) in shots.iter().enumerate() {
            for shown in &shot.photo.shows {
                by_shown.entry(shown).or_default().push(index);
            }
            if let Some(place) = &shot.photo.fields.place {
                by_place.entry(place).or_default().push(index);
            }
        }
        Self {
            job,
            facts,
            shots,
            by_shown,
            by_place,
        }
    }

    /// Standing photos, by time.
    pub(crate) fn shots(&self) -> &[Shot<'a>] {
        &self.shots
    }

    /// Photos that show a record, by time.
    pub(crate) fn showing(&self, at: &RecordRef) -> impl Iterator<Item = &Shot<'a>> {
        self.pick(self.by_shown.get(at))
    }

    /// Photos taken at a place or showing it as such, by time.
    pub(crate) fn taken_at(&self, place: &Place) -> impl Iterator<Item = &Shot<'a>> {
        let shown = self.by_shown.get(place);
        self.pick(self.by_place.get(place)).chain(
            self.pick(shown)
                .filter(move |shot| shot.photo.place.as_ref() != Some(place)),
        )
    }

    fn pick(&self, indexes: Option<&Vec<usize>>) -> impl Iterator<Item = &Shot<'a>> {
        let indexes = indexes.cloned().unwrap_or_default();
        indexes
            .into_iter()
            .filter_map(|index| self.shots.get(index))
    }

    /// Standing findings with their pointers.
    pub(crate) fn findings(&self) -> impl Iterator<Item = (RecordRef, &'a Record<Finding>)> {
        standing(Kind::Finding, &self.job.records.findings)
    }

    /// Standing findings of damage that is not prior.
    pub(crate) fn damage(&self) -> impl Iterator<Item = (RecordRef, &'a Record<Finding>)> {
        self.findings().filter(|(_, f)| is_damage(f))
    }

    /// Standing slopes.
    pub(crate) fn slopes(&self) -> impl Iterator<Item = (RecordRef, &'a Record<Slope>)> {
        standing(Kind::Slope, &self.job.records.slopes)
    }

    /// Standing eave openings.
    pub(crate) fn eaves(&self) -> impl Iterator<Item = (RecordRef, &'a Record<EaveOpening>)> {
        standing(Kind::EaveOpening, &self.job.records.eave_openings)
    }

    /// Standing counts of a part.
    pub(crate) fn parts(
        &self,
        component: Component,
    ) -> impl Iterator<Item = (RecordRef, &'a Record<ComponentCount>)> {
        standing(Kind::Component, &self.job.records.components)
            .filter(move |(_, part)| part.component == Some(component))
    }

    /// Standing measurements of a thing.
    pub(crate) fn measures(
        &self,
        of: MeasuredThing,
    ) -> impl Iterator<Item = (RecordRef, &'a Record<Measurement>)> {
        standing(Kind::Measurement, &self.job.records.measurements)
            .filter(move |(_, measure)| measure.of == Some(of))
    }

    /// The side a place lies on.
    pub(crate) fn side(&self, place: Option<&Place>) -> Option<Side> {
        side_of(self.job, place?)
    }

    /// Somebody said what became of this part, at any place for which `here` holds: found in any
    /// state, counted with a state, not present.
    pub(crate) fn accounted(
        &self,
        component: Component,
        here: impl Fn(Option<&Place>) -> bool,
    ) -> bool {
        let found = self.findings().any(|(_, finding)| {
            finding.component == Some(component)
                && finding.condition.is_some()
                && here(finding.place.as_ref())
        });
        found
            || self
                .parts(component)
                .any(|(_, part)| part.condition.is_some() && here(part.place.as_ref()))
    }

    /// The part is there as far as anybody said: counted or found, and not "not present".
    pub(crate) fn present(&self, component: Component) -> Vec<RecordRef> {
        let parts = self
            .parts(component)
            .filter(|(_, part)| part.condition != Some(Condition::NotPresent))
            .map(|(at, _)| at);
        let found = self
            .findings()
            .filter(|(_, finding)| {
                finding.component == Some(component)
                    && finding.condition != Some(Condition::NotPresent)
            })
            .map(|(at, _)| at);
        parts.chain(found).collect()
    }

    /// A finding as the crew calls it: "window screen, front elevation".
    pub(crate) fn call(&self, finding: &Finding) -> String {
        let what = finding
            .component
            .map_or("something", |component| component.label());
        match &finding.place {
            Some(place) => format!("{what}, {}", self.job.place_name(place)),
            None => what.to_owned(),
        }
    }
}

/// Standing records of one kind with their pointers.
pub(crate) fn standing<F>(
    kind: Kind,
    records: &BTreeMap<RecordId, Record<F>>,
) -> impl Iterator<Item = (RecordRef, &Record<F>)> {
    records
        .iter()
        .filter(|(_, record)| record.stands())
        .map(move |(id, record)| (RecordRef::new(kind, id.clone()), record))
}

/// The capture of a photo; `None` where its bytes cannot be read.
pub(crate) fn capture_of(photo: &Photo) -> Option<Capture> {
    let bytes = photo.capture.as_ref()?;
    SignedCapture::from_bytes(bytes).ok()?.capture().ok()
}

/// Damaged or missing, and not from before.
pub(crate) fn is_damage(finding: &Finding) -> bool {
    matches!(
        finding.condition,
        Some(Condition::Damaged | Condition::Missing)
    ) && State::of(finding) != State::Prior
}

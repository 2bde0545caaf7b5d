//! Photos by themselves: what they belong to, when and where they were taken, whether they serve.

use super::super::view::{Shot, View, standing};
use super::Raise;
use crate::job::*;
use crate::limits;

pub(super) fn unattached(view: &View<'_>, raise: &mut Raise<'_>) {
    for shot in view.shots() {
        if shot.photo.shows.is_empty() && shot.photo.place.is_none() {
            raise.point(
                format!(
                    "{} belongs to no place and shows nothing recorded.",
                    called(shot)
                ),
                vec![shot.at()],
            );
        }
    }
}

pub(super) fn no_role(view: &View<'_>, raise: &mut Raise<'_>) {
    for shot in view.shots() {
        if shot.photo.role.is_none() {
            raise.point(
                format!("Nobody said what {} is for.", called(shot)),
                vec![shot.at()],
            );
        }
    }
}

/// Weak photos count only where no sister serves: one that shows the same for the same purpose.
pub(super) fn unusable(view: &View<'_>, raise: &mut Raise<'_>) {
    for shot in view.shots() {
        let Some(weakness) = weakness(view, shot) else {
            continue;
        };
        let sister = view.shots().iter().any(|other| {
            other.id != shot.id
                && other.photo.role == shot.photo.role
                && weakness_free(view, other)
                && alike(shot, other)
        });
        if !sister {
            raise.point(
                format!(
                    "{} looks {} and no other photo shows the same.",
                    called(shot),
                    weakness.label()
                ),
                vec![shot.at()],
            );
        }
    }
}

fn weakness(view: &View<'_>, shot: &Shot<'_>) -> Option<super::super::Weakness> {
    view.facts.photos.get(shot.id)?.weakness
}

fn weakness_free(view: &View<'_>, shot: &Shot<'_>) -> bool {
    weakness(view, shot).is_none()
}

fn alike(a: &Shot<'_>, b: &Shot<'_>) -> bool {
    if a.photo.shows.is_empty() {
        a.photo.place.is_some() && a.photo.place == b.photo.place
    } else {
        a.photo
            .shows
            .iter()
            .all(|shown| b.photo.shows.contains(shown))
    }
}

pub(super) fn out_of_time(view: &View<'_>, raise: &mut Raise<'_>) {
    for shot in outside_visits(view) {
        raise.point(
            format!("{} was taken outside the time of any visit.", called(shot)),
            vec![shot.at()],
        );
    }
}

/// Photos whose own clock puts them outside every visit; none where no visit has a time.
pub(super) fn outside_visits<'v>(view: &'v View<'_>) -> Vec<&'v Shot<'v>> {
    let visits: Vec<(Millis, Millis)> = standing(Kind::Visit, &view.job.records.visits)
        .filter_map(|(at, visit)| {
            let arrived = visit.arrived_at?;
            let left = standing(Kind::Departure, &view.job.records.departures)
                .filter(|(_, departure)| departure.visit.as_ref() == Some(&at))
                .map(|(_, departure)| departure.made.at)
                .max();
            let left = left.unwrap_or_else(|| arrived.saturating_add(limits::VISIT_MILLIS));
            Some((
                arrived.saturating_sub(limits::VISIT_SLACK_MILLIS),
                left.saturating_add(limits::VISIT_SLACK_MILLIS),
            ))
        })
        .collect();
    let outside = |shot: &&Shot<'_>| {
        let taken = shot.capture.as_ref().and_then(Capture::taken_at);
        let within = |at: Millis| visits.iter().any(|(from, to)| (*from..=*to).contains(&at));
        !visits.is_empty() && taken.is_some_and(|at| !within(at))
    };
    view.shots().iter().filter(outside).collect()
}

pub(super) fn far_away(view: &View<'_>, raise: &mut Raise<'_>) {
    for shot in view.shots() {
        let distance = view.facts.photos.get(shot.id).and_then(|f| f.distance_m);
        if let Some(metres) = distance.filter(|metres| *metres > limits::FAR_FROM_LOT_M) {
            raise.point(
                format!(
                    "{} was taken about {metres:.0} m from the house.",
                    called(shot)
                ),
                vec![shot.at()],
            );
        }
    }
}

pub(super) fn original_missing(view: &View<'_>, raise: &mut Raise<'_>) {
    let lost: Vec<RecordRef> = view
        .shots()
        .iter()
        .filter(|shot| {
            view.facts
                .photos
                .get(shot.id)
                .is_some_and(|f| f.here == Some(false) && f.at_office != Some(true))
        })
        .map(Shot::at)
        .collect();
    if !lost.is_empty() {
        raise.point(
            format!(
                "{} originals are neither on this device nor known to be at the office.",
                lost.len()
            ),
            lost,
        );
    }
}

pub(super) fn not_safe(view: &View<'_>, raise: &mut Raise<'_>) {
    let here: Vec<RecordRef> = view
        .shots()
        .iter()
        .filter(|shot| {
            view.facts
                .photos
                .get(shot.id)
                .is_some_and(|f| f.here == Some(true) && f.at_office == Some(false))
        })
        .map(Shot::at)
        .collect();
    if !here.is_empty() {
        raise.point(
            format!(
                "{} originals are on this device only: keep them until the office has them.",
                here.len()
            ),
            here,
        );
    }
}

fn called(shot: &Shot<'_>) -> String {
    match &shot.capture {
        Some(capture) => format!("Photo {}", capture.hash.short()),
        None => format!("Photo {}", shot.id),
    }
}

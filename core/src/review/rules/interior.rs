//! Rooms: photographed even where nothing is reported.

use super::super::view::{View, standing};
use super::{Raise, RecordRef};
use crate::job::*;

/// No photo of any ceiling: neither in a room nor of a finding on a ceiling.
pub(super) fn ceilings(view: &View<'_>, raise: &mut Raise<'_>) {
    let seen = view.shots().iter().any(|shot| {
        let of_room = |at: &RecordRef| at.kind == Kind::Room;
        shot.photo.place.as_ref().is_some_and(of_room) || shot.photo.shows.iter().any(of_room)
    });
    let of_ceiling = view
        .findings()
        .filter(|(_, finding)| finding.component == Some(Component::Ceiling))
        .any(|(at, _)| view.showing(&at).next().is_some());
    // "Could not see", such as a room that stays locked, is told in words.
    let told = view
        .parts(Component::Ceiling)
        .any(|(_, part)| part.condition == Some(Condition::Unsure) && part.details.is_some());
    if !seen && !of_ceiling && !told {
        raise.point("The ceilings inside were not photographed.", vec![]);
    }
}

pub(super) fn room_photo(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, _) in standing(Kind::Room, &view.job.records.rooms) {
        let finding_shown = view
            .findings()
            .filter(|(_, finding)| finding.place.as_ref() == Some(&at))
            .any(|(finding, _)| view.showing(&finding).next().is_some());
        if view.taken_at(&at).next().is_none() && !finding_shown {
            let room = view.job.place_name(&at);
            raise.point(format!("A room without a photo: {room}."), vec![at]);
        }
    }
}

/// Rooms with damage need their size.
pub(super) fn room_size(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, room) in standing(Kind::Room, &view.job.records.rooms) {
        let damaged = view
            .damage()
            .any(|(_, finding)| finding.place.as_ref() == Some(&at));
        let sized = room.length.is_some() && room.width.is_some() && room.height.is_some();
        if damaged && !sized {
            let name = view.job.place_name(&at);
            raise.point(
                format!("Damage inside, but no room size: {name}."),
                vec![at],
            );
        }
    }
}

pub(super) fn leak_not_found(view: &View<'_>, raise: &mut Raise<'_>) {
    let told = view
        .job
        .interview()
        .is_some_and(|interview| interview.interior_leaks == Some(Known::Yes));
    let looked = view
        .findings()
        .any(|(_, finding)| finding.place.as_ref().is_some_and(|p| p.kind == Kind::Room));
    if told && !looked {
        raise.point(
            "The owner knows of a leak, but no finding lies in a room.",
            vec![RecordRef::new(Kind::Interview, Job::only())],
        );
    }
}

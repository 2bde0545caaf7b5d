//! The order in which a stranger is walked round the house, place by place.

use std::collections::BTreeSet;

use crate::job::{Job, Kind, Place, RecordRef, Side};

/// The side of the house a place lies on.
pub fn side_of(job: &Job, place: &Place) -> Option<Side> {
    let records = &job.records;
    match place.kind {
        Kind::Elevation => {
            let named = Side::from_code(place.id.as_str());
            records
                .elevations
                .get(&place.id)
                .and_then(|elevation| elevation.side)
                .or(named)
        }
        Kind::Slope => records.slopes.get(&place.id)?.side,
        Kind::EaveOpening => {
            let eave = records.eave_openings.get(&place.id)?;
            let slope = eave.slope.as_ref();
            eave.side
                .or_else(|| records.slopes.get(&slope?.id).and_then(|slope| slope.side))
        }
        _ => None,
    }
}

/// Every standing place of the job: for each side its elevation, then what hangs on it (further
/// walls have no side and follow), eave openings and slopes; then other structures and rooms.
pub fn places_in_walk_order(job: &Job) -> Vec<Place> {
    let mut places: BTreeSet<(u8, u8, Place)> = BTreeSet::new();
    let mut add = |place: Place, rank: u8| {
        let side = side_of(job, &place).map_or(Side::ALL.len() as u8, |side| side as u8);
        // Places of a side stand together; the rest follow by kind.
        let side_first = if matches!(place.kind, Kind::Structure | Kind::Room) {
            u8::MAX
        } else {
            side
        };
        places.insert((side_first, rank, place));
    };
    for side in Side::ALL {
        add(RecordRef::side(*side), 0);
    }
    let standing = job
        .records
        .headers()
        .filter(|(at, header)| at.is_place() && header.struck.is_none());
    for (at, _) in standing {
        let rank = match at.kind {
            Kind::Elevation if side_of(job, &at).is_some() => 0,
            Kind::Elevation => 1,
            Kind::EaveOpening => 2,
            Kind::Slope => 3,
            Kind::Structure => 4,
            _ => 5,
        };
        add(at, rank);
    }
    places.into_iter().map(|(_, _, place)| place).collect()
}

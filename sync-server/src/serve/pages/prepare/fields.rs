//! The typed fields as a property of the record.

use chalkwalk_core::job::{Known, Property};
use chalkwalk_core::trade::geo::Position;
use chalkwalk_core::trade::zone::offset_minutes;
use chrono::NaiveDate;

use super::form::{Sent, Wrong};

/// Longest short text, characters.
pub(super) const SHORT: usize = 200;
/// Years of building that are taken.
const BUILT: std::ops::RangeInclusive<u32> = 1600..=2200;
/// Storeys that are taken.
const STOREYS: std::ops::RangeInclusive<u32> = 1..=60;

/// The texts that are taken as they are: name, label, hint, as browsers know it.
pub(super) const TEXTS: &[(&str, &str, &str, &str)] = &[
    ("street", "Street and number", "", "off"),
    ("town", "Town", "", "off"),
    ("state", "State", "", "off"),
    ("postal_code", "Postal code", "", "off"),
    ("owner", "Owner", "", "off"),
    ("owner_phone", "Phone", "", "off"),
    ("owner_email", "Mail", "", "off"),
    (
        "code_edition",
        "Building code and edition in force",
        "As the local authority names it.",
        "off",
    ),
    ("report_name", "Number or name of the report", "", "off"),
];

/// What the fields say; what is wrong with them is added to `wrong`.
pub(super) fn property(sent: &Sent, wrong: &mut Wrong) -> Property {
    for (name, label, ..) in TEXTS {
        if sent.typed(name).chars().count() > SHORT {
            wrong.add(name, format!("{label}: at most {SHORT} characters."));
        }
    }
    if sent.filled("street").is_none() {
        wrong.add(
            "street",
            "Type the street and number: the crew finds the house by it.",
        );
    }
    let place = place(sent, wrong);
    Property {
        street: sent.filled("street"),
        town: sent.filled("town"),
        state: sent.filled("state"),
        postal_code: sent.filled("postal_code"),
        latitude: place.map(|(latitude, _)| latitude),
        longitude: place.map(|(_, longitude)| longitude),
        time_zone: time_zone(sent, wrong),
        owner: sent.filled("owner"),
        owner_phone: sent.filled("owner_phone"),
        owner_email: mail(sent, wrong),
        storeys: whole(sent, wrong, "storeys", STOREYS),
        year_built: whole(sent, wrong, "year_built", BUILT),
        front_bearing: bearing(sent, wrong),
        date_of_loss: date(sent, wrong, "date_of_loss"),
        code_edition: sent.filled("code_edition"),
        ice_barrier_designated: sent
            .filled("ice_barrier")
            .and_then(|word| Known::from_code(&word)),
        measurement_report: sent.filled("report_name"),
        storm_reports: None,
    }
}

/// Coordinates: both or neither.
fn place(sent: &Sent, wrong: &mut Wrong) -> Option<(f64, f64)> {
    let mut degrees = |name: &'static str, most: f64, which: &str| {
        let typed = sent.filled(name)?;
        match number(&typed).filter(|degrees| degrees.abs() <= most) {
            Some(degrees) => Some(degrees),
            None => {
                wrong.add(
                    name,
                    format!(
                        "Degrees {which} as a number, such as 33.2127; west and south with a minus."
                    ),
                );
                None
            }
        }
    };
    let latitude = degrees("latitude", 90.0, "north from -90 to 90");
    let longitude = degrees("longitude", 180.0, "east from -180 to 180");
    let lacks = |name: &str| sent.filled(name).is_none();
    match (lacks("latitude"), lacks("longitude")) {
        (true, false) => wrong.add("latitude", "Type both coordinates or neither."),
        (false, true) => wrong.add("longitude", "Type both coordinates or neither."),
        _ => {}
    }
    let (latitude, longitude) = (latitude?, longitude?);
    Position::new(latitude, longitude)
        .ok()
        .map(|_| (latitude, longitude))
}

fn time_zone(sent: &Sent, wrong: &mut Wrong) -> Option<String> {
    let zone = sent.filled("time_zone")?;
    if offset_minutes(&zone, 0).is_some() {
        return Some(zone);
    }
    wrong.add(
        "time_zone",
        "No time zone has this name: write it as in America/Chicago.",
    );
    None
}

fn mail(sent: &Sent, wrong: &mut Wrong) -> Option<String> {
    let mail = sent.filled("owner_email")?;
    if mail
        .split_once('@')
        .is_some_and(|(a, b)| !a.is_empty() && !b.is_empty())
        && !mail.contains(' ')
    {
        return Some(mail);
    }
    wrong.add("owner_email", "A mail address has one @ and no spaces.");
    None
}

fn bearing(sent: &Sent, wrong: &mut Wrong) -> Option<f64> {
    let typed = sent.filled("front_bearing")?;
    let bearing = number(&typed).filter(|bearing| (0.0..=360.0).contains(bearing));
    if bearing.is_none() {
        wrong.add(
            "front_bearing",
            "Degrees clockwise from north, 0 to 360: east is 90, south 180.",
        );
    }
    bearing.map(|bearing| bearing % 360.0)
}

fn whole(
    sent: &Sent,
    wrong: &mut Wrong,
    name: &'static str,
    range: std::ops::RangeInclusive<u32>,
) -> Option<u32> {
    let typed = sent.filled(name)?;
    let number = typed
        .parse::<u32>()
        .ok()
        .filter(|number| range.contains(number));
    if number.is_none() {
        wrong.add(
            name,
            format!("A whole number from {} to {}.", range.start(), range.end()),
        );
    }
    number
}

/// A date of the calendar.
pub(super) fn date(sent: &Sent, wrong: &mut Wrong, name: &'static str) -> Option<NaiveDate> {
    let typed = sent.filled(name)?;
    let date = typed.parse::<NaiveDate>().ok();
    if date.is_none() {
        wrong.add(name, "A date as 2026-04-21.");
    }
    date
}

/// A number with a point or a comma.
pub(super) fn number(typed: &str) -> Option<f64> {
    let number: f64 = typed.replace(',', ".").parse().ok()?;
    number.is_finite().then_some(number)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(fields: &[(&str, &str)]) -> (Property, Wrong) {
        let mut wrong = Wrong::default();
        let property = property(&Sent::of(fields), &mut wrong);
        (property, wrong)
    }

    #[test]
    fn a_form_becomes_the_property() {
        let (property, wrong) = read(&[
            ("street", "  14 Larkmeadow Lane "),
            ("latitude", "33,2127"),
            ("longitude", "-98.7431"),
            ("time_zone", "America/Chicago"),
            ("front_bearing", "360"),
            ("date_of_loss", "2026-04-21"),
            ("storeys", "2"),
            ("ice_barrier", "no"),
            ("owner_email", "odalys@example.org"),
        ]);
        assert!(wrong.is_empty(), "{wrong:?}");
        assert_eq!(property.street.as_deref(), Some("14 Larkmeadow Lane"));
        assert_eq!(
            (property.latitude, property.longitude),
            (Some(33.2127), Some(-98.7431))
        );
        assert_eq!(property.front_bearing, Some(0.0));
        assert_eq!(property.ice_barrier_designated, Some(Known::No));
        assert_eq!(property.date_of_loss, NaiveDate::from_ymd_opt(2026, 4, 21));
        assert_eq!(property.town, None);
    }

    #[test]
    fn each_wrong_field_is_told_by_its_name() {
        let long = "x".repeat(SHORT + 1);
        for (name, value) in [
            ("street", " "),
            ("town", long.as_str()),
            ("latitude", "91"),
            ("longitude", "west"),
            ("time_zone", "Tessel Ford"),
            ("owner_email", "nobody"),
            ("front_bearing", "361"),
            ("date_of_loss", "21/04/2026"),
            ("storeys", "0"),
            ("year_built", "1999.5"),
            ("latitude", "NaN"),
        ] {
            let mut fields = vec![("street", "1 A"), ("latitude", "1"), ("longitude", "1")];
            fields.retain(|(known, _)| *known != name);
            fields.push((name, value));
            let (_, wrong) = read(&fields);
            assert!(wrong.of(name).is_some(), "{name} {value}");
        }
        let (_, wrong) = read(&[("street", "1 A"), ("latitude", "33")]);
        assert_eq!(
            wrong.of("longitude"),
            Some("Type both coordinates or neither.")
        );
    }
}

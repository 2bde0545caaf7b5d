//! The house and its owner, and what the owner said before the work.

use chalkwalk_core::job::{AnyFields, Kind, Known};
use chalkwalk_core::trade::zone::offset_minutes;

use super::super::spec::{Input, Sheet, Wrong, needed, sheet, spec, words};

pub(super) const PROPERTY: Sheet = Sheet {
    adds: false,
    whole: house,
    ..sheet(
        Kind::Property,
        &[
            (
                "Address",
                &[
                    needed("street", "Street and number", Input::Line),
                    spec("town", "Town", Input::Line, ""),
                    spec("state", "State or province", Input::Line, ""),
                    spec("postal_code", "Postal code", Input::Line, ""),
                    spec(
                        "latitude",
                        "Degrees north",
                        Input::Number(-90.0, 90.0),
                        "Such as 39.7392.",
                    ),
                    spec(
                        "longitude",
                        "Degrees east",
                        Input::Number(-180.0, 180.0),
                        "West of Greenwich it is negative.",
                    ),
                    spec(
                        "time_zone",
                        "Time zone",
                        Input::Line,
                        "As the IANA database names it, such as America/Denver.",
                    ),
                ],
            ),
            (
                "Owner",
                &[
                    spec("owner", "Name", Input::Line, ""),
                    spec("owner_phone", "Telephone", Input::Line, ""),
                    spec("owner_email", "Mail", Input::Line, ""),
                ],
            ),
            (
                "House and loss",
                &[
                    spec("date_of_loss", "Date of loss", Input::Day, ""),
                    spec("storeys", "Storeys above grade", Input::Count, ""),
                    spec("year_built", "Year built", Input::Count, ""),
                    spec(
                        "front_bearing",
                        "The front faces",
                        Input::Number(0.0, 360.0),
                        "Degrees clockwise from true north, 0 to 360.",
                    ),
                    spec(
                        "code_edition",
                        "Building code in force",
                        Input::Line,
                        "Code and edition as the local authority names them.",
                    ),
                    spec(
                        "ice_barrier_designated",
                        "Is the area designated for an ice barrier?",
                        words!(Known),
                        "The local authority says so.",
                    ),
                    spec(
                        "measurement_report",
                        "Measurement report",
                        Input::Line,
                        "Its number or name.",
                    ),
                    spec(
                        "storm_reports",
                        "What storm reports say",
                        Input::Lines,
                        "With their source.",
                    ),
                ],
            ),
        ],
    )
};

/// A time zone is one that is known: times are shown on its clocks.
fn house(fields: &AnyFields) -> Option<Wrong> {
    let AnyFields::Property(house) = fields else {
        return None;
    };
    let zone = house.time_zone.as_deref()?;
    offset_minutes(zone, 0).is_none().then_some((
        "time_zone",
        "No such time zone is known: write it as in America/Denver.",
    ))
}

pub(super) const INTERVIEW: Sheet = Sheet {
    adds: false,
    ..sheet(
        Kind::Interview,
        &[(
            "What the owner said",
            &[
                spec("may_climb", "Leave to climb", words!(Known), ""),
                spec(
                    "roof_age_years",
                    "Years since the roof was laid",
                    Input::Count,
                    "",
                ),
                spec(
                    "interior_leaks",
                    "Leaks the owner knows of",
                    words!(Known),
                    "",
                ),
                spec("leak_details", "Where and since when", Input::Lines, ""),
                spec("earlier_repairs", "Earlier repairs", Input::Lines, ""),
                spec("earlier_claims", "Earlier claims", Input::Lines, ""),
                spec("pets", "Pets on the lot", Input::Line, ""),
                spec("locked_gates", "Locked gates", Input::Line, ""),
                spec("remarks", "Anything else", Input::Lines, ""),
            ],
        )],
    )
};

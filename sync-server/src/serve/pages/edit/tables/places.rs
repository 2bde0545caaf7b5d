//! Places: sides, slopes, rooms, structures.

use chalkwalk_core::job::{AnyFields, Kind, Material, Side, StructureKind};

use super::super::spec::{Input, Sheet, Wrong, needed, sheet, spec, words};

const BEARING: Input = Input::Number(0.0, 360.0);
const FACES: &str = "Degrees clockwise from true north, 0 to 360.";

pub(super) const ELEVATION: Sheet = Sheet {
    whole: wall,
    ..sheet(
        Kind::Elevation,
        &[(
            "The wall",
            &[
                spec(
                    "name",
                    "Name",
                    Input::Line,
                    "For a further wall, such as one of a court.",
                ),
                spec("bearing", "Faces", BEARING, FACES),
                spec("storeys", "Storeys", Input::Count, ""),
                spec("eave_height", "Grade to eave", Input::Length, ""),
                spec("wall_length", "Length of the wall", Input::Length, ""),
                spec("cladding", "Cladding", words!(Material), ""),
                spec("walked", "Walked from left to right", Input::Tick, ""),
                spec(
                    "blocked_by",
                    "What keeps it from being seen whole",
                    Input::Lines,
                    "",
                ),
            ],
        )],
    )
};

/// A wall is one of the four sides, or has a name.
fn wall(fields: &AnyFields) -> Option<Wrong> {
    let AnyFields::Elevation(wall) = fields else {
        return None;
    };
    let named = wall.side.is_some() || wall.name.is_some();
    (!named).then_some(("name", "Name the wall: the four sides are there already."))
}

pub(super) const SLOPE: Sheet = sheet(
    Kind::Slope,
    &[
        (
            "The slope",
            &[
                needed("name", "Name", Input::Line),
                spec("side", "Side of the house below it", words!(Side), ""),
                spec("bearing", "Faces", BEARING, FACES),
                spec("walked", "Walked, or seen whole", Input::Tick, ""),
            ],
        ),
        (
            "Covering",
            &[
                spec("roofing", "Roofing", words!(Material), ""),
                spec("layers", "Layers of roofing", Input::Count, ""),
                spec(
                    "age_years",
                    "Years since it was laid",
                    Input::Count,
                    "As far as known.",
                ),
            ],
        ),
        (
            "Pitch and area",
            &[
                spec(
                    "report_pitch",
                    "Pitch in the measurement report",
                    Input::Pitch,
                    "Such as 6/12.",
                ),
                spec(
                    "report_area",
                    "Area in the measurement report",
                    Input::Area,
                    "Such as 1341.6 sq ft or 13.4 SQ.",
                ),
                spec(
                    "measured_area",
                    "Area from the crew's own measures",
                    Input::Area,
                    "",
                ),
            ],
        ),
    ],
);

pub(super) const ROOM: Sheet = sheet(
    Kind::Room,
    &[(
        "The room",
        &[
            needed("name", "Name", Input::Line),
            spec("storey", "Storey", Input::Count, "1 at grade."),
            spec("length", "Longer side", Input::Length, "Such as 14' 6\"."),
            spec("width", "Shorter side", Input::Length, ""),
            spec("height", "Floor to ceiling", Input::Length, ""),
        ],
    )],
);

pub(super) const STRUCTURE: Sheet = sheet(
    Kind::Structure,
    &[(
        "The structure",
        &[
            needed("kind", "What it is", words!(StructureKind)),
            spec("name", "Name", Input::Line, "Such as rear fence."),
            spec("material", "Material", words!(Material), ""),
            spec("length", "Length along the ground", Input::Length, ""),
            spec("height", "Height", Input::Length, ""),
            spec("walked", "Looked at", Input::Tick, ""),
        ],
    )],
);

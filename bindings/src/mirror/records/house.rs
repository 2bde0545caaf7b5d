//! The house, its owner and the crew's visits.

use chalkwalk_core::job::*;

use crate::mirror::values::Day;

/// The house and its owner; one a job.
#[uniffi::remote(Record)]
pub struct Property {
    /// Street and number.
    #[uniffi(default = None)]
    pub street: Option<String>,
    /// Town.
    #[uniffi(default = None)]
    pub town: Option<String>,
    /// State or province.
    #[uniffi(default = None)]
    pub state: Option<String>,
    /// Postal code.
    #[uniffi(default = None)]
    pub postal_code: Option<String>,
    /// Degrees north.
    #[uniffi(default = None)]
    pub latitude: Option<f64>,
    /// Degrees east.
    #[uniffi(default = None)]
    pub longitude: Option<f64>,
    /// Name of the time zone, as the IANA database writes it.
    #[uniffi(default = None)]
    pub time_zone: Option<String>,
    /// The homeowner.
    #[uniffi(default = None)]
    pub owner: Option<String>,
    /// The owner's telephone.
    #[uniffi(default = None)]
    pub owner_phone: Option<String>,
    /// The owner's address for e-mail.
    #[uniffi(default = None)]
    pub owner_email: Option<String>,
    /// Storeys above grade.
    #[uniffi(default = None)]
    pub storeys: Option<u32>,
    /// Year the house was built.
    #[uniffi(default = None)]
    pub year_built: Option<u32>,
    /// True bearing that the front faces, degrees clockwise from north.
    #[uniffi(default = None)]
    pub front_bearing: Option<f64>,
    /// The day of the storm.
    #[uniffi(default = None)]
    pub date_of_loss: Option<Day>,
    /// Building code and edition in force, as the local authority names it.
    #[uniffi(default = None)]
    pub code_edition: Option<String>,
    /// Whether the local authority designates the area for an ice barrier.
    #[uniffi(default = None)]
    pub ice_barrier_designated: Option<Known>,
    /// Number of a bought measurement report.
    #[uniffi(default = None)]
    pub measurement_report: Option<String>,
    /// What storm reports near the address say, with their source.
    #[uniffi(default = None)]
    pub storm_reports: Option<String>,
}

/// What the owner said before the work; one a job.
#[uniffi::remote(Record)]
pub struct Interview {
    /// Leaks the owner knows of.
    #[uniffi(default = None)]
    pub interior_leaks: Option<Known>,
    /// Where and since when.
    #[uniffi(default = None)]
    pub leak_details: Option<String>,
    /// Repairs made earlier.
    #[uniffi(default = None)]
    pub earlier_repairs: Option<String>,
    /// Years since the roof was laid, as the owner says.
    #[uniffi(default = None)]
    pub roof_age_years: Option<u32>,
    /// Claims made earlier.
    #[uniffi(default = None)]
    pub earlier_claims: Option<String>,
    /// Pets on the lot.
    #[uniffi(default = None)]
    pub pets: Option<String>,
    /// Gates that are locked.
    #[uniffi(default = None)]
    pub locked_gates: Option<String>,
    /// The owner's leave to climb.
    #[uniffi(default = None)]
    pub may_climb: Option<Known>,
    /// Anything else.
    #[uniffi(default = None)]
    pub remarks: Option<String>,
}

/// What the owner was told at the end; one a job.
#[uniffi::remote(Record)]
pub struct Recap {
    /// What was found.
    #[uniffi(default = None)]
    pub found: Option<String>,
    /// What was there before.
    #[uniffi(default = None)]
    pub prior: Option<String>,
    /// What happens next.
    #[uniffi(default = None)]
    pub next: Option<String>,
    /// Milliseconds since 1970 when the talk took place.
    #[uniffi(default = None)]
    pub held_at: Option<i64>,
}

/// One stay of the crew at the house.
#[uniffi::remote(Record)]
pub struct Visit {
    /// The local day.
    #[uniffi(default = None)]
    pub day: Option<Day>,
    /// Milliseconds since 1970.
    #[uniffi(default = None)]
    pub arrived_at: Option<i64>,
    /// Who came.
    #[uniffi(default = None)]
    pub crew: Option<String>,
    /// Wind as entered by hand, miles an hour.
    #[uniffi(default = None)]
    pub wind_mph: Option<u32>,
    /// Air temperature as entered by hand, degrees Fahrenheit.
    #[uniffi(default = None)]
    pub temperature_f: Option<i64>,
    /// Light and sky in words.
    #[uniffi(default = None)]
    pub light: Option<String>,
    /// The cautions for ladder and roof were shown and read.
    #[uniffi(default = None)]
    pub cautions_read: Option<bool>,
}

/// A signature that the visit took place; it promises nothing else.
#[uniffi::remote(Record)]
pub struct Signature {
    /// Who signed.
    #[uniffi(default = None)]
    pub signer: Option<String>,
    /// In which part: owner, rep.
    #[uniffi(default = None)]
    pub signs_as: Option<String>,
    /// The sentence that was signed.
    #[uniffi(default = None)]
    pub statement: Option<String>,
    /// The strokes as an SVG path in a box of 1000 by 400.
    #[uniffi(default = None)]
    pub strokes: Option<String>,
}

/// The crew leaves the site. The change that adds it seals all that came before it.
#[uniffi::remote(Record)]
pub struct Departure {
    /// The visit it ends.
    #[uniffi(default = None)]
    pub visit: Option<RecordRef>,
    /// Open points the crew knows of, in words.
    #[uniffi(default = None)]
    pub known_open: Option<String>,
}

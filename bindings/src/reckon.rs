//! The trade's computations that need no job: sun, storm reports, safety.

use chalkwalk_core::drawing;
use chalkwalk_core::job::{Length, StormReport};
use chalkwalk_core::review::CAUTIONS;
use chalkwalk_core::trade::geo::Position;
use chalkwalk_core::trade::safety::{self, DEFERENCE};
use chalkwalk_core::trade::storm::{self, ReadOptions, Search};
use chalkwalk_core::trade::sun::{BestLeft, DayQuery, Face, OPEN_HORIZON, SunDay as CoreDay};
use chalkwalk_core::trade::zone;
use chrono::NaiveDate;

use crate::inner::guarded;
use crate::{Answer, ChalkwalkError};

type Day = NaiveDate;

/// A wall or a slope under the sun.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct SunFace {
    /// Its name.
    pub name: String,
    /// True bearing it faces, degrees clockwise from north.
    pub bearing: f64,
    /// Its pitch, such as 6/12; empty for a wall.
    pub pitch: Option<chalkwalk_core::job::Pitch>,
}

/// A stretch of time, milliseconds since 1970.
#[derive(Clone, Copy, Debug, PartialEq, Eq, uniffi::Record)]
pub struct TimeWindow {
    /// Its first moment.
    pub begins: i64,
    /// Its end.
    pub ends: i64,
}

/// When the sun grazes one face, for photos of dents and creases.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct FaceLight {
    /// The face.
    pub name: String,
    /// The windows of grazing light.
    pub grazing: Vec<TimeWindow>,
    /// What is left of the day, a sentence for the crew.
    pub sentence: String,
}

/// A day of sun at a house.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct SunDay {
    /// The faces, in the order asked for.
    pub faces: Vec<FaceLight>,
    /// What the answer leaves out: to be shown beside it.
    pub caution: String,
    /// A drawing (SVG).
    pub drawing: String,
}

/// A report of hail or wind near a house.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct NearReport {
    /// In words.
    pub words: String,
    /// Miles from the house.
    pub miles: f64,
    /// The record to add to the job, where the crew or the office wants it there.
    pub record: StormReport,
}

/// What public reports say near a house.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct StormNearby {
    /// In words, with what it does not prove.
    pub summary: String,
    /// The reports, nearest first.
    pub reports: Vec<NearReport>,
    /// Rows that could not be read, and what was assumed.
    pub notes: Vec<String>,
    /// A drawing (SVG).
    pub drawing: String,
}

/// One caution with its source.
#[derive(Clone, Debug, PartialEq, Eq, uniffi::Record)]
pub struct Caution {
    /// What to do or not to do.
    pub text: String,
    /// Where it comes from.
    pub source: String,
}

/// An answer about safety. `defer` comes first, always.
#[derive(Clone, Debug, PartialEq, Eq, uniffi::Record)]
pub struct SafetyAnswer {
    /// Stands above the cautions.
    pub defer: String,
    /// The answer in words.
    pub words: Vec<String>,
    /// Cautions.
    pub cautions: Vec<Caution>,
}

/// When the sun grazes walls and slopes on a local day. The time zone goes by its IANA name,
/// such as America/Chicago; grazing light is looked for from the given time on.
#[uniffi::export(default(from_time = None))]
pub fn sun_day(
    latitude: f64,
    longitude: f64,
    day: Day,
    time_zone: String,
    faces: Vec<SunFace>,
    from_time: Option<i64>,
) -> Answer<SunDay> {
    guarded(|| {
        let noon = day
            .and_hms_opt(12, 0, 0)
            .map_or(0, |noon| noon.and_utc().timestamp_millis());
        let offset = zone::offset_minutes(&time_zone, noon).ok_or_else(|| {
            ChalkwalkError::input(format!("\"{time_zone}\" is not the name of a time zone"))
        })?;
        let faces = faces
            .into_iter()
            .map(|face| match face.pitch {
                None => Face::wall(&face.name, face.bearing),
                Some(pitch) => Face::slope(&face.name, face.bearing, pitch),
            })
            .collect::<Result<Vec<_>, _>>()
            .map_err(ChalkwalkError::input)?;
        let query = DayQuery::new(place(latitude, longitude)?, day, offset, faces);
        let found = CoreDay::of(&query).map_err(ChalkwalkError::input)?;
        let now = from_time.unwrap_or(found.whole.from);
        let faces = found.faces.iter().map(|face| FaceLight {
            name: face.face.name.clone(),
            grazing: face
                .useful
                .iter()
                .map(|window| TimeWindow {
                    begins: window.from,
                    ends: window.to,
                })
                .collect(),
            sentence: BestLeft::of(&found, face, now).words(&found, face),
        });
        Ok(SunDay {
            faces: faces.collect(),
            caution: OPEN_HORIZON.to_owned(),
            drawing: drawing::sun_day(&found, from_time, "Grazing light"),
        })
    })
}

/// Storm reports near a house, from a public file of reports.
#[uniffi::export]
pub fn storm_nearby(
    path: String,
    latitude: f64,
    longitude: f64,
    date_of_loss: Day,
    time_zone: String,
) -> Answer<StormNearby> {
    guarded(|| {
        let data = std::fs::read(&path).map_err(|error| ChalkwalkError::file(&path, &error))?;
        let options = ReadOptions {
            day: Some(date_of_loss),
            ..ReadOptions::default()
        };
        let file = storm::read(&data, &options).map_err(ChalkwalkError::input)?;
        if zone::offset_minutes(&time_zone, 0).is_none() {
            let words = format!("\"{time_zone}\" is not the name of a time zone");
            return Err(ChalkwalkError::input(words));
        }
        let offset = |at| zone::offset_minutes(&time_zone, at).unwrap_or(0);
        let nearby = storm::near(
            &file.reports,
            place(latitude, longitude)?,
            &Search::about(date_of_loss),
            &offset,
        )
        .map_err(ChalkwalkError::input)?;
        let name = std::path::Path::new(&path)
            .file_name()
            .map_or_else(String::new, |name| name.to_string_lossy().into_owned());
        let broken = file.broken.iter();
        let mut notes: Vec<String> = broken
            .map(|row| format!("line {} was left out: {}", row.line, row.reason))
            .collect();
        notes.extend(file.assumed.iter().map(|said| format!("assumed: {said}")));
        let reports = nearby.reports.iter().map(|near| NearReport {
            words: near.words(),
            miles: near.miles,
            record: near.report.record(&name),
        });
        Ok(StormNearby {
            summary: nearby.summary(),
            reports: reports.collect(),
            notes,
            drawing: drawing::storm_plot(&nearby, "Storm reports"),
        })
    })
}

/// The cautions for ladder and roof, in the order of a climb: to be shown before anybody climbs.
#[uniffi::export]
pub fn climbing_cautions() -> SafetyAnswer {
    safety_answer(Vec::new(), CAUTIONS)
}

/// How a ladder stands for a landing so many feet up.
#[uniffi::export]
pub fn ladder_for(landing_feet: f64) -> Answer<SafetyAnswer> {
    let answer = reckoned(|| safety::ladder(Length::from_inches_f64(landing_feet * 12.0)))?;
    let words = format!(
        "{} from foot to support, foot {} out, rails {} long.",
        answer.working_length, answer.base, answer.rail_length
    );
    Ok(safety_answer(vec![words], answer.cautions))
}

/// How far to stay away from a power line of so many kilovolts.
#[uniffi::export]
pub fn power_line(kilovolts: f64) -> Answer<SafetyAnswer> {
    let answer = reckoned(|| safety::line_clearance(kilovolts))?;
    let words = format!("Stay {} away.", answer.persons);
    Ok(safety_answer(vec![words], answer.cautions))
}

/// The heat index for an air temperature (Fahrenheit) and a relative humidity (percent).
#[uniffi::export]
pub fn heat_index(temperature_f: f64, humidity: f64) -> Answer<SafetyAnswer> {
    let answer = reckoned(|| safety::heat(temperature_f, humidity))?;
    let words = format!("Heat index {:.0} F.", answer.index_f);
    let band = answer.band.label().to_owned();
    Ok(safety_answer(vec![words, band], answer.cautions))
}

/// A gust against the company's own limit, miles an hour.
#[uniffi::export(default(limit_mph = None))]
pub fn wind_on_roof(gust_mph: f64, limit_mph: Option<f64>) -> Answer<SafetyAnswer> {
    let answer = reckoned(|| safety::wind(gust_mph, limit_mph))?;
    Ok(safety_answer(vec![answer.sentence], answer.cautions))
}

/// How long to stay off the roof after thunder; times are milliseconds since 1970.
#[uniffi::export]
pub fn after_thunder(last_thunder: Option<i64>, now: i64) -> Answer<SafetyAnswer> {
    let answer = reckoned(|| safety::thunder(last_thunder, now))?;
    let words = if answer.over {
        Vec::new()
    } else {
        vec![format!("Stay off for {} min more.", answer.minutes_left)]
    };
    Ok(safety_answer(words, answer.cautions))
}

/// What the trade says of figures that somebody typed.
fn reckoned<T: Send, E: ToString>(work: impl FnOnce() -> Result<T, E> + Send) -> Answer<T> {
    guarded(|| work().map_err(ChalkwalkError::input))
}

fn place(latitude: f64, longitude: f64) -> Answer<Position> {
    Position::new(latitude, longitude).map_err(ChalkwalkError::input)
}

fn safety_answer(words: Vec<String>, cautions: &[safety::Caution]) -> SafetyAnswer {
    let cautions = cautions.iter().map(|caution| Caution {
        text: caution.text.to_owned(),
        source: caution.source.to_string(),
    });
    SafetyAnswer {
        defer: DEFERENCE.to_owned(),
        words,
        cautions: cautions.collect(),
    }
}

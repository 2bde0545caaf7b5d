//! The trade's computations without a job: roof, sun, storm reports, hail, gutters, safety.

use std::fmt::Write;
use std::path::PathBuf;

use chalkwalk_core::drawing;
use chalkwalk_core::job::{Area, Length, Millis, Pitch};
use chalkwalk_core::trade::geo::Position;
use chalkwalk_core::trade::sun::{BestLeft, DayQuery, Face, OPEN_HORIZON, SunDay};
use chalkwalk_core::trade::{gutters, hail, roof, safety, storm, wind, zone};
use chrono::NaiveDate;
use clap::Args;
use serde_json::json;

use super::output::{Failure, Output};

/// A place, as `latitude,longitude` in degrees.
#[derive(Clone, Copy, Debug)]
pub(super) struct At(pub(super) Position);

impl std::str::FromStr for At {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let wrong = || "write a place as latitude,longitude, such as 33.2127,-98.7431".to_owned();
        let (latitude, longitude) = text.split_once(',').ok_or_else(wrong)?;
        let number = |text: &str| text.trim().parse::<f64>().map_err(|_| wrong());
        Position::new(number(latitude)?, number(longitude)?)
            .map(At)
            .map_err(|error| error.to_string())
    }
}

#[derive(Debug, Args)]
pub(super) struct RoofArgs {
    /// File with the plan as JSON: points, pitch, sides; DEVELOPERS.md describes it.
    plan: PathBuf,
    /// Write a drawing here.
    #[arg(long)]
    svg: Option<PathBuf>,
}

pub(super) fn roof(args: &RoofArgs, out: Output) -> Result<(), Failure> {
    let plan = roof::RoofPlan::read(&read_text(&args.plan)?)?;
    let solved = roof::solve(&plan)?;
    if let Some(file) = &args.svg {
        let drawing = drawing::roof_plan::RoofDrawing {
            title: "Roof plan".to_owned(),
            ..Default::default()
        };
        write_file(
            file,
            drawing::roof_plan::roof_plan(&solved, &drawing).as_bytes(),
        )?;
    }
    out.give(&solved, || {
        let mut words = String::new();
        for (at, plane) in solved.planes.iter().enumerate() {
            let _ = writeln!(
                words,
                "slope {:<3} {:>4}/12, faces {:>3.0} degrees, {:>8.1} sq ft",
                solved.plane_name(at),
                plane.pitch,
                plane.facing,
                plane.area
            );
        }
        for total in solved.totals.iter().filter(|total| total.count > 0) {
            let _ = writeln!(
                words,
                "{:<9} {:>3}, {:>7.1} ft",
                total.kind.label(),
                total.count,
                total.length
            );
        }
        let _ = write!(
            words,
            "{:.1} sq ft on the slopes, {:.2} squares; {:.1} sq ft seen from above",
            solved.area,
            roof::squares(solved.area),
            solved.plan_area
        );
        words
    })
}

#[derive(Debug, Args)]
pub(super) struct SunArgs {
    /// The place, as latitude,longitude in degrees.
    #[arg(long, allow_hyphen_values = true)]
    at: At,
    /// The local day.
    #[arg(long)]
    day: NaiveDate,
    /// The time zone by its IANA name.
    #[arg(long)]
    zone: String,
    /// A wall or slope as NAME:BEARING or NAME:BEARING:PITCH, such as "front slope:225:6/12".
    #[arg(long = "face", required = true)]
    faces: Vec<String>,
    /// Local time from which the best window is looked for, as 14:30; the whole day by default.
    #[arg(long)]
    from: Option<chrono::NaiveTime>,
    /// Write a drawing here.
    #[arg(long)]
    svg: Option<PathBuf>,
}

pub(super) fn sun(args: &SunArgs, out: Output) -> Result<(), Failure> {
    let noon = args
        .day
        .and_hms_opt(12, 0, 0)
        .map_or(0, |noon| noon.and_utc().timestamp_millis());
    let offset = zone::offset_minutes(&args.zone, noon)
        .ok_or_else(|| Failure::new(format!("\"{}\" is not the name of a time zone", args.zone)))?;
    let faces = args
        .faces
        .iter()
        .map(|text| face(text))
        .collect::<Result<Vec<_>, _>>()?;
    let day = SunDay::of(&DayQuery::new(args.at.0, args.day, offset, faces))?;
    let now = args.from.map(|time| {
        args.day.and_time(time).and_utc().timestamp_millis() - Millis::from(offset) * 60_000
    });
    sun_given(&day, now, args.svg.as_ref(), out)
}

/// Prints a day of sun.
pub(super) fn sun_given(
    day: &SunDay,
    now: Option<Millis>,
    svg: Option<&PathBuf>,
    out: Output,
) -> Result<(), Failure> {
    if let Some(file) = svg {
        write_file(file, drawing::sun_day(day, now, "Grazing light").as_bytes())?;
    }
    let from = now.unwrap_or(day.whole.from);
    let best: Vec<BestLeft> = day
        .faces
        .iter()
        .map(|face| BestLeft::of(day, face, from))
        .collect();
    out.give(&json!({ "day": day, "best": best }), || {
        let mut words = String::new();
        for (face, best) in day.faces.iter().zip(&best) {
            let _ = writeln!(words, "{}", best.words(day, face));
        }
        words + OPEN_HORIZON
    })
}

fn face(text: &str) -> Result<Face, Failure> {
    let wrong = || {
        Failure::new(format!(
            "\"{text}\" is no wall or slope: write NAME:BEARING, or NAME:BEARING:PITCH for a slope"
        ))
    };
    let mut parts = text.split(':');
    let name = parts.next().ok_or_else(wrong)?;
    let bearing = parts
        .next()
        .and_then(|text| text.parse::<f64>().ok())
        .ok_or_else(wrong)?;
    match parts.next() {
        None => Ok(Face::wall(name, bearing)?),
        Some(pitch) => Ok(Face::slope(
            name,
            bearing,
            pitch.parse::<Pitch>().map_err(|_| wrong())?,
        )?),
    }
}

#[derive(Debug, Args)]
pub(super) struct HailArgs {
    /// A diameter in inches, or a reporter's word such as "golf ball".
    size: String,
    /// A wind, miles an hour, for drift.
    #[arg(long, default_value_t = 0.0)]
    wind: f64,
}

pub(super) fn hail(args: &HailArgs, out: Output) -> Result<(), Failure> {
    let said = hail::inches_from_word(&args.size);
    let inches = match (args.size.trim().parse::<f64>(), &said) {
        (Ok(inches), _) => inches,
        (Err(_), Some(said)) => said.inches,
        (Err(_), None) => {
            return Err(Failure::new(format!(
                "\"{}\" is neither a number of inches nor a word of the lists: give a diameter",
                args.size
            )));
        }
    };
    let mut falls = Vec::new();
    for model in hail::FallModel::ALL {
        let fall = hail::fall(inches, *model)?;
        let drift = wind::drift(args.wind, fall.mph)
            .ok_or_else(|| Failure::new("the wind lies from 0 to 300 mph"))?;
        falls.push((fall, drift));
    }
    let nearest = hail::words_for(inches);
    let bands: Vec<_> = hail::DAMAGE_ONSET.iter().collect();
    let value = json!({
        "inches": inches, "said": said, "nearest": nearest,
        "falls": falls.iter().map(|(fall, drift)| json!({ "fall": fall, "drift": drift })).collect::<Vec<_>>(),
        "damage_observed_to_begin": bands, "note": hail::FALL_SPEED_NOTE,
        "small_hail": hail::SMALL_HAIL_NOTE,
    });
    out.give(&value, || {
        let mut words = nearest.map_or_else(String::new, |nearest| nearest.words + "\n");
        for (fall, drift) in &falls {
            let _ = writeln!(
                words,
                "{}: {:.1} mph, {:.2} ft-lbf; in {} mph of wind {:.1} degrees from the vertical, energy times {:.2}",
                fall.model.label(),
                fall.mph,
                fall.foot_pounds,
                args.wind,
                drift.degrees,
                drift.energy_factor
            );
        }
        let _ = writeln!(words, "{}", hail::FALL_SPEED_NOTE);
        let _ = write!(words, "{}", hail::SMALL_HAIL_NOTE);
        words
    })
}

#[derive(Debug, Args)]
pub(super) struct GutterArgs {
    /// Plan area that drains to the gutter, square feet.
    #[arg(long)]
    area: f64,
    /// Pitch, such as 6/12.
    #[arg(long)]
    pitch: Pitch,
    /// Rain that the local code sets, inches an hour.
    #[arg(long)]
    rain: f64,
}

pub(super) fn gutter(args: &GutterArgs, out: Output) -> Result<(), Failure> {
    let demand = gutters::demand(Area::from_square_feet(args.area), args.pitch, args.rain)?;
    let sizes = [gutters::Profile::KStyle, gutters::Profile::HalfRound]
        .map(|profile| gutters::size_by_table(&demand, profile));
    out.give(&json!({ "demand": demand, "sizes": sizes }), || {
        sizes
            .iter()
            .map(|size| format!("{}\n  rule: {}", size.words, size.rule))
            .collect::<Vec<_>>()
            .join("\n")
    })
}

#[derive(Debug, Args)]
pub(super) struct ClimbArgs {
    /// Height of the landing above the ladder's foot, feet.
    #[arg(long)]
    landing: Option<f64>,
    /// Weight on the ladder with tools, pounds.
    #[arg(long)]
    load: Option<f64>,
    /// Voltage of a line near by, kilovolts.
    #[arg(long)]
    kilovolts: Option<f64>,
    /// Air temperature, degrees Fahrenheit.
    #[arg(long, requires = "humidity")]
    temperature: Option<f64>,
    /// Relative humidity, percent.
    #[arg(long, requires = "temperature")]
    humidity: Option<f64>,
    /// Gusts, miles an hour.
    #[arg(long)]
    gust: Option<f64>,
    /// The company's own limit for gusts, miles an hour.
    #[arg(long)]
    gust_limit: Option<f64>,
}

pub(super) fn climb(args: &ClimbArgs, out: Output) -> Result<(), Failure> {
    let mut words = format!("{}\n", safety::DEFERENCE);
    let mut value = serde_json::Map::new();
    if let Some(feet) = args.landing {
        let set_up = safety::ladder(Length::from_inches_f64(feet * 12.0))?;
        let _ = writeln!(
            words,
            "Ladder: {} from foot to support, foot {} out, rails {} long.",
            set_up.working_length, set_up.base, set_up.rail_length
        );
        cautions(&mut words, set_up.cautions);
        value.insert("ladder".to_owned(), json!(set_up));
    }
    if let Some(pounds) = args.load {
        let answer = safety::duty_rating(pounds)?;
        value.insert("duty_rating".to_owned(), json!(answer));
    }
    if let Some(kilovolts) = args.kilovolts {
        let clear = safety::line_clearance(kilovolts)?;
        let _ = writeln!(
            words,
            "Power line of {kilovolts} kV: stay {} away.",
            clear.persons
        );
        cautions(&mut words, clear.cautions);
        value.insert("power_line".to_owned(), json!(clear));
    }
    if let (Some(temperature), Some(humidity)) = (args.temperature, args.humidity) {
        let heat = safety::heat(temperature, humidity)?;
        let _ = writeln!(words, "Heat index {:.0} F.", heat.index_f);
        cautions(&mut words, heat.cautions);
        value.insert("heat".to_owned(), json!(heat));
    }
    if let Some(gust) = args.gust {
        let answer = safety::wind(gust, args.gust_limit)?;
        value.insert("wind".to_owned(), json!(answer));
    }
    if value.is_empty() {
        return Err(Failure::new(
            "say what to look at: --landing, --load, --kilovolts, --temperature with --humidity, --gust",
        ));
    }
    out.give(&value, || {
        for (name, answer) in &value {
            if ["duty_rating", "wind"].contains(&name.as_str()) {
                let _ = writeln!(words, "{name}: {answer}");
            }
        }
        words
    })
}

fn cautions(words: &mut String, cautions: &[safety::Caution]) {
    for caution in cautions {
        let _ = writeln!(words, "  {} ({})", caution.text, caution.source);
    }
}

/// Reads a storm file.
pub(super) fn read_storm(
    file: &std::path::Path,
    day: Option<NaiveDate>,
) -> Result<storm::StormFile, Failure> {
    let options = storm::ReadOptions {
        day,
        ..storm::ReadOptions::default()
    };
    Ok(storm::read(&read_bytes(file)?, &options)?)
}

/// What was found near an address, in words.
pub(super) fn nearby_words(file: &storm::StormFile, nearby: &storm::Nearby) -> String {
    let mut words = format!("{}\n", nearby.summary());
    for report in &nearby.reports {
        let _ = writeln!(words, "  {}", report.words());
    }
    for row in &file.broken {
        let _ = writeln!(words, "line {} was left out: {}", row.line, row.reason);
    }
    for assumed in &file.assumed {
        let _ = writeln!(words, "assumed: {assumed}");
    }
    words
}

pub(super) fn read_text(file: &std::path::Path) -> Result<String, Failure> {
    String::from_utf8(read_bytes(file)?)
        .map_err(|_| Failure::new(format!("{} is not text in UTF-8", file.display())))
}

pub(super) fn read_bytes(file: &std::path::Path) -> Result<Vec<u8>, Failure> {
    std::fs::read(file)
        .map_err(|error| Failure::new(format!("{} cannot be read: {error}", file.display())))
}

pub(super) fn write_file(file: &std::path::Path, bytes: &[u8]) -> Result<(), Failure> {
    std::fs::write(file, bytes)
        .map_err(|error| Failure::new(format!("{} cannot be written: {error}", file.display())))
}

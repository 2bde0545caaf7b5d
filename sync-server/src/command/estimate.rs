//! What the record of a job means: scope, comparison, code, measures, sheets, hits, sun, storms.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::{Path, PathBuf};

use chalkwalk_core::drawing;
use chalkwalk_core::job::{
    EdgeKind, Job, JobId, MeasurementReport, OtherScope, Pitch, RecordId, RecordRef, ScopeChange,
    ScopeChangeKind, Slope, Unit,
};
use chalkwalk_core::review::compare::{self, Outcome};
use chalkwalk_core::review::measurement::{self, Columns, SolvedRoof, SolvedSlope};
use chalkwalk_core::review::production::{
    ProductionSheet, SheetLine, SheetOptions, production_sheet,
};
use chalkwalk_core::review::requirements::{Stated, requirements};
use chalkwalk_core::review::scope::{
    Basis, PriceColumns, PriceList, Priced, Scope, ScopeInputs, ScopeLine, read_price_list, scope,
};
use chalkwalk_core::review::{HitsInput, Reader, account, hits};
use chalkwalk_core::trade::geo::Position;
use chalkwalk_core::trade::materials::Waste;
use chalkwalk_core::trade::sun::{DayQuery, Face, SunDay};
use chalkwalk_core::trade::{roof, storm, wind, zone};
use chrono::NaiveDate;
use clap::Args;
use serde_bytes::ByteBuf;
use serde_json::json;

use super::args::JobArg;
use super::jobs::{close, open, read_json};
use super::output::{Failure, Output};
use super::reckon::{nearby_words, read_bytes, read_storm, sun_given, write_file};

#[derive(Debug, Args)]
pub(super) struct ScopeWishes {
    /// The job.
    pub(super) job: JobId,
    /// Waste for cutting, percent of the slopes' areas; there is no default.
    #[arg(long)]
    pub(super) waste: Option<f64>,
    /// File with all of an estimator's inputs, as JSON.
    #[arg(long)]
    pub(super) inputs: Option<PathBuf>,
    /// A price list of your own: CSV with columns item, unit, price.
    #[arg(long)]
    pub(super) prices: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(super) struct ScopeArgs {
    #[command(flatten)]
    wishes: ScopeWishes,
    /// Write the lines as CSV here.
    #[arg(long)]
    csv: Option<PathBuf>,
    /// Leave out what is for the office only.
    #[arg(long)]
    shared: bool,
}

/// The inputs of a scope as they were asked for.
pub(super) fn inputs(wishes: &ScopeWishes) -> Result<ScopeInputs, Failure> {
    let mut inputs = match &wishes.inputs {
        Some(file) => read_json::<ScopeInputs>(file)?,
        None => ScopeInputs::default(),
    };
    inputs.waste_percent = wishes.waste.or(inputs.waste_percent);
    Ok(inputs)
}

fn price_list(file: &Path) -> Result<PriceList, Failure> {
    let columns = PriceColumns {
        item: "item".to_owned(),
        unit: "unit".to_owned(),
        price: "price".to_owned(),
        action: None,
    };
    Ok(read_price_list(&read_bytes(file)?, &columns)?)
}

fn job_of(dir: &Path, job: JobId) -> Result<Job, Failure> {
    let mut notebook = open(dir)?;
    let hydrated = notebook.job(job)?.clone();
    close(notebook)?;
    Ok(hydrated)
}

pub(super) fn give_scope(dir: &Path, args: &ScopeArgs, out: Output) -> Result<(), Failure> {
    let job = job_of(dir, args.wishes.job)?;
    let reader = if args.shared {
        Reader::Anyone
    } else {
        Reader::Office
    };
    let scope = scope(&job, &inputs(&args.wishes)?).for_reader(reader);
    if let Some(file) = &args.csv {
        write_file(file, &scope.to_csv(&job, reader)?)?;
    }
    let priced = match &args.wishes.prices {
        Some(file) => Some(scope.priced(&price_list(file)?)),
        None => None,
    };
    out.give(&json!({ "scope": scope, "money": priced }), || {
        scope_words(&scope) + &priced.as_ref().map(money_words).unwrap_or_default()
    })
}

/// The lines of a scope, place by place.
pub(super) fn scope_words(scope: &Scope) -> String {
    let mut words = String::new();
    let mut place = None;
    for line in &scope.lines {
        if place != Some(&line.place_words) {
            let _ = writeln!(words, "{}", line.place_words);
            place = Some(&line.place_words);
        }
        let _ = writeln!(words, "  {}", line_words(line));
        for unsure in &line.unsure {
            let _ = writeln!(words, "      unsure: {unsure}");
        }
        if let Some(change) = &line.change {
            let _ = writeln!(words, "      {}: {}", change.kind.label(), change.reason);
        }
    }
    for line in &scope.left_out {
        let why = line
            .change
            .as_ref()
            .map_or("", |change| change.reason.as_str());
        let _ = writeln!(words, "left out: {} ({why})", line_words(line));
    }
    for held in &scope.withheld {
        let _ = writeln!(words, "no line: {}", held.words);
    }
    for orphan in &scope.orphaned {
        let _ = writeln!(words, "a change without its line: {}", orphan.words);
    }
    words
}

fn line_words(line: &ScopeLine) -> String {
    let quantity = match line.quantity {
        Some(quantity) => format!("{} {}", quantity.digits(), quantity.unit().label()),
        None => format!("? {}", line.unit().map_or("", Unit::label)),
    };
    let photos = line.photos.len();
    let code = match &line.basis {
        Basis::Requirement { section, .. } => format!(" [{section}]"),
        Basis::ExistingCondition | Basis::Estimator => String::new(),
    };
    format!(
        "{:<10} {}: {}{code}, {photos} {}",
        quantity,
        line.item_words,
        line.action.label(),
        if photos == 1 { "photo" } else { "photos" }
    )
}

fn money_words(priced: &Priced) -> String {
    let mut words = format!(
        "Money at your own prices: {} found, {} asked by codes, {} added; {} in all.\n",
        priced.existing, priced.required, priced.added, priced.total
    );
    for line in &priced.unpriced {
        let _ = writeln!(words, "  no price: {} ({})", line.words, line.reason);
    }
    words
}

#[derive(Debug, Args)]
pub(super) struct AdjustArgs {
    /// The job.
    job: JobId,
    /// The key of the line, as `scope --json` names it; for an added line any new word.
    line: String,
    /// Why; it stands beside the line.
    #[arg(long)]
    reason: String,
    /// The new quantity.
    #[arg(long)]
    quantity: Option<f64>,
    /// Its unit.
    #[arg(long, value_parser = unit)]
    unit: Option<Unit>,
    /// Leave the line out.
    #[arg(long, conflicts_with_all = ["quantity", "item"])]
    leave_out: bool,
    /// Add a line: the item in trade words.
    #[arg(long)]
    item: Option<String>,
    /// Where the added line lies, such as elevation/front.
    #[arg(long, requires = "item")]
    place: Option<RecordRef>,
}

fn unit(text: &str) -> Result<Unit, String> {
    Unit::from_code(&text.to_uppercase()).ok_or_else(|| "units are EA, LF, SF and SQ".to_owned())
}

pub(super) fn adjust(dir: &Path, args: &AdjustArgs, out: Output) -> Result<(), Failure> {
    let kind = match (&args.item, args.leave_out) {
        (Some(_), _) => ScopeChangeKind::Added,
        (None, true) => ScopeChangeKind::LeftOut,
        (None, false) => ScopeChangeKind::Amended,
    };
    let change = ScopeChange {
        line: Some(args.line.clone()),
        kind: Some(kind),
        place: args.place.clone(),
        item: args.item.clone(),
        quantity: args.quantity,
        unit: args.unit,
        reason: Some(args.reason.clone()),
        ..ScopeChange::default()
    };
    let mut notebook = open(dir)?;
    let at = notebook.add(args.job, change)?;
    close(notebook)?;
    out.give(&json!({ "record": at }), || {
        format!("The line is {}; the change is {at}.", kind.label())
    })
}

#[derive(Debug, Args)]
pub(super) struct CompareArgs {
    #[command(flatten)]
    wishes: ScopeWishes,
    /// Their scope: CSV or XLSX, with whatever columns it has.
    file: PathBuf,
    /// Whose it is.
    #[arg(long, default_value = "the insurer")]
    name: String,
    /// The sheet, for a spreadsheet with several.
    #[arg(long)]
    sheet: Option<String>,
    /// File that says which column means what, as JSON; without it they are guessed and shown.
    #[arg(long)]
    columns: Option<PathBuf>,
    /// Keep their scope in the job, with its columns for the next one.
    #[arg(long)]
    keep: bool,
    /// Write the list of disputes as CSV here.
    #[arg(long)]
    csv: Option<PathBuf>,
}

pub(super) fn give_comparison(dir: &Path, args: &CompareArgs, out: Output) -> Result<(), Failure> {
    let mut notebook = open(dir)?;
    let job = notebook.job(args.wishes.job)?.clone();
    let mapping = match &args.columns {
        Some(file) => Some(super::reckon::read_text(file)?),
        None => None,
    };
    let bytes = read_bytes(&args.file)?;
    let file_name = args.file.file_name().unwrap_or_default().to_string_lossy();
    let taken = compare::take_in(
        &job,
        &compare::TheirFile {
            name: &args.name,
            file_name: &file_name,
            bytes: &bytes,
            sheet: args.sheet.as_deref(),
            mapping: mapping.as_deref(),
        },
    )?;
    let kept = match args.keep {
        true => Some(keep(
            &mut notebook,
            args.wishes.job,
            &job,
            taken.record.clone(),
        )?),
        false => None,
    };
    let job = notebook.job(args.wishes.job)?.clone();
    close(notebook)?;
    let scope = scope(&job, &inputs(&args.wishes)?);
    let prices = match &args.wishes.prices {
        Some(file) => Some(unit_prices(&scope.priced(&price_list(file)?))),
        None => None,
    };
    let options = compare::Options {
        prices: prices.as_ref(),
        ..compare::Options::default()
    };
    let comparison = compare::compare(&job, &scope, &taken.scope, kept.as_ref(), &options);
    let list = compare::disputes(&comparison);
    if let Some(file) = &args.csv {
        write_file(file, &compare::disputes_csv(&list))?;
    }
    let value = json!({
        "read_as": taken.read_as, "columns": taken.columns, "columns_from": taken.mapping_from,
        "kept": kept, "comparison": comparison, "disputes": list,
    });
    out.give(&value, || {
        let mut words = format!("{}\n", taken.read_as);
        let counts: Vec<String> = Outcome::ALL
            .iter()
            .filter_map(|outcome| Some((outcome, comparison.counts.get(outcome)?)))
            .map(|(outcome, count)| format!("{count} {}", outcome.label()))
            .collect();
        let _ = writeln!(words, "{}", counts.join(", "));
        for dispute in &list.disputes {
            let _ = writeln!(
                words,
                "{:>3}. {}: {} ({})",
                dispute.number,
                dispute.place,
                dispute.item,
                dispute.outcome.label()
            );
            let _ = writeln!(words, "     {}", dispute.reason);
        }
        let _ = write!(words, "{}", list.about);
        words
    })
}

/// Keeps another's scope; the same file is kept once.
fn keep(
    notebook: &mut chalkwalk_core::notebook::Notebook,
    id: JobId,
    job: &Job,
    record: OtherScope,
) -> Result<RecordRef, Failure> {
    let known = job.records.other_scopes.iter().find(|(_, other)| {
        other.stands() && other.file_hash == record.file_hash && other.columns == record.columns
    });
    match known {
        Some((at, _)) => Ok(RecordRef::new(
            chalkwalk_core::job::Kind::OtherScope,
            at.clone(),
        )),
        None => Ok(notebook.add(id, record)?),
    }
}

fn unit_prices(
    priced: &Priced,
) -> BTreeMap<chalkwalk_core::review::scope::LineKey, rust_decimal::Decimal> {
    let lines = priced.lines.iter();
    lines
        .map(|line| (line.key.clone(), line.unit_price))
        .collect()
}

pub(super) fn code(dir: &Path, args: &JobArg, out: Output) -> Result<(), Failure> {
    let job = job_of(dir, args.job)?;
    let answers = requirements(&job, &Stated::default());
    out.give(&answers, || {
        let mut words = String::new();
        for requirement in &answers {
            let answer = &requirement.answer;
            let _ = writeln!(
                words,
                "{}, {}: {}",
                answer.citation(),
                answer.place,
                answer.sentence
            );
        }
        words + chalkwalk_core::trade::code::CONFIRM
    })
}

#[derive(Debug, Args)]
pub(super) struct ProductionArgs {
    /// The job.
    job: JobId,
    /// Waste for cutting, percent; there is no default.
    #[arg(long)]
    waste: Option<f64>,
}

pub(super) fn production(dir: &Path, args: &ProductionArgs, out: Output) -> Result<(), Failure> {
    let job = job_of(dir, args.job)?;
    let mut options = SheetOptions::default();
    options.choices.waste = args.waste.map(|percent| Waste {
        name: "as given".to_owned(),
        percent,
    });
    let sheet = production_sheet(&job, Reader::Office, &options);
    out.give(&sheet, || sheet_words(&sheet))
}

pub(super) fn sheet_words(sheet: &ProductionSheet) -> String {
    let mut words = format!("{}\nMaterials\n", sheet.address);
    for line in &sheet.materials {
        let quantity = match (line.quantity, line.at_least) {
            (Some(quantity), _) => amount(quantity),
            (None, Some(least)) => format!("at least {}", amount(least)),
            (None, None) => "?".to_owned(),
        };
        let place = line
            .place
            .as_ref()
            .map_or_else(String::new, |place| format!(", {place}"));
        let _ = writeln!(
            words,
            "  {quantity} {} {}{place}: {}",
            line.unit.label(),
            line.item.label(),
            line.arithmetic
        );
        for unknown in &line.not_known {
            let _ = writeln!(words, "      not known: {unknown}");
        }
    }
    let parts: [(&str, &[SheetLine]); 8] = [
        ("Deck", &sheet.deck),
        ("Layers", &sheet.layers),
        ("In the way of tear-off", &sheet.obstacles),
        ("Confirm at tear-off", &sheet.confirm_at_tear_off),
        ("Access", &sheet.access),
        ("There before", &sheet.prior_conditions),
        ("Paint to match", &sheet.paint_to_match),
        ("Comes off and goes back", &sheet.detach_and_reset),
    ];
    for (title, lines) in parts {
        if !lines.is_empty() {
            let _ = writeln!(words, "{title}");
        }
        for line in lines {
            let _ = writeln!(words, "  {}", line.text);
        }
    }
    let _ = writeln!(words, "{}", sheet.deference);
    for caution in sheet.cautions {
        let _ = writeln!(words, "  {} ({})", caution.text, caution.source);
    }
    words
}

/// A quantity with two decimals at most.
fn amount(quantity: f64) -> String {
    let words = format!("{quantity:.2}");
    words.trim_end_matches('0').trim_end_matches('.').to_owned()
}

pub(super) fn give_account(dir: &Path, args: &JobArg, out: Output) -> Result<(), Failure> {
    let job = job_of(dir, args.job)?;
    let account = account::owners_account(&job);
    out.give(&account, || {
        let mut words = format!("{}\n", account.address);
        let mut part = |title: &str, lines: Vec<&str>| {
            if !lines.is_empty() {
                let _ = writeln!(words, "\n{title}");
            }
            for line in lines {
                let _ = writeln!(words, "  {line}");
            }
        };
        let texts = |lines: &'_ [account::AccountLine]| -> Vec<String> {
            lines.iter().map(|line| line.text.clone()).collect()
        };
        part(
            "What was looked at",
            texts(&account.looked_at)
                .iter()
                .map(String::as_str)
                .collect(),
        );
        for place in &account.observed {
            part(
                &place.name,
                place.lines.iter().map(|line| line.text.as_str()).collect(),
            );
        }
        part(
            "What was there before",
            texts(&account.before).iter().map(String::as_str).collect(),
        );
        part(
            "What is unsure",
            texts(&account.unsure).iter().map(String::as_str).collect(),
        );
        part(
            "What happens next",
            account.next.iter().map(String::as_str).collect(),
        );
        part("Take care", account.cautions.to_vec());
        part("The signature", vec![account.signature.means]);
        words + account.no_promise
    })
}

#[derive(Debug, Args)]
pub(super) struct HitsArgs {
    /// The job.
    job: JobId,
    /// Write a drawing of the pattern here.
    #[arg(long)]
    svg: Option<PathBuf>,
}

pub(super) fn give_hits(dir: &Path, args: &HitsArgs, out: Output) -> Result<(), Failure> {
    let job = job_of(dir, args.job)?;
    let input = HitsInput {
        reader: Reader::Office,
        ..HitsInput::default()
    };
    let hits = hits::hits(&job, &input);
    if let (Some(file), Some(pattern)) = (&args.svg, &hits.pattern) {
        write_file(file, drawing::hits_plot(pattern, "hits").as_bytes())?;
    }
    out.give(&hits, || hits_words(&hits))
}

/// The hits in a few lines.
pub(super) fn hits_words(hits: &hits::Hits) -> String {
    let mut words = String::new();
    for place in &hits.places {
        let _ = writeln!(
            words,
            "{}: {} from hail, {} of them in test squares",
            place.name, place.hail, place.in_squares
        );
    }
    if let Some(pattern) = &hits.pattern {
        let _ = writeln!(words, "{}", pattern.sentence);
        for warning in &pattern.warnings {
            let _ = writeln!(words, "  warning: {}", warning.sentence);
        }
    }
    for left_out in &hits.left_out {
        let _ = writeln!(words, "  left out: {}, {}", left_out.what, left_out.why);
    }
    words
}

/// The roof of the job's plan, where it has one: as worked out, drawn, and in the figures that a
/// bought report is checked against.
pub(super) struct PlannedRoof {
    pub(super) svg: String,
    pub(super) solved: SolvedRoof,
}

pub(super) fn planned_roof(job: &Job) -> Result<Option<PlannedRoof>, Failure> {
    let plan = job.records.plans.values().find(|plan| plan.stands());
    let Some(outline) = plan.and_then(|plan| plan.outline.as_ref()) else {
        return Ok(None);
    };
    let roof = roof::solve(&roof::RoofPlan::read(outline)?)?;
    let names: Vec<Option<String>> = roof
        .planes
        .iter()
        .map(|plane| slope_name(job, plane))
        .collect();
    let drawing = drawing::roof_plan::RoofDrawing {
        title: "Roof plan".to_owned(),
        planes: names
            .iter()
            .map(|name| drawing::roof_plan::PlaneNote {
                name: name.clone(),
                mark: None,
            })
            .collect(),
        ..Default::default()
    };
    let slopes = roof.planes.iter().zip(&names).filter_map(|(plane, name)| {
        Some(SolvedSlope {
            name: name.clone()?,
            area_sq_ft: plane.area,
        })
    });
    let edges = roof
        .totals
        .iter()
        .filter_map(|total| Some((edge_kind(total.kind)?, total.length)));
    Ok(Some(PlannedRoof {
        svg: drawing::roof_plan::roof_plan(&roof, &drawing),
        solved: SolvedRoof {
            slopes: slopes.collect(),
            edges_ft: edges.filter(|(_, feet)| *feet > 0.0).collect(),
        },
    }))
}

fn edge_kind(kind: roof::EdgeKind) -> Option<EdgeKind> {
    match kind {
        roof::EdgeKind::Ridge => Some(EdgeKind::Ridge),
        roof::EdgeKind::Hip => Some(EdgeKind::Hip),
        roof::EdgeKind::Valley => Some(EdgeKind::Valley),
        roof::EdgeKind::Eave => Some(EdgeKind::Eave),
        roof::EdgeKind::Rake => Some(EdgeKind::Rake),
        roof::EdgeKind::Wall => Some(EdgeKind::Sidewall),
        roof::EdgeKind::Top => None,
    }
}

/// The one recorded slope that faces as the plane does, at its pitch.
fn slope_name(job: &Job, plane: &roof::RoofPlane) -> Option<String> {
    const NEAR_DEGREES: f64 = 10.0;
    let mut found = job.records.slopes.iter().filter(|(id, slope)| {
        let near = slope
            .bearing
            .is_some_and(|bearing| wind::angle_between(bearing, plane.facing) <= NEAR_DEGREES);
        let pitch = pitch_of(job, id, slope);
        slope.stands()
            && near
            && pitch.is_some_and(|pitch| (pitch.rise() - plane.pitch).abs() < 0.5)
    });
    let (_, slope) = found.next()?;
    if found.next().is_some() {
        None
    } else {
        slope.name.clone()
    }
}

/// The measured pitch of a slope, else the report's.
fn pitch_of(job: &Job, id: &RecordId, slope: &Slope) -> Option<Pitch> {
    let at = RecordRef::new(chalkwalk_core::job::Kind::Slope, id.clone());
    let measures = job.records.measurements.values();
    let mut here = measures.filter(|m| m.stands() && m.place.as_ref() == Some(&at));
    here.find_map(|measured| measured.pitch)
        .or(slope.report_pitch)
}

#[derive(Debug, Args)]
pub(super) struct MeasuredArgs {
    /// The job.
    job: JobId,
    /// The bought report's figures: CSV or JSON with whatever columns it has.
    file: PathBuf,
    /// Keep the figures in the job.
    #[arg(long)]
    keep: bool,
}

pub(super) fn measured(dir: &Path, args: &MeasuredArgs, out: Output) -> Result<(), Failure> {
    let bytes = read_bytes(&args.file)?;
    let report = measurement::read_report(&bytes, &Columns::new())?;
    let mut notebook = open(dir)?;
    if args.keep {
        let record = MeasurementReport {
            name: args
                .file
                .file_name()
                .map(|name| name.to_string_lossy().into_owned()),
            file_hash: Some(blake3::hash(&bytes).to_hex().to_string()),
            rows: Some(ByteBuf::from(measurement::encode_rows(&report.rows)?)),
            ..MeasurementReport::default()
        };
        notebook.add(args.job, record)?;
    }
    let job = notebook.job(args.job)?.clone();
    close(notebook)?;
    let planned = planned_roof(&job)?;
    let solved = planned.as_ref().map(|planned| &planned.solved);
    let check = measurement::measurement_check(&job, &report.rows, &BTreeMap::new(), solved);
    out.give(&json!({ "read": report, "check": check }), || {
        let mut words = String::new();
        for slope in &check.slopes {
            let _ = writeln!(words, "{}", slope.sentence);
        }
        for edge in &check.edges {
            let _ = writeln!(words, "{}", edge.sentence);
        }
        for row in &report.broken {
            let _ = writeln!(words, "line {} was left out: {}", row.line, row.why);
        }
        words + &check.sentence
    })
}

#[derive(Debug, Args)]
pub(super) struct StormArgs {
    /// A file of daily storm reports or of Storm Events details, as published.
    file: PathBuf,
    /// The job whose house it is about.
    job: JobId,
    /// The date of a file of daily reports.
    #[arg(long)]
    file_day: Option<NaiveDate>,
    /// How far from the house, miles.
    #[arg(long, default_value_t = 10.0)]
    miles: f64,
    /// Keep what is near in the job.
    #[arg(long)]
    keep: bool,
    /// Write a drawing here.
    #[arg(long)]
    svg: Option<PathBuf>,
}

pub(super) fn give_storm(dir: &Path, args: &StormArgs, out: Output) -> Result<(), Failure> {
    let file = read_storm(&args.file, args.file_day)?;
    let mut notebook = open(dir)?;
    let job = notebook.job(args.job)?.clone();
    let (place, zone_name) = place_of(&job)?;
    let loss = job
        .property()
        .and_then(|property| property.date_of_loss)
        .ok_or_else(|| Failure::new("the job has no date of loss: record it first"))?;
    let search = storm::Search {
        radius_miles: args.miles,
        ..storm::Search::about(loss)
    };
    let offset = |at| zone::offset_minutes(&zone_name, at).unwrap_or(0);
    let nearby = storm::near(&file.reports, place, &search, &offset)?;
    if args.keep {
        let name = args
            .file
            .file_name()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned();
        for near in &nearby.reports {
            let record = near.report.record(&name);
            let known = job
                .records
                .storm_reports
                .values()
                .any(|kept| kept.stands() && kept.source == record.source);
            if !known {
                notebook.add(args.job, record)?;
            }
        }
    }
    close(notebook)?;
    if let Some(svg) = &args.svg {
        write_file(
            svg,
            drawing::storm_plot(&nearby, "Storm reports near the house").as_bytes(),
        )?;
    }
    out.give(&json!({ "file": file.format, "broken": file.broken, "assumed": file.assumed, "nearby": nearby }), || {
        nearby_words(&file, &nearby)
    })
}

fn place_of(job: &Job) -> Result<(Position, String), Failure> {
    let property = job.property();
    let place = property.and_then(|p| Some((p.latitude?, p.longitude?)));
    let (latitude, longitude) = place.ok_or_else(|| {
        Failure::new("the job has no place on the map: record latitude and longitude")
    })?;
    let zone = property.and_then(|p| p.time_zone.clone()).ok_or_else(|| {
        Failure::new("the job has no time zone: record its name, such as America/Chicago")
    })?;
    Ok((Position::new(latitude, longitude)?, zone))
}

#[derive(Debug, Args)]
pub(super) struct LightArgs {
    /// The job.
    job: JobId,
    /// The local day.
    day: NaiveDate,
    /// Local time from which the best window is looked for, as 14:30.
    #[arg(long)]
    from: Option<chrono::NaiveTime>,
    /// Write a drawing here.
    #[arg(long)]
    svg: Option<PathBuf>,
}

pub(super) fn light(dir: &Path, args: &LightArgs, out: Output) -> Result<(), Failure> {
    let job = job_of(dir, args.job)?;
    let (place, zone_name) = place_of(&job)?;
    let noon = args
        .day
        .and_hms_opt(12, 0, 0)
        .map_or(0, |noon| noon.and_utc().timestamp_millis());
    let offset = zone::offset_minutes(&zone_name, noon)
        .ok_or_else(|| Failure::new(format!("\"{zone_name}\" is not the name of a time zone")))?;
    let day = SunDay::of(&DayQuery::new(place, args.day, offset, faces(&job)?))?;
    let now = args.from.map(|time| {
        args.day.and_time(time).and_utc().timestamp_millis() - i64::from(offset) * 60_000
    });
    sun_given(&day, now, args.svg.as_ref(), out)
}

/// The walls and slopes of a job whose facing is known.
fn faces(job: &Job) -> Result<Vec<Face>, Failure> {
    let mut faces = Vec::new();
    for (id, elevation) in &job.records.elevations {
        let at = RecordRef::new(chalkwalk_core::job::Kind::Elevation, id.clone());
        if let Some(bearing) = elevation.bearing {
            faces.push(Face::wall(&job.place_name(&at), bearing)?);
        }
    }
    for (id, slope) in &job.records.slopes {
        let at = RecordRef::new(chalkwalk_core::job::Kind::Slope, id.clone());
        let pitch = pitch_of(job, id, slope);
        if let (Some(bearing), Some(pitch)) = (slope.bearing, pitch) {
            faces.push(Face::slope(&job.place_name(&at), bearing, pitch)?);
        }
    }
    if faces.is_empty() {
        return Err(Failure::new(
            "no wall or slope has a bearing: record which way the sides face",
        ));
    }
    Ok(faces)
}

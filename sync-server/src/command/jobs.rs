//! Notebook and jobs: make, list, show, settle, check.

use std::fmt::Write;
use std::path::Path;

use crate::env::SystemEnv;
use chalkwalk_core::job::{Job, JobId, Kind, Property, Role, Scalar, ScalarRef};
use chalkwalk_core::notebook::{NewIdentity, Notebook};
use chalkwalk_core::review;
use chrono::{DateTime, FixedOffset};
use serde_json::json;

use super::args::{BeginArgs, InitArgs, JobArg, SettleArgs};
use super::output::{Failure, Output};

pub(super) fn open(notebook: &Path) -> Result<Notebook, Failure> {
    Ok(Notebook::open(notebook, Box::new(SystemEnv))?)
}

/// Says what was found damaged and worked around.
pub(super) fn close(notebook: Notebook) -> Result<(), Failure> {
    for trouble in notebook.troubles() {
        eprintln!("chalkwalk: {trouble}");
    }
    Ok(notebook.close()?)
}

pub(super) fn init(dir: &Path, args: &InitArgs, out: Output) -> Result<(), Failure> {
    let who = NewIdentity {
        person: args.person.clone(),
        device_name: args.device.clone(),
        role: Role::from_code(&args.role).unwrap_or(Role::Crew),
    };
    let notebook = Notebook::create(dir, who, Box::new(SystemEnv))?;
    let device = notebook.identity().device;
    close(notebook)?;
    out.give(&json!({ "device": device, "folder": dir }), || {
        format!(
            "A notebook for {} is in {}.\nNext: chalkwalk enrol ADDRESS --code CODE, or chalkwalk begin.",
            args.person,
            dir.display()
        )
    })
}

pub(super) fn begin(dir: &Path, args: &BeginArgs, out: Output) -> Result<(), Failure> {
    let mut property = match &args.property {
        Some(file) => read_json::<Property>(file)?,
        None => Property::default(),
    };
    property.street = args.street.clone().or(property.street);
    property.town = args.town.clone().or(property.town);
    property.owner = args.owner.clone().or(property.owner);
    property.date_of_loss = args.date_of_loss.or(property.date_of_loss);
    let mut notebook = open(dir)?;
    let job = notebook.begin(args.job, property)?;
    close(notebook)?;
    out.give(&json!({ "job": job }), || {
        format!("Job {job} has begun. The other phone joins with: chalkwalk begin --job {job}")
    })
}

pub(super) fn read_json<T: serde::de::DeserializeOwned>(file: &Path) -> Result<T, Failure> {
    let text = std::fs::read_to_string(file)
        .map_err(|error| Failure::new(format!("{} cannot be read: {error}", file.display())))?;
    serde_json::from_str(&text).map_err(|error| {
        Failure::new(format!(
            "{} is not what is expected: {error}",
            file.display()
        ))
    })
}

pub(super) fn list(dir: &Path, out: Output) -> Result<(), Failure> {
    let mut notebook = open(dir)?;
    let mut rows = Vec::new();
    let mut words = String::new();
    for id in notebook.jobs()? {
        let job = notebook.first_screen(id)?;
        let title = title(&job);
        let findings = job.standing_findings().count();
        let photos = job.records.photos.len();
        writeln!(words, "{id}  {title}  {findings} findings, {photos} photos")?;
        rows.push(json!({ "job": id, "title": title, "findings": findings, "photos": photos }));
    }
    if rows.is_empty() {
        words = "No job yet. Begin one: chalkwalk begin --street \"…\"".to_owned();
    }
    close(notebook)?;
    out.give(&rows, || words)
}

/// The house in a few words.
pub(super) fn title(job: &Job) -> String {
    let property = job.property();
    let street = property.and_then(|p| p.street.clone());
    let town = property.and_then(|p| p.town.clone());
    match (street, town) {
        (Some(street), Some(town)) => format!("{street}, {town}"),
        (Some(one), None) | (None, Some(one)) => one,
        (None, None) => "a house without an address".to_owned(),
    }
}

pub(super) fn show(dir: &Path, args: &JobArg, out: Output) -> Result<(), Failure> {
    let mut notebook = open(dir)?;
    let job = notebook.job(args.job)?.clone();
    let heads: Vec<String> = notebook
        .document(args.job)?
        .heads()
        .iter()
        .map(|head| chalkwalk_core::job::hex(head))
        .collect();
    let status = notebook.status(args.job)?;
    close(notebook)?;
    let list = review::findings_list::findings_list(&job, review::Reader::Office);
    let conflicts = conflicts_json(&job);
    let value = json!({
        "job": args.job, "title": title(&job), "heads": heads, "status": status,
        "conflicts": conflicts, "findings": list, "record": job,
    });
    out.give(&value, || {
        let mut words = format!("{}\n\n{}", title(&job), findings_words(&list));
        words.push_str(&conflict_words(&job));
        let _ = write!(
            words,
            "\n{} changes; photos here: {} of {} originals{}",
            status.changes,
            status.here.originals,
            status.photos,
            if status.safe_at_office {
                "; all is safe at the office"
            } else {
                ""
            }
        );
        words
    })
}

/// The list of findings with the counts of each place.
pub(super) fn findings_words(list: &review::FindingsList) -> String {
    let mut words = String::new();
    for group in &list.groups {
        let counts = group.counts;
        let _ = writeln!(
            words,
            "{}: {} damaged, {} prior, {} unsure, {} cleared",
            group.name, counts.damaged, counts.prior, counts.unsure, counts.cleared
        );
        for row in &group.findings {
            let _ = writeln!(words, "  {:>3}. {}", row.number, finding_words(row));
        }
    }
    words
}

/// One finding in a line.
pub(super) fn finding_words(row: &review::FindingRow) -> String {
    let finding = &row.finding;
    let mut words = finding
        .component
        .map_or("part not named", |c| c.label())
        .to_owned();
    if let Some(unit) = &finding.unit_name {
        let _ = write!(words, ", {unit}");
    }
    if let Some(condition) = finding.condition {
        let _ = write!(words, ": {condition}");
    }
    if let Some(cause) = finding.cause {
        let _ = write!(words, ", {cause}");
    }
    if let Some(hits) = row.hits {
        let _ = write!(words, ", {hits} hits");
    }
    if let (Some(units), Some(total)) = (finding.units, finding.units_total) {
        let _ = write!(words, ", {units} of {total}");
    }
    if row.office_only {
        words.push_str(" [office only]");
    }
    if let Some(reason) = &row.struck {
        let _ = write!(words, " [struck: {reason}]");
    }
    words
}

/// The conflicts of a job, with who said what and when.
pub(super) fn conflict_words(job: &Job) -> String {
    let mut words = String::new();
    for (at, conflict) in job.conflicts() {
        // Field and id are what settles it; a place has a name beside.
        let field = &conflict.field;
        let (name, id) = (job.place_name(&at), at.to_string());
        let of = if name == id {
            id
        } else {
            format!("{name} ({id})")
        };
        let _ = writeln!(words, "\nTwo statements for \"{field}\" of {of}:");
        for (i, statement) in conflict.statements.iter().enumerate() {
            let value = value_words(at.kind, &conflict.field, statement.value.as_ref());
            let who = job.who(statement.by.device);
            let when = local_time(job, statement.by.at);
            let _ = writeln!(words, "  {}. {who}, {when}: {value}", i + 1);
        }
    }
    words
}

fn conflicts_json(job: &Job) -> Vec<serde_json::Value> {
    let statement = |at: Kind, field: &str, s: &chalkwalk_core::job::Statement| {
        json!({
            "who": job.who(s.by.device), "at": s.by.at,
            "value": value_words(at, field, s.value.as_ref()),
        })
    };
    job.conflicts()
        .into_iter()
        .map(|(at, c)| {
            let said: Vec<_> = c
                .statements
                .iter()
                .map(|s| statement(at.kind, &c.field, s))
                .collect();
            json!({ "record": at, "field": c.field, "statements": said })
        })
        .collect()
}

/// A stored value as people read it.
pub(super) fn value_words(kind: Kind, field: &str, value: Option<&Scalar>) -> String {
    match value {
        None => "left empty".to_owned(),
        Some(value) => kind
            .value_in_words(field, value.as_ref())
            .unwrap_or_else(|| format!("{:?}", ScalarRef::to_owned(value.as_ref()))),
    }
}

/// A time of the record, by the offset of the job's photos where they state one.
pub(super) fn local_time(job: &Job, at: i64) -> String {
    let offset = job.records.photos.values().find_map(|photo| {
        let bytes = photo.capture.as_ref()?;
        let capture = chalkwalk_core::job::SignedCapture::from_bytes(bytes)
            .ok()?
            .capture()
            .ok()?;
        capture.utc_offset_min
    });
    let offset = offset.and_then(|minutes| FixedOffset::east_opt(minutes * 60));
    let Some(utc) = DateTime::from_timestamp_millis(at) else {
        return at.to_string();
    };
    match offset {
        Some(offset) => utc
            .with_timezone(&offset)
            .format("%-d %b %Y %H:%M")
            .to_string(),
        None => utc.format("%-d %b %Y %H:%M UTC").to_string(),
    }
}

pub(super) fn history(dir: &Path, args: &JobArg, out: Output) -> Result<(), Failure> {
    let mut notebook = open(dir)?;
    let job = notebook.job(args.job)?.clone();
    let deeds = notebook.history(args.job)?;
    close(notebook)?;
    out.give(&deeds, || {
        let mut words = String::new();
        for deed in &deeds {
            let at = deed
                .at
                .as_ref()
                .map(ToString::to_string)
                .unwrap_or_default();
            let who = job.who(deed.by.device);
            let when = local_time(&job, deed.by.at);
            let _ = writeln!(words, "{when}  {who}: {} {at}", deed.what);
            for (field, value) in &deed.wrote {
                let _ = writeln!(words, "    {field}: {value}");
            }
        }
        words
    })
}

pub(super) fn settle(dir: &Path, args: &SettleArgs, out: Output) -> Result<(), Failure> {
    let mut notebook = open(dir)?;
    let index = args.statement.checked_sub(1).ok_or_else(|| {
        Failure::new("statements are counted from 1: look at them with chalkwalk show")
    })?;
    let value = notebook.settle(args.job, &args.at, &args.field, index)?;
    close(notebook)?;
    let words = value_words(args.at.kind, &args.field, value.as_ref());
    out.give(
        &json!({ "record": args.at, "field": args.field, "value": words }),
        || format!("\"{}\" of {} is settled: {words}", args.field, args.at),
    )
}

pub(super) fn check(dir: &Path, args: &JobArg, out: Output) -> Result<(), Failure> {
    let mut notebook = open(dir)?;
    let points = leave_site(&mut notebook, args.job)?;
    close(notebook)?;
    out.give(&points, || points_words(&points))?;
    if points
        .iter()
        .any(|point| point.urgency == review::Urgency::Must)
    {
        return Err(Failure::not_in_order("the visit is not complete yet"));
    }
    Ok(())
}

/// The leave-site check with what this device knows of its photos.
pub(super) fn leave_site(
    notebook: &mut Notebook,
    job: JobId,
) -> Result<Vec<review::OpenPoint>, Failure> {
    let facts = notebook.facts(job)?;
    Ok(review::leave_site::check(notebook.job(job)?, &facts))
}

/// Open points, most urgent first.
pub(super) fn points_words(points: &[review::OpenPoint]) -> String {
    if points.is_empty() {
        return "Nothing is open: the crew may leave.".to_owned();
    }
    let mut words = String::new();
    for point in points {
        let _ = writeln!(words, "{:<8} {}", point.urgency.to_string(), point.sentence);
        let _ = writeln!(words, "         {}", point.settles);
    }
    words
}

//! What the record means: the office reckons with the job that came in.

use std::path::Path;

use chalkwalk_core::drawing::{self, planned_roof};
use chalkwalk_core::job::{Job, JobId, MeasureMethod, Plan};
use chalkwalk_core::notebook::Notebook;
use chalkwalk_core::review::compare::{self, Comparison, Outcome};
use chalkwalk_core::review::measurement::{self, Columns, Verdict};
use chalkwalk_core::review::production::{SheetOptions, production_sheet};
use chalkwalk_core::review::scope::{Basis, Scope, ScopeInputs, scope};
use chalkwalk_core::review::{HitsInput, Reader, account, hits};
use chalkwalk_core::trade::geo::Position;
use chalkwalk_core::trade::{storm, zone};
use serde_json::{Value, json};

use super::super::output::Failure;
use super::super::reckon::{read_bytes, read_storm, read_text, write_file};
use super::stage::Stage;
use super::story::Story;

/// Waste that the demo's estimator sets, percent.
const WASTE: f64 = 10.0;

/// Before the visit: storm reports near the address, kept in the job.
pub(super) fn storms(
    notebook: &mut Notebook,
    job: JobId,
    fixtures: &Path,
    story: &Story,
) -> Result<usize, Failure> {
    let file = fixtures.join("storm/storm-events-2026.csv");
    let read = read_storm(&file, None)?;
    let nearby = near(notebook.job(job)?, &read)?;
    for report in &nearby.reports {
        notebook.add(job, report.report.record("storm-events-2026.csv"))?;
    }
    // The outline, as the office drew it from public maps.
    let plan = Plan {
        name: Some("house".to_owned()),
        outline: Some(
            read_text(&fixtures.join("house/plan.json"))?
                .trim()
                .to_owned(),
        ),
        method: Some(MeasureMethod::Report),
        ..Plan::default()
    };
    notebook.add(job, plan)?;
    story.say(&format!(
        "{} storm reports lie near the address; {} broken rows of the file were left out.",
        nearby.reports.len(),
        read.broken_rows
    ));
    if let Some(largest) = nearby.largest_hail() {
        story.say(&format!("The largest hail: {}.", largest.words()));
    }
    Ok(nearby.reports.len())
}

fn near(job: &Job, file: &storm::StormFile) -> Result<storm::Nearby, Failure> {
    let property = job
        .property()
        .ok_or_else(|| Failure::new("the demo's job has no house"))?;
    let unknown = || Failure::new("the demo's house lacks its place, day or time zone");
    let place = Position::new(
        property.latitude.ok_or_else(unknown)?,
        property.longitude.ok_or_else(unknown)?,
    )?;
    let loss = property.date_of_loss.ok_or_else(unknown)?;
    let named = property.time_zone.clone().ok_or_else(unknown)?;
    let offset = |at| zone::offset_minutes(&named, at).unwrap_or(0);
    Ok(storm::near(
        &file.reports,
        place,
        &storm::Search::about(loss),
        &offset,
    )?)
}

/// At the office: measures, hits, scope, comparison, sheets; files beside the packets.
pub(super) fn at_the_office(
    job: &Job,
    stage: &Stage,
    fixtures: &Path,
    story: &Story,
) -> Result<Value, Failure> {
    let folder = stage.out.join("estimate");
    std::fs::create_dir_all(&folder)?;
    let report = measures(job, &folder, fixtures, story)?;
    let hits = pattern(job, &folder, fixtures, story)?;
    let inputs = ScopeInputs {
        waste_percent: Some(WASTE),
        ..ScopeInputs::default()
    };
    let scope = scope(job, &inputs);
    tell_scope(&scope, story);
    write_file(
        &folder.join("scope.csv"),
        &scope.to_csv(job, Reader::Office)?,
    )?;
    let comparison = their_scope(job, &scope, &folder, fixtures, story)?;
    let mut options = SheetOptions::default();
    options.choices.waste = Some(chalkwalk_core::trade::materials::Waste {
        name: "the estimator's".to_owned(),
        percent: WASTE,
    });
    let sheet = production_sheet(job, Reader::Office, &options);
    let words = super::super::estimate::sheet_words(&sheet);
    write_file(&folder.join("production.txt"), words.as_bytes())?;
    let account = account::owners_account(job);
    let account_json = serde_json::to_vec_pretty(&account)?;
    write_file(&folder.join("owners-account.json"), &account_json)?;
    story.say(&format!(
        "Production sheet: {} materials, {} to confirm at tear-off. Owner's account: {} places.",
        sheet.materials.len(),
        sheet.confirm_at_tear_off.len(),
        account.observed.len()
    ));
    let required = required(&scope);
    Ok(json!({
        "folder": "estimate",
        "scope": {
            "lines": scope.lines.len(),
            "required_by_code": required,
            "withheld": scope.withheld.len(),
            "unknown_quantities": scope.lines.iter().filter(|line| line.quantity.is_none()).count(),
        },
        "comparison": comparison.counts,
        "report": report,
        "hits": hits,
    }))
}

fn required(scope: &Scope) -> usize {
    let by_code = |basis: &Basis| matches!(basis, Basis::Requirement { .. });
    scope
        .lines
        .iter()
        .filter(|line| by_code(&line.basis))
        .count()
}

fn measures(job: &Job, folder: &Path, fixtures: &Path, story: &Story) -> Result<Value, Failure> {
    let bytes = read_bytes(&fixtures.join("scope/measurement-report.csv"))?;
    let read = measurement::read_report(&bytes, &Columns::new())?;
    let planned = planned_roof(job)?;
    let solved = planned.as_ref().map(|planned| &planned.solved);
    if let Some(planned) = &planned {
        write_file(&folder.join("roof-plan.svg"), planned.svg.as_bytes())?;
    }
    let check = measurement::measurement_check(job, &read.rows, &Default::default(), solved);
    let differs: Vec<&str> = check
        .slopes
        .iter()
        .filter(|slope| slope.pitch == Verdict::Differs)
        .map(|slope| slope.sentence.as_str())
        .chain(
            check
                .edges
                .iter()
                .filter(|edge| {
                    edge.against_record == Verdict::Differs || edge.against_plan == Verdict::Differs
                })
                .map(|edge| edge.sentence.as_str()),
        )
        .collect();
    story.say(&format!(
        "The bought report against gauge, tape and plan: {} differences. {}",
        differs.len(),
        check.sentence
    ));
    Ok(json!({ "differences": differs, "totals": check.totals }))
}

fn pattern(job: &Job, folder: &Path, fixtures: &Path, story: &Story) -> Result<Value, Failure> {
    let input = HitsInput {
        reader: Reader::Office,
        ..HitsInput::default()
    };
    let hits = hits::hits(job, &input);
    if let Some(pattern) = &hits.pattern {
        story.say(&pattern.sentence);
        write_file(
            &folder.join("hits.svg"),
            drawing::hits_plot(pattern, "hits").as_bytes(),
        )?;
    }
    let storm = read_storm(&fixtures.join("storm/storm-events-2026.csv"), None)?;
    let nearby = near(job, &storm)?;
    let plot = drawing::storm_plot(&nearby, "Storm reports near the house");
    write_file(&folder.join("storm-reports.svg"), plot.as_bytes())?;
    Ok(json!({
        "sentence": hits.pattern.as_ref().map(|pattern| &pattern.sentence),
        "squares": hits.squares,
    }))
}

fn tell_scope(scope: &Scope, story: &Story) {
    story.say(&format!(
        "Scope: {} lines, {} of them asked by the code; {} findings make no line, each with its reason.",
        scope.lines.len(),
        required(scope),
        scope.withheld.len()
    ));
}

fn their_scope(
    job: &Job,
    scope: &Scope,
    folder: &Path,
    fixtures: &Path,
    story: &Story,
) -> Result<Comparison, Failure> {
    let bytes = read_bytes(&fixtures.join("scope/insurer-scope.xlsx"))?;
    let taken = compare::take_in(
        job,
        &compare::TheirFile {
            name: "the insurer",
            file_name: "insurer-scope.xlsx",
            bytes: &bytes,
            sheet: None,
            mapping: None,
        },
    )?;
    let options = compare::Options::default();
    let comparison = compare::compare(job, scope, &taken.scope, None, &options);
    let list = compare::disputes(&comparison);
    write_file(&folder.join("disputes.csv"), &compare::disputes_csv(&list))?;
    let counts: Vec<String> = Outcome::ALL
        .iter()
        .filter_map(|outcome| Some((outcome, comparison.counts.get(outcome)?)))
        .map(|(outcome, count)| format!("{count} {}", outcome.label()))
        .collect();
    story.say(&format!(
        "Beside the insurer's scope: {}.",
        counts.join(", ")
    ));
    Ok(comparison)
}

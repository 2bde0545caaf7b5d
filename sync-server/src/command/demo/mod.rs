//! The whole job on an invented house: two phones with no signal, an office, a packet.
//!
//! Nothing is staged but the people and their clock: the notebooks, the links, the office's
//! process and the packets are those of every other verb.

mod meaning;
mod office;
mod stage;
mod story;
mod visit;

use std::path::PathBuf;

use chalkwalk_core::document::Document;
use chalkwalk_core::job::{Job, JobId, Kind, Property, Role};
use chalkwalk_core::notebook::Notebook;
use chalkwalk_core::packet::{self, PacketKind};
use chalkwalk_core::sync::{Event, Progress};
use serde_json::json;

use super::args::DemoArgs;
use super::jobs;
use super::output::{Failure, Output};
use crate::transport::{self, Outcome, Then};
use office::OfficeProcess;
use stage::Stage;
use story::Story;
use visit::Visit;

/// Originals that arrive before the link is cut.
const CUT_AFTER: u64 = 9;

pub(super) fn run(args: &DemoArgs, out: Output) -> Result<(), Failure> {
    let story = Story::new(out);
    let visit = Visit::read(args.fixtures.as_deref())?;
    let stage = Stage::set(&args.out)?;
    let mut wire = Wire::default();

    story.chapter("Before the visit, at the office");
    let office = OfficeProcess::start(&stage.office, None)?;
    let mut rep = stage.device("rep", "Wren Halloran", "rep phone", &office, &visit.clock)?;
    let mut helper = stage.device(
        "helper",
        "Tobias Quill",
        "helper phone",
        &office,
        &visit.clock,
    )?;
    office.stop()?;
    story.say(
        "Two phones joined the office by one-time codes. The office is out of reach from here on.",
    );
    let property: Property = visit.property()?;
    visit.at_the_office();
    let job = rep.begin(None, property.clone())?;
    let prepared = visit.record(&mut rep, job, "prepare.json", &[])?;
    let storm_reports = meaning::storms(&mut rep, job, visit.fixtures(), &story)?;
    helper.begin(Some(job), property)?;
    wire.add(meet(&mut rep, &mut helper, job, |_| Then::GoOn)?);
    story.say(&format!(
        "{}: the job is on both phones, met at the truck.",
        jobs::title(rep.job(job)?)
    ));

    story.chapter("At the house: both record at once, with no link");
    let (on_ground, on_roof) = std::thread::scope(|scope| {
        let ground = scope.spawn(|| visit.record(&mut rep, job, "rep.json", &prepared));
        let roof = scope.spawn(|| visit.record(&mut helper, job, "helper.json", &prepared));
        (joined(ground.join()), joined(roof.join()))
    });
    let (on_ground, on_roof) = (on_ground?, on_roof?);
    story.device("rep, on the ground", rep.job(job)?, on_ground.len());
    story.device("helper, on the roof", helper.job(job)?, on_roof.len());

    story.chapter("They meet: phone to phone, no server");
    visit.later();
    let met = meet(&mut rep, &mut helper, job, |_| Then::GoOn)?;
    story.exchange(&met.progress);
    wire.add(met);
    story.equal(
        "both phones",
        &[heads(&mut rep, job)?, heads(&mut helper, job)?],
    )?;
    let conflicts = rep.job(job)?.conflicts().len();
    story.text(&jobs::conflict_words(rep.job(job)?));
    settle(&mut rep, job, &story)?;

    story.chapter("Before leaving: what is missing?");
    let before = jobs::leave_site(&mut rep, job)?;
    story.points("first check", &before);
    visit.record(&mut rep, job, "later.json", &prepared)?;
    story.say("The rep walks back and takes the overview of the left side.");
    visit.record(&mut rep, job, "finish.json", &on_ground)?;
    wire.add(meet(&mut rep, &mut helper, job, |_| Then::GoOn)?);
    let after = jobs::leave_site(&mut rep, job)?;
    story.points("second check, after recap and signature", &after);

    story.chapter("Back in reach: the job goes to the office");
    let office = OfficeProcess::start(&stage.office, args.serve)?;
    let cut = send(&mut rep, job, &office, Some(CUT_AFTER))?;
    story.say(&format!(
        "The rep's phone loses its signal in mid upload, after {} originals. What the office said it has, it has.",
        cut.progress.originals_sent
    ));
    let resumed = send(&mut rep, job, &office, None)?;
    story.say(&format!(
        "It goes on where it was: {} changes and {} originals more, none twice.",
        resumed.progress.changes_sent, resumed.progress.originals_sent
    ));
    let sent = [cut, resumed];
    let again: u64 = sent
        .iter()
        .map(|outcome| outcome.progress.originals_sent)
        .sum();
    for outcome in sent {
        wire.add(outcome);
    }
    wire.add(send(&mut helper, job, &office, None)?);
    let at_office = stage.document_at_office(job)?;
    let all = [
        heads(&mut rep, job)?,
        heads(&mut helper, job)?,
        hex_heads(&at_office),
    ];
    story.equal("rep, helper and office", &all)?;
    let lost = lost(&stage, &mut [&mut rep, &mut helper], job, &at_office)?;
    let status = rep.status(job)?;
    story.say(&format!(
        "{} changes, {} photos; sent to the office: {again} originals; lost: {lost}; safe at the office: {}.",
        status.changes,
        status.photos,
        if status.safe_at_office { "all" } else { "NOT all" }
    ));

    story.chapter("What it means, at the office");
    let estimate = meaning::at_the_office(at_office.job(), &stage, visit.fixtures(), &story)?;

    story.chapter("The packets");
    let office_key = rep.office().map(|office| office.key);
    let mut packets = Vec::new();
    let choices = packet::Choices::default();
    for kind in PacketKind::ALL.iter().copied() {
        let making = (&choices, &crate::press::Press as &dyn packet::Renderer);
        let written = rep.write_packet(job, kind, &stage.packets, making, &mut |_, _| true)?;
        let report = packet::verify(&written.folder, office_key.as_ref());
        story.packet(kind.folder(), &written, &report);
        if !report.good() {
            return Err(Failure::not_in_order(super::export::report_words(&report)));
        }
        packets.push(written);
    }

    let mut summary = summary(
        &stage,
        &mut rep,
        job,
        &all,
        conflicts,
        &wire,
        lost,
        (&before, &after),
    )?;
    summary["storm_reports"] = json!(storm_reports);
    summary["estimate"] = estimate;
    let file = stage.out.join("summary.json");
    std::fs::write(&file, serde_json::to_vec_pretty(&summary)?)?;
    rep.close()?;
    helper.close()?;
    story.end(&stage, &packets)?;
    if out.json {
        out.give(&summary, String::new)?;
    }
    if args.serve.is_some() {
        let entry = crate::people::entry_link(&stage.office, "Demo office", Role::Admin)?;
        story.say(&format!(
            "The office's pages: {}{} (a link that signs you in once; end with Ctrl-C)",
            office.pages().trim_end_matches('/'),
            entry.path()
        ));
        return office.wait();
    }
    office.stop()
}

fn joined<T>(result: std::thread::Result<Result<T, Failure>>) -> Result<T, Failure> {
    result.unwrap_or_else(|_| Err(Failure::new("a recording thread failed")))
}

/// The heads of a replica, as hexadecimal words.
fn heads(notebook: &mut Notebook, job: JobId) -> Result<Vec<String>, Failure> {
    Ok(hex_heads(notebook.document(job)?))
}

fn hex_heads(document: &Document) -> Vec<String> {
    document
        .heads()
        .iter()
        .map(|head| chalkwalk_core::job::hex(head))
        .collect()
}

/// Two phones exchange over the local network.
fn meet(
    one: &mut Notebook,
    other: &mut Notebook,
    job: JobId,
    mut told: impl FnMut(&Event) -> Then,
) -> Result<Outcome, Failure> {
    let meeting = transport::tcp_listen("127.0.0.1:0")?;
    let address = meeting.address()?.to_string();
    let jobs = Some(std::iter::once(job).collect());
    let waiting = other.session(false, jobs.clone(), true)?;
    let coming = one.session(true, jobs, true)?;
    let outcomes = std::thread::scope(|scope| {
        let waits = scope.spawn(move || -> Result<Outcome, Failure> {
            let stream = meeting.meet()?;
            Ok(transport::sync_tcp(stream, other, waiting, &mut |_| {
                Then::GoOn
            })?)
        });
        let stream = transport::tcp_connect(&address)?;
        let came = transport::sync_tcp(stream, one, coming, &mut told)?;
        joined(waits.join())?;
        Ok::<_, Failure>(came)
    })?;
    Ok(outcomes)
}

/// A phone exchanges with the office; `cut` drops the link after so many originals.
fn send(
    notebook: &mut Notebook,
    job: JobId,
    office: &OfficeProcess,
    cut: Option<u64>,
) -> Result<Outcome, Failure> {
    let config = notebook.session(true, Some(std::iter::once(job).collect()), true)?;
    let mut told = |event: &Event| match (event, cut) {
        (Event::Progress(progress), Some(after)) if progress.originals_sent >= after => Then::Cut,
        _ => Then::GoOn,
    };
    Ok(transport::sync_ws(
        office.devices(),
        notebook,
        config,
        &mut told,
    )?)
}

/// Settles each conflict for the statement of the person who had the thing before the eyes.
fn settle(rep: &mut Notebook, job: JobId, story: &Story) -> Result<(), Failure> {
    let helper_said: Vec<_> = {
        let hydrated = rep.job(job)?;
        let of_helper =
            |s: &chalkwalk_core::job::Statement| hydrated.who(s.by.device).starts_with("Tobias");
        hydrated
            .conflicts()
            .into_iter()
            .filter_map(|(at, conflict)| {
                Some((
                    at,
                    conflict.field.clone(),
                    conflict.statements.iter().position(of_helper)?,
                ))
            })
            .collect()
    };
    for (at, field, statement) in helper_said {
        let value = rep.settle(job, &at, &field, statement)?;
        let words = jobs::value_words(at.kind, &field, value.as_ref());
        story.say(&format!(
            "Settled: {words}. The helper had the eave open before the eyes; a photo shows it."
        ));
    }
    Ok(())
}

/// What was acknowledged and is not at the office: changes by their hash, originals by theirs.
fn lost(
    stage: &Stage,
    devices: &mut [&mut Notebook],
    job: JobId,
    at_office: &Document,
) -> Result<usize, Failure> {
    let held: std::collections::BTreeSet<[u8; 32]> =
        at_office.rows().into_iter().map(|row| row.hash).collect();
    let mut lost = 0;
    for device in devices {
        let rows = device.document(job)?.rows();
        lost += rows.iter().filter(|row| !held.contains(&row.hash)).count();
    }
    lost += stage.originals_lost(at_office.job())?;
    Ok(lost)
}

#[derive(Default)]
struct Wire {
    sent: u64,
    received: u64,
    sessions: usize,
}

impl Wire {
    fn add(&mut self, outcome: Outcome) {
        let Progress {
            bytes_sent,
            bytes_received,
            ..
        } = outcome.progress;
        self.sent += bytes_sent;
        self.received += bytes_received;
        self.sessions += 1;
    }
}

type Points = Vec<chalkwalk_core::review::OpenPoint>;

#[allow(clippy::too_many_arguments)]
fn summary(
    stage: &Stage,
    rep: &mut Notebook,
    job: JobId,
    heads: &[Vec<String>; 3],
    conflicts: usize,
    wire: &Wire,
    lost: usize,
    checks: (&Points, &Points),
) -> Result<serde_json::Value, Failure> {
    let status = rep.status(job)?;
    let hydrated: &Job = rep.job(job)?;
    let findings = &hydrated.records.findings;
    let struck = findings
        .values()
        .filter(|finding| !finding.stands())
        .count();
    let office_only = hydrated
        .standing_findings()
        .filter(|(_, f)| f.audience == Some(chalkwalk_core::job::Audience::OfficeOnly))
        .count();
    let devices: Vec<_> = hydrated
        .crew
        .iter()
        .map(|(device, member)| {
            json!({ "device": device, "person": member.person, "name": member.device_name })
        })
        .collect();
    let relative = |path: PathBuf| {
        path.strip_prefix(&stage.out)
            .map(|p| p.to_owned())
            .unwrap_or(path)
    };
    let must = |points: &Points| {
        points
            .iter()
            .filter(|p| p.urgency == chalkwalk_core::review::Urgency::Must)
            .count()
    };
    Ok(json!({
        "job": job,
        "title": jobs::title(hydrated),
        "devices": devices,
        "findings": findings.len(),
        "findings_struck": struck,
        "findings_office_only": office_only,
        "eave_openings": hydrated.records.eave_openings.len(),
        "slopes": hydrated.records.slopes.len(),
        "photos": status.photos,
        "changes": status.changes,
        "conflicts_found": conflicts,
        "conflicts_open": hydrated.conflicts().len(),
        "heads": { "rep": heads[0], "helper": heads[1], "office": heads[2] },
        "bytes_on_the_wire": wire.sent + wire.received,
        "sessions": wire.sessions,
        "lost": lost,
        "safe_at_office": status.safe_at_office,
        "check": {
            "before": { "must": must(checks.0), "all": checks.0.len() },
            "after": { "must": must(checks.1), "all": checks.1.len() },
        },
        "records": Kind::ALL.iter().map(|kind| (kind.code().to_owned(),
            json!(hydrated.records.headers().filter(|(at, _)| at.kind == *kind).count())))
            .collect::<serde_json::Map<_, _>>(),
        "packet": {
            "shared": relative(stage.packets.join("shared")),
            "owner": relative(stage.packets.join("owner")),
            "production": relative(stage.packets.join("production")),
            "archive": relative(stage.packets.join("archive")),
        },
    }))
}

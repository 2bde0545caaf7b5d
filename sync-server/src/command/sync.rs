//! Exchange: with the office, with another device, or by a bundle file.

use std::collections::BTreeSet;
use std::fs::File;
use std::path::Path;

use chalkwalk_core::notebook::Notebook;
use chalkwalk_core::sync::{Event, Progress, Reason, bundle};
use serde_json::json;

use super::args::SyncArgs;
use super::jobs::{close, open};
use super::output::{Failure, Output};
use crate::transport::{self, Outcome, Then, Trust};

pub(super) fn run(dir: &Path, args: &SyncArgs, out: Output) -> Result<(), Failure> {
    let mut notebook = open(dir)?;
    let result = exchange(&mut notebook, args, out);
    // What was taken before a link broke is kept.
    close(notebook)?;
    result
}

fn exchange(notebook: &mut Notebook, args: &SyncArgs, out: Output) -> Result<(), Failure> {
    let jobs: Option<BTreeSet<_>> =
        (!args.job.is_empty()).then(|| args.job.iter().copied().collect());
    if let Some(file) = &args.way.bundle_out {
        return write_bundle(notebook, jobs, file, !args.no_originals, out);
    }
    if let Some(file) = &args.way.bundle_in {
        return read_bundle(notebook, file, out);
    }
    let bar = out.bar(0, "originals");
    let mut told = |event: &Event| {
        if let Event::Progress(progress) = event {
            let done = progress.originals_sent + progress.originals_taken;
            bar.set_length(done + progress.originals_due);
            bar.set_position(done);
        }
        Then::GoOn
    };
    let originals = !args.no_originals;
    let outcome = if let Some(address) = args.way.listen {
        let meeting = transport::tcp_listen(address)?;
        eprintln!(
            "waiting for the other device at tcp://{}",
            meeting.address()?
        );
        let stream = meeting.meet()?;
        let config = notebook.session(false, jobs, originals)?;
        transport::sync_tcp(stream, notebook, config, &mut told)?
    } else {
        let address = match (&args.way.address, notebook.office()) {
            (Some(address), _) => address.clone(),
            (None, Some(office)) => office.address.clone(),
            (None, None) => return Err(chalkwalk_core::notebook::NotebookError::NotEnrolled.into()),
        };
        let config = notebook.session(true, jobs, originals)?;
        match address.strip_prefix("tcp://") {
            Some(at) => {
                let stream = transport::tcp_connect(at)?;
                transport::sync_tcp(stream, notebook, config, &mut told)?
            }
            None => {
                let trust = Trust::of(args.ca.clone());
                transport::sync_ws_by(&trust, &address, notebook, config, &mut told)?
            }
        }
    };
    bar.finish_and_clear();
    finish(&outcome, out)
}

fn finish(outcome: &Outcome, out: Output) -> Result<(), Failure> {
    let progress = outcome.progress;
    let ending = outcome.ending.as_ref();
    let good = ending.is_none_or(|ending| ending.reason == Reason::Finished);
    if !good {
        let words = ending.map(|e| e.words.clone()).unwrap_or_default();
        return Err(Failure::new(format!("the exchange ended early: {words}")));
    }
    out.give(&progress_json(progress), || {
        format!(
            "sent {} changes, {} thumbnails, {} originals; received {}, {}, {}; {} bytes in all",
            progress.changes_sent,
            progress.thumbnails_sent,
            progress.originals_sent,
            progress.changes_taken,
            progress.thumbnails_taken,
            progress.originals_taken,
            progress.bytes_sent + progress.bytes_received
        )
    })
}

pub(super) fn progress_json(progress: Progress) -> serde_json::Value {
    json!({
        "changes_sent": progress.changes_sent, "changes_taken": progress.changes_taken,
        "thumbnails_sent": progress.thumbnails_sent, "thumbnails_taken": progress.thumbnails_taken,
        "originals_sent": progress.originals_sent, "originals_taken": progress.originals_taken,
        "bytes_sent": progress.bytes_sent, "bytes_received": progress.bytes_received,
    })
}

fn write_bundle(
    notebook: &mut Notebook,
    jobs: Option<BTreeSet<chalkwalk_core::job::JobId>>,
    file: &Path,
    originals: bool,
    out: Output,
) -> Result<(), Failure> {
    let mut target =
        std::io::BufWriter::new(File::create_new(file).map_err(|error| {
            Failure::new(format!("{} cannot be made: {error}", file.display()))
        })?);
    let report = notebook.write_bundle(jobs, originals, &mut target)?;
    target
        .into_inner()
        .map_err(|error| error.into_error())
        .and_then(|file| file.sync_all())
        .map_err(|error| Failure::new(format!("{} cannot be written: {error}", file.display())))?;
    give_bundle(&report, file, "written", out)
}

fn read_bundle(notebook: &mut Notebook, file: &Path, out: Output) -> Result<(), Failure> {
    let mut source =
        std::io::BufReader::new(File::open(file).map_err(|error| {
            Failure::new(format!("{} cannot be opened: {error}", file.display()))
        })?);
    let report = notebook.read_bundle(&mut source)?;
    give_bundle(&report, file, "read", out)
}

fn give_bundle(
    report: &bundle::Report,
    file: &Path,
    what: &str,
    out: Output,
) -> Result<(), Failure> {
    let refused: Vec<String> = report
        .refused
        .iter()
        .map(|(job, why)| format!("{job}: {why}"))
        .collect();
    let value = json!({
        "changes": report.changes, "new_changes": report.new_changes, "files": report.files,
        "files_left_out": report.files_left_out, "bytes": report.bytes, "refused": refused,
    });
    out.give(&value, || {
        let mut words = format!(
            "{} {what}: {} changes ({} new here), {} files, {} bytes",
            file.display(),
            report.changes,
            report.new_changes,
            report.files,
            report.bytes
        );
        for refused in &refused {
            words.push_str("\nnot taken: ");
            words.push_str(refused);
        }
        words
    })
}

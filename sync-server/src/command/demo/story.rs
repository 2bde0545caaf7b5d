//! How the demo tells what happens.

use chalkwalk_core::job::Job;
use chalkwalk_core::packet::{Report, Written};
use chalkwalk_core::review::{OpenPoint, Urgency};
use chalkwalk_core::sync::Progress;

use super::super::output::{Failure, Output, print_line};
use super::stage::Stage;

pub(super) struct Story {
    silent: bool,
}

impl Story {
    pub(super) fn new(out: Output) -> Self {
        Self { silent: out.json }
    }

    pub(super) fn chapter(&self, title: &str) {
        self.text(&format!("\n{title}\n{}", "-".repeat(title.chars().count())));
    }

    pub(super) fn say(&self, words: &str) {
        self.text(&format!("  {words}"));
    }

    pub(super) fn text(&self, words: &str) {
        if !self.silent {
            print_line(words.trim_end());
        }
    }

    pub(super) fn device(&self, who: &str, job: &Job, names: usize) {
        let records = &job.records;
        let findings = records.findings.len();
        let struck = records
            .findings
            .values()
            .filter(|finding| !finding.stands())
            .count();
        self.say(&format!(
            "{who}: {findings} findings ({struck} struck), {} photos, {} eave openings, {} test squares, {names} named records",
            records.photos.len(),
            records.eave_openings.len(),
            records.test_squares.len()
        ));
    }

    pub(super) fn exchange(&self, progress: &Progress) {
        self.say(&format!(
            "rep to helper: {} changes, {} thumbnails, {} originals; helper to rep: {}, {}, {}; {:.1} MB on the wire",
            progress.changes_sent,
            progress.thumbnails_sent,
            progress.originals_sent,
            progress.changes_taken,
            progress.thumbnails_taken,
            progress.originals_taken,
            (progress.bytes_sent + progress.bytes_received) as f64 / 1e6
        ));
    }

    /// Says that replicas hold the same, or fails.
    pub(super) fn equal(&self, who: &str, heads: &[Vec<String>]) -> Result<(), Failure> {
        let first = heads.first().cloned().unwrap_or_default();
        if heads.iter().any(|other| *other != first) {
            return Err(Failure::not_in_order(format!(
                "{who} do not hold the same: {heads:?}"
            )));
        }
        let short: Vec<String> = first
            .iter()
            .map(|head| head.chars().take(12).collect())
            .collect();
        self.say(&format!("Equal heads on {who}: {}", short.join(" ")));
        Ok(())
    }

    pub(super) fn points(&self, when: &str, points: &[OpenPoint]) {
        let count = |urgency| {
            points
                .iter()
                .filter(|point| point.urgency == urgency)
                .count()
        };
        self.say(&format!(
            "{when}: {} must, {} should, {} consider",
            count(Urgency::Must),
            count(Urgency::Should),
            count(Urgency::Consider)
        ));
        for point in points.iter().filter(|point| point.urgency == Urgency::Must) {
            self.say(&format!("  must: {}", point.sentence));
        }
    }

    pub(super) fn packet(&self, name: &str, written: &Written, report: &Report) {
        self.say(&format!(
            "{name}: {} files, {} photos, {:.1} MB; checked: {}",
            written.files,
            written.photos,
            written.bytes as f64 / 1e6,
            if report.good() {
                "all hashes and signatures in order"
            } else {
                "NOT in order"
            }
        ));
    }

    pub(super) fn end(&self, stage: &Stage, packets: &[Written]) -> Result<(), Failure> {
        self.chapter("Where to look");
        self.say(&format!(
            "figures    {}",
            stage.out.join("summary.json").display()
        ));
        self.say(&format!(
            "estimate   {}  (scope, disputes, sheets, drawings)",
            stage.out.join("estimate").display()
        ));
        for packet in packets {
            self.say(&format!(
                "packet     {}",
                packet.folder.join("data/index.html").display()
            ));
        }
        self.say(
            "check one  chalkwalk verify FOLDER   (or: sha256sum -c manifest-sha256.txt in it)",
        );
        Ok(())
    }
}

//! What a watching program counts: Prometheus text, without anything about people or houses.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use axum::extract::State;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use chalkwalk_core::limits;

use super::Shared;

/// Upper bounds of the time of an answer, seconds.
const BOUNDS: [f64; 6] = [0.005, 0.025, 0.1, 0.5, 2.0, 10.0];

/// Counts since the start.
#[derive(Debug, Default)]
pub(crate) struct Metrics(Mutex<Counts>);

#[derive(Debug, Default)]
struct Counts {
    answers: BTreeMap<(&'static str, &'static str, u16), u64>,
    times: BTreeMap<(&'static str, &'static str), Times>,
    bytes_in: u64,
    sign_ins_refused: u64,
}

#[derive(Clone, Copy, Debug, Default)]
struct Times {
    within: [u64; BOUNDS.len()],
    count: u64,
    sum: f64,
}

impl Metrics {
    pub(crate) fn answered(
        &self,
        method: &'static str,
        path: &'static str,
        status: u16,
        took: Duration,
    ) {
        let mut counts = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        *counts.answers.entry((method, path, status)).or_default() += 1;
        let times = counts.times.entry((method, path)).or_default();
        let seconds = took.as_secs_f64();
        times.count += 1;
        times.sum += seconds;
        for (within, bound) in times.within.iter_mut().zip(BOUNDS) {
            *within += u64::from(seconds <= bound);
        }
    }

    pub(crate) fn took_in(&self, bytes: u64) {
        let mut counts = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        counts.bytes_in = counts.bytes_in.saturating_add(bytes);
    }

    pub(crate) fn sign_in_refused(&self) {
        let mut counts = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        counts.sign_ins_refused += 1;
    }

    fn text(&self, live: usize, judging: Duration) -> String {
        let counts = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let live = u64::try_from(live).unwrap_or(u64::MAX);
        let mut out = String::new();
        for (name, kind, help, value) in [
            ("live_sessions", "gauge", "Devices connected now.", live),
            (
                "upload_bytes_total",
                "counter",
                "Bytes of photos taken in over HTTP.",
                counts.bytes_in,
            ),
            (
                "sign_ins_refused_total",
                "counter",
                "Wrong passwords.",
                counts.sign_ins_refused,
            ),
        ] {
            // Writing into a String does not fail.
            let _ = writeln!(out, "# HELP chalkwalk_{name} {help}");
            let _ = writeln!(out, "# TYPE chalkwalk_{name} {kind}");
            let _ = writeln!(out, "chalkwalk_{name} {value}");
        }
        out.push_str(
            "# HELP chalkwalk_judging_cpu_seconds_total Processor time of judging what devices \
             bring, without that of workers.\n\
             # TYPE chalkwalk_judging_cpu_seconds_total counter\n",
        );
        let judging = judging.as_secs_f64();
        let _ = writeln!(out, "chalkwalk_judging_cpu_seconds_total {judging}");
        out.push_str(&requests(&counts));
        out
    }
}

fn requests(counts: &Counts) -> String {
    let mut out = String::new();
    out.push_str("# HELP chalkwalk_answers_total Answers by route and status.\n");
    out.push_str("# TYPE chalkwalk_answers_total counter\n");
    for ((method, path, status), count) in &counts.answers {
        let labels = format!("method=\"{method}\",route=\"{path}\",status=\"{status}\"");
        let _ = writeln!(out, "chalkwalk_answers_total{{{labels}}} {count}");
    }
    out.push_str("# HELP chalkwalk_answer_seconds Time until an answer began.\n");
    out.push_str("# TYPE chalkwalk_answer_seconds histogram\n");
    for ((method, path), times) in &counts.times {
        let labels = format!("method=\"{method}\",route=\"{path}\"");
        for (bound, within) in BOUNDS.iter().zip(times.within) {
            let _ = writeln!(
                out,
                "chalkwalk_answer_seconds_bucket{{{labels},le=\"{bound}\"}} {within}"
            );
        }
        let count = times.count;
        let _ = writeln!(
            out,
            "chalkwalk_answer_seconds_bucket{{{labels},le=\"+Inf\"}} {count}"
        );
        let _ = writeln!(
            out,
            "chalkwalk_answer_seconds_sum{{{labels}}} {}",
            times.sum
        );
        let _ = writeln!(out, "chalkwalk_answer_seconds_count{{{labels}}} {count}");
    }
    out
}

/// `GET /metrics`.
pub(super) async fn metrics(State(shared): State<Shared>) -> Response {
    let free = shared.sessions.available_permits();
    let live = limits::LIVE_SESSIONS.saturating_sub(free);
    let kind = [(
        header::CONTENT_TYPE,
        "text/plain; version=0.0.4; charset=utf-8",
    )];
    // One judge for all companies.
    let judging = shared.hub.judge().spent();
    (kind, shared.house.metrics.text(live, judging)).into_response()
}

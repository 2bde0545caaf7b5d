//! Answers questions of the outside references: one JSON question a line in, one JSON answer a
//! line out, so that a reference in another language can ask thousands in one process.
//!
//! A question is `{"about": TOPIC, ...}`; an answer is `{"ok": VALUE}` or `{"error": WORDS}`.

mod code;
mod compare;
mod hail;
mod materials;
mod roof;
mod safety;
mod storm;
mod sun;
mod way;

use std::io::{BufRead, Write};

use serde_json::{Value, json};

/// The topics: adding one is one line here and one file beside this.
const TOPICS: &[(&str, Topic)] = &[
    ("compare", compare::answer),
    ("hits_interval", hail::interval),
    ("hits_two", hail::two),
    ("hits_many", hail::many),
    ("hits_pattern", hail::hits_pattern),
    ("hail_fall", hail::falling),
    ("hail_drift", hail::drifting),
    ("hail_exposure", hail::exposure),
    ("hail_impact", hail::impact),
    ("hail_word", hail::size_word),
    ("gutter_manning", hail::manning),
    ("gutter_demand", hail::demand),
    ("ice_answer", code::ice_answer),
    ("ice_barrier", code::ice_barrier),
    ("materials", materials::materials),
    ("vent_area", code::vent_area),
    ("pitch", roof::pitch),
    ("roof_plan", roof::plan),
    ("heat", safety::heat_index),
    ("ladder", safety::ladder_set_up),
    ("storm", storm::storm),
    ("sun", sun::sun),
    ("way", way::way),
];

type Topic = fn(&Value) -> Result<Value, String>;

fn main() -> std::io::Result<()> {
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    for line in std::io::stdin().lock().lines() {
        let answer = match answer(&line?) {
            Ok(value) => json!({ "ok": value }),
            Err(words) => json!({ "error": words }),
        };
        writeln!(out, "{answer}")?;
    }
    out.flush()
}

fn answer(line: &str) -> Result<Value, String> {
    let question: Value = serde_json::from_str(line).map_err(|error| error.to_string())?;
    let about = question["about"].as_str().unwrap_or_default();
    let topic = TOPICS.iter().find(|(name, _)| *name == about);
    let (_, topic) = topic.ok_or_else(|| format!("there is no topic \"{about}\""))?;
    topic(&question)
}

/// A number of a question, where it is there.
fn number_or_none(question: &Value, name: &str) -> Option<f64> {
    question[name].as_f64()
}

/// A yes or no of a question.
fn flag(question: &Value, name: &str) -> Option<bool> {
    question[name].as_bool()
}

/// A number of a question by its name.
fn number(question: &Value, name: &str) -> Result<f64, String> {
    number_or_none(question, name).ok_or_else(|| format!("\"{name}\" is no number"))
}

//! The way from typed text to a value of a record, and back.

use chalkwalk_core::job::{
    AnyFields, Area, FieldRead, FieldValue, Job, Kind, Length, Pitch, Place, RecordRef, Scalar,
};
use chrono::NaiveDate;

use super::super::words::{capital, record_name};
use super::spec::{Input, Spec};

/// What a field holds, as the form shows it; empty where nothing is recorded.
pub(in crate::serve) fn text_of(fields: &AnyFields, spec: &Spec) -> String {
    let mut found = String::new();
    fields.each(&mut |key, value| {
        if key == spec.key {
            found = shown(fields.kind(), spec, &value);
        }
    });
    found
}

fn shown(kind: Kind, spec: &Spec, value: &Scalar) -> String {
    match (spec.input, value) {
        (Input::Length | Input::Area | Input::Pitch, value) => {
            let words = kind.value_in_words(spec.key, value.as_ref());
            words.unwrap_or_default()
        }
        (_, Scalar::Str(text)) => plain(text),
        (_, Scalar::Int(number)) => number.to_string(),
        (_, Scalar::Num(number)) => number.to_string(),
        (_, Scalar::Bool(yes)) => if *yes { YES } else { NO }.to_owned(),
        (_, Scalar::Bytes(_)) => String::new(),
    }
}

const YES: &str = "yes";
const NO: &str = "no";

/// Typed text as it is compared: browsers send line ends of their own, and nobody means the blanks
/// around a text.
pub(in crate::serve) fn plain(text: &str) -> String {
    text.replace("\r\n", "\n")
        .replace('\r', "\n")
        .trim()
        .to_owned()
}

/// Reads typed text into a field.
///
/// # Errors
/// What is wrong with it, for the person who typed it.
pub(super) fn read(fields: &mut AnyFields, spec: &Spec, typed: &str) -> Result<(), String> {
    let value = match spec.input {
        Input::Count => whole(typed)?.to_scalar(),
        Input::Number(least, most) => number(typed, least, most)?.to_scalar(),
        Input::Length => measured::<Length>(typed)?,
        Input::Area => measured::<Area>(typed)?,
        Input::Pitch => measured::<Pitch>(typed)?,
        Input::Day => typed
            .parse::<NaiveDate>()
            .map_err(|_| "Write the day as 2026-05-14.".to_owned())?
            .to_scalar(),
        Input::Tick => match typed {
            YES => Scalar::Bool(true),
            NO => Scalar::Bool(false),
            _ => return Err(OF_THE_LIST.to_owned()),
        },
        Input::Place | Input::Slope | Input::Word(_) | Input::Line | Input::Lines => {
            Scalar::Str(typed.to_owned())
        }
    };
    let slope = |at: &RecordRef| at.kind == Kind::Slope;
    if matches!(spec.input, Input::Slope) && !typed.parse().is_ok_and(|at| slope(&at)) {
        return Err(OF_THE_LIST.to_owned());
    }
    match fields.read(spec.key, value.as_ref()) {
        FieldRead::Taken => Ok(()),
        _ => Err(OF_THE_LIST.to_owned()),
    }
}

const OF_THE_LIST: &str = "Choose one of the list.";

/// A whole number from 0, as a count is typed.
pub(super) fn whole(typed: &str) -> Result<u32, String> {
    let number = typed.parse::<u32>();
    number.map_err(|_| "Write a whole number, 0 or more.".to_owned())
}

fn number(typed: &str, least: f64, most: f64) -> Result<f64, String> {
    let known = typed.parse::<f64>().ok();
    known
        .filter(|number| (least..=most).contains(number))
        .ok_or_else(|| format!("Write a number from {least} to {most}."))
}

fn measured<T>(typed: &str) -> Result<Scalar, String>
where
    T: std::str::FromStr<Err: std::fmt::Display> + FieldValue,
{
    let value = typed.parse::<T>();
    value
        .map(|value| value.to_scalar())
        .map_err(|error| in_a_sentence(&error))
}

/// What can be chosen, as (value, words). What stands there now is among it, though it be of a
/// place that was struck.
pub(super) fn choices(
    job: &Job,
    places: &[Place],
    spec: &Spec,
    now: &str,
) -> Vec<(String, String)> {
    let named = |place: &RecordRef| (place.to_string(), capital(&job.place_name(place)));
    let yes_or_no = |word: &str| (word.to_owned(), word.to_owned());
    let mut known: Vec<(String, String)> = match spec.input {
        Input::Place => places.iter().map(named).collect(),
        Input::Slope => places
            .iter()
            .filter(|place| place.kind == Kind::Slope)
            .map(named)
            .collect(),
        Input::Word(words) => words(),
        Input::Tick => [YES, NO].map(yes_or_no).to_vec(),
        _ => return Vec::new(),
    };
    if !now.is_empty() && !known.iter().any(|(value, _)| value == now) {
        known.push((now.to_owned(), as_named(job, now)));
    }
    known
}

/// A value of the form as people read it.
pub(super) fn in_words(job: &Job, places: &[Place], spec: &Spec, value: &str) -> String {
    if value.is_empty() {
        return "not recorded".to_owned();
    }
    let known = choices(job, places, spec, value)
        .into_iter()
        .find(|(code, _)| code == value);
    known.map_or_else(|| value.to_owned(), |(_, words)| words)
}

fn as_named(job: &Job, value: &str) -> String {
    match value.parse::<RecordRef>() {
        Ok(at) => record_name(job, &at),
        Err(_) => value.to_owned(),
    }
}

/// An error's words as a sentence.
pub(in crate::serve) fn in_a_sentence(error: &dyn std::fmt::Display) -> String {
    format!("{}.", capital(&error.to_string()))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use chalkwalk_core::job::{
        Audience, Cause, Component, Condition, EaveOpening, Finding, Finish, Layer, Material,
        MeasuredThing, Measurement, Property, Severity, Side, Slope, Underlayment,
    };

    use super::super::tables::sheet_of;
    use super::*;

    fn finding() -> Finding {
        Finding {
            place: Some("elevation/front".parse().unwrap()),
            component: Some(Component::Gutter),
            storey: Some(2),
            from_left: Some(0),
            unit_name: Some("panel 3 <b>".into()),
            height: Some(Length::feet_inches(3, 6)),
            condition: Some(Condition::Damaged),
            cause: Some(Cause::Hail),
            cause_reason: Some("round\nand soft".into()),
            units: Some(1),
            units_total: Some(4),
            extent_length: Some(Length::from_64ths(12_345)),
            extent_area: Some(Area::square_inches(7_001)),
            material: Some(Material::Aluminium),
            finish: Some(Finish::Factory),
            severity: Some(Severity::Cosmetic),
            audience: Some(Audience::Shared),
            text: Some("words".into()),
        }
    }

    #[test]
    fn what_is_shown_reads_back_as_the_same_value() {
        let slope = Slope {
            name: Some("main, front".into()),
            side: Some(Side::Front),
            bearing: Some(182.5),
            report_pitch: Pitch::from_rise(6.25),
            walked: Some(false),
            ..Slope::default()
        };
        let eave = EaveOpening {
            slope: Some("slope/01J00000000000000000000001".parse().unwrap()),
            beside_valley: Some(true),
            underlayment: Some(Layer::Inferred(Underlayment::Felt15)),
            drip_edge: Some(Layer::SeenAbsent),
            ..EaveOpening::default()
        };
        let measure = Measurement {
            of: Some(MeasuredThing::Pitch),
            pitch: Pitch::from_rise(0.5),
            ..Measurement::default()
        };
        let house = Property {
            longitude: Some(-104.9903),
            date_of_loss: NaiveDate::from_ymd_opt(2026, 5, 14),
            ..Property::default()
        };
        let all: [AnyFields; 5] = [
            finding().into(),
            slope.into(),
            eave.into(),
            measure.into(),
            house.into(),
        ];
        for full in all {
            let mut read_back = AnyFields::empty(full.kind());
            for spec in sheet_of(full.kind()).unwrap().specs() {
                let shown = text_of(&full, spec);
                if !shown.is_empty() {
                    read(&mut read_back, spec, &shown).unwrap();
                }
            }
            assert_eq!(read_back, full);
        }
    }

    #[test]
    fn wrong_text_says_how_to_write_it() {
        let tried = |kind: Kind, key: &str, text: &str| {
            let spec = sheet_of(kind).unwrap().spec(key).unwrap();
            read(&mut AnyFields::empty(kind), spec, text).unwrap_err()
        };
        let finding = |key: &str, text: &str| tried(Kind::Finding, key, text);
        assert!(finding("units", "-1").contains("whole number"));
        assert!(finding("units", "99999999999").contains("whole number"));
        assert!(finding("height", "12").contains("write 12' 6-1/2\""));
        assert!(finding("extent_area", "a lot").contains("13.4 SQ"));
        assert!(finding("cause", "lightning<script>").contains("list"));
        assert!(finding("place", "../../etc").contains("list"));
        assert!(tried(Kind::Slope, "bearing", "361").contains("0 to 360"));
        assert!(tried(Kind::Slope, "bearing", "NaN").contains("0 to 360"));
        assert!(tried(Kind::Slope, "walked", "perhaps").contains("list"));
        assert!(tried(Kind::Measurement, "pitch", "6 in").contains("6/12"));
        assert!(tried(Kind::TestSquare, "slope", "elevation/front").contains("list"));
        assert!(tried(Kind::EaveOpening, "deck", "seen:straw").contains("list"));
        assert!(tried(Kind::Property, "date_of_loss", "May").contains("2026-05-14"));
    }

    #[test]
    fn what_stands_there_can_be_left_though_its_place_was_struck() {
        let job = Job {
            id: None,
            schema: 1,
            crew: std::collections::BTreeMap::new(),
            records: chalkwalk_core::job::Records::default(),
        };
        let spec = sheet_of(Kind::TestSquare).unwrap().spec("slope").unwrap();
        let gone = "slope/01J00000000000000000000009";
        assert!(choices(&job, &[], spec, "").is_empty());
        assert_eq!(choices(&job, &[], spec, gone)[0].0, gone);
    }
}

//! Random jobs: no rule and no list ever panics, and the same job gives the same bytes.

use proptest::prelude::*;

use super::house::*;
use super::{Facts, Reader, findings_list, leave_site, tear_off};
use super::{account, measurement, production, requirements};
use crate::job::*;

/// Fills the fields of any kind from a stream of numbers.
struct Filler<'a> {
    seed: &'a mut dyn Iterator<Item = u32>,
    word: String,
}

impl Filler<'_> {
    fn next(&mut self) -> u32 {
        self.seed.next().unwrap_or(0)
    }

    /// A value of some type; a field that does not take it stays empty.
    fn value(&mut self) -> Scalar {
        const WORDS: &[&str] = &[
            "front",
            "left",
            "gutter",
            "shingles",
            "screen",
            "damaged",
            "cleared",
            "unsure",
            "hail",
            "wind",
            "prior",
            "yes",
            "unknown",
            "close_up",
            "standoff",
            "overview",
            "seen:planks",
            "absent",
            "not_seen",
            "elevation/front",
            "slope/a",
            "room/b",
            "finding/a",
            "eave_opening/b",
            "pitch",
            "gutter_width",
            "gauge",
            "tape",
            "office_only",
            "valley",
            "<b>&\"'",
            "2026-06-03",
            "",
        ];
        match self.next() % 6 {
            0 => Scalar::Bool(self.next().is_multiple_of(2)),
            1 => Scalar::Int(i64::from(self.next()) - (1 << 31)),
            2 => Scalar::Int(i64::MIN + i64::from(self.next())),
            3 => Scalar::Num(f64::from(self.next()) * -1e300),
            4 => Scalar::Bytes(self.next().to_le_bytes().to_vec()),
            _ => Scalar::Str(WORDS[self.next() as usize % WORDS.len()].to_owned()),
        }
    }
}

impl KindVisitor for Filler<'_> {
    fn visit<F: Fields>(
        &mut self,
        kind: Kind,
        records: &mut std::collections::BTreeMap<RecordId, Record<F>>,
    ) {
        let mut new = record(F::default());
        new.made.at = i64::from(self.next()).wrapping_mul(i64::from(self.next()));
        for key in kind.keys() {
            for _ in 0..3 {
                let value = self.value();
                let _ = new.fields.read(key, value.as_ref());
            }
        }
        if self.next().is_multiple_of(3) {
            new.tally.insert(device(), u32::MAX);
            new.tally.insert(DeviceId::from_bytes([9; 16]), self.next());
        }
        if self.next().is_multiple_of(3) {
            new.shows = vec![
                at(Kind::Finding, "a"),
                at(kind, "b"),
                RecordRef::side(Side::Front),
            ];
        }
        if self.next().is_multiple_of(5) {
            new.conflicts.push(Conflict {
                field: "cause".into(),
                statements: vec![Statement {
                    value: Some(self.value()),
                    by: new.made,
                }],
            });
        }
        if self.next().is_multiple_of(7) {
            new.struck = Some(Struck {
                reason: "random".into(),
                by: new.made,
            });
        }
        records.insert(id(&self.word), new);
    }
}

/// A job of random records, some with real photos.
pub(crate) fn random_job(seed: &[u32]) -> Job {
    let mut house = House::empty();
    let mut numbers = seed.iter().copied().cycle().take(40_000);
    for word in ["a", "b", "front", "house"] {
        for kind in Kind::ALL {
            let mut filler = Filler {
                seed: &mut numbers,
                word: word.to_owned(),
            };
            house.job.records.with_kind(*kind, &mut filler);
        }
    }
    house.photo("real", PhotoRole::CloseUp, None, &[at(Kind::Finding, "a")]);
    house.job
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]
    #[test]
    fn any_job_is_checked_and_listed(seed in proptest::collection::vec(any::<u32>(), 1..400)) {
        let job = random_job(&seed);
        let facts = Facts::default();
        let first = serde_json::to_vec(&leave_site::check(&job, &facts)).unwrap();
        prop_assert_eq!(first, serde_json::to_vec(&leave_site::check(&job, &facts)).unwrap());
        for reader in [Reader::Anyone, Reader::Office] {
            let list = findings_list::findings_list(&job, reader);
            let rows: usize = list.groups.iter().map(|group| group.findings.len()).sum();
            let struck_or_hidden = job.records.findings.values()
                .filter(|f| reader == Reader::Anyone && (!f.stands() || super::office_only_finding(f)))
                .count();
            prop_assert_eq!(rows + struck_or_hidden, job.records.findings.len());
        }
        tear_off(&job);
        let input = super::HitsInput::default();
        let found = serde_json::to_vec(&super::hits::hits(&job, &input)).unwrap();
        prop_assert_eq!(found, serde_json::to_vec(&super::hits::hits(&job, &input)).unwrap());
    }

    #[test]
    fn any_job_is_told_and_reckoned(seed in proptest::collection::vec(any::<u32>(), 1..400)) {
        let job = random_job(&seed);
        let twice = || {
            let stated = requirements::Stated::default();
            let options = production::SheetOptions::default();
            let rows = job.records.measurement_reports.values()
                .flat_map(|report| measurement::report_rows(report).unwrap_or_default())
                .collect::<Vec<_>>();
            let names = std::collections::BTreeMap::new();
            serde_json::to_vec(&(
                requirements::requirements(&job, &stated),
                measurement::measurement_check(&job, &rows, &names, None),
                production::production_sheet(&job, Reader::Anyone, &options),
                production::production_sheet(&job, Reader::Office, &options),
                account::owners_account(&job),
            )).unwrap()
        };
        prop_assert_eq!(twice(), twice());
    }
}

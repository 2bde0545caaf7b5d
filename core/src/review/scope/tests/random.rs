//! Random jobs with records that fit together: no panic, the same bytes again, evidence that
//! exists and stands, nothing office-only behind a shared line, quantities that are quantities.

use proptest::prelude::*;

use super::*;
use crate::review::office_only_finding;
use crate::review::random_jobs::random_job;

/// Draws from a stream of numbers.
struct Draw<'a>(&'a mut dyn Iterator<Item = u32>);

impl Draw<'_> {
    fn below(&mut self, bound: u32) -> u32 {
        self.0.next().unwrap_or(0) % bound.max(1)
    }

    fn word<T: Copy>(&mut self, all: &[T]) -> Option<T> {
        let drawn = self.below(all.len() as u32 + 1) as usize;
        all.get(drawn).copied()
    }

    fn length(&mut self) -> Option<Length> {
        match self.below(6) {
            0 => None,
            1 => Some(Length::from_64ths(
                i64::from(self.below(u32::MAX)) - (1 << 30),
            )),
            _ => Some(Length::inches(i64::from(self.below(600)))),
        }
    }

    fn area(&mut self) -> Option<Area> {
        (self.below(3) > 0).then(|| Area::square_inches(i64::from(self.below(900_000)) - 9_000))
    }

    fn place(&mut self) -> Option<Place> {
        let slope = at(Kind::Slope, ["a", "b", "gone"][self.below(3) as usize]);
        let others = [
            left(),
            RecordRef::side(Side::Front),
            at(Kind::Room, "a"),
            at(Kind::Structure, "a"),
            at(Kind::EaveOpening, "a"),
        ];
        match self.below(9) {
            0 => None,
            n if n < 5 => Some(slope),
            n => others.get(n as usize - 5).cloned(),
        }
    }

    fn layer<T: Copy>(&mut self, all: &[T]) -> Option<Layer<T>> {
        let kind = self.word(all)?;
        Some(match self.below(4) {
            0 => Layer::SeenAbsent,
            1 => Layer::CouldNotSee,
            2 => Layer::Inferred(kind),
            _ => Layer::Seen(kind),
        })
    }

    fn finding(&mut self) -> Record<Finding> {
        let often = [
            Component::Shingles,
            Component::Valley,
            Component::Gutter,
            Component::BoxVent,
        ];
        let component = match self.below(2) {
            0 => self.word(&often),
            _ => self.word(Component::ALL),
        };
        let mut finding = record(Finding {
            place: self.place(),
            component,
            condition: self.word(Condition::ALL),
            cause: self.word(Cause::ALL),
            audience: (self.below(5) == 0).then_some(Audience::OfficeOnly),
            units: (self.below(2) == 0).then(|| self.below(9)),
            extent_length: self.length(),
            extent_area: self.area(),
            finish: self.word(Finish::ALL),
            material: self.word(Material::ALL),
            severity: self.word(Severity::ALL),
            ..Finding::default()
        });
        if self.below(8) == 0 {
            finding.conflicts.push(Conflict {
                field: ["audience", "units", "cause"][self.below(3) as usize].to_owned(),
                statements: vec![Statement {
                    value: None,
                    by: finding.made,
                }],
            });
        }
        self.maybe_struck(&mut finding);
        finding
    }

    fn maybe_struck<F>(&mut self, record: &mut Record<F>) {
        if self.below(8) == 0 {
            record.struck = Some(Struck {
                reason: "drawn".into(),
                by: record.made,
            });
        }
    }
}

fn drawn_job(seed: &[u32]) -> Job {
    let mut numbers = seed.iter().copied().cycle().take(20_000);
    let mut draw = Draw(&mut numbers);
    let mut house = House::empty();
    let records = &mut house.job.records;
    for word in ["a", "b"] {
        let mut slope = record(Slope {
            side: draw.word(Side::ALL),
            roofing: draw.word(Material::ALL),
            layers: draw.word(&[0, 1, 2, u32::MAX]),
            report_pitch: draw
                .word(&[0, 300, 600, 4000])
                .and_then(|rise| Pitch::from_rise(f64::from(rise) / 100.0)),
            report_area: draw.area(),
            measured_area: draw.area(),
            ..Slope::default()
        });
        draw.maybe_struck(&mut slope);
        records.slopes.insert(id(word), slope);
        let eave = EaveOpening {
            slope: draw.place().filter(|place| place.kind == Kind::Slope),
            starter: draw.layer(StarterKind::ALL),
            drip_edge: draw.layer(EdgeMetal::ALL),
            gutter_apron: draw.layer(EdgeMetal::ALL),
            underlayment: draw.layer(Underlayment::ALL),
            ice_barrier: draw.layer(IceBarrier::ALL),
            deck: draw.layer(DeckKind::ALL),
            widest_gap: draw.length(),
            roofing_layers: draw.word(&[0, 1, 2]),
            ..EaveOpening::default()
        };
        records.eave_openings.insert(id(word), record(eave));
        let room = Room {
            length: draw.length(),
            width: draw.length(),
            height: draw.length(),
            ..Room::default()
        };
        records.rooms.insert(id(word), record(room));
    }
    for n in 0..12 {
        let word = format!("r{n}");
        let finding = draw.finding();
        records.findings.insert(id(&word), finding);
        let mut edge = record(Edge {
            kind: draw.word(EdgeKind::ALL),
            slope: draw.place(),
            other_slope: draw.place(),
            length: draw.length(),
            lining: draw.layer(ValleyLining::ALL),
        });
        draw.maybe_struck(&mut edge);
        records.edges.insert(id(&word), edge);
        let count = ComponentCount {
            place: draw.place(),
            component: draw.word(Component::ALL),
            count: (draw.below(3) > 0).then(|| draw.below(5)),
            length: draw.length(),
            condition: draw.word(Condition::ALL),
            ..ComponentCount::default()
        };
        records.components.insert(id(&word), record(count));
        let measure = Measurement {
            place: draw.place(),
            of: draw.word(MeasuredThing::ALL),
            length: draw.length(),
            pitch: Pitch::from_rise(f64::from(draw.below(41))),
            ..Measurement::default()
        };
        records.measurements.insert(id(&word), record(measure));
    }
    for n in 0..3 {
        let shown = at(Kind::Finding, &format!("r{n}"));
        house.photo(&format!("p{n}"), PhotoRole::CloseUp, None, &[shown]);
    }
    let keys: Vec<LineKey> = scope(&house.job, &ScopeInputs::default())
        .lines
        .into_iter()
        .map(|line| line.key)
        .collect();
    for n in 0..draw.below(5) {
        let line = keys.get(draw.below(keys.len() as u32 + 1) as usize);
        let change = ScopeChange {
            line: line.map(|key| key.as_str().to_owned()),
            kind: draw.word(ScopeChangeKind::ALL),
            place: draw.place(),
            item: draw.word(&["gutter", "crane"]).map(str::to_owned),
            action: draw.word(WorkAction::ALL),
            quantity: draw.word(&[-1.0, 0.0, 12.345, f64::NAN, 1e300]),
            unit: draw.word(Unit::ALL),
            audience: draw.word(Audience::ALL),
            ..ScopeChange::default()
        };
        house
            .job
            .records
            .scope_changes
            .insert(id(&format!("c{n}")), record(change));
    }
    house.job
}

fn inputs_of(seed: &[u32]) -> ScopeInputs {
    let number = seed.first().copied().unwrap_or(0);
    ScopeInputs {
        replace_from_hits: (number % 3 == 0).then_some(number % 11),
        one_roof: vec![[id("a"), id("b")].into()],
        waste_percent: Some(f64::from(number % 130) - 10.0),
        ..ScopeInputs::default()
    }
}

fn holds(job: &Job, inputs: &ScopeInputs) -> Result<(), TestCaseError> {
    let first = scope(job, inputs);
    let again = scope(job, inputs);
    prop_assert_eq!(
        serde_json::to_vec(&first).unwrap(),
        serde_json::to_vec(&again).unwrap()
    );
    let all = first.lines.iter().chain(&first.left_out);
    let mut keys = std::collections::BTreeSet::new();
    let mut behind = std::collections::BTreeSet::new();
    for line in all {
        prop_assert!(keys.insert(&line.key), "{} stands twice", line.key);
        for at in line.findings.iter().chain(&line.records) {
            let header = job.records.header(at);
            prop_assert!(
                header.is_some_and(|header| header.struck.is_none()),
                "{at} behind {}",
                line.key
            );
        }
        for at in &line.findings {
            let finding = &job.records.findings[&at.id];
            prop_assert!(
                !office_only_finding(finding),
                "{at} behind {}: {finding:?}",
                line.key
            );
            behind.insert(at);
        }
        for photo in &line.photos {
            prop_assert!(job.records.photos[photo].stands());
        }
        match line.quantity {
            Some(quantity) => prop_assert!(quantity.value().is_finite() && quantity.value() >= 0.0),
            None => prop_assert!(!line.unsure.is_empty(), "{} does not say why", line.key),
        }
    }
    let withheld: std::collections::BTreeSet<&RecordRef> =
        first.withheld.iter().map(|held| &held.finding).collect();
    for (id, finding) in job.standing_findings() {
        let at = RecordRef::new(Kind::Finding, id.clone());
        let in_order = matches!(
            finding.condition,
            Some(Condition::Cleared | Condition::NotPresent)
        );
        prop_assert!(
            in_order || behind.contains(&at) != withheld.contains(&at),
            "{at} is neither behind a line nor withheld, or both"
        );
    }
    let changes = job
        .records
        .scope_changes
        .values()
        .filter(|change| change.stands())
        .count();
    let named: usize = first.orphaned.len()
        + first
            .lines
            .iter()
            .chain(&first.left_out)
            .map(changes_of)
            .sum::<usize>();
    prop_assert_eq!(
        named,
        changes,
        "every change is laid over a line or orphaned"
    );
    for reader in [Reader::Office, Reader::Anyone] {
        let csv = first.to_csv(job, reader).unwrap();
        let rows = csv::Reader::from_reader(csv.as_slice()).records().count();
        let shown = first.clone().for_reader(reader);
        prop_assert_eq!(rows, shown.lines.len() + shown.left_out.len());
    }
    Ok(())
}

/// Changes that a line tells of: the last, and those before it.
fn changes_of(line: &ScopeLine) -> usize {
    let change = line.change.as_ref();
    change.map_or(0, |change| {
        1 + change.was.iter().filter(|was| was.by.is_some()).count()
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn any_job_has_a_scope(seed in proptest::collection::vec(any::<u32>(), 1..400)) {
        holds(&random_job(&seed), &inputs_of(&seed))?;
    }

    #[test]
    fn any_job_whose_records_fit_together_has_a_scope(seed in proptest::collection::vec(any::<u32>(), 1..400)) {
        holds(&drawn_job(&seed), &inputs_of(&seed))?;
    }
}

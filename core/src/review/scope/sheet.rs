//! The sheet on which the rules write: parts of one line are put together under its key, and
//! each line gets its photos and its open doubts at the end.

use std::collections::BTreeMap;

use super::{Basis, Item, LineKey, Quantity, ScopeInputs, ScopeLine, Withheld};
use crate::job::*;
use crate::review::view::View;
use crate::review::{office_only_photo, places_in_walk_order};
use crate::sorted::Keyed;

/// One part of a line, as a rule finds it.
#[derive(Clone, Debug)]
pub(super) struct Part {
    pub(super) place: Option<Place>,
    pub(super) item: Item,
    pub(super) item_words: String,
    pub(super) size: Option<Length>,
    pub(super) action: WorkAction,
    /// In `unit`; `None` where it is not known.
    pub(super) amount: Option<f64>,
    /// The part only proves what other parts of the line count.
    pub(super) proof_only: bool,
    pub(super) unit: Unit,
    pub(super) how: String,
    pub(super) rests_on: Vec<RecordRef>,
    pub(super) basis: Basis,
    pub(super) unsure: Vec<String>,
}

impl Part {
    /// A part of an existing condition with nothing known but what and where.
    pub(super) fn new(place: Option<Place>, item: Item, action: WorkAction) -> Self {
        Self {
            place,
            item_words: item.label().to_owned(),
            size: None,
            action,
            amount: None,
            proof_only: false,
            unit: item.unit().unwrap_or(Unit::Each),
            item,
            how: String::new(),
            rests_on: Vec::new(),
            basis: Basis::ExistingCondition,
            unsure: Vec::new(),
        }
    }

    pub(super) fn key(&self) -> LineKey {
        let required = matches!(self.basis, Basis::Requirement { .. });
        LineKey::of(self.place.as_ref(), &self.item, self.action, required)
    }

    /// The amount and how it came about.
    pub(super) fn amount(mut self, amount: f64, how: impl Into<String>) -> Self {
        self.amount = Some(amount);
        self.how = how.into();
        self
    }

    /// The part proves and does not count.
    pub(super) fn proof(mut self) -> Self {
        self.proof_only = true;
        self.amount = None;
        self.how = String::new();
        self
    }

    pub(super) fn words(mut self, words: impl Into<String>) -> Self {
        self.item_words = words.into();
        self
    }

    pub(super) fn on(mut self, records: impl IntoIterator<Item = RecordRef>) -> Self {
        self.rests_on.extend(records);
        self
    }

    pub(super) fn unsure(mut self, doubts: impl IntoIterator<Item = String>) -> Self {
        self.unsure.extend(doubts);
        self
    }

    pub(super) fn doubt(self, doubt: impl Into<String>) -> Self {
        self.unsure([doubt.into()])
    }

    pub(super) fn basis(mut self, basis: Basis) -> Self {
        self.basis = basis;
        self
    }
}

/// The sheet.
pub(super) struct Sheet<'a> {
    pub(super) view: &'a View<'a>,
    pub(super) inputs: &'a ScopeInputs,
    lines: BTreeMap<LineKey, Vec<Part>>,
    pub(super) withheld: Vec<Withheld>,
}

impl<'a> Sheet<'a> {
    pub(super) fn new(view: &'a View<'a>, inputs: &'a ScopeInputs) -> Self {
        Self {
            view,
            inputs,
            lines: BTreeMap::new(),
            withheld: Vec::new(),
        }
    }

    /// Adds a part to the line with its key.
    pub(super) fn put(&mut self, part: Part) {
        self.lines.entry(part.key()).or_default().push(part);
    }

    /// What a line amounts to so far; `None` where there is none or nothing is known of it.
    pub(super) fn amount_of(
        &self,
        place: Option<&Place>,
        item: &Item,
        action: WorkAction,
    ) -> Option<f64> {
        let parts = self.lines.get(&LineKey::of(place, item, action, false))?;
        let known: Vec<f64> = parts.iter().filter_map(|part| part.amount).collect();
        (!known.is_empty()).then(|| known.iter().sum())
    }

    /// The place's name in a sentence.
    pub(super) fn at(&self, place: &Place) -> String {
        self.view.job.place_name(place)
    }

    /// The lines in walk order: roof, sides, other structures, rooms.
    pub(super) fn finish(self) -> (Vec<ScopeLine>, Vec<Withheld>) {
        let view = self.view;
        let order = Order::of(view.job);
        let mut lines: Vec<ScopeLine> = self
            .lines
            .into_iter()
            .filter_map(|(key, parts)| line(view, key, parts))
            .collect();
        lines.sort_by_cached_key(|line| order.rank(line));
        (lines, self.withheld)
    }
}

/// Puts the parts of one line together.
fn line(view: &View<'_>, key: LineKey, parts: Vec<Part>) -> Option<ScopeLine> {
    let first = parts.first()?.clone();
    let mut unsure = Vec::new();
    let mut hows = Vec::new();
    let (mut sum, mut known, mut unknown) = (0.0, 0u32, 0u32);
    let mut records = Vec::new();
    for part in parts {
        match part.amount {
            Some(amount) => {
                sum += amount;
                known += 1;
            }
            None if part.proof_only => {}
            None => unknown += 1,
        }
        add_new(
            &mut hows,
            [part.how].into_iter().filter(|how| !how.is_empty()),
        );
        add_new(&mut records, part.rests_on);
        add_new(&mut unsure, part.unsure);
    }
    let quantity = if known > 0 {
        Quantity::new(sum, first.unit)
    } else {
        None
    };
    if quantity.is_none() && known > 0 {
        unsure.push("the recorded measures give no usable quantity: check them".to_owned());
    } else if known > 0 && unknown > 0 {
        unsure.push("the quantity is that of the parts that were measured or counted".to_owned());
    } else if quantity.is_none() && unsure.is_empty() {
        unsure.push("the quantity was not measured or counted".to_owned());
    }
    for record in &records {
        add_new(&mut unsure, conflicts(view.job, record, &first.item));
    }
    let mut photos = Vec::new();
    for record in &records {
        let shown = view
            .showing(record)
            .filter(|shot| !office_only_photo(shot.photo))
            .map(|shot| shot.id.clone());
        add_new(&mut photos, shown);
    }
    let (findings, records) = records.into_iter().partition(|at| at.kind == Kind::Finding);
    Some(ScopeLine {
        key,
        place_words: match &first.place {
            Some(place) => view.job.place_name(place),
            None if on_roof(&first.item) => "roof".to_owned(),
            None => "house as a whole".to_owned(),
        },
        place: first.place,
        item: first.item,
        item_words: first.item_words,
        size: first.size,
        action: first.action,
        quantity,
        how: hows.join("; "),
        findings,
        records,
        photos,
        basis: first.basis,
        unsure,
        audience: Audience::Shared,
        change: None,
    })
}

/// Adds what is not there yet, in order.
fn add_new<T: PartialEq>(list: &mut Vec<T>, more: impl IntoIterator<Item = T>) {
    for one in more {
        if !list.contains(&one) {
            list.push(one);
        }
    }
}

/// The fields of a record that people stated differently, a sentence each. The layers of a slope
/// matter to its shingles and to what comes off with them.
fn conflicts(job: &Job, at: &RecordRef, item: &Item) -> Vec<String> {
    let on_layers = matches!(item, Item::Shingles | Item::SecondLayer);
    let Some(header) = job.records.header(at) else {
        return Vec::new();
    };
    let name = if at.is_place() {
        job.place_name(at)
    } else {
        at.kind.one()
    };
    header
        .conflicts
        .iter()
        .filter(|conflict| on_layers || at.kind != Kind::Slope || conflict.field != "layers")
        .map(|conflict| {
            let said: Vec<String> = conflict
                .statements
                .iter()
                .map(|said| {
                    let words = said
                        .value
                        .as_ref()
                        .and_then(|value| at.kind.value_in_words(&conflict.field, value.as_ref()))
                        .unwrap_or_else(|| "nothing".to_owned());
                    format!("{}: {words}", job.who(said.by.device))
                })
                .collect();
            format!(
                "\"{}\" of {name} was stated differently ({}): the shown value is used until it is settled",
                conflict.field.replace('_', " "),
                said.join("; ")
            )
        })
        .collect()
}

/// True for items that stand for the roof where no place is named.
fn on_roof(item: &Item) -> bool {
    *item <= Item::HighCharge
}

/// The order in which lines are read.
pub(super) struct Order {
    places: BTreeMap<Place, usize>,
}

impl Order {
    pub(super) fn of(job: &Job) -> Self {
        let places = places_in_walk_order(job);
        Self {
            places: places
                .into_iter()
                .enumerate()
                .map(|(i, place)| (place, i))
                .keyed(),
        }
    }

    /// Roof first, then the sides, other structures and rooms; by walk order, item, action, key.
    pub(super) fn rank(&self, line: &ScopeLine) -> (u8, usize, Item, WorkAction, LineKey) {
        let group = match line.place.as_ref().map(|place| place.kind) {
            Some(Kind::Slope | Kind::EaveOpening) => 0,
            None if on_roof(&line.item) => 1,
            Some(Kind::Elevation) => 2,
            None => 3,
            Some(Kind::Structure) => 4,
            Some(_) => 5,
        };
        let place = line.place.as_ref().and_then(|place| self.places.get(place));
        (
            group,
            place.copied().unwrap_or(usize::MAX),
            line.item.clone(),
            line.action,
            line.key.clone(),
        )
    }
}

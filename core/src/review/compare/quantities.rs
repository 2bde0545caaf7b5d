//! Quantities held side by side, in decimal arithmetic. Squares and square feet are converted
//! exactly; nothing else is.

use rust_decimal::{Decimal, RoundingStrategy};
use serde::Serialize;

use super::matching::{WorkFamily, family_of_action};
use super::rows::TheirRow;
use crate::job::{Unit, WorkAction};
use crate::review::scope::{Quantity, ScopeLine};

/// By how much quantities may differ and still count as the same. An input: no rule of the trade
/// states one (common practice, no source for the default).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Tolerance {
    /// Hundredths of our quantity, for lengths and areas; counts must be the same.
    pub percent: Decimal,
}

impl Default for Tolerance {
    fn default() -> Self {
        Self {
            percent: Decimal::from(2),
        }
    }
}

impl Tolerance {
    /// True where the difference is within the tolerance.
    fn allows(self, amounts: &Amounts) -> bool {
        if amounts.unit == Unit::Each {
            return amounts.difference.is_zero();
        }
        let allowed = amounts
            .ours
            .checked_mul(self.percent.abs())
            .and_then(|product| product.checked_div(Decimal::ONE_HUNDRED));
        allowed.is_some_and(|allowed| amounts.difference.abs() <= allowed)
    }
}

/// Two quantities in one unit.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Amounts {
    /// Ours.
    pub ours: Decimal,
    /// Theirs.
    pub theirs: Decimal,
    /// Theirs less ours.
    pub difference: Decimal,
    /// The unit of the three.
    pub unit: Unit,
    /// Which part of the work they are of, where the parts were held side by side apart.
    pub part: Option<&'static str>,
    /// What was converted, a sentence.
    pub converted: Option<String>,
    /// The difference is within the tolerance.
    pub within_tolerance: bool,
}

/// A part of renewing: what is taken off, what is put on.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Part {
    PutOn,
    TakenOff,
}

impl Part {
    fn of(self, action: Option<WorkAction>) -> bool {
        match action {
            Some(WorkAction::RemoveOnly) => self == Part::TakenOff,
            Some(WorkAction::Install) => self == Part::PutOn,
            _ => true,
        }
    }

    const fn label(self) -> &'static str {
        match self {
            Part::PutOn => "installing",
            Part::TakenOff => "removing",
        }
    }
}

/// Holds the sums of lines and rows side by side. A row whose work is not known counts for all of
/// it.
///
/// # Errors
/// Why they cannot be compared, a sentence.
pub(super) fn amounts(
    lines: &[&ScopeLine],
    rows: &[(&TheirRow, Option<WorkAction>)],
    tolerance: Tolerance,
) -> Result<Amounts, String> {
    let unit = our_unit(lines)?;
    let converted = converted(lines, rows, unit);
    let ours: Vec<(Decimal, Option<WorkAction>)> = lines
        .iter()
        .filter_map(|line| {
            Some((
                in_unit(decimal(line.quantity?), line.quantity?.unit(), unit)?,
                Some(line.action),
            ))
        })
        .collect();
    let mut theirs = Vec::with_capacity(rows.len());
    for (row, action) in rows {
        theirs.push((their_number(row, unit)?, *action));
    }
    let renewing = |action: &Option<WorkAction>| {
        action.is_none_or(|action| family_of_action(action) == WorkFamily::Renew)
    };
    let by_parts = ours
        .iter()
        .chain(&theirs)
        .all(|(_, action)| renewing(action))
        && ours.iter().chain(&theirs).any(|(_, action)| {
            matches!(action, Some(WorkAction::RemoveOnly | WorkAction::Install))
        });
    let build = |part: Option<Part>| -> Option<Amounts> {
        let of =
            |(_, action): &&(Decimal, Option<WorkAction>)| part.is_none_or(|part| part.of(*action));
        let sum = |amounts: &[(Decimal, Option<WorkAction>)]| {
            total(amounts.iter().filter(of).map(|(number, _)| *number))
        };
        let (ours, theirs) = (sum(&ours)?, sum(&theirs)?);
        let mut amounts = Amounts {
            ours,
            theirs,
            difference: theirs.checked_sub(ours)?,
            unit,
            part: part.map(Part::label),
            converted: converted.clone(),
            within_tolerance: false,
        };
        amounts.within_tolerance = tolerance.allows(&amounts);
        Some(amounts)
    };
    let too_large = || "The quantities are too large to be added.".to_owned();
    if !by_parts {
        return build(None).ok_or_else(too_large);
    }
    // Only parts that ours has are compared; the one that differs more is shown.
    let mut best: Option<Amounts> = None;
    for part in [Part::PutOn, Part::TakenOff] {
        if !ours.iter().any(|(_, action)| part.of(*action)) {
            continue;
        }
        let amounts = build(Some(part)).ok_or_else(too_large)?;
        if best
            .as_ref()
            .is_none_or(|best| amounts.difference.abs() > best.difference.abs())
        {
            best = Some(amounts);
        }
    }
    best.ok_or_else(too_large)
}

fn our_unit(lines: &[&ScopeLine]) -> Result<Unit, String> {
    let mut unit = None;
    for line in lines {
        let Some(quantity) = line.quantity else {
            return Err(format!(
                "Ours does not state how much for {}.",
                line.item_words
            ));
        };
        let first = *unit.get_or_insert(quantity.unit());
        if in_unit(Decimal::ONE, quantity.unit(), first).is_none() {
            return Err(format!(
                "Our lines are in {first} and in {}.",
                quantity.unit()
            ));
        }
    }
    unit.ok_or_else(|| "Ours has no line here.".to_owned())
}

fn their_number(row: &TheirRow, unit: Unit) -> Result<Decimal, String> {
    let number = row.row;
    let Some(quantity) = row.quantity else {
        return Err(format!("Row {number} states no quantity."));
    };
    let Some(theirs) = row.unit else {
        return Err(if row.unit_words.is_empty() {
            format!("Row {number} states no unit.")
        } else {
            format!(
                "Row {number} states its quantity in \"{}\", ours is in {unit}.",
                row.unit_words
            )
        });
    };
    in_unit(quantity, theirs, unit).ok_or_else(|| {
        format!(
            "Row {number} states {theirs} and ours {unit}: neither is converted into the other."
        )
    })
}

/// What was converted from squares or square feet, a sentence.
fn converted(
    lines: &[&ScopeLine],
    rows: &[(&TheirRow, Option<WorkAction>)],
    unit: Unit,
) -> Option<String> {
    let of_ours = lines.iter().filter_map(|line| Some(line.quantity?.unit()));
    let of_theirs = rows.iter().filter_map(|(row, _)| row.unit);
    let other = of_ours.chain(of_theirs).find(|other| *other != unit)?;
    in_unit(Decimal::ONE, other, unit)?;
    Some(format!(
        "{other} was converted to {unit}: 1 SQ is 100 SF exactly."
    ))
}

/// A number in another unit: squares and square feet only.
pub(super) fn in_unit(number: Decimal, from: Unit, to: Unit) -> Option<Decimal> {
    match (from, to) {
        _ if from == to => Some(number),
        (Unit::Square, Unit::SquareFoot) => number.checked_mul(Decimal::ONE_HUNDRED),
        (Unit::SquareFoot, Unit::Square) => number.checked_div(Decimal::ONE_HUNDRED),
        _ => None,
    }
}

/// Our quantity as a decimal, to the two digits that it has.
pub(super) fn decimal(quantity: Quantity) -> Decimal {
    Decimal::from_str_exact(&quantity.digits()).unwrap_or_default()
}

/// The sum; `None` past what a decimal holds.
pub(super) fn total(numbers: impl IntoIterator<Item = Decimal>) -> Option<Decimal> {
    let mut numbers = numbers.into_iter();
    numbers.try_fold(Decimal::ZERO, Decimal::checked_add)
}

/// Money for so much at a price, rounded to the cent, half away from zero.
pub(super) fn money(quantity: Decimal, price: Decimal) -> Option<Decimal> {
    let product = quantity.checked_mul(price)?;
    Some(product.round_dp_with_strategy(2, RoundingStrategy::MidpointAwayFromZero))
}

/// A number with its unit as people read it: `13.42 SQ`.
pub(super) fn shown(number: Decimal, unit: Unit) -> String {
    format!("{} {unit}", number.normalize())
}

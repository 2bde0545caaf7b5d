//! A scope with a price list joined to it: money a line, what has no price, and sums. Nothing is
//! converted but squares to square feet, exactly a hundred to one, and the line says so.

use rust_decimal::{Decimal, RoundingStrategy};
use serde::Serialize;

use super::price_list::{Price, PriceList};
use super::{Basis, LineKey, Quantity, Scope, ScopeLine};
use crate::job::Unit;
use crate::sorted::Sorted;

/// A line with its money.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PricedLine {
    /// The line.
    pub key: LineKey,
    /// The row of the price list.
    pub row: u32,
    /// The item as the price list words it, to be compared with the line's words.
    pub price_words: String,
    /// Money for one unit of the line.
    pub unit_price: Decimal,
    /// Quantity times price, rounded to cents, half away from zero.
    pub amount: Decimal,
    /// What was converted, in words.
    pub converted: Option<String>,
}

/// A line without money, and why.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Unpriced {
    /// The line.
    pub key: LineKey,
    /// The line in words.
    pub words: String,
    /// Why.
    pub reason: String,
}

/// The money of a scope.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Priced {
    /// Lines with a price, in the scope's order.
    pub lines: Vec<PricedLine>,
    /// Lines without.
    pub unpriced: Vec<Unpriced>,
    /// Sum of the lines that rest on what was found.
    pub existing: Decimal,
    /// Sum of the lines that a code asks for.
    pub required: Decimal,
    /// Sum of the lines that an estimator added.
    pub added: Decimal,
    /// Sum of all lines with a price.
    pub total: Decimal,
}

impl Scope {
    /// Joins a price list to the lines.
    pub fn priced(&self, list: &PriceList) -> Priced {
        let mut priced = Priced::default();
        for line in &self.lines {
            match price_line(line, list) {
                Ok(money) => {
                    let sum = match line.basis {
                        Basis::ExistingCondition => &mut priced.existing,
                        Basis::Requirement { .. } => &mut priced.required,
                        Basis::Estimator => &mut priced.added,
                    };
                    *sum += money.amount;
                    priced.total += money.amount;
                    priced.lines.push(money);
                }
                Err(reason) => priced.unpriced.push(Unpriced {
                    key: line.key.clone(),
                    words: format!("{}: {}, {}", line.place_words, line.item_words, line.action),
                    reason,
                }),
            }
        }
        for sum in [
            &mut priced.existing,
            &mut priced.required,
            &mut priced.added,
            &mut priced.total,
        ] {
            sum.rescale(2);
        }
        priced
    }
}

fn price_line(line: &ScopeLine, list: &PriceList) -> Result<PricedLine, String> {
    let priced: Vec<&Price> = candidates(line, list);
    if priced.is_empty() {
        return Err("the price list has no such item and work".to_owned());
    }
    let quantity = line
        .quantity
        .ok_or_else(|| "its quantity is not known".to_owned())?;
    let fits = |price: &&&Price| factor(quantity.unit(), price.unit).is_some();
    let same = |price: &&&Price| price.unit == quantity.unit();
    let chosen = priced
        .iter()
        .find(same)
        .or_else(|| priced.iter().find(fits));
    let Some(price) = chosen else {
        let units: Vec<&str> = priced.iter().map(|price| price.unit.label()).collect();
        return Err(format!(
            "its quantity is in {}, the price in {}",
            quantity.unit(),
            units.join(" or ")
        ));
    };
    if let Some(other) = rival(line, price, &priced) {
        return Err(format!(
            "rows {} (\"{}\") and {} (\"{}\") both fit at different prices: call one of them \"{}\"",
            price.row, price.words, other.row, other.words, line.item_words
        ));
    }
    let factor = factor(quantity.unit(), price.unit).unwrap_or(Decimal::ONE);
    let unit_price = (price.price * factor).normalize();
    let converted = (price.unit != quantity.unit()).then(|| {
        format!(
            "priced by the {}, and one SQ is 100 SF: {} a {}",
            price.unit,
            unit_price,
            quantity.unit()
        )
    });
    let exact = decimal(quantity) * unit_price;
    let mut amount = exact.round_dp_with_strategy(2, RoundingStrategy::MidpointAwayFromZero);
    // Cents are always shown.
    amount.rescale(2);
    Ok(PricedLine {
        key: line.key.clone(),
        row: price.row,
        price_words: price.words.clone(),
        unit_price,
        amount,
        converted,
    })
}

/// Another price that fits as well as the chosen one and differs; the line's very words settle it.
fn rival<'a>(line: &ScopeLine, chosen: &Price, priced: &[&'a Price]) -> Option<&'a Price> {
    let exact = |price: &Price| price.words.trim().to_lowercase() == line.item_words.to_lowercase();
    let rivals = priced.iter().copied();
    let mut rivals = rivals.filter(|other| {
        other.unit == chosen.unit && other.action == chosen.action && exact(other) == exact(chosen)
    });
    rivals.find(|other| other.price != chosen.price)
}

/// The prices that may stand for a line, the closest first: the line's very words before the item
/// they name, the work as stated before any work.
fn candidates<'a>(line: &ScopeLine, list: &'a PriceList) -> Vec<&'a Price> {
    let words = line.item_words.to_lowercase();
    let mut fit: Vec<(bool, bool, &Price)> = list
        .prices
        .iter()
        .filter(|price| price.action.is_none_or(|action| action == line.action))
        .filter_map(|price| {
            let by_words = price.words.trim().to_lowercase() == words;
            let fits = by_words || price.item == line.item;
            fits.then_some((!by_words, price.action.is_none(), price))
        })
        .collect();
    fit.order_by_key(|(words, action, price)| (*words, *action, price.row));
    fit.into_iter().map(|(_, _, price)| price).collect()
}

/// What turns a price by one unit into a price by another.
fn factor(quantity: Unit, price: Unit) -> Option<Decimal> {
    match (quantity, price) {
        (Unit::Square, Unit::SquareFoot) => Some(Decimal::ONE_HUNDRED),
        (Unit::SquareFoot, Unit::Square) => Some(Decimal::new(1, 2)),
        (one, other) => (one == other).then_some(Decimal::ONE),
    }
}

/// The two decimals of a quantity, exactly.
fn decimal(quantity: Quantity) -> Decimal {
    quantity.digits().parse().unwrap_or(Decimal::ZERO)
}

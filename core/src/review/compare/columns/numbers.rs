//! Columns of numbers prove each other: quantity times price is the money of the row.

use rust_decimal::Decimal;

use super::Columns;
use super::meaning::Meaning;
use crate::review::compare::table::{AmountStyle, TableRow, amount};

/// Rows that must agree before arithmetic says anything.
const LEAST_ROWS: usize = 3;
/// Most columns of numbers that are tried against each other.
const MOST_COLUMNS: usize = 10;

/// The numbers of the columns, row by row.
pub(super) struct NumberColumns {
    columns: Vec<Vec<Option<Decimal>>>,
    money: Vec<bool>,
}

impl NumberColumns {
    pub(super) fn of(rows: &[TableRow], width: usize, style: AmountStyle) -> Self {
        let mut columns = vec![Vec::with_capacity(rows.len()); width];
        let mut money = vec![false; width];
        for row in rows {
            for (at, (column, money)) in columns.iter_mut().zip(&mut money).enumerate() {
                let cell = row.cells.get(at).map_or("", String::as_str);
                let read = amount(cell, style).ok().flatten();
                *money |= read.as_ref().is_some_and(|amount| amount.money);
                column.push(read.map(|amount| amount.number));
            }
        }
        Self { columns, money }
    }

    /// Rows in which the product holds to the cent, and rows in which all three have a number.
    fn agree(&self, quantity: usize, price: usize, total: usize) -> (usize, usize) {
        let (Some(quantity), Some(price), Some(total)) = (
            self.columns.get(quantity),
            self.columns.get(price),
            self.columns.get(total),
        ) else {
            return (0, 0);
        };
        let mut agreed = 0;
        let mut full = 0;
        for ((quantity, price), total) in quantity.iter().zip(price).zip(total) {
            let (Some(quantity), Some(price), Some(total)) = (quantity, price, total) else {
                continue;
            };
            full += 1;
            let product = quantity.checked_mul(*price);
            let off = product.and_then(|product| product.checked_sub(*total));
            agreed += usize::from(off.is_some_and(|off| off.abs() <= Decimal::new(2, 2)));
        }
        (agreed, full)
    }

    fn mostly_numbers(&self, at: usize) -> bool {
        let filled = self
            .columns
            .get(at)
            .map_or(0, |column| column.iter().flatten().count());
        filled >= LEAST_ROWS
    }
}

/// Raises what arithmetic proves, doubts what it contradicts, and without a head finds the three
/// columns by it alone.
pub(super) fn check_by_arithmetic(columns: &mut Columns, numbers: &NumberColumns, has_head: bool) {
    let three = [Meaning::Quantity, Meaning::UnitPrice, Meaning::Total];
    if let [Some(quantity), Some(price), Some(total)] = three.map(|meaning| columns.index(meaning))
    {
        let (agreed, full) = numbers.agree(quantity, price, total);
        if full < LEAST_ROWS {
            return;
        }
        let proven = agreed * 10 >= full * 9;
        for at in [quantity, price, total] {
            if let Some(column) = columns.columns.get_mut(at) {
                let score = if proven { 100 } else { column.score.min(70) };
                column.rate(score);
                column.why +=
                    &format!("; quantity times price is the total in {agreed} of {full} rows");
            }
        }
        if !proven {
            columns.notes.push(format!(
                "Quantity times price is the total in {agreed} of {full} rows only: look at the three columns."
            ));
        }
        return;
    }
    if !has_head {
        find_three(columns, numbers);
    }
}

/// The three free columns of which the first two give the third in nearly every row.
fn find_three(columns: &mut Columns, numbers: &NumberColumns) {
    let free: Vec<usize> = (0..columns.columns.len())
        .filter(|at| {
            columns
                .columns
                .get(*at)
                .is_some_and(|column| column.meaning.is_none())
        })
        .filter(|at| numbers.mostly_numbers(*at))
        .take(MOST_COLUMNS)
        .collect();
    let mut best: Option<(usize, [usize; 3])> = None;
    for (index, first) in free.iter().enumerate() {
        for second in free.iter().skip(index + 1) {
            for total in free.iter().filter(|at| *at != first && *at != second) {
                let (agreed, full) = numbers.agree(*first, *second, *total);
                let good = full >= LEAST_ROWS && agreed * 10 >= full * 9;
                if good && best.is_none_or(|(most, _)| agreed > most) {
                    best = Some((agreed, [*first, *second, *total]));
                }
            }
        }
    }
    let Some((agreed, [first, second, total])) = best else {
        return;
    };
    // Money tells the price from the quantity; without a sign the left one is the quantity, unsure.
    let money = |at: usize| numbers.money.get(at).copied().unwrap_or(false);
    let (quantity, price, score) = match (money(first), money(second)) {
        (true, false) => (second, first, 75),
        (false, true) => (first, second, 75),
        _ => (first, second, 45),
    };
    for (at, meaning) in [
        (quantity, Meaning::Quantity),
        (price, Meaning::UnitPrice),
        (total, Meaning::Total),
    ] {
        if let Some(column) = columns.columns.get_mut(at) {
            column.meaning = Some(meaning);
            column.rate(score);
            column.why = format!("quantity times price is the total in {agreed} rows");
        }
    }
    if score < 50 {
        columns.notes.push(format!(
            "Columns {} and {} could be quantity and price the other way round: say which.",
            quantity + 1,
            price + 1
        ));
    }
}

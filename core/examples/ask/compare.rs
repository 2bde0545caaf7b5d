//! Reading another's scope: cells, columns, rows and sums.
//!
//! `{"about": "compare", "file": HEX, "sheet": NAME?, "mapping": {...}?, "want": WHAT}` where WHAT is
//! `table`, `columns`, `rows` or `sums`.

use chalkwalk_core::job::unhex;
use chalkwalk_core::review::compare::columns::Columns;
use chalkwalk_core::review::compare::table::read_table;
use chalkwalk_core::review::compare::{TheirScope, read_rows};
use rust_decimal::Decimal;
use serde_json::{Value, json};

pub(crate) fn answer(question: &Value) -> Result<Value, String> {
    let file = question["file"]
        .as_str()
        .and_then(unhex)
        .ok_or("file: hexadecimal digits")?;
    let words = |error: &dyn std::fmt::Display| error.to_string();
    let table = read_table(&file, question["sheet"].as_str()).map_err(|error| words(&error))?;
    let want = question["want"].as_str().unwrap_or_default();
    if want == "table" {
        return Ok(json!(table));
    }
    let mut columns = Columns::guess(&table);
    if let Some(mapping) = question.get("mapping") {
        columns = columns
            .with_mapping(&table, &mapping.to_string())
            .map_err(|error| words(&error))?;
    }
    if want == "columns" {
        return Ok(json!(columns));
    }
    let scope = read_rows(&table, &columns).map_err(|error| words(&error))?;
    match want {
        "rows" => Ok(json!(scope)),
        "sums" => sums(&scope),
        _ => Err("want: table, columns, rows or sums".to_owned()),
    }
}

/// The sums of quantities and of their money.
fn sums(scope: &TheirScope) -> Result<Value, String> {
    let add = |numbers: Vec<Decimal>| {
        let mut numbers = numbers.into_iter();
        let sum = numbers.try_fold(Decimal::ZERO, Decimal::checked_add);
        sum.ok_or("the sum is too large")
    };
    let quantities = add(scope.rows.iter().filter_map(|row| row.quantity).collect())?;
    let money = add(scope.rows.iter().filter_map(|row| row.total).collect())?;
    Ok(json!({ "quantity": quantities, "money": money }))
}

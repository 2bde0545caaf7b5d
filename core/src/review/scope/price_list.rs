//! A price list of the user's own, read from CSV with columns of any names. Prices are decimal,
//! never binary fractions.

use std::collections::BTreeMap;

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::Item;
use crate::job::{Unit, WorkAction};
use crate::limits;
use crate::sorted::Sorted;

/// Which columns mean what; names are compared without regard to capitals and outer spaces.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PriceColumns {
    /// The item in words.
    pub item: String,
    /// The unit.
    pub unit: String,
    /// The price of one unit.
    pub price: String,
    /// The work, where the list tells it apart.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub action: Option<String>,
}

/// One price.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Price {
    /// The row in the file, 1 for the first below the head.
    pub row: u32,
    /// What.
    pub item: Item,
    /// The item as the list words it.
    pub words: String,
    /// The work; `None` where the price is for any.
    pub action: Option<WorkAction>,
    /// The unit.
    pub unit: Unit,
    /// Money for one unit, from 0.
    pub price: Decimal,
}

/// A row that gives no price, and why.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SkippedPrice {
    /// The row in the file, 1 for the first below the head.
    pub row: u32,
    /// Why.
    pub reason: String,
}

/// A price list.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct PriceList {
    /// The prices, as the file has them.
    pub prices: Vec<Price>,
    /// Rows that could not be used.
    pub skipped: Vec<SkippedPrice>,
}

/// Why a price list could not be read at all.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PriceListError {
    /// The file is too large.
    #[error("the price list is larger than {limit} bytes: leave out the items you do not use")]
    TooLarge {
        /// The limit.
        limit: usize,
    },
    /// A column is not there.
    #[error("the price list has no column \"{wanted}\": its columns are {}", .found.join(", "))]
    NoColumn {
        /// The name looked for.
        wanted: String,
        /// The names in the file.
        found: Vec<String>,
    },
    /// The file is no CSV.
    #[error("row {row} of the price list is not readable as CSV: save it as CSV in UTF-8")]
    Unreadable {
        /// The row, 1 for the first below the head, 0 for the head.
        row: u32,
    },
}

/// Reads a price list. Rows that give no price are listed with the reason.
pub fn read_price_list(file: &[u8], columns: &PriceColumns) -> Result<PriceList, PriceListError> {
    if file.len() > limits::PRICE_LIST_BYTES {
        return Err(PriceListError::TooLarge {
            limit: limits::PRICE_LIST_BYTES,
        });
    }
    let file = file.strip_prefix(b"\xef\xbb\xbf").unwrap_or(file);
    let mut reader = csv::ReaderBuilder::new().flexible(true).from_reader(file);
    let head: Vec<String> = reader
        .headers()
        .map_err(|_| PriceListError::Unreadable { row: 0 })?
        .iter()
        .map(|name| name.trim().to_owned())
        .collect();
    let find = |wanted: &str| column(&head, wanted);
    let (item, unit, price) = (
        find(&columns.item)?,
        find(&columns.unit)?,
        find(&columns.price)?,
    );
    let action = columns.action.as_deref().map(find).transpose()?;
    let mut list = PriceList::default();
    for (index, record) in reader.records().enumerate() {
        let row = u32::try_from(index + 1).unwrap_or(u32::MAX);
        let record = record.map_err(|_| PriceListError::Unreadable { row })?;
        let cell = |at: usize| record.get(at).unwrap_or("").trim();
        if record.iter().all(|cell| cell.trim().is_empty()) {
            continue;
        }
        match price_of(row, cell(item), cell(unit), cell(price), action.map(cell)) {
            Ok(price) => list.prices.push(price),
            Err(reason) => list.skipped.push(SkippedPrice { row, reason }),
        }
    }
    drop_contradictions(&mut list);
    Ok(list)
}

fn column(head: &[String], wanted: &str) -> Result<usize, PriceListError> {
    let plain = wanted.trim().to_lowercase();
    head.iter()
        .position(|name| name.to_lowercase() == plain)
        .ok_or_else(|| PriceListError::NoColumn {
            wanted: wanted.to_owned(),
            found: head.to_vec(),
        })
}

fn price_of(
    row: u32,
    item: &str,
    unit: &str,
    price: &str,
    action: Option<&str>,
) -> Result<Price, String> {
    if item.is_empty() {
        return Err("the item is empty".to_owned());
    }
    let unit = unit_of(unit)
        .ok_or_else(|| format!("\"{}\" is not a unit: write EA, LF, SF or SQ", short(unit)))?;
    let price = money(price).ok_or_else(|| {
        format!(
            "\"{}\" is not a price: write 12.50 or 1,250.00",
            short(price)
        )
    })?;
    let action = match action.filter(|words| !words.is_empty()) {
        Some(words) => Some(action_of(words).ok_or_else(|| {
            format!("\"{}\" is not a kind of work: write replace, remove, install, detach and reset, repair, clean, paint, stain or inspect", short(words))
        })?),
        None => None,
    };
    Ok(Price {
        row,
        item: Item::from_words(item),
        words: item.to_owned(),
        action,
        unit,
        price,
    })
}

fn short(words: &str) -> String {
    words.chars().take(40).collect()
}

/// A unit as people write it.
pub fn unit_of(words: &str) -> Option<Unit> {
    let plain = words.trim().trim_end_matches('.').to_lowercase();
    Some(match plain.as_str() {
        "ea" | "each" | "pc" | "pcs" | "piece" | "pieces" | "unit" => Unit::Each,
        "lf" | "lnft" | "lin ft" | "linear foot" | "linear feet" | "ft" | "foot" | "feet" => {
            Unit::LinearFoot
        }
        "sf" | "sqft" | "sq ft" | "sq. ft" | "square foot" | "square feet" | "ft2" => {
            Unit::SquareFoot
        }
        "sq" | "square" | "squares" | "sqs" => Unit::Square,
        _ => return None,
    })
}

/// A kind of work as people write it.
pub fn action_of(words: &str) -> Option<WorkAction> {
    let plain = words.trim().to_lowercase();
    let known = WorkAction::ALL
        .iter()
        .find(|action| action.code() == plain || action.label() == plain);
    if let Some(action) = known {
        return Some(*action);
    }
    Some(match plain.as_str() {
        "replace" | "r&r" | "remove & replace" => WorkAction::RemoveAndReplace,
        "remove" | "tear off" | "tear-off" | "tear out" => WorkAction::RemoveOnly,
        "new" | "supply and install" => WorkAction::Install,
        "d&r" | "detach & reset" | "reset" => WorkAction::DetachAndReset,
        "comb" | "comb fins" => WorkAction::StraightenFins,
        _ => return None,
    })
}

/// Money with at most four decimals, with or without a dollar sign and commas between thousands.
fn money(text: &str) -> Option<Decimal> {
    let text = text.trim();
    let text = text.strip_prefix('$').unwrap_or(text).trim();
    let (whole, part) = text.split_once('.').unwrap_or((text, ""));
    let groups: Vec<&str> = whole.split(',').collect();
    let grouped = groups.iter().enumerate().all(|(i, group)| {
        let digits = group.bytes().all(|b| b.is_ascii_digit());
        let length = match i {
            0 if groups.len() == 1 => !group.is_empty() || !part.is_empty(),
            0 => (1..=3).contains(&group.len()),
            _ => group.len() == 3,
        };
        digits && length
    });
    let decimals = part.len() <= 4 && part.bytes().all(|b| b.is_ascii_digit());
    if !grouped || !decimals || text.ends_with('.') {
        return None;
    }
    let value: Decimal = format!("0{}.{part}0", groups.concat()).parse().ok()?;
    (value <= Decimal::from(limits::UNIT_PRICE)).then(|| value.normalize())
}

/// The same item, work and unit at different prices: none of them is used.
fn drop_contradictions(list: &mut PriceList) {
    type Same = (Item, String, Option<WorkAction>, Unit);
    let mut seen: BTreeMap<Same, Vec<(u32, Decimal)>> = BTreeMap::new();
    let key = |price: &Price| {
        let words = price.words.to_lowercase();
        (price.item.clone(), words, price.action, price.unit)
    };
    for price in &list.prices {
        seen.entry(key(price))
            .or_default()
            .push((price.row, price.price));
    }
    let mut skipped = Vec::new();
    list.prices.retain(|price| {
        let all = seen.get(&key(price)).map_or(&[][..], Vec::as_slice);
        if all.iter().all(|(_, other)| *other == price.price) {
            return true;
        }
        let rows: Vec<String> = all.iter().map(|(row, _)| row.to_string()).collect();
        skipped.push(SkippedPrice {
            row: price.row,
            reason: format!(
                "\"{}\" has different prices in rows {}",
                price.words,
                rows.join(", ")
            ),
        });
        false
    });
    list.skipped.extend(skipped);
    list.skipped.order_by_key(|skipped| skipped.row);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn columns() -> PriceColumns {
        PriceColumns {
            item: "What".into(),
            unit: "per".into(),
            price: "Our price".into(),
            action: Some("Work".into()),
        }
    }

    #[test]
    fn a_list_with_any_column_names_is_read() {
        let file = b"\xef\xbb\xbfNo,what, our price ,WORK,Per\r\n\
            1,Pipe jack,\"$1,045.10\",replace,each\r\n\
            2,Gutter,9.5,,LF\r\n\
            ,,,,\r\n\
            4,,3,,LF\r\n\
            5,Fence,3,,miles\r\n\
            6,Fence,3.,,EA\r\n\
            7,Fence,-3,,EA\r\n\
            8,Fence,3,juggle,EA\r\n\
            9,Shutter,40,,EA\r\n\
            10,shutter,41,,EA\r\n";
        let list = read_price_list(file, &columns()).unwrap();
        let read: Vec<(u32, &Item, String)> = list
            .prices
            .iter()
            .map(|price| (price.row, &price.item, price.price.to_string()))
            .collect();
        assert_eq!(
            read,
            [
                (1, &Item::PipeBoot, "1045.1".into()),
                (2, &Item::Gutter, "9.5".into())
            ]
        );
        let rows: Vec<u32> = list.skipped.iter().map(|skipped| skipped.row).collect();
        assert_eq!(rows, [4, 5, 6, 7, 8, 9, 10]);
        assert!(list.skipped[1].reason.contains("EA, LF, SF or SQ"));
    }

    #[test]
    fn a_column_that_is_not_there_is_named_with_those_that_are() {
        let error = read_price_list(b"Item,Unit\n", &columns()).unwrap_err();
        assert_eq!(
            error.to_string(),
            "the price list has no column \"What\": its columns are Item, Unit"
        );
        let binary = read_price_list(b"What,per,Our price,Work\n\xff\xfe,a,b,c\n", &columns());
        assert_eq!(binary, Err(PriceListError::Unreadable { row: 1 }));
    }

    #[test]
    fn one_past_the_limits_is_refused() {
        let large = vec![b' '; limits::PRICE_LIST_BYTES + 1];
        assert!(matches!(
            read_price_list(&large, &columns()),
            Err(PriceListError::TooLarge { .. })
        ));
        assert!(money(&limits::UNIT_PRICE.to_string()).is_some());
        assert!(money(&(limits::UNIT_PRICE + 1).to_string()).is_none());
    }

    #[test]
    fn money_is_read_to_the_last_digit_or_not_at_all() {
        for (text, value) in [
            ("0.1", "0.1"),
            ("1,234.5678", "1234.5678"),
            (".5", "0.5"),
            ("7", "7"),
        ] {
            assert_eq!(money(text).unwrap().to_string(), value, "{text}");
        }
        for text in [
            "", ".", "1.234,50", "1,23", "12,3456", "1e3", "0.12345", "$", "- 1", "NaN",
        ] {
            assert_eq!(money(text), None, "{text}");
        }
    }
}

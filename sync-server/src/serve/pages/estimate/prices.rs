//! `/prices`: the company's own price list, read from CSV with columns of any names.

use axum::Extension;
use axum::extract::multipart::MultipartRejection;
use axum::extract::{Multipart, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use chalkwalk_core::limits::PRICE_LIST_BYTES;
use chalkwalk_core::review::compare::columns::{Columns, Meaning};
use chalkwalk_core::review::compare::table::read_table;
use chalkwalk_core::review::scope::{PriceColumns, read_price_list};
use maud::{Markup, html};

use super::super::fields::{Fields, Handed};
use super::super::form::{Field, Tone, notice};
use super::super::{counted, frame, moment, store_unwell, to};
use super::reckoned::{PriceHead, Prices, SetBy, aside, prices_of};
use crate::limits;
use crate::papers::{Paper, mark};
use crate::serve::Shared;
use crate::serve::guard::SignedIn;
use crate::store::{Actor, DeedKind, StoreError};

/// The columns of a price list: field of the form, label, hint.
const COLUMNS: [(&str, &str, &str); 4] = [
    (
        "item",
        "Column of the item",
        "Left open, the columns are recognised by their heads.",
    ),
    (
        "unit",
        "Column of the unit",
        "EA, LF, SF or SQ stand in it.",
    ),
    ("price", "Column of the price of one unit", ""),
    (
        "work",
        "Column of the work",
        "Only where prices differ by it, such as remove and install.",
    ),
];

/// `GET /prices`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
) -> Response {
    shown(&shared, &who, StatusCode::OK, &Fields::default(), &html! {}).await
}

async fn shown(
    shared: &Shared,
    who: &SignedIn,
    code: StatusCode,
    typed: &Fields,
    above: &Markup,
) -> Response {
    let bytes = match shared.papers.read(Paper::Prices).await {
        Ok(bytes) => bytes,
        Err(error) => return store_unwell(shared, &error),
    };
    let prices = bytes.as_deref().and_then(prices_of);
    let was = match code {
        StatusCode::UNPROCESSABLE_ENTITY if typed.ticked("was") => typed.get("was").to_owned(),
        _ => mark(bytes.as_deref()),
    };
    let body = body(shared, &was, prices.as_ref(), typed, above);
    (code, frame(shared, Some(&who.person), "Price list", &body)).into_response()
}

fn body(
    shared: &Shared,
    mark: &str,
    prices: Option<&Prices>,
    typed: &Fields,
    above: &Markup,
) -> Markup {
    html! {
        header { h1 { "Price list" } p.under {
            "The company's own prices. Scopes show money where a line finds its item, work and unit here."
        } }
        (above)
        form.card.narrow method="post" action={ (shared.base) "/prices" } enctype="multipart/form-data" {
            h2 { @if prices.is_some() { "Put another list in its place" } @else { "Hand in a list" } }
            input type="hidden" name="was" value=(mark);
            div.field {
                label for="file" { "Price list as CSV" }
                p.hint id="file-hint" { "One row an item. At most " (PRICE_LIST_BYTES >> 20) " MB." }
                input id="file" name="file" type="file" accept=".csv,text/csv" required aria-describedby="file-hint";
            }
            details open[COLUMNS.iter().any(|(name, ..)| typed.ticked(name))] {
                summary { "Names of its columns" }
                @for (name, label, hint) in COLUMNS {
                    (Field { name, label, hint, value: typed.get(name), most: Some(limits::NAME_BYTES), ..Field::default() }.line("text"))
                }
            }
            button.main { "Put it in place" }
        }
        @match prices {
            Some(prices) => (listed(prices)),
            None => p.soft { "No list is here yet, so scopes show no money." },
        }
    }
}

fn listed(prices: &Prices) -> Markup {
    let (head, list) = (&prices.head, &prices.list);
    html! {
        h2 { "What stands" }
        p.under {
            (head.file) " · " (counted(list.prices.len() as u64, "price", "prices"))
            " · put in place by " (head.set.by) ", " (moment(head.set.at))
        }
        @if !list.skipped.is_empty() {
            (notice(Tone::Warn, &html! {
                p { (counted(list.skipped.len() as u64, "row gives", "rows give")) " no price:" }
                ul { @for row in &list.skipped { li { "row " (row.row) ": " (row.reason) } } }
            }))
        }
        div.sheet { table.stack {
            thead { tr {
                th scope="col" { "Item in the list" } th scope="col" { "Taken for" } th scope="col" { "Work" }
                th scope="col" { "Unit" } th.count scope="col" { "Price" }
            } }
            tbody { @for price in &list.prices { tr {
                th scope="row" { (price.words) }
                td data-label="Taken for" { @if price.item.code().is_some() { (price.item.label()) } @else { span.soft { "its own words" } } }
                td data-label="Work" { @match price.action { Some(action) => (action.label()), None => span.soft { "any" } } }
                td data-label="Unit" { (price.unit.label()) }
                td.count data-label="Price" { (price.price) }
            } } }
        } }
    }
}

/// `POST /prices`.
pub(in crate::serve) async fn post(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    form: Result<Multipart, MultipartRejection>,
) -> Response {
    let refused = |words: &str| {
        notice(
            Tone::Bad,
            &html! { p { strong { "The list was not put in place. " } (words) } },
        )
    };
    let bad = StatusCode::UNPROCESSABLE_ENTITY;
    let handed = match form {
        Ok(form) => Handed::read(form).await,
        Err(_) => Err("Choose a file.".to_owned()),
    };
    let handed = match handed {
        Ok(handed) => handed,
        Err(words) => return shown(&shared, &who, bad, &Fields::default(), &refused(&words)).await,
    };
    let (fields, was) = (handed.fields.clone(), handed.fields.get("was").to_owned());
    let set = SetBy {
        by: who.person.name.clone(),
        at: shared.hub.now(),
    };
    let paper = match aside(&shared, move || paper_of(&handed, set)).await {
        Ok(paper) => paper,
        Err(response) => return response,
    };
    let done = match paper {
        Ok(paper) => {
            let put = shared.papers.replace(Paper::Prices, &was, &paper).await;
            put.map_err(Trouble::Store)
        }
        Err(trouble) => Err(trouble),
    };
    match done {
        Ok(true) => {
            let actor = Actor::Person(who.person.id);
            match shared.note(actor, DeedKind::PricesKept, None, "").await {
                Ok(()) => to(&shared, "/prices"),
                Err(error) => store_unwell(&shared, &error),
            }
        }
        Ok(false) => {
            let words = "Somebody else put another list in place meanwhile: it stands below. Send \
                         yours again if it should replace that one.";
            shown(
                &shared,
                &who,
                StatusCode::CONFLICT,
                &fields,
                &refused(words),
            )
            .await
        }
        Err(Trouble::File(words)) => shown(&shared, &who, bad, &fields, &refused(&words)).await,
        Err(Trouble::Store(error)) => store_unwell(&shared, &error),
    }
}

enum Trouble {
    File(String),
    Store(StoreError),
}

/// The paper that is kept of a file.
fn paper_of(handed: &Handed, set: SetBy) -> Result<Vec<u8>, Trouble> {
    let columns = columns(&handed.fields, &handed.bytes)?;
    let list = read_price_list(&handed.bytes, &columns)
        .map_err(|error| Trouble::File(sentence(&error.to_string())))?;
    if list.prices.is_empty() {
        let first = list.skipped.first().map_or_else(String::new, |row| {
            format!(" Row {}: {}.", row.row, row.reason)
        });
        return Err(Trouble::File(format!(
            "No row of the file gives a price.{first}"
        )));
    }
    let head = PriceHead {
        set,
        file: handed.name.clone(),
        columns,
    };
    let mut paper = serde_json::to_vec(&head).unwrap_or_default();
    paper.push(b'\n');
    paper.extend_from_slice(&handed.bytes);
    Ok(paper)
}

/// The columns as a person names them, and else as their heads tell.
fn columns(said: &Fields, bytes: &[u8]) -> Result<PriceColumns, Trouble> {
    if bytes.starts_with(b"PK\x03\x04") {
        let words = "A price list is read from CSV: save the sheet as CSV in UTF-8.";
        return Err(Trouble::File(words.to_owned()));
    }
    let table =
        read_table(bytes, None).map_err(|error| Trouble::File(sentence(&error.to_string())))?;
    let guess = Columns::guess(&table);
    let titled = |meaning| {
        let at = guess.index(meaning)?;
        let title = guess.columns.get(at)?.title.trim().to_owned();
        (!title.is_empty()).then_some(title)
    };
    let titles: Vec<&str> = guess
        .columns
        .iter()
        .map(|column| column.title.as_str())
        .collect();
    let named = |name: &str, meaning, what: &str| {
        let said = said.get(name);
        if !said.is_empty() {
            return Ok(said.to_owned());
        }
        titled(meaning).ok_or_else(|| {
            let words = format!(
                "Its column of the {what} is not recognised: name it below. Its columns are {}.",
                titles.join(", ")
            );
            Trouble::File(words)
        })
    };
    Ok(PriceColumns {
        item: named("item", Meaning::Item, "item")?,
        unit: named("unit", Meaning::Unit, "unit")?,
        price: named("price", Meaning::UnitPrice, "price")?,
        action: match said.get("work") {
            "" => titled(Meaning::Action),
            work => Some(work.to_owned()),
        },
    })
}

/// An error's words as a sentence of a page.
fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    let first = letters.next().map(|first| first.to_uppercase().to_string());
    format!("{}{}.", first.unwrap_or_default(), letters.as_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn handed(bytes: &[u8]) -> Handed {
        Handed {
            name: "ours.csv".to_owned(),
            bytes: bytes.to_vec(),
            ..Handed::default()
        }
    }

    fn kept(handed: &Handed) -> Result<Prices, String> {
        match paper_of(handed, SetBy::default()) {
            Ok(paper) => Ok(prices_of(&paper).unwrap()),
            Err(Trouble::File(words)) => Err(words),
            Err(Trouble::Store(error)) => Err(error.to_string()),
        }
    }

    #[test]
    fn columns_are_recognised_or_named() {
        let file = b"Description,UOM,Unit price\nGutter,LF,9.50\nPipe boot,EA,45\n";
        let prices = kept(&handed(file)).unwrap();
        assert_eq!(prices.list.prices.len(), 2);
        let odd = b"Thing,Per,Dollars\nGutter,LF,9.50\nPipe boot,EA,45\n";
        let mut named = handed(odd);
        for (name, column) in [("item", "thing"), ("unit", "Per"), ("price", "Dollars")] {
            named.fields = named.fields.with(name, column);
        }
        assert_eq!(kept(&named).unwrap().list.prices.len(), 2);
    }

    #[test]
    fn wrong_files_get_plain_words() {
        for (file, words) in [
            (&b""[..], "empty"),
            (b"PK\x03\x04rest", "as CSV"),
            (b"%PDF-1.7", "PDF"),
            (b"a,b\n1,2\n", "not recognised"),
            (b"item,unit,price\nGutter,LF,many\n", "No row"),
        ] {
            let said = kept(&handed(file)).unwrap_err();
            assert!(said.contains(words), "{said}");
        }
    }
}

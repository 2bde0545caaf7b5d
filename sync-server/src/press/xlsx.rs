//! A report as a spreadsheet (ISO/IEC 29500): a sheet for each table, with real numbers, days and
//! moments, frozen heads, filters, totals as formulas, and set up to be printed.
//!
//! The first row of a sheet holds the columns' names as CSV and JSON have them and is hidden, so
//! that `chalkwalk verify` can hold the sheet against the report.

use chalkwalk_core::packet::PaperSize;
use chalkwalk_core::packet::report::{Cell, CellKind, Column, FullReport, Table};
use chrono::DateTime;
use rust_xlsxwriter::{
    Color, DocProperties, ExcelDateTime, Format, FormatAlign, FormatBorder, Formula, Workbook,
    Worksheet, XlsxError,
};

/// The row of names, the row of heads, and the first row of cells.
const NAMES: u32 = 0;
const HEADS: u32 = 1;
const FIRST: u32 = 2;
/// Columns that a sum makes sense of, apart from those whose units differ from row to row.
const SUMMED: &[&str] = &[
    "damaged",
    "prior",
    "unsure",
    "cleared",
    "hits",
    "units",
    "units_total",
    "lines",
    "without_quantity",
    "our_money",
    "their_money",
    "bytes",
];
/// Longest text of a cell, letters (ISO/IEC 29500-1, 18.3.1.96, as spreadsheets limit it).
const LETTERS: usize = 32_767;
/// The codes of US Letter and A4 (ISO/IEC 29500-1, 18.3.1.63).
const fn paper_code(paper: PaperSize) -> u8 {
    match paper {
        PaperSize::Letter => 1,
        PaperSize::A4 => 9,
    }
}

/// The report as the bytes of a spreadsheet. The same report gives the same bytes.
///
/// # Errors
/// Where a sheet cannot be written.
pub fn workbook(report: &FullReport, paper: PaperSize) -> Result<Vec<u8>, XlsxError> {
    let head = &report.head;
    let mut book = Workbook::new();
    let mut about = DocProperties::new()
        .set_title(head.title)
        .set_subject(&head.address)
        .set_company(&head.company)
        .set_comment(head.statement);
    if let Some(at) = moment(head.made_at.0) {
        about = about.set_creation_datetime(&at);
    }
    book.set_properties(&about);
    let tables = report.tables();
    let looks = Looks::new();
    for table in &tables {
        let sheet = book.add_worksheet();
        sheet.set_name(sheet_name(table.key))?;
        sheet_of(sheet, table, &looks)?;
        set_up(sheet, table, report)?;
        sheet.set_paper_size(paper_code(paper));
    }
    if let Some(totals) = tables.iter().find(|table| table.key == "scope_totals") {
        let scope = tables.iter().find(|table| table.key == "scope");
        if let Some(scope) = scope {
            let sheet = book.worksheet_from_name(&sheet_name(totals.key))?;
            total_formulas(sheet, totals, scope, &looks)?;
        }
    }
    book.save_to_buffer()
}

/// `Test squares` for `test_squares`.
fn sheet_name(key: &str) -> String {
    let mut letters = key.chars();
    let first = letters.next().map(|first| first.to_ascii_uppercase());
    let name: String = first.into_iter().chain(letters).collect();
    name.replace('_', " ")
}

struct Looks {
    head: Format,
    text: Format,
    count: Format,
    number: Format,
    day: Format,
    moment: Format,
    sum: Format,
}

impl Looks {
    fn new() -> Self {
        let plain = || Format::new().set_align(FormatAlign::Top);
        Self {
            head: Format::new()
                .set_bold()
                .set_text_wrap()
                .set_align(FormatAlign::VerticalCenter)
                .set_background_color(Color::RGB(0x002E_3B46))
                .set_font_color(Color::White),
            text: plain().set_text_wrap(),
            count: plain().set_num_format("0"),
            number: plain().set_num_format("#,##0.00##"),
            day: plain().set_num_format("yyyy-mm-dd"),
            moment: plain().set_num_format("yyyy-mm-dd hh:mm:ss"),
            sum: Format::new()
                .set_bold()
                .set_border_top(FormatBorder::Thin)
                .set_num_format("#,##0.##"),
        }
    }
}

fn sheet_of(sheet: &mut Worksheet, table: &Table, looks: &Looks) -> Result<(), XlsxError> {
    for (at, column) in (0u16..).zip(&table.columns) {
        sheet.write_string(NAMES, at, column.key)?;
        sheet.write_string_with_format(HEADS, at, column.title, &looks.head)?;
        sheet.set_column_width(at, width(column, table, usize::from(at)))?;
    }
    sheet.set_row_hidden(NAMES)?;
    for (row, cells) in (FIRST..).zip(&table.rows) {
        for (at, cell) in (0u16..).zip(cells) {
            put(sheet, row, at, cell, looks)?;
        }
    }
    sums(sheet, table, looks)
}

fn put(
    sheet: &mut Worksheet,
    row: u32,
    at: u16,
    cell: &Cell,
    looks: &Looks,
) -> Result<(), XlsxError> {
    let words = |text: &str| text.chars().take(LETTERS).collect::<String>();
    match cell {
        Cell::Empty => {}
        Cell::Count(count) => {
            // Whole numbers up to 2^53 are exact in a spreadsheet; no count comes near.
            #[expect(clippy::cast_precision_loss, reason = "see above")]
            let number = *count as f64;
            sheet.write_number_with_format(row, at, number, &looks.count)?;
        }
        Cell::Number(number) => {
            sheet.write_number_with_format(row, at, *number, &looks.number)?;
        }
        Cell::Day(day) => {
            let text = day.to_string();
            match ExcelDateTime::parse_from_str(&text) {
                Ok(day) => sheet.write_datetime_with_format(row, at, &day, &looks.day)?,
                Err(_) => sheet.write_string_with_format(row, at, text, &looks.text)?,
            };
        }
        Cell::Moment(millis) => {
            match moment(*millis) {
                Some(at_time) => {
                    sheet.write_datetime_with_format(row, at, &at_time, &looks.moment)?
                }
                None => sheet.write_string_with_format(row, at, cell.words(), &looks.text)?,
            };
        }
        Cell::Text(_) | Cell::Flag(_) | Cell::List(_) => {
            let text = words(&cell.words());
            if !text.is_empty() {
                sheet.write_string_with_format(row, at, text, &looks.text)?;
            }
        }
    }
    Ok(())
}

/// A moment to the second; `None` before 1900 and after 9999, which no spreadsheet names.
fn moment(millis: i64) -> Option<ExcelDateTime> {
    let text = DateTime::from_timestamp_millis(millis)?;
    ExcelDateTime::parse_from_str(&text.format("%Y-%m-%dT%H:%M:%S").to_string()).ok()
}

/// A line of sums below the rows, where a column has numbers of one unit.
fn sums(sheet: &mut Worksheet, table: &Table, looks: &Looks) -> Result<(), XlsxError> {
    let Some(below) = end(table) else {
        return Ok(());
    };
    let mut any = false;
    for (at, column) in (0u16..).zip(&table.columns) {
        let lengths = column.key.ends_with("_ft") || column.key.ends_with("_sqft");
        let numbers = matches!(column.kind, CellKind::Count | CellKind::Number);
        let summed = SUMMED.contains(&column.key) || (lengths && table.key == "findings");
        let known = cells(table, usize::from(at)).any(|cell| *cell != Cell::Empty);
        if !(numbers && summed && known) {
            continue;
        }
        let letter = letters(at);
        let sum: f64 = cells(table, usize::from(at)).filter_map(number).sum();
        // SUBTOTAL follows the filter; 109 leaves hidden rows out.
        let formula = Formula::new(format!(
            "=SUBTOTAL(109,{letter}{}:{letter}{})",
            FIRST + 1,
            below
        ));
        let formula = formula.set_result(sum.to_string());
        sheet.write_formula_with_format(below + 1, at, formula, &looks.sum)?;
        any = true;
    }
    if any && !summed_first(table) {
        sheet.write_string_with_format(below + 1, 0, "Sum of what is shown", &looks.sum)?;
    }
    Ok(())
}

fn summed_first(table: &Table) -> bool {
    table
        .columns
        .first()
        .is_some_and(|column| SUMMED.contains(&column.key))
}

/// The sums of the scope as formulas over its sheet.
fn total_formulas(
    sheet: &mut Worksheet,
    totals: &Table,
    scope: &Table,
    looks: &Looks,
) -> Result<(), XlsxError> {
    let column = |table: &Table, key: &str| {
        let at = table.columns.iter().position(|column| column.key == key)?;
        u16::try_from(at).ok()
    };
    let Some(last) = end(scope) else {
        return Ok(());
    };
    let range = |key: &str| {
        column(scope, key).map(|at| {
            let letter = letters(at);
            format!("Scope!${letter}${}:${letter}${last}", FIRST + 1)
        })
    };
    let ranges = (
        range("quantity"),
        range("item_code"),
        range("work"),
        range("unit"),
    );
    let (Some(quantity), Some(line), Some(work), Some(unit)) = ranges else {
        return Ok(());
    };
    let places = (
        column(totals, "quantity"),
        column(totals, "item_code"),
        column(totals, "work"),
        column(totals, "unit"),
    );
    let (Some(at), Some(of_key), Some(of_work), Some(of_unit)) = places else {
        return Ok(());
    };
    let left_out =
        range("left_out").map_or_else(String::new, |out| format!(",{out},\"<>left out\""));
    for (row, cells) in (FIRST..).zip(&totals.rows) {
        let Some(sum) = cells.get(usize::from(at)).and_then(number) else {
            continue;
        };
        let here = |column: u16| format!("${}{}", letters(column), row + 1);
        let formula = Formula::new(format!(
            "=ROUND(SUMIFS({quantity},{line},{},{work},{},{unit},{}{left_out}),2)",
            here(of_key),
            here(of_work),
            here(of_unit),
        ));
        let formula = formula.set_result(sum.to_string());
        sheet.write_formula_with_format(row, at, formula, &looks.number)?;
    }
    Ok(())
}

fn cells(table: &Table, at: usize) -> impl Iterator<Item = &Cell> {
    table.rows.iter().filter_map(move |row| row.get(at))
}

#[expect(clippy::cast_precision_loss, reason = "no count comes near 2^53")]
fn number(cell: &Cell) -> Option<f64> {
    match cell {
        Cell::Number(number) => Some(*number),
        Cell::Count(count) => Some(*count as f64),
        _ => None,
    }
}

/// The number of the last row as a spreadsheet counts, from 1; `None` for a table without rows.
fn end(table: &Table) -> Option<u32> {
    let rows = u32::try_from(table.rows.len()).ok()?;
    (rows > 0).then(|| FIRST + rows)
}

/// `A`, `Z`, `AA`.
fn letters(column: u16) -> String {
    let mut left = u32::from(column) + 1;
    let mut name = Vec::new();
    while left > 0 {
        let letter = u8::try_from((left - 1) % 26).unwrap_or_default();
        name.push(char::from(b'A' + letter));
        left = (left - 1) / 26;
    }
    name.iter().rev().collect()
}

/// Wide enough for what stands there, within reason.
fn width(column: &Column, table: &Table, at: usize) -> f64 {
    let longest = cells(table, at)
        .map(|cell| cell.words().chars().count())
        .max();
    let most = match column.kind {
        CellKind::Text | CellKind::List => 48,
        _ => 20,
    };
    let chars = longest
        .unwrap_or(0)
        .max(column.title.chars().count().min(14))
        .clamp(6, most);
    f64::from(u32::try_from(chars).unwrap_or(20)) + 2.0
}

/// Heads stay in sight and are repeated on paper; the foot names the house and the page.
fn set_up(sheet: &mut Worksheet, table: &Table, report: &FullReport) -> Result<(), XlsxError> {
    let head = &report.head;
    sheet.set_freeze_panes(FIRST, 1)?;
    let columns = u16::try_from(table.columns.len().saturating_sub(1)).unwrap_or_default();
    let last = end(table).map_or(HEADS, |end| end - 1);
    sheet.autofilter(HEADS, 0, last, columns)?;
    sheet.set_repeat_rows(HEADS, HEADS)?;
    sheet.set_landscape();
    sheet.set_print_fit_to_pages(1, 0);
    // An ampersand begins a code in heads and feet.
    let plain = |text: &str| {
        text.replace('&', "&&")
            .chars()
            .take(100)
            .collect::<String>()
    };
    sheet.set_header(format!(
        "&L{}&R{}",
        plain(&head.address),
        plain(table.title)
    ));
    sheet.set_footer(format!("&L{}&RPage &P of &N", plain(&head.company)));
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_are_named_as_spreadsheets_do() {
        for (column, name) in [
            (0, "A"),
            (25, "Z"),
            (26, "AA"),
            (51, "AZ"),
            (701, "ZZ"),
            (702, "AAA"),
        ] {
            assert_eq!(letters(column), name);
        }
        assert_eq!(sheet_name("test_squares"), "Test squares");
    }
}

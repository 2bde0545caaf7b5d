use proptest::prelude::*;

use super::*;

fn read(text: &str) -> Table {
    read_table(text.as_bytes(), None).unwrap()
}

fn cells(table: &Table) -> Vec<Vec<&str>> {
    let rows = table.rows.iter();
    rows.map(|row| row.cells.iter().map(String::as_str).collect())
        .collect()
}

fn lines(table: &Table) -> Vec<u32> {
    table.rows.iter().map(|row| row.line).collect()
}

// RFC 4180, section 2, rules 5 to 7: quoted cells, line ends inside them, doubled quotes.
#[test]
fn quoted_cells_are_read_as_the_standard_says() {
    let table = read("Item,Quantity\r\n\"Gutter, 5\"\"\",24\r\n\"two\r\nlines\",1\r\n");
    assert_eq!(
        cells(&table),
        [
            vec!["Item", "Quantity"],
            vec!["Gutter, 5\"", "24"],
            vec!["two\r\nlines", "1"]
        ]
    );
    assert_eq!(lines(&table), [1, 2, 3]);
}

#[test]
fn lines_are_those_of_the_file_with_blank_ones_counted() {
    let table = read("\n\nItem,Quantity\n\n,,\n\"a\nb\",1\n\nc,2\n");
    assert_eq!(lines(&table), [3, 6, 9]);
    let old = read("Item,Quantity\r\ra,1\r");
    assert_eq!(lines(&old), [1, 3]);
}

#[test]
fn every_delimiter_is_found() {
    for (delimiter, words) in [
        (',', "commas"),
        (';', "semicolons"),
        ('\t', "tabs"),
        ('|', "upright strokes"),
    ] {
        let d = delimiter;
        // Titles and remarks with other delimiters must not win.
        let text = format!(
            "Estimate, of a house; all of it\nItem{d}Quantity{d}Unit{d}Remarks\nGutter{d}24{d}LF{d}\"front, left; both\"\nScreen{d}2{d}EA{d}\n"
        );
        let table = read(&text);
        assert!(table.read_as.ends_with(words), "{}", table.read_as);
        assert_eq!(table.rows[1].cells.len(), 4);
    }
    let stated = read("sep=;\nItem;Quantity\na,b;1\n");
    assert_eq!(cells(&stated)[1], ["a,b", "1"]);
    assert_eq!(lines(&stated), [2, 3]);
}

// The byte values are those of the WHATWG Encoding Standard's index of windows-1252.
#[test]
fn encodings_are_told_apart() {
    let marked = read_table(b"\xEF\xBB\xBFItem,Quantity\n\xC2\xBD,1\n", None).unwrap();
    assert_eq!(cells(&marked)[0], ["Item", "Quantity"]);
    assert!(marked.read_as.starts_with("UTF-8"));
    let old = read_table(b"Item,Quantity\nGutter 5\x94 \x96 \xBD,1\n", None).unwrap();
    assert_eq!(cells(&old)[1][0], "Gutter 5\u{201D} \u{2013} \u{BD}");
    assert!(old.read_as.starts_with("windows-1252"));
    let wide: Vec<u8> = b"\xFF\xFE"
        .iter()
        .copied()
        .chain(
            "Item\tQuantity\nx\t1\n"
                .encode_utf16()
                .flat_map(u16::to_le_bytes),
        )
        .collect();
    assert_eq!(cells(&read_table(&wide, None).unwrap())[1], ["x", "1"]);
}

#[test]
fn other_files_are_refused_with_a_word() {
    for (bytes, word) in [
        (&b""[..], "empty"),
        (b"\n\n,,\n", "empty"),
        (b"%PDF-1.7", "a PDF"),
        (b"\xD0\xCF\x11\xE0", "old spreadsheet"),
        (b"a\0b", "not a text table"),
        (b"PK\x03\x04rubbish", "cannot be read"),
    ] {
        let error = read_table(bytes, None).unwrap_err().to_string();
        assert!(error.contains(word), "{error}");
    }
}

#[test]
fn an_open_quote_is_reported_and_the_rows_before_it_are_kept() {
    let mut text = "Item,Quantity\nGutter,1\n\"Screen,2\n".to_owned();
    for row in 0..20 {
        text += &format!("row {row},1\n");
    }
    let table = read(&text);
    assert_eq!(table.rows.len(), 2);
    assert_eq!(table.broken[0].line, 3);
    assert!(table.broken[0].reason.contains("quote"));
}

mod limits {
    use super::*;

    #[test]
    fn bytes() {
        let mut file = b"Item,Quantity\n".to_vec();
        file.resize(SCOPE_FILE_BYTES, b'\n');
        assert!(read_table(&file, None).is_ok());
        file.push(b'\n');
        assert!(matches!(
            read_table(&file, None),
            Err(ReadError::TooLarge { .. })
        ));
    }

    #[test]
    fn rows() {
        let file = "a,b\n".repeat(SCOPE_ROWS);
        assert_eq!(read(&file).rows.len(), SCOPE_ROWS);
        let one_more = read_table((file + "a,b\n").as_bytes(), None);
        assert!(matches!(one_more, Err(ReadError::TooLarge { .. })));
    }

    #[test]
    fn columns() {
        let row = vec!["a"; SCOPE_COLUMNS].join(",");
        assert!(read(&row).broken.is_empty());
        let table = read(&format!("{row},a\nb,c\n"));
        assert_eq!((table.rows.len(), table.broken.len()), (1, 1));
    }

    #[test]
    fn filled_cells() {
        let row = format!("{}\n", vec!["a"; 100].join(","));
        let file = row.repeat(SCOPE_CELLS / 100);
        assert!(read_table(file.as_bytes(), None).is_ok());
        let one_more = read_table((file + "a\n").as_bytes(), None);
        assert!(matches!(one_more, Err(ReadError::TooLarge { .. })));
    }

    #[test]
    fn bytes_of_a_cell() {
        let cell = "a".repeat(SCOPE_CELL_BYTES);
        assert!(read(&format!("{cell},b\n")).broken.is_empty());
        assert_eq!(read(&format!("{cell}a,b\n")).broken.len(), 1);
    }
}

/// A good file that is spoiled in every way below.
const GOOD: &str = "Estimate of an invented house\n\nItem;Where;Qty;Unit;Price\n\"Gutter; 5\"\"\";Front;24,5;LF;\"1.234,50\"\nShingles;Roof;13.42 SQ;;(20)\nTotal;;;;99\n";

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn any_bytes_are_read_or_refused(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        let first = read_table(&bytes, None);
        prop_assert_eq!(first, read_table(&bytes, None));
    }

    #[test]
    fn any_text_is_read_or_refused(text in "[a-z0-9,;\t|\"'$()\\.\r\n -]{0,300}") {
        let _ = read_table(text.as_bytes(), None);
    }

    #[test]
    fn any_cell_is_a_number_or_not(cell in "[0-9,\\.$() -]{0,12}[a-z]{0,3}") {
        for style in [AmountStyle::Point, AmountStyle::Comma] {
            let _ = amount(&cell, style);
        }
    }
}

// A few thousand spoiled files, from a fixed seed.
#[test]
fn a_spoiled_file_is_read_or_refused() {
    let mut dice = Dice(7);
    for _ in 0..4000 {
        let mut file = GOOD.as_bytes().to_vec();
        for _ in 0..=dice.below(6) {
            spoil(&mut file, &mut dice);
        }
        let Ok(table) = read_table(&file, None) else {
            continue;
        };
        let columns = crate::review::compare::columns::Columns::guess(&table);
        if let Ok(scope) = crate::review::compare::read_rows(&table, &columns) {
            let told = scope.rows.len() + scope.skipped.len() + scope.broken.len();
            assert_eq!(told, table.rows.len() + table.broken.len());
        }
    }
}

fn spoil(file: &mut Vec<u8>, dice: &mut Dice) {
    if file.is_empty() {
        return;
    }
    let at = dice.below(file.len());
    match dice.below(5) {
        0 => file[at] = dice.below(256) as u8,
        1 => {
            file.remove(at);
        }
        2 => file.insert(at, b",;\"\n\r\t\0(-."[dice.below(10)]),
        3 => file.truncate(at),
        _ => {
            let end = (at + dice.below(40)).min(file.len());
            let copy = file[at..end].to_vec();
            file.splice(at..at, copy);
        }
    }
}

/// Numbers that look random and are always the same (Knuth's multiplier of a 64-bit generator).
struct Dice(u64);

impl Dice {
    fn below(&mut self, end: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % end.max(1)
    }
}

#[cfg(feature = "xlsx")]
mod spreadsheets {
    use std::io::Write;

    use super::*;

    /// A spreadsheet of one sheet, or of these parts.
    fn book(sheet: &str) -> Vec<u8> {
        parts(&[("xl/worksheets/sheet1.xml", sheet.as_bytes())])
    }

    fn parts(more: &[(&str, &[u8])]) -> Vec<u8> {
        parts_of_sheets(&["Scope".to_owned()], more)
    }

    fn parts_of_sheets(sheets: &[String], more: &[(&str, &[u8])]) -> Vec<u8> {
        let types = r#"<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="xml" ContentType="application/xml"/><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/></Types>"#;
        let rels = r#"<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>"#;
        let sheets: String = sheets
            .iter()
            .enumerate()
            .map(|(at, name)| format!(r#"<sheet name="{name}" sheetId="{}" r:id="rId1"/>"#, at + 1))
            .collect();
        let workbook = format!(
            r#"<?xml version="1.0"?><workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets>{sheets}</sheets></workbook>"#
        );
        let book_rels = r#"<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/></Relationships>"#;
        let mut zip = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
        let options = zip::write::SimpleFileOptions::default();
        let fixed = [
            ("[Content_Types].xml", types.as_bytes()),
            ("_rels/.rels", rels.as_bytes()),
            ("xl/workbook.xml", workbook.as_bytes()),
            ("xl/_rels/workbook.xml.rels", book_rels.as_bytes()),
        ];
        for (name, data) in fixed.iter().chain(more) {
            zip.start_file(*name, options).unwrap();
            zip.write_all(data).unwrap();
        }
        zip.finish().unwrap().into_inner()
    }

    fn sheet(cells: &str) -> String {
        format!(
            r#"<?xml version="1.0"?><worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>{cells}</sheetData></worksheet>"#
        )
    }

    const TWO: &str = r#"<row r="3"><c r="A3" t="inlineStr"><is><t>Item</t></is></c><c r="C3" t="inlineStr"><is><t>Quantity</t></is></c></row><row r="9"><c r="A9" t="inlineStr"><is><t>Gutter</t></is></c><c r="C9"><v>13.42</v></c></row>"#;

    #[test]
    fn cells_and_rows_keep_their_places() {
        let table = read_table(&book(&sheet(TWO)), None).unwrap();
        assert_eq!(
            cells(&table),
            [["Item", "", "Quantity"], ["Gutter", "", "13.42"]]
        );
        assert_eq!(lines(&table), [3, 9]);
        assert_eq!(table.sheets, ["Scope"]);
        let error = read_table(&book(&sheet(TWO)), Some("Other")).unwrap_err();
        assert_eq!(
            error.to_string(),
            "there is no sheet \"Other\": its sheets are Scope"
        );
    }

    #[test]
    fn a_cell_in_the_farthest_corner_takes_no_memory() {
        let far = r#"<row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c r="XFD1048576"><v>2</v></c></row>"#;
        let table = read_table(&book(&sheet(far)), None).unwrap();
        assert_eq!((table.rows.len(), table.broken.len()), (1, 1));
        assert_eq!(table.broken[0].line, 1_048_576);
    }

    #[test]
    fn a_bomb_is_refused_before_it_is_read() {
        let much = vec![b' '; usize::try_from(SCOPE_INFLATED_BYTES).unwrap()];
        let file = parts(&[
            ("xl/worksheets/sheet1.xml", sheet(TWO).as_bytes()),
            ("xl/more.xml", &much),
        ]);
        assert!(file.len() < SCOPE_FILE_BYTES / 8);
        assert!(matches!(
            read_table(&file, None),
            Err(ReadError::TooLarge { .. })
        ));
        // Just inside of the limit it is read.
        let file = parts(&[
            ("xl/worksheets/sheet1.xml", sheet(TWO).as_bytes()),
            ("xl/more.xml", &much[8192..]),
        ]);
        assert_eq!(read_table(&file, None).unwrap().rows.len(), 2);
    }

    #[test]
    fn parts_and_sheets_have_limits() {
        let names: Vec<String> = (0..SCOPE_PARTS).map(|part| format!("xl/p{part}")).collect();
        let many: Vec<(&str, &[u8])> = names.iter().map(|name| (name.as_str(), &b""[..])).collect();
        assert!(matches!(
            read_table(&parts(&many), None),
            Err(ReadError::TooLarge { .. })
        ));

        let xml = sheet(TWO);
        let sheets = |count: usize| {
            let names: Vec<String> = (0..count).map(|sheet| format!("s{sheet}")).collect();
            parts_of_sheets(&names, &[("xl/worksheets/sheet1.xml", xml.as_bytes())])
        };
        assert_eq!(
            read_table(&sheets(SCOPE_SHEETS), None)
                .unwrap()
                .sheets
                .len(),
            SCOPE_SHEETS
        );
        let one_more = read_table(&sheets(SCOPE_SHEETS + 1), None);
        assert!(matches!(one_more, Err(ReadError::TooLarge { .. })));
    }

    #[test]
    fn a_spoiled_spreadsheet_is_read_or_refused() {
        let mut dice = Dice(11);
        for _ in 0..1500 {
            let mut xml = sheet(TWO).into_bytes();
            for _ in 0..=dice.below(5) {
                spoil(&mut xml, &mut dice);
            }
            let _ = read_table(&parts(&[("xl/worksheets/sheet1.xml", &xml)]), None);
            let mut file = book(&sheet(TWO));
            for _ in 0..=dice.below(3) {
                spoil(&mut file, &mut dice);
            }
            let _ = read_table(&file, None);
        }
    }
}

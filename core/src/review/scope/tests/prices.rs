use super::*;

const COLUMNS: [&str; 4] = ["Item", "Unit", "Price", "Work"];

fn list(rows: &str) -> PriceList {
    let columns = PriceColumns {
        item: COLUMNS[0].into(),
        unit: COLUMNS[1].into(),
        price: COLUMNS[2].into(),
        action: Some(COLUMNS[3].into()),
    };
    let file = format!("{}\n{rows}", COLUMNS.join(","));
    read_price_list(file.as_bytes(), &columns).unwrap()
}

fn house() -> House {
    let mut house = House::empty();
    let mut shutters = hail(left(), Component::Shutter);
    (shutters.units, shutters.units_total) = (Some(3), Some(8));
    house.finding("shutters", shutters);
    let mut siding = hail(left(), Component::Siding);
    siding.extent_area = Some(Area::from_square_feet(150.0));
    siding.finish = Some(Finish::FieldPainted);
    house.finding("siding", siding);
    house.finding("gutter", hail(left(), Component::Gutter));
    house
}

#[test]
fn money_is_decimal_to_the_cent() {
    let priced = scope_of(&house()).priced(&list("Shutters,EA,40.115,\nSiding,SF,0.1,replace\n"));
    let amounts: Vec<String> = priced
        .lines
        .iter()
        .map(|line| line.amount.to_string())
        .collect();
    // 3 x 40.115 = 120.345, half away from zero; 150 x 0.1 = 15 exactly.
    let shutters = priced
        .lines
        .iter()
        .find(|line| line.key.as_str().contains("shutter"))
        .unwrap();
    assert_eq!(shutters.amount.to_string(), "120.35");
    assert_eq!(amounts.len(), 2);
    assert_eq!(priced.total.to_string(), "135.35");
    assert_eq!(
        (priced.existing, priced.required.is_zero()),
        (priced.total, true)
    );
    let reasons: Vec<(&str, &str)> = priced
        .unpriced
        .iter()
        .map(|line| (line.key.as_str(), line.reason.as_str()))
        .collect();
    assert_eq!(
        reasons,
        [
            (
                "elevation/left|gutter|remove_and_replace",
                "the price list has no such item and work"
            ),
            (
                "elevation/left|siding|paint",
                "the price list has no such item and work"
            ),
        ]
    );
}

#[test]
fn squares_and_square_feet_are_a_hundred_to_one_and_nothing_else_is_converted() {
    let scope = scope_of(&house());
    let priced = scope.priced(&list("Siding,SQ,455.55,replace\nShutter,LF,5,\n"));
    let siding = &priced.lines[0];
    assert_eq!(siding.unit_price.to_string(), "4.5555");
    // 150 SF at 455.55 a square: 683.325, half away from zero.
    assert_eq!(siding.amount.to_string(), "683.33");
    assert!(
        siding
            .converted
            .as_ref()
            .unwrap()
            .contains("one SQ is 100 SF")
    );
    let shutter = priced
        .unpriced
        .iter()
        .find(|line| line.key.as_str().contains("shutter"))
        .unwrap();
    assert_eq!(shutter.reason, "its quantity is in EA, the price in LF");
    let both = scope.priced(&list("Siding,SQ,455.55,replace\nSiding,SF,4,replace\n"));
    assert_eq!(both.lines[0].amount.to_string(), "600.00");
}

#[test]
fn the_very_words_and_the_work_go_before_the_item() {
    let mut house = House::empty();
    let mut gutter = hail(left(), Component::Gutter);
    gutter.extent_length = Some(Length::feet_inches(10, 0));
    gutter.material = Some(Material::Copper);
    house.finding("gutter", gutter);
    let rows = "Gutter,LF,9,\nGutter,LF,10,replace\n\"gutter, copper\",LF,40,\n";
    let priced = scope_of(&house).priced(&list(rows));
    assert_eq!(
        (priced.lines[0].row, priced.lines[0].amount.to_string()),
        (3, "400.00".into())
    );
    let priced = scope_of(&house).priced(&list(
        "Gutter,LF,9,\nGutter,LF,10,replace\nGutter,LF,1,paint\n",
    ));
    assert_eq!(priced.lines[0].row, 2);
}

#[test]
fn a_line_without_a_quantity_has_no_money() {
    let priced = scope_of(&house()).priced(&list("Gutter,LF,9,\n"));
    let gutter = priced
        .unpriced
        .iter()
        .find(|line| line.key.as_str().contains("gutter"))
        .unwrap();
    assert_eq!(gutter.reason, "its quantity is not known");
    assert!(priced.total.is_zero());
}

#[test]
fn two_prices_that_fit_alike_are_not_chosen_between() {
    let rows = "Shutter,EA,40,\nWindow shutter,EA,60,\n";
    let priced = scope_of(&house()).priced(&list(rows));
    let mut unpriced = priced.unpriced.iter();
    let shutter = unpriced
        .find(|line| line.key.as_str().contains("shutter"))
        .map(|line| &line.reason);
    // "shutter" is the line's very wording, so it is taken, and the price's words are shown.
    assert_eq!(shutter, None);
    assert_eq!(priced.lines[0].price_words, "Shutter");
    let rows = "Shutters,EA,40,\nWindow shutter,EA,60,\n";
    let priced = scope_of(&house()).priced(&list(rows));
    let mut unpriced = priced.unpriced.iter();
    let shutter = unpriced
        .find(|line| line.key.as_str().contains("shutter"))
        .unwrap();
    assert!(
        shutter.reason.contains("rows 1") && shutter.reason.contains("both fit"),
        "{}",
        shutter.reason
    );
}

use super::super::house::*;
use super::*;
use crate::job::*;
use crate::trade::materials::{MaterialItem, Waste};

fn sheet(job: &Job, reader: Reader) -> ProductionSheet {
    production_sheet(job, reader, &SheetOptions::default())
}

fn texts(lines: &[SheetLine]) -> Vec<&str> {
    lines.iter().map(|line| line.text.as_str()).collect()
}

#[test]
fn the_sheet_tells_the_roof_with_its_photos() {
    let mut house = House::complete();
    let eave = house
        .job
        .records
        .eave_openings
        .get_mut(&id("eave"))
        .unwrap();
    eave.fields.deck = Some(Layer::Seen(DeckKind::SpacedBoards));
    eave.fields.widest_gap = Some(Length::from_inches_f64(0.5));
    house.part("guards", None, Component::GutterGuard, Condition::Cleared);
    let sheet = sheet(&house.job, Reader::Anyone);
    assert_eq!(
        texts(&sheet.deck),
        [
            "eave, front (main, front slope): spaced boards, gaps up to 1/2\"; ask which gap the \
          authority and the manufacturer accept."
        ]
    );
    assert_eq!(sheet.deck[0].photos, [id("layers")]);
    assert_eq!(texts(&sheet.layers), ["main, front slope: one layer."]);
    assert_eq!(texts(&sheet.obstacles), ["gutter guard: 4."]);
    assert_eq!(texts(&sheet.detach_and_reset), ["gutter guard: 4."]);
    assert_eq!(
        texts(&sheet.confirm_at_tear_off),
        ["eave, front: ice barrier (could not see). the felt is nailed down."]
    );
    assert_eq!(sheet.confirm_at_tear_off[0].certainty, Certainty::Confirm);
    let access = texts(&sheet.access);
    assert!(access.contains(&"High access: 2 storeys, high from 2."));
    assert!(
        access
            .iter()
            .any(|text| text.contains("6/12, steep (over 4 in 12)"))
    );
    // Nobody asked for gates and pets in this house.
    assert!(access.contains(&"Locked gates: unknown, nobody asked."));
    assert_eq!(sheet.cautions.len(), CAUTIONS.len());
}

#[test]
fn contact_and_office_entries_are_for_the_office() {
    let mut house = House::complete();
    let property = house.job.records.properties.get_mut(&Job::only()).unwrap();
    property.fields.owner = Some("canary-owner".into());
    property.fields.owner_phone = Some("canary-phone".into());
    property.fields.owner_email = Some("canary-mail".into());
    for (word, cause) in [("old", Cause::Prior), ("new", Cause::Mechanical)] {
        house.finding(
            word,
            Finding {
                component: Some(Component::SatelliteDish),
                condition: Some(Condition::Damaged),
                cause: Some(cause),
                finish: Some(Finish::FieldPainted),
                audience: Some(Audience::OfficeOnly),
                text: Some("canary-text".into()),
                unit_name: Some("canary-unit".into()),
                ..Finding::default()
            },
        );
        let shown = [at(Kind::Finding, word), at(Kind::EaveOpening, "eave")];
        house.photo(&format!("canary-{word}"), PhotoRole::CloseUp, None, &shown);
    }
    let anyone = serde_json::to_string(&sheet(&house.job, Reader::Anyone)).unwrap();
    assert!(!anyone.contains("canary"), "{anyone}");
    let office = sheet(&house.job, Reader::Office);
    assert_eq!(
        office.contact.as_ref().unwrap().owner.as_deref(),
        Some("canary-owner")
    );
    assert_eq!(
        texts(&office.prior_conditions),
        ["satellite dish: canary-text."]
    );
    assert_eq!(office.paint_to_match.len(), 1);
}

#[test]
fn an_empty_job_lists_everything_as_unknown() {
    let house = House::empty();
    let sheet = sheet(&house.job, Reader::Office);
    let sections = [&sheet.deck, &sheet.layers, &sheet.obstacles, &sheet.access];
    for lines in sections {
        assert!(!lines.is_empty());
        for line in lines {
            assert_eq!(line.certainty, Certainty::Unknown, "{line:?}");
            assert!(line.text.to_lowercase().contains("unknown"), "{line:?}");
        }
    }
    assert!(!sheet.materials.is_empty());
    assert!(sheet.materials.iter().all(|line| line.quantity.is_none()));
}

#[test]
fn materials_come_from_the_record_and_the_stated_waste() {
    let mut house = House::complete();
    let slope = house.job.records.slopes.get_mut(&id("main")).unwrap();
    // 1000 sq ft reported at 4/12; the gauge says 6/12: x 1.118034 / 1.054093 = 1060.66 sq ft.
    slope.fields.report_area = Some(Area::from_square_feet(1000.0));
    slope.fields.report_pitch = Pitch::from_rise(4.0);
    let mut options = SheetOptions::default();
    options.choices.waste = Some(Waste {
        name: "gable".into(),
        percent: 10.0,
    });
    let made = production_sheet(&house.job, Reader::Anyone, &options);
    let squares = made
        .materials
        .iter()
        .find(|l| l.item == MaterialItem::ShingleSquares);
    let quantity = squares.unwrap().quantity.unwrap();
    assert!((quantity - 11.6673).abs() < 0.0005, "{quantity}");
    assert!(
        made.materials_from
            .contains(&at(Kind::Measurement, "pitch"))
    );

    let slope = house.job.records.slopes.get_mut(&id("main")).unwrap();
    slope.fields.measured_area = Some(Area::square_inches(-5));
    let refused = production_sheet(&house.job, Reader::Anyone, &options);
    assert!(
        refused
            .materials_refused
            .unwrap()
            .contains("leave it empty")
    );
}

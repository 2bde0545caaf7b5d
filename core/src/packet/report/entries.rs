//! The entries of the reports' tables. Lengths are feet, areas square feet, both to four decimals;
//! heights above grade and sizes of hail are inches.

use chrono::NaiveDate;
use serde::Serialize;

use super::table::{Cell, CellKind, CellValue, Column, Line, Moment, entries};

entries! {
    /// How many of what was found at one place.
    PlaceEntry {
        place: String, "Place", "Its name.";
        side: Option<String>, "Side", "The side of the house.";
        damaged: u32, "Damaged", "Findings of damage.";
        prior: u32, "Prior", "Prior conditions.";
        unsure: u32, "Unsure", "Findings left unsure or without a condition.";
        cleared: u32, "Cleared", "Findings and parts looked at and in order.";
        hits: u32, "Hits", "Hits counted on findings and in test squares.";
        units: u32, "Units damaged", "Units damaged, of findings that state a total.";
        units_total: u32, "Units there", "The totals of those findings.";
        []
    }

    /// One finding.
    FindingEntry {
        number: u32, "No.", "Its number in walk order, from 1.";
        place: String, "Place", "Where.";
        side: Option<String>, "Side", "The side of the house.";
        component: Option<String>, "Part", "What.";
        storey: Option<u32>, "Storey", "Storey, 1 at grade.";
        from_left: Option<u32>, "From left", "Place from left to right, 1 at the left end.";
        unit_name: Option<String>, "Unit", "Number or name of the panel or unit.";
        height_in: Option<f64>, "Above grade, in", "Height above grade, inches.";
        state: String, "State", "What it amounts to.";
        condition: Option<String>, "Condition", "Its condition as recorded.";
        cause: Option<String>, "Cause", "Its cause as recorded.";
        reason: Option<String>, "Reason", "Why the crew thinks so.";
        hits: Option<u32>, "Hits", "Hits counted; empty where nobody counted.";
        units: Option<u32>, "Units damaged", "Units damaged.";
        units_total: Option<u32>, "Units there", "Units there are.";
        length_ft: Option<f64>, "Length, ft", "Length damaged, feet.";
        area_sqft: Option<f64>, "Area, sq ft", "Area damaged, square feet.";
        material: Option<String>, "Material", "What it is made of.";
        finish: Option<String>, "Finish", "How it got its colour.";
        severity: Option<String>, "Severity", "Whether it still does its work.";
        text: Option<String>, "In words", "The finding in words.";
        unsettled: Vec<String>, "Unsettled", "Fields with more than one statement.";
        photos: Vec<String>, "Photos", "Photos that show it, standoffs first.";
        recorded_by: String, "Recorded by", "Who recorded it.";
        recorded_at: Moment, "Recorded at, UTC", "When, by that person's device.";
        [
            audience: "Audience", "Who may read it.";
            struck: "Struck", "Why it was struck.";
        ]
    }

    /// A part that was counted or cleared as a whole.
    ComponentEntry {
        place: String, "Place", "Where.";
        side: Option<String>, "Side", "The side of the house.";
        component: Option<String>, "Part", "What.";
        condition: Option<String>, "State", "State of all of them.";
        count: Option<u32>, "Count", "How many there are.";
        length_ft: Option<f64>, "Length, ft", "Length or width, feet.";
        material: Option<String>, "Material", "What they are made of.";
        finish: Option<String>, "Finish", "How they got their colour.";
        details: Option<String>, "Details", "Size, profile, how it is held.";
        [
            struck: "Struck", "Why it was struck.";
        ]
    }

    /// One line of the scope.
    ScopeEntry {
        line: String, "Line", "What the line is known by.";
        place: String, "Place", "Where.";
        item_code: String, "Item", "The item as it is stored.";
        item: String, "In words", "What, with material and size.";
        work: String, "Work", "The work.";
        quantity: Option<f64>, "Quantity", "How much; empty where it is not known.";
        unit: Option<String>, "Unit", "Its unit.";
        how: Option<String>, "Worked out from", "How the quantity was worked out.";
        basis: String, "Basis", "What it rests on.";
        section: Option<String>, "Section", "The section of the code.";
        edition: Option<String>, "Edition", "The code and its edition.";
        requirement: Option<String>, "Asks for", "What it asks for, in our words.";
        findings: Vec<String>, "Findings", "Numbers of the findings it rests on.";
        photos: Vec<String>, "Photos", "Photos that show them.";
        unsure: Vec<String>, "Still unsure", "What is still unsure.";
        change: Option<String>, "Changed", "What an estimator did to it.";
        change_reason: Option<String>, "Why changed", "Why.";
        changed_by: Option<String>, "Changed by", "Who.";
        [
            audience: "Audience", "Who may read it.";
            left_out: "Left out", "An estimator left it out.";
        ]
    }

    /// The sum of the scope's lines with the same item, work and unit.
    TotalEntry {
        item_code: String, "Item", "The item as it is stored.";
        item: String, "In words", "What.";
        work: String, "Work", "The work.";
        quantity: f64, "Quantity", "The sum of the quantities that are known.";
        unit: String, "Unit", "Its unit.";
        lines: u32, "Lines", "Lines added up.";
        without_quantity: u32, "Lines without quantity", "Lines whose quantity is not known.";
        []
    }

    /// Our scope beside another's, entry by entry.
    ComparisonEntry {
        outcome: String, "Outcome", "What came of it.";
        place: String, "Place", "Where.";
        item: String, "Ours", "Our lines in words.";
        ours: Option<f64>, "Our quantity", "Our quantity, where the two can be compared.";
        their_item: String, "Theirs", "Their rows in words.";
        theirs: Option<f64>, "Their quantity", "Their quantity, in the same unit.";
        unit: Option<String>, "Unit", "The unit of both.";
        difference: Option<f64>, "Theirs less ours", "Theirs less ours.";
        certainty: Option<String>, "How sure", "How sure the match is.";
        by_person: bool, "By a person", "A person matched them.";
        our_money: Option<f64>, "Our money", "At the office's own prices.";
        their_money: Option<f64>, "Their money", "As theirs states.";
        sentence: String, "In words", "The whole in plain sentences.";
        []
    }

    /// A difference between two scopes.
    DisputeEntry {
        number: u32, "No.", "Its number, from 1.";
        outcome: String, "Outcome", "What came of the comparison.";
        place: String, "Place", "Where.";
        item: String, "Item", "What.";
        ours: String, "Ours", "What ours states.";
        theirs: String, "Theirs", "What theirs states.";
        difference: String, "Difference", "By how much they differ.";
        reason: String, "What was observed", "What was observed, measured and counted.";
        requirements: Vec<String>, "Sections", "Sections of codes, to be confirmed.";
        photos: Vec<String>, "Photos", "Photos that show it.";
        unsure: Vec<String>, "Still unsure", "What is still unsure on our side.";
        rows: Vec<String>, "Their rows", "Rows of their file.";
        []
    }

    /// One measurement.
    MeasurementEntry {
        of: Option<String>, "What", "What was measured.";
        place: Option<String>, "Place", "Where.";
        pitch: Option<String>, "Pitch", "The pitch, rise in twelve.";
        rise_in_12: Option<f64>, "Rise in 12", "The rise in twelve as a number.";
        length_ft: Option<f64>, "Length, ft", "The length, feet.";
        method: Option<String>, "How", "How it was taken.";
        report_pitch: Option<String>, "Report's pitch", "The pitch in the bought report.";
        remarks: Option<String>, "Remarks", "Anything else.";
        photos: Vec<String>, "Photos", "Photos that show it.";
        recorded_by: String, "Recorded by", "Who recorded it.";
        [
            struck: "Struck", "Why it was struck.";
        ]
    }

    /// One test square.
    SquareEntry {
        slope: Option<String>, "Slope", "The slope.";
        hits: Option<u32>, "Hits", "Hits counted; empty where nobody counted.";
        width_ft: Option<f64>, "Width, ft", "Width, feet.";
        height_ft: Option<f64>, "Height, ft", "Height along the slope, feet.";
        placement: Option<String>, "Spot", "How its spot was chosen.";
        remarks: Option<String>, "Remarks", "Anything else.";
        photos: Vec<String>, "Photos", "Photos that show it.";
        [
            struck: "Struck", "Why it was struck.";
        ]
    }

    /// A report of hail or wind near the house.
    StormEntry {
        kind: Option<String>, "Kind", "Hail or wind.";
        at: Option<Moment>, "When, UTC", "When.";
        hail_in: Option<f64>, "Hail, in", "Largest stone, inches.";
        size_word: Option<String>, "Size in words", "The reporter's own word.";
        gust_mph: Option<f64>, "Gust, mph", "Gust, miles an hour.";
        measured: Option<bool>, "Measured", "The gust was measured, not estimated.";
        latitude: Option<f64>, "Latitude", "Degrees north of the report.";
        longitude: Option<f64>, "Longitude", "Degrees east of the report.";
        where_said: Option<String>, "Where", "Where, in the reporter's words.";
        source: Option<String>, "Source", "File and row, or who said it.";
        remarks: Option<String>, "Remarks", "Anything else.";
        [
            struck: "Struck", "Why it was struck.";
        ]
    }

    /// What a section of the code says of this house.
    RequirementEntry {
        place: String, "Place", "What it is about.";
        standing: String, "Standing", "Asks, asks nothing here, or not known.";
        section: String, "Section", "The section.";
        edition: String, "Edition", "The code and its edition.";
        edition_assumed: bool, "Edition assumed", "Nobody named the edition in force.";
        sentence: String, "In words", "What it asks, in plain words.";
        because: Vec<String>, "Because", "What in the record led to it.";
        not_known: Vec<String>, "Not known", "What it would need and nobody recorded.";
        section_read: bool, "Section read", "False where the section is from memory.";
        confirm: String, "Confirm", "Who has the last word.";
        []
    }

    /// What tear-off has to confirm.
    ConfirmEntry {
        place: String, "Place", "Where.";
        what: String, "What", "What.";
        known: String, "Known so far", "What is known so far.";
        reason: Option<String>, "Why not seen", "Why it could not be seen.";
        []
    }

    /// One photo.
    PhotoEntry {
        number: u32, "No.", "Its number in the walk, from 1.";
        name: String, "Name", "Its name without the ending.";
        file: Option<String>, "File", "The file below data/; empty where it is not in the bag.";
        lacking: Option<String>, "Why not here", "Why the original is not in the bag.";
        record: String, "Record", "Its record.";
        role: Option<String>, "Role", "What it is for.";
        place: Option<String>, "Place", "Where it was taken.";
        side: Option<String>, "Side", "The side of the house.";
        caption: Option<String>, "Caption", "Words below it.";
        taken: Option<String>, "Taken", "When, by the camera's clock.";
        taken_in_at: Option<Moment>, "Taken in at, UTC", "When the device took it in.";
        latitude: Option<f64>, "Latitude", "Degrees north, as the camera wrote.";
        longitude: Option<f64>, "Longitude", "Degrees east, as the camera wrote.";
        camera: Option<String>, "Camera", "The camera, as it names itself.";
        width_px: Option<u32>, "Width, px", "Width, pixels.";
        height_px: Option<u32>, "Height, px", "Height, pixels.";
        bytes: Option<u64>, "Bytes", "Bytes of the original.";
        blake3: Option<String>, "BLAKE3", "BLAKE3 of the original.";
        sha256: Option<String>, "SHA-256", "SHA-256 of the original.";
        [
            audience: "Audience", "Who may see it.";
            struck: "Struck", "Why it was struck.";
        ]
    }

    /// A doubt of the office: a finding that makes no line, a change without its line, words held
    /// back from the owner.
    DoubtEntry {
        about: String, "About", "The record.";
        kind: String, "Kind", "Which doubt.";
        words: String, "In words", "What it is and why.";
        []
    }

    /// One material of the production sheet.
    MaterialEntry {
        item: String, "Material", "What.";
        place: Option<String>, "Place", "Where.";
        quantity: Option<f64>, "Quantity", "How much; empty where it is not known.";
        at_least: Option<f64>, "At least", "What is known of it, where not all is.";
        unit: String, "Unit", "Its unit.";
        arithmetic: String, "Worked out from", "How it was worked out.";
        not_known: Vec<String>, "Not known", "What is not known.";
        []
    }

    /// One line of the production sheet.
    SheetEntry {
        part: String, "Part", "Which part of the sheet.";
        text: String, "In words", "What the crew reads.";
        certainty: String, "How sure", "Known, to be confirmed, or unknown.";
        photos: Vec<String>, "Photos", "Photos that show it.";
        []
    }
}

/// What stands at the head of a report.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Head {
    /// What the report is.
    pub title: &'static str,
    /// The company.
    pub company: String,
    /// The house.
    pub address: String,
    /// The day of the storm.
    pub date_of_loss: Option<NaiveDate>,
    /// Days of the visits.
    pub visited: Vec<NaiveDate>,
    /// Who recorded what the report shows.
    pub recorded_by: Vec<String>,
    /// What the report is and is not.
    pub statement: &'static str,
    /// When the report was made.
    pub made_at: Moment,
}

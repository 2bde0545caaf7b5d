//! Storm reports round an address: rings of miles, north up, one mark for each report, numbered as
//! in the list beside it.

use super::sheet::{Sheet, short};
use crate::limits::PLOT_MARKS;
use crate::trade::storm::{NO_PROOF, NearReport, Nearby, ReportKind};

/// Half of the plot's side, pixels, and its middle.
const RADIUS: f64 = 250.0;
const MIDDLE: (f64, f64) = (290.0, 340.0);
const LIST_LEFT: f64 = 600.0;
const WIDTH: f64 = 1000.0;
const ROW: f64 = 34.0;
/// Reports that the list holds.
const LISTED: usize = 14;
/// Marks nearer than this to each other, pixels, are moved apart.
const APART: f64 = 21.0;
/// Steps between rings that read well, miles.
const STEPS: &[f64] = &[0.1, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 25.0, 50.0];

/// Draws the reports that a search found. `title` names the address as the reader may see it.
pub fn storm_plot(nearby: &Nearby, title: &str) -> String {
    let drawn = &nearby.reports[..nearby.reports.len().min(PLOT_MARKS)];
    let rows = drawn.len().min(LISTED);
    let height = f64::max(704.0, 190.0 + rows as f64 * ROW + 140.0);
    let mut sheet = Sheet::new("storm-plot", WIDTH, height, title, &description(nearby));
    sheet.text(
        24.0,
        34.0,
        "start",
        "font-size=\"19\" font-weight=\"600\" fill=\"#1a1a1a\"",
        &short(title, 90),
    );
    rings(&mut sheet, nearby.search.radius_miles);
    let spots = apart(drawn, nearby.search.radius_miles);
    for (spot, true_spot) in &spots {
        if distance(*spot, *true_spot) > 1.0 {
            let line = [
                ("x1", spot.0),
                ("y1", spot.1),
                ("x2", true_spot.0),
                ("y2", true_spot.1),
            ];
            sheet.shape("line", &line, "stroke=\"#555555\" stroke-width=\"1\"");
            let dot = [("cx", true_spot.0), ("cy", true_spot.1), ("r", 2.0)];
            sheet.shape("circle", &dot, "fill=\"#555555\"");
        }
    }
    for (number, (near, (spot, _))) in drawn.iter().zip(&spots).enumerate().rev() {
        mark(&mut sheet, near.report.kind, *spot);
        number_on(&mut sheet, number + 1, *spot);
    }
    list(&mut sheet, nearby, drawn);
    legend(&mut sheet, height);
    sheet.finish()
}

fn description(nearby: &Nearby) -> String {
    let search = &nearby.search;
    let lines: Vec<String> = nearby
        .reports
        .iter()
        .take(LISTED)
        .map(NearReport::words)
        .collect();
    format!(
        "{} report(s) within {} miles, north up. {} {NO_PROOF}",
        nearby.reports.len(),
        search.radius_miles,
        lines.join("; ")
    )
}

fn rings(sheet: &mut Sheet, radius_miles: f64) {
    let step = STEPS
        .iter()
        .copied()
        .find(|step| radius_miles / step <= 5.0)
        .unwrap_or(100.0);
    let outer = [("cx", MIDDLE.0), ("cy", MIDDLE.1), ("r", RADIUS)];
    sheet.shape(
        "circle",
        &outer,
        "fill=\"#f6f8fa\" stroke=\"#59636e\" stroke-width=\"1.5\"",
    );
    for (dx, dy) in [(0.0, 1.0), (1.0, 0.0)] {
        let (x, y) = (dx * RADIUS, dy * RADIUS);
        let line = [
            ("x1", MIDDLE.0 - x),
            ("y1", MIDDLE.1 - y),
            ("x2", MIDDLE.0 + x),
            ("y2", MIDDLE.1 + y),
        ];
        sheet.shape("line", &line, "stroke=\"#d0d7de\"");
    }
    let mut miles = step;
    while miles < radius_miles * 1.001 {
        let r = miles / radius_miles * RADIUS;
        if miles < radius_miles * 0.999 {
            let ring = [("cx", MIDDLE.0), ("cy", MIDDLE.1), ("r", r)];
            sheet.shape(
                "circle",
                &ring,
                "fill=\"none\" stroke=\"#afb8c1\" stroke-dasharray=\"3 4\"",
            );
        }
        let (x, y) = (MIDDLE.0 + r * 0.5 + 3.0, MIDDLE.1 - r * 0.866 - 3.0);
        sheet.text(
            x,
            y,
            "start",
            "font-size=\"12\" fill=\"#59636e\"",
            &format!("{miles} mi"),
        );
        miles += step;
    }
    let out = RADIUS + 16.0;
    for (dx, dy, letter) in [
        (0.0, -1.0, "N"),
        (1.0, 0.0, "E"),
        (0.0, 1.0, "S"),
        (-1.0, 0.0, "W"),
    ] {
        let style = "font-size=\"15\" font-weight=\"600\" fill=\"#1a1a1a\"";
        sheet.text(
            MIDDLE.0 + dx * out,
            MIDDLE.1 + dy * out + 5.0,
            "middle",
            style,
            letter,
        );
    }
    house(sheet);
}

fn house(sheet: &mut Sheet) {
    let (x, y) = MIDDLE;
    let corners = [
        (-9.0, 8.0),
        (-9.0, -2.0),
        (0.0, -10.0),
        (9.0, -2.0),
        (9.0, 8.0),
    ];
    let corners = corners.map(|(dx, dy)| (x + dx, y + dy));
    sheet.polygon(
        &corners,
        "fill=\"#ffffff\" stroke=\"#1a1a1a\" stroke-width=\"2\"",
    );
}

type Spot = (f64, f64);

fn distance(a: Spot, b: Spot) -> f64 {
    (a.0 - b.0).hypot(a.1 - b.1)
}

/// Where each mark is drawn and where it truly lies: a mark that would cover another or the house
/// is moved out on a spiral to the first free spot.
fn apart(drawn: &[NearReport], radius_miles: f64) -> Vec<(Spot, Spot)> {
    let mut placed: Vec<(Spot, Spot)> = Vec::with_capacity(drawn.len());
    for near in drawn {
        let bearing = near.bearing.unwrap_or(0.0).to_radians();
        let r = near.miles / radius_miles * RADIUS;
        let at = (MIDDLE.0 + r * bearing.sin(), MIDDLE.1 - r * bearing.cos());
        let free = |spot: &Spot| {
            distance(*spot, MIDDLE) > APART
                && placed
                    .iter()
                    .all(|(other, _)| distance(*spot, *other) >= APART)
        };
        let turns = (0..600).map(|step| {
            // The golden angle: spots of a spiral that do not line up.
            let (angle, out) = (f64::from(step) * 2.399_963, 5.0 * f64::from(step).sqrt());
            (at.0 + out * angle.cos(), at.1 + out * angle.sin())
        });
        let spot = turns.into_iter().find(free).unwrap_or(at);
        placed.push((spot, at));
    }
    placed
}

/// Shape and colour by kind: a disc for hail, a triangle for wind, a diamond for a tornado.
fn mark(sheet: &mut Sheet, kind: ReportKind, (x, y): Spot) {
    match kind {
        ReportKind::Hail => {
            let disc = [("cx", x), ("cy", y), ("r", 9.5)];
            sheet.shape("circle", &disc, "fill=\"#0a3069\" stroke=\"#ffffff\"");
        }
        ReportKind::Wind => {
            let corners =
                [(0.0, -14.0), (13.0, 9.0), (-13.0, 9.0)].map(|(dx, dy)| (x + dx, y + dy));
            sheet.polygon(&corners, "fill=\"#7a3e00\" stroke=\"#ffffff\"");
        }
        ReportKind::Tornado => {
            let corners = [(0.0, -13.0), (13.0, 0.0), (0.0, 13.0), (-13.0, 0.0)];
            let corners = corners.map(|(dx, dy)| (x + dx, y + dy));
            sheet.polygon(&corners, "fill=\"#5b1a7a\" stroke=\"#ffffff\"");
        }
    }
}

fn number_on(sheet: &mut Sheet, number: usize, (x, y): Spot) {
    let size = if number < 100 { 11 } else { 8 };
    let style = format!("font-size=\"{size}\" font-weight=\"600\" fill=\"#ffffff\"");
    sheet.text(x, y + 4.0, "middle", &style, &number.to_string());
}

fn list(sheet: &mut Sheet, nearby: &Nearby, drawn: &[NearReport]) {
    let dark = "font-size=\"14\" fill=\"#1a1a1a\"";
    let quiet = "font-size=\"12\" fill=\"#59636e\"";
    let search = &nearby.search;
    let span = format!(
        "Within {} miles, {} day(s) before to {} after {}",
        search.radius_miles, search.days_before, search.days_after, search.date_of_loss
    );
    sheet.text(LIST_LEFT, 84.0, "start", quiet, &span);
    if drawn.is_empty() {
        sheet.text(LIST_LEFT, 116.0, "start", dark, "No report was found.");
    }
    for (index, near) in drawn.iter().take(LISTED).enumerate() {
        let y = 112.0 + index as f64 * ROW;
        mark(sheet, near.report.kind, (LIST_LEFT + 12.0, y));
        number_on(sheet, index + 1, (LIST_LEFT + 12.0, y));
        let line = format!(
            "{}: {}, {:.1} mi {}",
            near.report.kind.label(),
            near.report.strength(),
            near.miles,
            near.direction
        );
        sheet.text(LIST_LEFT + 34.0, y - 1.0, "start", dark, &short(&line, 52));
        let when = near.local.format("%-d %b %H:%M");
        let place = format!("{when} local · {}", near.report.place);
        sheet.text(
            LIST_LEFT + 34.0,
            y + 14.0,
            "start",
            quiet,
            &short(&place, 56),
        );
    }
    let more = nearby.reports.len() - drawn.len().min(LISTED);
    if more > 0 {
        let y = 112.0 + LISTED as f64 * ROW;
        sheet.text(
            LIST_LEFT,
            y,
            "start",
            quiet,
            &format!("and {more} more in the list of reports"),
        );
    }
}

fn legend(sheet: &mut Sheet, height: f64) {
    let y = height - 56.0;
    let quiet = "font-size=\"13\" fill=\"#1a1a1a\"";
    for (index, kind) in ReportKind::ALL.iter().enumerate() {
        let x = 40.0 + index as f64 * 110.0;
        mark(sheet, *kind, (x, y - 4.0));
        sheet.text(x + 20.0, y, "start", quiet, kind.label());
    }
    house_key(sheet, y);
    let quiet = "font-size=\"12\" fill=\"#59636e\"";
    sheet.text(24.0, height - 18.0, "start", quiet, NO_PROOF);
}

fn house_key(sheet: &mut Sheet, y: f64) {
    let corners = [
        (-7.0, 6.0),
        (-7.0, -2.0),
        (0.0, -8.0),
        (7.0, -2.0),
        (7.0, 6.0),
    ];
    let corners = corners.map(|(dx, dy)| (378.0 + dx, y - 4.0 + dy));
    sheet.polygon(
        &corners,
        "fill=\"#ffffff\" stroke=\"#1a1a1a\" stroke-width=\"2\"",
    );
    sheet.text(
        396.0,
        y,
        "start",
        "font-size=\"13\" fill=\"#1a1a1a\"",
        "the address; marks are numbered as in the list",
    );
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::geo::Position;
    use crate::trade::storm::{ReadOptions, Search, near, read};
    use chrono::NaiveDate;

    fn found(copies: usize) -> Nearby {
        let data = include_bytes!("../../../fixtures/storm/daily-260421.csv");
        let day = NaiveDate::from_ymd_opt(2026, 4, 21).unwrap();
        let options = ReadOptions {
            day: Some(day),
            ..ReadOptions::default()
        };
        let reports = read(data, &options).unwrap().reports;
        let reports: Vec<_> = (0..copies).flat_map(|_| reports.clone()).collect();
        let house = Position::new(33.2127, -98.7431).unwrap();
        near(
            &reports,
            house,
            &Search {
                radius_miles: 20.0,
                ..Search::about(day)
            },
            &|_| -300,
        )
        .unwrap()
    }

    #[test]
    fn the_plot_of_the_demo_storm() {
        let svg = storm_plot(&found(1), "Storm reports near 14 Larkmeadow Lane");
        assert_eq!(
            svg,
            storm_plot(&found(1), "Storm reports near 14 Larkmeadow Lane")
        );
        insta::assert_snapshot!(svg);
    }

    #[test]
    fn reports_at_one_spot_are_drawn_apart() {
        let found = found(3);
        let spots = apart(&found.reports, 20.0);
        for (i, (a, _)) in spots.iter().enumerate() {
            assert!(spots[..i].iter().all(|(b, _)| distance(*a, *b) >= APART));
        }
    }

    #[test]
    fn a_plot_without_reports_and_one_with_too_many_are_drawn() {
        let mut none = found(1);
        none.reports.clear();
        assert!(storm_plot(&none, "<b>").contains("No report was found."));
        assert!(storm_plot(&none, "<b>").contains("&lt;b&gt;"));
        let many = found(PLOT_MARKS / 5);
        assert!(many.reports.len() > PLOT_MARKS);
        let svg = storm_plot(&many, "many");
        assert!(svg.contains(&format!(">{PLOT_MARKS}</text>")));
        assert!(!svg.contains(&format!(">{}</text>", PLOT_MARKS + 1)));
        assert!(svg.contains("more in the list of reports"));
    }
}

//! One day of sun: a band for each wall and slope that shows when it is in shade, grazed and lit.

use super::sheet::{Sheet, short};
use crate::job::Millis;
use crate::trade::geo::compass_point;
use crate::trade::sun::{BestLeft, FaceDay, Light, OPEN_HORIZON, SunDay};

const WIDTH: f64 = 1000.0;
const LEFT: f64 = 210.0;
const RIGHT: f64 = 970.0;
const TOP: f64 = 96.0;
const ROW: f64 = 46.0;
const BAR: f64 = 22.0;

/// Patterns, so that no state is told by colour alone: slanted lines for shade, upright bars for
/// grazing light, plain for lit, dotted dark for the night.
const PATTERNS: &str = "<defs>\n\
<pattern id=\"sun-shade\" width=\"7\" height=\"7\" patternUnits=\"userSpaceOnUse\" \
patternTransform=\"rotate(45)\"><rect width=\"7\" height=\"7\" fill=\"#c9d3df\"/>\
<rect width=\"2\" height=\"7\" fill=\"#6b7f99\"/></pattern>\n\
<pattern id=\"sun-grazing\" width=\"8\" height=\"8\" patternUnits=\"userSpaceOnUse\">\
<rect width=\"8\" height=\"8\" fill=\"#b34700\"/><rect width=\"2.5\" height=\"8\" fill=\"#ffb066\"/>\
</pattern>\n\
<pattern id=\"sun-night\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\">\
<rect width=\"6\" height=\"6\" fill=\"#39424e\"/><circle cx=\"3\" cy=\"3\" r=\"0.9\" \
fill=\"#8b98a8\"/></pattern>\n</defs>";

const fn fill(light: Light) -> &'static str {
    match light {
        Light::Night => "fill=\"url(#sun-night)\"",
        Light::Shade => "fill=\"url(#sun-shade)\"",
        Light::Grazing => "fill=\"url(#sun-grazing)\"",
        Light::Lit => "fill=\"#fff3bf\"",
    }
}

/// Draws a day. `now`, milliseconds since 1970, marks where the day stands, and the best window
/// after it is underlined; without it the whole day counts.
pub fn sun_day(day: &SunDay, now: Option<Millis>, title: &str) -> String {
    let bottom = TOP + day.faces.len().max(1) as f64 * ROW;
    let height = bottom + 96.0;
    let from = now.unwrap_or(day.whole.from);
    let sentences: Vec<String> = day
        .faces
        .iter()
        .map(|face| BestLeft::of(day, face, from).words(day, face))
        .collect();
    let description = format!("{} {OPEN_HORIZON}", sentences.join(" "));
    let mut sheet = Sheet::new("sun-day", WIDTH, height, title, &description);
    sheet.raw(PATTERNS);
    sheet.text(
        24.0,
        34.0,
        "start",
        "font-size=\"19\" font-weight=\"600\" fill=\"#1a1a1a\"",
        &short(title, 90),
    );
    sheet.text(
        24.0,
        58.0,
        "start",
        "font-size=\"12\" fill=\"#59636e\"",
        &subtitle(day),
    );
    for (index, face) in day.faces.iter().enumerate() {
        row(&mut sheet, day, face, TOP + index as f64 * ROW, from);
    }
    hours(&mut sheet, bottom);
    if let Some(now) = now.filter(|now| (day.whole.from..=day.whole.to).contains(now)) {
        let x = at(day, now);
        let line = [
            ("x1", x),
            ("y1", TOP - 8.0),
            ("x2", x),
            ("y2", bottom - 4.0),
        ];
        sheet.shape("line", &line, "stroke=\"#cf222e\" stroke-width=\"2.5\"");
        sheet.text(
            x,
            TOP - 12.0,
            "middle",
            "font-size=\"12\" font-weight=\"600\" fill=\"#cf222e\"",
            "now",
        );
    }
    legend(&mut sheet, bottom + 52.0);
    sheet.text(
        24.0,
        height - 14.0,
        "start",
        "font-size=\"12\" fill=\"#59636e\"",
        OPEN_HORIZON,
    );
    sheet.finish()
}

fn subtitle(day: &SunDay) -> String {
    let sign = if day.offset_min < 0 { '-' } else { '+' };
    let offset = day.offset_min.unsigned_abs();
    format!(
        "{}, UTC{sign}{:02}:{:02}. Grazed: incidence from {} to 90 degrees. Underlined: the best \
         window left, with the sun {} degrees high or higher.",
        day.day,
        offset / 60,
        offset % 60,
        day.band.from(),
        day.minimum_altitude
    )
}

fn at(day: &SunDay, time: Millis) -> f64 {
    let share = (time - day.whole.from) as f64 / day.whole.length().max(1) as f64;
    LEFT + share.clamp(0.0, 1.0) * (RIGHT - LEFT)
}

fn row(sheet: &mut Sheet, day: &SunDay, face: &FaceDay, y: f64, from: Millis) {
    let dark = "font-size=\"14\" fill=\"#1a1a1a\"";
    sheet.text(
        LEFT - 12.0,
        y + 11.0,
        "end",
        dark,
        &short(&face.face.name, 24),
    );
    let letters = compass_point(face.face.facing()).map_or("", |point| point.letters);
    let facing = if face.face.tilt() > 0.0 {
        format!("faces {letters}, {:.0}° steep", face.face.tilt())
    } else {
        "flat".to_owned()
    };
    sheet.text(
        LEFT - 12.0,
        y + 25.0,
        "end",
        "font-size=\"11\" fill=\"#59636e\"",
        &facing,
    );
    for span in &face.spans {
        let (left, right) = (at(day, span.window.from), at(day, span.window.to));
        let bar = [
            ("x", left),
            ("y", y),
            ("width", right - left),
            ("height", BAR),
        ];
        sheet.shape("rect", &bar, fill(span.light));
    }
    let frame = [
        ("x", LEFT),
        ("y", y),
        ("width", RIGHT - LEFT),
        ("height", BAR),
    ];
    sheet.shape("rect", &frame, "fill=\"none\" stroke=\"#59636e\"");
    if let BestLeft::Window(best) = BestLeft::of(day, face, from) {
        let (left, right) = (at(day, best.from), at(day, best.to));
        let line = [
            ("x", left),
            ("y", y + BAR + 3.0),
            ("width", right - left),
            ("height", 4.0),
        ];
        sheet.shape("rect", &line, "fill=\"#1a1a1a\"");
    }
}

fn hours(sheet: &mut Sheet, bottom: f64) {
    for hour in (0..=24).step_by(2) {
        let x = LEFT + f64::from(hour) / 24.0 * (RIGHT - LEFT);
        let line = [
            ("x1", x),
            ("y1", bottom - 6.0),
            ("x2", x),
            ("y2", bottom + 2.0),
        ];
        sheet.shape("line", &line, "stroke=\"#59636e\"");
        let style = "font-size=\"12\" fill=\"#59636e\"";
        sheet.text(x, bottom + 16.0, "middle", style, &format!("{hour:02}:00"));
    }
}

fn legend(sheet: &mut Sheet, y: f64) {
    for (index, light) in Light::ALL.iter().enumerate() {
        let x = LEFT + index as f64 * 130.0;
        let swatch = [("x", x), ("y", y - 13.0), ("width", 28.0), ("height", 16.0)];
        sheet.shape(
            "rect",
            &swatch,
            &format!("{} stroke=\"#59636e\"", fill(*light)),
        );
        sheet.text(
            x + 36.0,
            y,
            "start",
            "font-size=\"13\" fill=\"#1a1a1a\"",
            light.label(),
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::Pitch;
    use crate::trade::geo::Position;
    use crate::trade::sun::{DayQuery, Face};
    use chrono::NaiveDate;

    fn day(latitude: f64, faces: Vec<Face>) -> SunDay {
        let place = Position::new(latitude, -98.7431).unwrap();
        let day = NaiveDate::from_ymd_opt(2026, 4, 28).unwrap();
        SunDay::of(&DayQuery::new(place, day, -300, faces)).unwrap()
    }

    // The demo house, from its tables: front 140 degrees, slopes of 6 in 12.
    fn house() -> Vec<Face> {
        let pitch = Pitch::from_rise(6.0).unwrap();
        let mut faces = Vec::new();
        for (name, bearing) in [
            ("front", 140.0),
            ("right", 50.0),
            ("rear", 320.0),
            ("left", 230.0),
        ] {
            faces.push(Face::wall(&format!("{name} wall"), bearing).unwrap());
            faces.push(Face::slope(&format!("{name} slope"), bearing, pitch).unwrap());
        }
        faces
    }

    #[test]
    fn the_day_of_the_demo_visit() {
        let day = day(33.2127, house());
        let now = day.whole.from + 9 * 3_600_000;
        let svg = sun_day(&day, Some(now), "Sun on the walls and slopes");
        assert_eq!(svg, sun_day(&day, Some(now), "Sun on the walls and slopes"));
        // Positions of the sun differ between machines in the last digits only; two decimals of
        // a pixel are a second and a half.
        insta::assert_snapshot!(svg);
    }

    #[test]
    fn a_day_without_faces_or_in_the_polar_night_is_drawn() {
        assert!(sun_day(&day(33.0, vec![]), None, "none").contains("</svg>"));
        let dark = day(-89.0, house());
        let svg = sun_day(&dark, Some(i64::MIN), "<dark>");
        assert!(svg.contains("does not rise") && !svg.contains(">now<"));
    }
}

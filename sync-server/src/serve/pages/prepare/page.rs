//! The form.

use chalkwalk_core::job::Known;
use maud::{Markup, html};

use super::super::super::Shared;
use super::super::super::guard::SignedIn;
use super::super::form::{Field, Tone, notice};
use super::super::frame;
use super::Coming;
use super::fields::{SHORT, TEXTS};
use super::form::{Sent, Wrong};
use crate::limits;

/// Zones to choose from; any other of the IANA database may be typed.
const ZONES: &[&str] = &[
    "America/New_York",
    "America/Detroit",
    "America/Indiana/Indianapolis",
    "America/Chicago",
    "America/Denver",
    "America/Phoenix",
    "America/Los_Angeles",
    "America/Anchorage",
    "Pacific/Honolulu",
    "America/Toronto",
    "America/Winnipeg",
    "America/Edmonton",
    "America/Vancouver",
];

pub(super) fn page(
    shared: &Shared,
    who: &SignedIn,
    devices: &[Coming],
    sent: &Sent,
    wrong: &Wrong,
) -> Markup {
    let form = Form { sent, wrong };
    let base = &shared.base;
    let body = html! {
        header {
            p.up { a href={ (base) "/" } { "All jobs" } }
            h1 { "Prepare a job" }
            p.under { "What is known before the visit. The phones receive it when they sync; all of it can be changed later." }
        }
        div.prepare {
            (form.told())
            form method="post" action={ (base) "/jobs/new" } enctype="multipart/form-data" {
                (form.house())
                (form.owner())
                (form.loss())
                (form.coming(devices))
                (form.report())
                (form.storms())
                div.row { button.main { "Begin the job" } a href={ (base) "/" } { "Leave it" } }
            }
        }
    };
    frame(shared, Some(&who.person), "Prepare a job", &body)
}

struct Form<'a> {
    sent: &'a Sent,
    wrong: &'a Wrong,
}

impl Form<'_> {
    fn told(&self) -> Markup {
        html! {
            @if !self.wrong.is_empty() {
                (notice(Tone::Bad, &html! {
                    p { "The job was not begun. What is wrong stands beside its field; what you typed is kept." }
                    @for words in self.wrong.of_whole() { p { (words) } }
                    @if self.sent.sent_files() {
                        p { "Choose the files again: a browser does not keep them." }
                    }
                }))
            }
        }
    }

    fn field<'f>(&'f self, name: &'f str, label: &'f str, hint: &'f str) -> Field<'f> {
        Field {
            name,
            label,
            hint,
            value: self.sent.typed(name),
            wrong: self.wrong.of(name),
            autocomplete: Some("off"),
            ..Field::default()
        }
    }

    fn text(&self, name: &str) -> Markup {
        let found = TEXTS.iter().find(|(known, ..)| *known == name);
        let (label, hint) = found.map_or((name, ""), |(_, label, hint, _)| (*label, *hint));
        let field = Field {
            most: Some(SHORT),
            required: name == "street",
            ..self.field(name, label, hint)
        };
        field.line(match name {
            "owner_phone" => "tel",
            "owner_email" => "email",
            _ => "text",
        })
    }

    fn line(&self, name: &str, label: &str, hint: &str, kind: &str) -> Markup {
        self.field(name, label, hint).line(kind)
    }

    fn house(&self) -> Markup {
        html! {
            fieldset {
                legend { "The house" }
                (self.text("street"))
                div.fields { (self.text("town")) (self.text("state")) (self.text("postal_code")) }
                div.fields {
                    (self.zone())
                    (self.line("latitude", "Latitude", "Degrees north, such as 33.2127.", "text"))
                    (self.line("longitude", "Longitude", "Degrees east; west with a minus.", "text"))
                }
                div.fields {
                    (self.line("front_bearing", "The front faces", "Degrees clockwise from true north.", "text"))
                    (self.line("storeys", "Storeys", "Above grade.", "text"))
                    (self.line("year_built", "Year built", "As far as known.", "text"))
                }
            }
        }
    }

    fn zone(&self) -> Markup {
        let wrong = self.wrong.of("time_zone");
        let described = if wrong.is_some() {
            "time_zone-hint time_zone-wrong"
        } else {
            "time_zone-hint"
        };
        html! {
            div.field {
                label for="time_zone" { "Time zone" span.soft.small { " (optional)" } }
                p.hint id="time_zone-hint" { "Choose one, or type its name." }
                input id="time_zone" name="time_zone" type="text" list="zones" autocomplete="off"
                    value=(self.sent.typed("time_zone")) aria-describedby=(described)
                    aria-invalid=[wrong.map(|_| "true")];
                datalist id="zones" { @for zone in ZONES { option value=(zone) {} } }
                @if let Some(wrong) = wrong { p.wrong id="time_zone-wrong" { (wrong) } }
            }
        }
    }

    fn owner(&self) -> Markup {
        html! {
            fieldset {
                legend { "The owner" }
                (self.text("owner"))
                div.fields { (self.text("owner_phone")) (self.text("owner_email")) }
            }
        }
    }

    fn loss(&self) -> Markup {
        let known: Vec<(String, String)> = Known::ALL
            .iter()
            .map(|word| (word.code().to_owned(), word.label().to_owned()))
            .collect();
        html! {
            fieldset {
                legend { "The loss and the local rules" }
                div.fields {
                    (self.line("date_of_loss", "Date of loss", "The day of the storm, on the clocks of the house.", "date"))
                    (self.field("ice_barrier", "Area designated for an ice barrier", "As the local authority says.").choice(&known))
                }
                (self.text("code_edition"))
            }
        }
    }

    fn coming(&self, devices: &[Coming]) -> Markup {
        html! {
            fieldset {
                legend { "Who is coming" }
                @if devices.is_empty() {
                    p.soft { "No phone of a crew has joined yet. The job can be prepared all the same: the first phone that joins sees it." }
                } @else {
                    p.hint { "Choose the phones that are to see the job. Where none is chosen, every crew's phone sees it." }
                    @for device in devices {
                        @let id = device.id.to_string();
                        label.choice {
                            input type="checkbox" name="device" value=(id)
                                checked[self.sent.devices.contains(&id)];
                            (device.words)
                        }
                    }
                }
            }
        }
    }

    fn report(&self) -> Markup {
        html! {
            fieldset {
                legend { "Measurement report" }
                (self.file("measured", "Its figures as a file",
                    "CSV or JSON with areas, pitches and edge lengths, whatever its columns are called.",
                    ".csv,.json,.txt,text/csv,application/json", false))
                (self.text("report_name"))
            }
        }
    }

    fn storms(&self) -> Markup {
        html! {
            fieldset {
                legend { "Storm reports" }
                (self.file("storm", "Files as published",
                    "Daily reports of the Storm Prediction Center or Storm Events details, plain or as .gz. \
                     Those near the house within a day of the loss are kept.",
                    ".csv,.gz,text/csv,application/gzip", true))
                div.fields {
                    (self.line("storm_day", "Date of a file of daily reports", "Such a file does not state it: it begins at 12:00 UTC of that date.", "date"))
                    (self.line("miles", "How far from the house", "Miles; 10 where nothing is typed.", "text"))
                }
                p.hint { "No report near an address is no proof that nothing fell there." }
            }
        }
    }

    fn file(&self, name: &str, label: &str, hint: &str, accept: &str, several: bool) -> Markup {
        let wrong = self.wrong.of(name);
        let described = match wrong {
            Some(_) => format!("{name}-hint {name}-wrong"),
            None => format!("{name}-hint"),
        };
        html! {
            div.field {
                label for=(name) { (label) span.soft.small { " (optional)" } }
                p.hint id={ (name) "-hint" } { (hint)
                    " At most " (limits::PREPARE_BYTES >> 20) " MB in all." }
                input id=(name) name=(name) type="file" accept=(accept) multiple[several]
                    aria-describedby=(described) aria-invalid=[wrong.map(|_| "true")];
                @if let Some(wrong) = wrong { p.wrong id={ (name) "-wrong" } { (wrong) } }
            }
        }
    }
}

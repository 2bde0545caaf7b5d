//! One line of the scope: all that it rests on, what the office did to it, and the forms to
//! change it. And the form for a line that the office adds.

use axum::Extension;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::Response;
use chalkwalk_core::job::{Audience, ScopeChangeKind, Unit, WorkAction};
use chalkwalk_core::review::places_in_walk_order;
use chalkwalk_core::review::scope::{Basis, Earlier, Item, LineKey, ScopeLine};
use maud::{Markup, html};

use super::super::at_job::AtJob;
use super::super::fields::{Asked, Fields};
use super::super::form::Field;
use super::super::layout::Part;
use super::super::nothing_here;
use super::super::shots::Shots;
use super::super::words::called;
use super::change::{last_change, shown_values};
use super::clash::NotDone;
use super::reckoned::Reckoned;
use super::stands::{changed, quantity, rests_on, unit_words, unsure};
use crate::limits;
use crate::serve::Shared;
use crate::serve::guard::SignedIn;

/// What a form shows: what was typed, and what came of it.
struct Form<'a> {
    typed: &'a Fields,
    not_done: Option<&'a NotDone>,
}

impl Form<'_> {
    fn value<'a>(&'a self, name: &str, now: &'a str) -> &'a str {
        match self.not_done {
            Some(_) => self.typed.get(name),
            None => now,
        }
    }

    /// The form of one thing to do: what was sent for another is not its own.
    fn part(&self, what: &str) -> Self {
        let mine = self.typed.get("do") == what;
        Self {
            typed: self.typed,
            not_done: self.not_done.filter(|_| mine),
        }
    }

    /// What the form was first shown with: after a mistake it stays so, after a clash it is what
    /// stands now, as the person has seen both.
    fn shown_with<'a>(&'a self, name: &str, now: &'a str) -> &'a str {
        match self.not_done {
            None | Some(NotDone::Clash(_)) => now,
            Some(_) => self.typed.get(name),
        }
    }

    fn wrong(&self, name: &str) -> Option<&str> {
        self.not_done?.with_field(name)
    }
}

/// `GET /jobs/{job}/scope/line`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    Asked(asked): Asked,
) -> Response {
    let form = Form {
        typed: &asked,
        not_done: None,
    };
    shown(&shared, &who, &id, &form).await
}

/// `GET /jobs/{job}/scope/line/new`.
pub(in crate::serve) async fn add(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
) -> Response {
    let typed = Fields::default().with("do", "add");
    let form = Form {
        typed: &typed,
        not_done: None,
    };
    shown(&shared, &who, &id, &form).await
}

/// The page once more, with what was typed and why nothing was recorded.
pub(super) async fn again(
    shared: &Shared,
    who: &SignedIn,
    id: &str,
    typed: &Fields,
    not_done: &NotDone,
) -> Response {
    let form = Form {
        typed,
        not_done: Some(not_done),
    };
    let mut response = shown(shared, who, id, &form).await;
    if response.status() == StatusCode::OK {
        *response.status_mut() = not_done.status();
    }
    response
}

async fn shown(shared: &Shared, who: &SignedIn, id: &str, form: &Form<'_>) -> Response {
    let read = async {
        let at = AtJob::open(shared, who, id).await?;
        let reckoned = Reckoned::of(&at).await?;
        let pictures = Shots::of(&at).await?;
        Ok::<_, Response>((at, reckoned, pictures))
    };
    let (at, reckoned, pictures) = match read.await {
        Ok(read) => read,
        Err(response) => return response,
    };
    let main = if form.typed.get("do") == "add" {
        new_line(&at, form)
    } else {
        let key = LineKey::named(form.typed.get("key"));
        let scope = &reckoned.scope;
        let mut all = scope.lines.iter().chain(&scope.left_out);
        match all.find(|line| line.key == key) {
            Some(line) => one_line(&at, &pictures, line, form),
            None if form.not_done.is_some() => no_line(&at, form),
            None => return nothing_here(shared),
        }
    };
    at.page(Part::Scope, &[], &main)
}

fn up(at: &AtJob) -> Markup {
    html! { p.up { a href={ (at.path()) "/scope" } { "The scope" } } }
}

fn no_line(at: &AtJob, form: &Form<'_>) -> Markup {
    html! {
        (up(at))
        h2 { "The line is gone" }
        @if let Some(not_done) = form.not_done { (not_done.shown()) }
        p { "What you typed: " (form.typed.get("quantity")) " " (form.typed.get("unit")) ". "
            (form.typed.get("reason")) }
    }
}

fn one_line(at: &AtJob, pictures: &Shots, line: &ScopeLine, form: &Form<'_>) -> Markup {
    html! {
        (up(at))
        h2 { (line.item_words) ", " (line.action.label()) }
        p.under { (line.place_words) }
        @if let Some(not_done) = form.not_done { (not_done.shown()) }
        div.split {
            div {
                dl.facts {
                    div { dt { "Quantity" } dd { (quantity(line)) } }
                    div { dt { "Rests on" } dd { (rests_on(at, line)) } }
                }
                @if !line.how.is_empty() { p { "Worked out: " (line.how) "." } }
                @if let Basis::Requirement { section, edition, words } = &line.basis {
                    div.card {
                        h3 { (edition) " " (section) }
                        p { (words) }
                        p.soft { "In our words. Confirm with the local authority: local amendments win." }
                    }
                }
                (unsure(line))
                (history(at, line))
                @if !line.records.is_empty() {
                    h3 { "Other records behind it" }
                    ul.quiet { @for record in &line.records { li { (called(at, record)) } } }
                }
                h3 { "Photos" }
                @if line.photos.is_empty() { p.soft { "No photo shows it." } }
                (pictures.all(&at.job, &line.photos))
            }
            div.side {
                (amend(at, line, form))
                (leave_out(at, line, form))
            }
        }
    }
}

fn history(at: &AtJob, line: &ScopeLine) -> Markup {
    let Some(change) = &line.change else {
        return html! {};
    };
    html! {
        h3 { "What the office did" }
        (changed(at, line))
        @if !change.was.is_empty() {
            ol.quiet { @for was in &change.was { li { (earlier(at, was)) } } }
        }
    }
}

fn earlier(at: &AtJob, was: &Earlier) -> Markup {
    html! {
        "before: " (was.action.label()) ", "
        @match was.quantity { Some(quantity) => (quantity), None => "quantity not known" }
        @match &was.by {
            Some(by) => span.soft { " (" (at.job.who(by.device)) ", " (at.when(by.at))
                @if let Some(reason) = &was.reason { ": " (reason) } ")" },
            None => span.soft { " (from the record)" },
        }
    }
}

fn hidden(name: &str, value: &str) -> Markup {
    html! { input type="hidden" name=(name) value=(value); }
}

fn begin(at: &AtJob, what: &str, line: &ScopeLine, form: &Form<'_>, inner: &Markup) -> Markup {
    html! {
        form.card method="post" action={ (at.path()) "/scope/change" } {
            (hidden("do", what))
            (hidden("key", line.key.as_str()))
            (hidden("seen", form.shown_with("seen", &last_change(line))))
            (inner)
        }
    }
}

fn amend(at: &AtJob, line: &ScopeLine, form: &Form<'_>) -> Markup {
    let now = shown_values(line);
    let form = &form.part("amend");
    let value = |name: &str| {
        let found = now.iter().find(|(known, _)| *known == name);
        found.map_or("", |(_, value)| value)
    };
    begin(
        at,
        "amend",
        line,
        form,
        &html! {
            h3 { "Change the line" }
            @for (name, value) in &now { (hidden(&format!("was-{name}"), form.shown_with(&format!("was-{name}"), value))) }
            (amounts(form, value("quantity"), value("unit")))
            (work(form, value("action")))
            (readers(form, value("audience")))
            (why(form, "why-change"))
            button.main { "Record the change" }
        },
    )
}

fn leave_out(at: &AtJob, line: &ScopeLine, form: &Form<'_>) -> Markup {
    let kind = line.change.as_ref().map(|change| change.kind);
    let title = match kind {
        Some(ScopeChangeKind::Added) => "Take the added line back",
        Some(ScopeChangeKind::LeftOut) => "Put the line back",
        Some(ScopeChangeKind::Amended) => "Take the last change back",
        None => "",
    };
    let (back, out) = (form.part("take_back"), form.part("leave_out"));
    html! {
        @if kind.is_some() {
            (begin(at, "take_back", line, &back, &html! {
                h3 { (title) }
                (why(&back, "why-back"))
                button { (title) }
            }))
        }
        @if !matches!(kind, Some(ScopeChangeKind::LeftOut | ScopeChangeKind::Added)) {
            (begin(at, "leave_out", line, &out, &html! {
                h3 { "Leave the line out" }
                p.hint { "It stays readable below the scope, with your reason." }
                (why(&out, "why-out"))
                button.risky { "Leave it out" }
            }))
        }
    }
}

fn new_line(at: &AtJob, form: &Form<'_>) -> Markup {
    let places: Vec<(String, String)> = places_in_walk_order(&at.job)
        .into_iter()
        .map(|place| (place.to_string(), at.job.place_name(&place)))
        .collect();
    let field = |name: &'static str, label: &'static str, hint: &'static str| Field {
        name,
        label,
        hint,
        value: form.value(name, ""),
        wrong: form.wrong(name),
        required: name == "item",
        most: Some(limits::REASON_BYTES),
        ..Field::default()
    };
    html! {
        (up(at))
        h2 { "Add a line" }
        p.under { "For work that the record does not make a line of. The reason stands beside it." }
        @if let Some(not_done) = form.not_done { (not_done.shown()) }
        form.card.narrow method="post" action={ (at.path()) "/scope/change" } {
            (hidden("do", "add"))
            (field("item", "Item", "In trade words: gutter, pipe boot, dumpster.").line_from("text", Some("items")))
            datalist id="items" { @for item in Item::ALL { option value=(item.label()) {} } }
            (field("place", "Where", "Left open, it is for the house as a whole.").choice(&places))
            (amounts(form, "", ""))
            (work(form, WorkAction::Install.code()))
            (readers(form, Audience::Shared.code()))
            (why(form, "reason"))
            button.main { "Add the line" }
        }
    }
}

fn amounts(form: &Form<'_>, quantity: &str, unit: &str) -> Markup {
    let units: Vec<(String, String)> = Unit::ALL
        .iter()
        .map(|unit| (unit.code().to_owned(), unit_words(*unit).to_owned()))
        .collect();
    html! {
        div.fields {
            (Field {
                name: "quantity", label: "Quantity", value: form.value("quantity", quantity),
                wrong: form.wrong("quantity"), required: true, autocomplete: Some("off"),
                ..Field::default()
            }.line("text"))
            (Field {
                name: "unit", label: "Unit", value: form.value("unit", unit),
                wrong: form.wrong("unit"), required: true, ..Field::default()
            }.choice(&units))
        }
    }
}

fn work(form: &Form<'_>, now: &str) -> Markup {
    let all: Vec<(String, String)> = WorkAction::ALL
        .iter()
        .map(|action| (action.code().to_owned(), action.label().to_owned()))
        .collect();
    Field {
        name: "action",
        label: "Work",
        value: form.value("action", now),
        wrong: form.wrong("action"),
        required: true,
        ..Field::default()
    }
    .choice(&all)
}

fn readers(form: &Form<'_>, now: &str) -> Markup {
    let all = [
        (
            Audience::Shared.code().to_owned(),
            "anybody who gets the scope".to_owned(),
        ),
        (
            Audience::OfficeOnly.code().to_owned(),
            "the office only".to_owned(),
        ),
    ];
    Field {
        name: "audience",
        label: "Who may read it",
        value: form.value("audience", now),
        wrong: form.wrong("audience"),
        required: true,
        ..Field::default()
    }
    .choice(&all)
}

fn why(form: &Form<'_>, id: &str) -> Markup {
    let (value, wrong) = (form.value("reason", ""), form.wrong("reason"));
    html! {
        div.field {
            label for=(id) { "Why" }
            textarea.short id=(id) name="reason" required maxlength=(limits::REASON_BYTES)
                aria-describedby=[wrong.map(|_| format!("{id}-wrong"))]
                aria-invalid=[wrong.map(|_| "true")] { (value) }
            @if let Some(words) = wrong { p.wrong id={ (id) "-wrong" } { (words) } }
        }
    }
}

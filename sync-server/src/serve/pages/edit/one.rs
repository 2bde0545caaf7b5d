//! One record: what it says, what shows it, what was asked about it, and how it came about.

use axum::Extension;
use axum::extract::{Path, State};
use axum::response::Response;
use chalkwalk_core::job::{
    Audience, Conflict, DeviceId, Kind, Place, RecordHeader, RecordId, RecordRef, Role,
};
use chalkwalk_core::review::office_only_finding;
use maud::{Markup, html};

use super::super::super::Shared;
use super::super::super::guard::SignedIn;
use super::super::super::icons::icon;
use super::super::at_job::AtJob;
use super::super::deeds;
use super::super::fields::Asked;
use super::super::form::{Field, Tone, notice};
use super::super::open::questions;
use super::super::shots::{Shots, caption, from_afar, photo_at, showing, taken_at};
use super::super::words::{capital, record_name, record_path, state_of};
use super::change::Target;
use super::fields::{in_a_sentence, in_words, text_of};
use super::plan::HITS;
use super::spec::{Input, Sheet, may_strike};
use super::tables::{label, sheet_of};
use super::{back, own_path, part_of, place_of, records};

/// `GET /jobs/{job}/records/{kind}/{record}`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((id, kind, record)): Path<(String, String, String)>,
    Asked(asked): Asked,
) -> Result<Response, Response> {
    let target = Target::open(&shared, &who, (&id, &kind, &record)).await?;
    let main = body(&target.at, &target.of, Some(asked.get("done"))).await?;
    Ok(target.at.page(part_of(target.of.kind), &[], &main))
}

/// The page; `done` names what was just done.
pub(in crate::serve) async fn body(
    at: &AtJob,
    of: &RecordRef,
    done: Option<&str>,
) -> Result<Markup, Response> {
    let known = at.job.records.header(of).zip(sheet_of(of.kind));
    let Some((header, sheet)) = known else {
        return Ok(html! {});
    };
    let shots = Shots::of(at).await?;
    let deeds = deeds::all(at).await?;
    let one = One {
        at,
        of,
        header,
        sheet,
        place: at
            .job
            .records
            .fields(of)
            .and_then(|fields| place_of(&fields)),
        may_edit: at.may(Role::Estimator),
    };
    let stands = one.stands();
    let place = one.place.as_ref().map(ToString::to_string);
    let (up, words) = back(at, of, place.as_deref());
    Ok(html! {
        p.up { a href=(up) { (icon("arrow-left")) (words) } }
        header.head {
            h2.struck[!stands] { (record_name(&at.job, of)) }
            @if one.may_edit && stands && sheet.edits {
                a.button href={ (records(at, of.kind)) "/" (of.id) "/edit" } { (icon("pencil")) "Edit" }
            }
        }
        p.under { (one.under()) }
        (said_done(done.unwrap_or_default()))
        (one.standing())
        @for conflict in header.conflicts { (one.disputed(conflict)) }
        (one.both(&shots)?)
        @if !matches!(of.kind, Kind::Question | Kind::Answer | Kind::Note) {
            (questions::about(at, &shots, std::slice::from_ref(of), one.may_edit))
        }
        section aria-labelledby="came-about" {
            h3 #came-about { "How it came about" }
            p.soft.small { "Read from the signed changes of each device; nobody can rewrite it." }
            (deeds::history(at, &deeds, of, &|key| label(of.kind, key)))
        }
        @if one.may_edit { (one.decisions()) }
    })
}

/// The device of the person who looks, as the record knows it.
#[expect(clippy::result_large_err, reason = "a refusal is a whole answer")]
pub(super) fn own_device(at: &AtJob) -> Result<DeviceId, Response> {
    let pen = at.shared.hub.office().pen(&at.person);
    pen.map(|pen| pen.certificate.device).map_err(|error| {
        tracing::error!(%error, "a pen could not be made");
        super::super::unwell(
            &at.shared,
            &chalkwalk_core::document::Refusal::Unsigned(error.to_string()),
        )
    })
}

fn said_done(what: &str) -> Markup {
    let words = match what {
        "added" => "It is recorded. Phones get it when they next meet the office.",
        "changed" => "The change is recorded. Phones get it when they next meet the office.",
        "struck" => "It is struck. It stays in the record with the reason.",
        "stands" => "It stands again.",
        "asked" => "The question is on its way to the crew's phones.",
        "answered" => "The answer is recorded.",
        "photos" => "What the photos show is recorded.",
        "counted" => "Your count is recorded.",
        "marked" => "The marks are recorded beside the photo; its file is unaltered.",
        "same" => "Nothing differed from the record, so nothing was written.",
        _ => return html! {},
    };
    notice(Tone::Good, &html! { p { (words) } })
}

struct One<'a> {
    at: &'a AtJob,
    of: &'a RecordRef,
    header: RecordHeader<'a>,
    sheet: &'static Sheet,
    place: Option<Place>,
    may_edit: bool,
}

impl One<'_> {
    fn stands(&self) -> bool {
        self.header.struck.is_none()
    }

    fn path(&self) -> String {
        format!("{}/{}", records(self.at, self.of.kind), self.of.id)
    }

    fn under(&self) -> Markup {
        let (at, made) = (self.at, self.header.made);
        let finding = match self.of.kind {
            Kind::Finding => at.job.records.findings.get(&self.of.id),
            _ => None,
        };
        let place = self.place.as_ref().filter(|place| *place != self.of);
        html! {
            @if let Some(finding) = finding { (state_of(finding)) " · " }
            @if let Some(place) = place {
                @let name = capital(&at.job.place_name(place));
                @match record_path(place) {
                    Some(path) => a href={ (at.path()) (path) } { (name) },
                    None => (name),
                }
                " · "
            }
            @if finding.is_some_and(office_only_finding) { span.tag { "office only" } " · " }
            "recorded " (at.when(made.at)) " by " (at.job.who(made.device))
        }
    }

    fn standing(&self) -> Markup {
        let Some(struck) = self.header.struck else {
            return html! {};
        };
        let words = html! {
            p { b { "Struck" } " by " (deeds::who(self.at, struck.by)) ", " (self.at.when(struck.by.at)) "." }
            p { (struck.reason) }
        };
        notice(Tone::Warn, &words)
    }

    fn disputed(&self, conflict: &Conflict) -> Markup {
        let words = html! {
            p { "Two people stated differently: " b { (label(self.of.kind, &conflict.field)) } ". "
                a href={ (self.at.path()) "/open#settle" } { "Look at both and settle it" } "." }
        };
        notice(Tone::Warn, &words)
    }

    /// What shows it beside what is recorded of it.
    #[expect(clippy::result_large_err, reason = "a refusal is a whole answer")]
    fn both(&self, shots: &Shots) -> Result<Markup, Response> {
        let own = own_device(self.at)?;
        let facts = html! {
            section aria-labelledby="stated" {
                h3 #stated { "What is recorded" }
                (self.facts())
                @if self.sheet.counts { (self.counts(own)) }
            }
        };
        Ok(match self.of.kind {
            Kind::Property | Kind::Interview | Kind::Question | Kind::Answer | Kind::Note => facts,
            Kind::Photo => html! { div.split {
                section aria-labelledby="picture" {
                    h3.out-of-sight #picture { "The picture" }
                    div.pair.lone.large { (shots.figure(self.at, &self.of.id, &self.below_own())) }
                }
                (facts)
            } },
            _ => html! { div.split {
                section aria-labelledby="shown-by" {
                    h3 #shown-by { "Photos" }
                    (self.photos(shots))
                }
                (facts)
            } },
        })
    }

    fn below_own(&self) -> Markup {
        html! { @if self.may_edit && self.stands() {
            p { a href={ (self.at.path()) "/marks/" (self.of.id) } { "Draw marks on it" } }
        } }
    }

    /// Those that show where it is beside those that show what it is.
    fn photos(&self, shots: &Shots) -> Markup {
        let all = showing(self.at, self.of);
        let may_edit = self.may_edit && self.stands();
        let (far, near): (Vec<_>, Vec<_>) = all.iter().partition(|id| from_afar(self.at, id));
        let figures = |ids: &[&RecordId]| {
            html! { @for photo in ids { (shots.figure(self.at, photo, &self.below(photo, may_edit))) } }
        };
        html! {
            @if all.is_empty() {
                p.soft { "No photo shows it. Attach one that was taken here, or ask the crew for one." }
            } @else {
                div.pair.lone[far.is_empty() || near.is_empty()] {
                    @if !far.is_empty() { div { (figures(&far)) } }
                    @if !near.is_empty() { div { (figures(&near)) } }
                }
            }
            @if may_edit { (self.attach(&all)) }
        }
    }

    fn below(&self, photo: &RecordId, may_edit: bool) -> Markup {
        let photo_page = own_path(self.at, &photo_at(photo));
        html! {
            @if may_edit {
                div.row.tight {
                    a href={ (self.at.path()) "/open/ask?about=" (photo_at(photo)) } { "Ask about this photo" }
                    a href=(photo_page) { "Edit its words and marks" }
                    form method="post" action={ (self.path()) "/photos" } {
                        input type="hidden" name="photo" value=(photo);
                        button.plain name="do" value="detach" { "It does not show this" }
                    }
                }
            }
        }
    }

    fn attach(&self, shown: &[RecordId]) -> Markup {
        let itself = self.of.is_place().then_some(self.of);
        let place = itself.or(self.place.as_ref());
        let here = place.map_or_else(Vec::new, |place| taken_at(self.at, place));
        let others: Vec<_> = here.iter().filter(|photo| !shown.contains(photo)).collect();
        html! {
            @if !others.is_empty() {
                details {
                    summary { "Attach a photo that was taken here" }
                    form method="post" action={ (self.path()) "/photos" } {
                        div.field {
                            label for="photo" { "Photo" }
                            select id="photo" name="photo" required {
                                option value="" { "choose" }
                                @for other in others {
                                    @if let Some(photo) = self.at.job.records.photos.get(other) {
                                        option value=(other) { (caption(&self.at.job, photo)) ", " (self.at.when(photo.made.at)) }
                                    }
                                }
                            }
                        }
                        button name="do" value="attach" { "Attach" }
                    }
                }
            }
        }
    }

    fn facts(&self) -> Markup {
        let (job, places) = (&self.at.job, self.at.places());
        let Some(fields) = job.records.fields(self.of) else {
            return html! {};
        };
        let stated: Vec<_> = self
            .sheet
            .specs()
            .filter_map(|spec| {
                let text = text_of(&fields, spec);
                (!text.is_empty() && spec.key != "text")
                    .then(|| (spec, in_words(job, &places, spec, &text)))
            })
            .collect();
        let text = self.sheet.spec("text").map(|spec| text_of(&fields, spec));
        let text = text.unwrap_or_default();
        html! {
            @if !text.is_empty() { p.said { (text) } }
            @if text.is_empty() && stated.is_empty() { p.soft { "Nothing is recorded of it yet." } }
            dl.stated {
                @for (spec, words) in stated {
                    div.wide[matches!(spec.input, Input::Lines)] {
                        dt { (spec.label) } dd { (words) }
                    }
                }
                @for (device, hits) in self.header.tally {
                    div { dt { "Hits counted" } dd { (hits) span.soft { " by " (job.who(*device)) } } }
                }
            }
            @if !self.header.unread.is_empty() {
                p.soft.small { "A newer version recorded more here: " (self.header.unread.join(", "))
                    ". It stays in the record." }
            }
        }
    }

    /// One's own count. Hits are added up by person, so nobody writes another's.
    fn counts(&self, own: DeviceId) -> Markup {
        let mine = self
            .header
            .tally
            .get(&own)
            .map(u32::to_string)
            .unwrap_or_default();
        html! {
            @if self.may_edit && self.stands() {
                details open[!mine.is_empty()] {
                    summary { "Hits that you counted yourself" }
                    form method="post" action={ (self.path()) "/count" } {
                        input type="hidden" name={ "was-" (HITS) } value=(mine);
                        (Field {
                            name: HITS,
                            label: "Your count",
                            value: &mine,
                            hint: "It is added to what others counted; nobody changes another's count. \
                                   Where a count of the crew is wrong, ask the crew, or strike this \
                                   and record it anew.",
                            required: true,
                            ..Field::default()
                        }.line("text"))
                        button { (icon("check")) "Record the count" }
                    }
                }
            }
        }
    }

    /// What is decided about a record as a whole: who reads it, and whether it stands.
    fn decisions(&self) -> Markup {
        let path = self.path();
        if !self.stands() {
            return html! {
                section.card.no-print {
                    h3 { "Let it stand again" }
                    form method="post" action={ (path) "/reinstate" } {
                        button { (icon("undo-2")) "Reinstate" }
                    }
                }
            };
        }
        html! {
            div.cards.no-print {
                @if self.sheet.edits { (self.audience(&path)) }
                @if may_strike(self.of) {
                    section.card {
                        h3 { "Strike it" }
                        (strike_form(&path, "Strike", "reason"))
                    }
                }
            }
        }
    }

    fn audience(&self, path: &str) -> Markup {
        let spec = self.sheet.spec("audience");
        let fields = self.at.job.records.fields(self.of);
        let settled = !self
            .header
            .conflicts
            .iter()
            .any(|conflict| conflict.field == "audience");
        let Some((spec, fields)) = spec.zip(fields).filter(|_| settled) else {
            return html! {};
        };
        let now = text_of(&fields, spec);
        let (other, words) = match Audience::from_code(&now) {
            Some(Audience::OfficeOnly) => (Audience::Shared, "Share it with owner and adjuster"),
            _ => (Audience::OfficeOnly, "Keep it in the office"),
        };
        html! {
            section.card {
                h3 { (spec.label) }
                p { @if now.is_empty() { "Nobody decided: it counts as shared." }
                    @else { "Now: " (in_words(&self.at.job, &[], spec, &now)) "." } }
                form method="post" action=(path) {
                    input type="hidden" name="was-audience" value=(now);
                    input type="hidden" name="audience" value=(other.code());
                    button { (icon("eye-off")) (words) }
                }
            }
        }
    }
}

/// The form that strikes a record. `id` is the field's own on its page.
pub(in crate::serve) fn strike_form(path: &str, words: &str, id: &str) -> Markup {
    html! {
        form method="post" action={ (path) "/strike" } {
            div.field {
                label for=(id) { "Why" }
                p.hint id={ (id) "-hint" } { "It stays in the record, struck, with your reason." }
                input id=(id) name="reason" required maxlength="2000" aria-describedby={ (id) "-hint" };
            }
            button.risky { (words) }
        }
    }
}

/// An error as a whole answer's words.
pub(in crate::serve) fn not_written(error: &crate::hub::PenError) -> Markup {
    notice(
        Tone::Bad,
        &html! { p { b { "Nothing was written. " } (in_a_sentence(error)) } },
    )
}

//! One finding: what it says, what shows it, what was asked about it, and how it came about.

use axum::response::Response;
use chalkwalk_core::document::Deed;
use chalkwalk_core::job::{Audience, Conflict, Fields, Finding, Record, RecordId, Role};
use chalkwalk_core::review::office_only_finding;
use maud::{Markup, html};

use super::super::super::icons::icon;
use super::super::at_job::AtJob;
use super::super::deeds;
use super::super::form::{Field, Tone, notice};
use super::super::open::questions;
use super::super::shots::{Shots, caption, from_afar, photo_at, showing, taken_at};
use super::super::words::{capital, finding_name, record_path, state_of};
use super::fields::{Input, in_words, label, specs, text_of};
use super::pointer;

/// The page; `done` names what was just done.
pub(super) async fn body(
    at: &AtJob,
    id: &RecordId,
    done: Option<&str>,
) -> Result<Markup, Response> {
    let Some(finding) = at.job.records.findings.get(id) else {
        return Ok(html! {});
    };
    let shots = Shots::of(at).await?;
    let deeds = deeds::all(at).await?;
    let may_edit = at.may(Role::Estimator);
    let path = format!("{}/findings/{id}", at.path());
    Ok(html! {
        p.up { a href={ (at.path()) "/findings" } { (icon("arrow-left")) "All findings" } }
        header.head {
            h2.struck[!finding.stands()] { (finding_name(finding)) }
            @if may_edit && finding.stands() {
                a.button href={ (path) "/edit" } { (icon("pencil")) "Edit" }
            }
        }
        p.under { (under(at, finding)) }
        (done.map_or_else(|| html! {}, said_done))
        (standing(at, finding))
        @for conflict in &finding.conflicts { (disputed(at, conflict)) }
        div.split {
            section aria-labelledby="shown-by" {
                h3 #shown-by { "Photos" }
                (photos(at, &shots, id, may_edit && finding.stands()))
            }
            section aria-labelledby="stated" {
                h3 #stated { "What is recorded" }
                (facts(at, finding))
            }
        }
        (questions::about(at, &shots, &[pointer(id)], may_edit))
        section aria-labelledby="came-about" {
            h3 #came-about { "How it came about" }
            p.soft.small { "Read from the signed changes of each device; nobody can rewrite it." }
            (came_about(at, &deeds, id))
        }
        @if may_edit { (decisions(&path, finding)) }
    })
}

fn under(at: &AtJob, finding: &Record<Finding>) -> Markup {
    html! {
        (state_of(finding))
        @if let Some(place) = &finding.place {
            @let name = capital(&at.job.place_name(place));
            " · "
            @match record_path(place) {
                Some(path) => a href={ (at.path()) (path) } { (name) },
                None => (name),
            }
        }
        @if office_only_finding(finding) { span.tag { "office only" } }
        " · recorded " (at.when(finding.made.at)) " by " (at.job.who(finding.made.device))
    }
}

fn said_done(what: &str) -> Markup {
    let words = match what {
        "added" => "The finding is recorded.",
        "changed" => "The change is recorded. Phones get it when they next meet the office.",
        "struck" => "The finding is struck. It stays in the record with the reason.",
        "stands" => "The finding stands again.",
        "asked" => "The question is on its way to the crew's phones.",
        "answered" => "The answer is recorded.",
        "photos" => "What the photos show is recorded.",
        "same" => "Nothing differed from the record, so nothing was written.",
        _ => return html! {},
    };
    notice(Tone::Good, &html! { p { (words) } })
}

fn standing(at: &AtJob, finding: &Record<Finding>) -> Markup {
    let Some(struck) = &finding.struck else {
        return html! {};
    };
    let words = html! {
        p { b { "Struck" } " by " (deeds::who(at, struck.by)) ", " (at.when(struck.by.at)) "." }
        p { (struck.reason) }
    };
    notice(Tone::Warn, &words)
}

fn disputed(at: &AtJob, conflict: &Conflict) -> Markup {
    let words = html! {
        p { "Two people stated differently: " b { (label(&conflict.field)) } ". "
            a href={ (at.path()) "/open#settle" } { "Look at both and settle it" } "." }
    };
    notice(Tone::Warn, &words)
}

/// Those that show where it is beside those that show what it is.
fn photos(at: &AtJob, shots: &Shots, id: &RecordId, may_edit: bool) -> Markup {
    let all = showing(at, &pointer(id));
    let (far, near): (Vec<_>, Vec<_>) = all.iter().partition(|id| from_afar(at, id));
    let figures = |ids: &[&RecordId]| {
        html! { @for photo in ids { (shots.figure(at, photo, &below(at, id, photo, may_edit))) } }
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
        @if may_edit { (attach(at, id, &all)) }
    }
}

fn below(at: &AtJob, finding: &RecordId, photo: &RecordId, may_edit: bool) -> Markup {
    html! {
        @if may_edit {
            div.row.tight {
                a href={ (at.path()) "/open/ask?about=" (photo_at(photo)) } { "Ask about this photo" }
                form method="post" action={ (at.path()) "/findings/" (finding) "/photos" } {
                    input type="hidden" name="photo" value=(photo);
                    button.plain name="do" value="detach" { "It does not show this" }
                }
            }
        }
    }
}

fn attach(at: &AtJob, id: &RecordId, shown: &[RecordId]) -> Markup {
    let place = at
        .job
        .records
        .findings
        .get(id)
        .and_then(|finding| finding.place.clone());
    let here = place.map_or_else(Vec::new, |place| taken_at(at, &place));
    let others: Vec<_> = here.iter().filter(|photo| !shown.contains(photo)).collect();
    html! {
        @if !others.is_empty() {
            details {
                summary { "Attach a photo that was taken here" }
                form method="post" action={ (at.path()) "/findings/" (id) "/photos" } {
                    div.field {
                        label for="photo" { "Photo" }
                        select id="photo" name="photo" required {
                            option value="" { "choose" }
                            @for other in others {
                                @if let Some(photo) = at.job.records.photos.get(other) {
                                    option value=(other) { (caption(at, photo)) ", " (at.when(photo.made.at)) }
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

fn facts(at: &AtJob, finding: &Record<Finding>) -> Markup {
    let stated = specs().filter_map(|spec| {
        let text = text_of(finding, spec);
        (!text.is_empty() && spec.key != "text").then(|| (spec, in_words(&at.job, spec, &text)))
    });
    html! {
        @if let Some(text) = &finding.text { p.said { (text) } }
        dl.stated {
            @for (spec, words) in stated {
                div.wide[matches!(spec.input, Input::Lines)] {
                    dt { (spec.label) } dd { (words) }
                }
            }
            @for (device, hits) in &finding.tally {
                div { dt { "Hits counted" } dd { (hits) span.soft { " by " (at.job.who(*device)) } } }
            }
        }
        @if !finding.unread.is_empty() {
            p.soft.small { "A newer version recorded more here: " (finding.unread.join(", ")) ". It stays in the record." }
        }
    }
}

fn came_about(at: &AtJob, deeds: &[Deed], id: &RecordId) -> Markup {
    deeds::history(at, deeds, &pointer(id), &label)
}

/// What is decided about a finding as a whole: who reads it, and whether it stands.
fn decisions(path: &str, finding: &Record<Finding>) -> Markup {
    if !finding.stands() {
        return html! {
            section.card.no-print {
                h3 { "Let it stand again" }
                form method="post" action={ (path) "/reinstate" } {
                    button { (icon("undo-2")) "Reinstate" }
                }
            }
        };
    }
    let audience = finding.words("audience").unwrap_or_default();
    let now = finding.audience.map_or("", |audience| audience.code());
    let (other, words) = match finding.audience {
        Some(Audience::OfficeOnly) => (Audience::Shared, "Share it with owner and adjuster"),
        _ => (Audience::OfficeOnly, "Keep it in the office"),
    };
    let settled = !finding
        .conflicts
        .iter()
        .any(|conflict| conflict.field == "audience");
    html! {
        div.cards.no-print {
            @if settled {
                section.card {
                    h3 { "Who may read it" }
                    p { @if audience.is_empty() { "Nobody decided: it counts as shared." }
                        @else { "Now: " (audience) "." } }
                    form method="post" action=(path) {
                        input type="hidden" name="was-audience" value=(now);
                        input type="hidden" name="audience" value=(other.code());
                        button { (icon("eye-off")) (words) }
                    }
                }
            }
            section.card {
                h3 { "Strike it" }
                form method="post" action={ (path) "/strike" } {
                    (Field {
                        name: "reason",
                        label: "Why",
                        hint: "It stays in the record, struck, with your reason.",
                        required: true,
                        most: Some(2_000),
                        ..Field::default()
                    }.line("text"))
                    button.risky { "Strike" }
                }
            }
        }
    }
}

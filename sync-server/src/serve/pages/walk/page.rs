//! One photo of the walk with what stands round it. Every way on is a link: the script only makes
//! them quick.

use chalkwalk_core::job::{
    Audience, BlobKind, Capture, Photo, PhotoRole, PictureFormat, Record, RecordId,
};
use chalkwalk_core::packet::overlay;
use maud::{Markup, html};

use super::super::super::icons::icon;
use super::super::at_job::AtJob;
use super::super::words::capital;
use super::facts::{self, upright};
use super::files::{BESIDE, Here, strip};
use super::order::{Step, Walk};

pub(super) fn main(at: &AtJob, walk: &Walk, place: usize, here: &Here) -> Markup {
    let view = View {
        at,
        walk,
        here,
        base: format!("{}/walk", at.path()),
    };
    match walk.steps.get(place) {
        Some(step) => view.page(place, step),
        None => html! {},
    }
}

struct View<'a> {
    at: &'a AtJob,
    walk: &'a Walk,
    here: &'a Here,
    base: String,
}

impl View<'_> {
    fn page(&self, place: usize, step: &Step) -> Markup {
        let words = self.words(step);
        html! {
            div.walk data-walk {
                (self.stations(step))
                div.walk-split {
                    div.walk-stage {
                        (self.bar(place))
                        (self.stage(step, &words))
                        (self.strip(place))
                    }
                    div.walk-beside {
                        (self.pair(place, step))
                        @for id in &step.findings {
                            @if let Some(found) = self.at.job.records.findings.get(id) {
                                (facts::finding(self.at, id, found))
                            }
                        }
                        (facts::picture(self.at, step, self.original(step).as_deref()))
                    }
                }
            }
        }
    }

    fn href(&self, id: &RecordId) -> String {
        format!("{}/{id}", self.base)
    }

    fn photo(&self, step: &Step) -> Option<&Record<Photo>> {
        self.at.job.records.photos.get(&step.id)
    }

    /// The sides and slopes, to jump to.
    fn stations(&self, step: &Step) -> Markup {
        html! {
            nav.stations aria-label="Stations of the walk" {
                ul { @for (number, station) in self.walk.stations.iter().enumerate() {
                    @if let Some(first) = self.walk.steps.get(station.first) {
                        li { a href=(self.href(&first.id)) data-step
                            aria-current=[(number == step.station).then_some("location")] {
                            (capital(&station.name)) span.count { (station.count) }
                        } }
                    }
                } }
            }
        }
    }

    fn bar(&self, place: usize) -> Markup {
        let step = |at: Option<usize>| at.and_then(|at| self.walk.steps.get(at));
        let (before, after) = (step(place.checked_sub(1)), step(Some(place + 1)));
        html! {
            nav.walk-bar aria-label="Before and after" {
                (self.way(before, "prev", "chevron-left", "Before"))
                p role="status" { b { (place + 1) } " of " (self.walk.steps.len()) }
                (self.way(after, "next", "chevron-right", "After"))
                div.tools {
                    button.small.needs-script type="button" data-zoom aria-pressed="false"
                        title="Z" { (icon("zoom-in")) "Full size" }
                    button.small.needs-script type="button" data-marks aria-pressed="true"
                        title="M" { (icon("pencil")) "Marks" }
                    button.small.needs-script type="button" data-fill aria-pressed="false"
                        title="F" { (icon("maximize")) "Fill the screen" }
                }
            }
        }
    }

    fn way(&self, to: Option<&Step>, rel: &str, name: &str, words: &str) -> Markup {
        html! {
            @match to {
                Some(step) => {
                    a.button href=(self.href(&step.id)) rel=(rel) data-step
                        data-thumbnail=[self.thumbnail(step)] data-original=[self.shown_whole(step)] {
                        @if rel == "prev" { (icon(name)) } (words) @if rel == "next" { (icon(name)) }
                    }
                }
                None => span.button.ended aria-disabled="true" {
                    @if rel == "prev" { "The first" } @else { "The last" }
                },
            }
        }
    }

    fn file(&self, step: &Step, kind: BlobKind, part: &str) -> Option<String> {
        let hash = step.capture.as_ref()?.hash;
        let path = self.at.path();
        self.here
            .has(kind, hash)
            .then(|| format!("{path}/{part}/{hash}"))
    }

    fn thumbnail(&self, step: &Step) -> Option<String> {
        self.file(step, BlobKind::Thumbnail, "thumbnail")
            .filter(|_| step.capture.as_ref().is_some_and(seen_by_browsers))
    }

    fn original(&self, step: &Step) -> Option<String> {
        self.file(step, BlobKind::Original, "original")
    }

    /// The original, where browsers show pictures of its kind.
    fn shown_whole(&self, step: &Step) -> Option<String> {
        self.original(step)
            .filter(|_| step.capture.as_ref().is_some_and(seen_by_browsers))
    }

    fn stage(&self, step: &Step, words: &str) -> Markup {
        let photo = self.photo(step);
        let (small, whole) = (self.thumbnail(step), self.shown_whole(step));
        let (wide, high) = step.capture.as_ref().map_or((0, 0), upright);
        let (wide, high) = if wide == 0 || high == 0 {
            (4_000, 3_000)
        } else {
            (wide, high)
        };
        // The small picture tells what there is; the whole one only makes it sharp.
        let (small_alt, whole_alt) = match &small {
            Some(_) => (words, ""),
            None => ("", words),
        };
        let picture = html! {
            svg.spacer viewBox={ "0 0 " (wide) " " (high) } width=(wide) height=(high)
                aria-hidden="true" {}
            @if let Some(small) = &small { img.small-one src=(small) alt=(small_alt); }
            @if let Some(whole) = &whole { img.whole-one src=(whole) alt=(whole_alt) decoding="async"; }
            @if small.is_none() && whole.is_none() { span.waiting { (self.why_nothing(step)) } }
            @if let Some(marks) = photo.and_then(|photo| overlay(photo, step.capture.as_ref())) { (marks) }
        };
        html! {
            figure.stage {
                div.frame tabindex=[whole.as_ref().map(|_| "-1")] {
                    @match &whole {
                        Some(whole) => a.picture href=(whole) data-whole { (picture) },
                        None => div.picture { (picture) },
                    }
                }
                figcaption {
                    h2 { (words) }
                    @if let Some(caption) = photo.and_then(|photo| photo.caption.as_ref()) { p { (caption) } }
                    @if photo.is_some_and(|photo| photo.audience == Some(Audience::OfficeOnly)) {
                        span.tag { "office only" }
                    }
                    @if photo.is_some_and(|photo| photo.marks.is_some()) {
                        p.soft.small { "The marks are drawn beside the photo; its file is unaltered." }
                    }
                }
            }
        }
    }

    fn why_nothing(&self, step: &Step) -> &'static str {
        match &step.capture {
            Some(capture) if !seen_by_browsers(capture) && self.original(step).is_some() => {
                "Browsers do not show a HEIC file: open the original with another program."
            }
            _ => "The picture is still on its way.",
        }
    }

    /// The photos of the same finding: where it is beside what it is.
    fn pair(&self, place: usize, step: &Step) -> Markup {
        let mut others: Vec<usize> = Vec::new();
        for finding in &step.findings {
            let of = self.walk.of_finding(finding).iter().take(BESIDE);
            others.extend(of.filter(|at| **at != place));
        }
        others.sort_unstable();
        others.dedup();
        let others: Vec<&Step> = others
            .iter()
            .filter_map(|at| self.walk.steps.get(*at))
            .collect();
        let role = |step: &Step| self.photo(step).and_then(|photo| photo.role);
        let far =
            |step: &&Step| matches!(role(step), Some(PhotoRole::Standoff | PhotoRole::Overview));
        let (wide, near): (Vec<&Step>, Vec<&Step>) = others.into_iter().partition(far);
        html! {
            (self.beside("Where it is", &wide))
            (self.beside(if wide.is_empty() && !near.is_empty() { "What it is" } else { "Close up" }, &near))
        }
    }

    fn beside(&self, title: &str, steps: &[&Step]) -> Markup {
        html! {
            @if !steps.is_empty() {
                section.closeby {
                    h3 { (title) }
                    ul.thumbs { @for step in steps { li { (self.small(step, false)) } } }
                }
            }
        }
    }

    fn strip(&self, place: usize) -> Markup {
        html! {
            nav.neighbours aria-label="Photos before and after" {
                ol { @for at in strip(self.walk, place) { @if let Some(step) = self.walk.steps.get(at) {
                    li { (self.small(step, at == place)) }
                } } }
            }
        }
    }

    /// A small picture with its marks, as the way to its own page.
    fn small(&self, step: &Step, current: bool) -> Markup {
        let words = self.words(step);
        let marks = self
            .photo(step)
            .and_then(|photo| overlay(photo, step.capture.as_ref()));
        html! {
            a.thumb href=(self.href(&step.id)) data-step aria-current=[current.then_some("true")] {
                @match self.thumbnail(step) {
                    Some(src) => img src=(src) alt=(words);,
                    None => span.waiting { (words) },
                }
                @if let Some(marks) = marks { (marks) }
            }
        }
    }

    /// A photo in words: where and what for, and what is found on it.
    fn words(&self, step: &Step) -> String {
        let job = &self.at.job;
        let photo = self.photo(step);
        let station = self.walk.stations.get(step.station);
        let place = station.map_or_else(String::new, |station| station.name.clone());
        let found = step.findings.first();
        let part = found
            .and_then(|id| job.records.findings.get(id)?.component)
            .map(|component| component.label().to_owned());
        let role = photo
            .and_then(|photo| photo.role)
            .map(|role| role.label().to_owned());
        let parts: Vec<String> = [Some(place), part, role].into_iter().flatten().collect();
        capital(&parts.join(", "))
    }
}

const fn seen_by_browsers(capture: &Capture) -> bool {
    !matches!(capture.format, PictureFormat::Heic)
}

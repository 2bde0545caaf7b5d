//! One photo on the page, and the list of all.

use maud::{Markup, html};

use super::super::overlay::overlay;
use super::super::photos::PlacedPhoto;
use super::super::when;
use super::{Home, Page};
use crate::job::*;
use crate::review::{office_only_photo, side_of};

impl Page<'_> {
    pub(super) fn figure(&self, photo: &PlacedPhoto<'_>) -> Markup {
        let fields = &photo.shown.photo.fields;
        let capture = photo.shown.capture.as_ref();
        let role = fields.role.map_or("photo", PhotoRole::label);
        let alternative = format!("Photo {}: {role}{}", photo.number, self.where_words(photo));
        let picture = html! {
            @match &photo.thumbnail {
                Some(file) => { img src=(file) alt=(alternative) loading="lazy"; }
                None => { span.none { "No small picture of photo " (photo.number) } }
            }
            @if let Some(marks) = overlay(fields, capture) { (marks) }
        };
        html! {
            figure {
                @match &photo.file {
                    Some(file) => { a.frame href=(file) { (picture) } }
                    None => { span.frame { (picture) } }
                }
                figcaption {
                    b { (photo.number) " · " (role) } (self.marks_of_office(photo)) br;
                    @if let Some(caption) = &fields.caption { (caption) br; }
                    @if let Some(capture) = capture {
                        (when::taken(capture))
                        @if let Some(side) = self.side(photo) { " · " (side) " side" }
                        " · " span.hash title=(capture.hash) { (capture.hash.short()) }
                    }
                    @if let Some(why) = photo.lacking { br; "Original not in this folder: " (why) "." }
                }
            }
        }
    }

    pub(super) fn figures(&self, photos: &[&PlacedPhoto<'_>]) -> Markup {
        html! {
            @if !photos.is_empty() {
                div.shots { @for photo in photos { (self.figure(photo)) } }
            }
        }
    }

    fn marks_of_office(&self, photo: &PlacedPhoto<'_>) -> Markup {
        let record = photo.shown.photo;
        html! {
            @if self.selection.for_office() && office_only_photo(record) {
                " " span.office { "office only" }
            }
            @if let Some(struck) = &record.struck { " struck: " (struck.reason) }
        }
    }

    pub(super) fn side(&self, photo: &PlacedPhoto<'_>) -> Option<Side> {
        let by_place = self
            .place_of(photo)
            .and_then(|place| side_of(self.job, place));
        by_place.or_else(|| {
            let shown = photo
                .shown
                .photo
                .shows
                .iter()
                .find(|at| self.listed.contains(at))?;
            let finding = self.job.records.findings.get(&shown.id)?;
            side_of(self.job, finding.place.as_ref()?)
        })
    }

    fn where_words(&self, photo: &PlacedPhoto<'_>) -> String {
        match self
            .place_of(photo)
            .filter(|at| self.selection.shows_record(at))
        {
            Some(place) => format!(", {}", self.job.place_name(place)),
            None => String::new(),
        }
    }

    pub(super) fn further(&self) -> Markup {
        let further: Vec<&PlacedPhoto<'_>> = self
            .photos
            .iter()
            .filter(|photo| self.home(photo) == Home::Further)
            .collect();
        html! {
            @if !further.is_empty() {
                section #further { h2 { "Further photos" } (self.figures(&further)) }
            }
        }
    }

    pub(super) fn photo_index(&self) -> Markup {
        html! {
            section #photos {
                h2 { "All photos, in walk order" }
                @if self.photos.is_empty() { p { "None." } }
                div.wide { table {
                    thead { tr {
                        th.n { "No." } th { "Photo" } th { "Taken" } th { "Side" } th { "Hash" }
                    } }
                    tbody { @for photo in self.photos { tr {
                        td.n { (photo.number) }
                        td { @match &photo.file {
                            Some(file) => { a href=(file) { (photo.stem) } }
                            None => { (photo.stem) }
                        } }
                        @let capture = photo.shown.capture.as_ref();
                        td { @if let Some(capture) = capture { (when::taken(capture)) } }
                        td { @if let Some(side) = self.side(photo) { (side) } }
                        td.hash { @if let Some(capture) = capture { (capture.hash.short()) } }
                    } } }
                } }
            }
        }
    }
}

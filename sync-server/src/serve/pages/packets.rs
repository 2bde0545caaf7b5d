//! Packets of one job: made here, fetched here.

use axum::Extension;
use axum::body::Body;
use axum::extract::{Form, Path, State};
use axum::http::{HeaderName, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use chalkwalk_core::job::{BlobKind, PhotoHash};
use chalkwalk_core::packet::{Choices, PacketKind, PaperSize, online_page};
use chalkwalk_core::photo::walk_order;
use futures_util::stream;
use maud::{Markup, html};
use serde::Deserialize;
use tokio::io::AsyncReadExt;

use super::super::Shared;
use super::super::guard::SignedIn;
use super::super::icons::icon;
use super::super::packets::{Making, Stage, Wish, file};
use super::at_job::AtJob;
use super::estimate::inputs_of;
use super::form::{Tone, notice};
use super::layout::{Part, sheet};
use super::{counted, nothing_here, store_unwell, to, unwell};
use crate::store::{Actor, DeedKind};
use crate::{limits, press};

/// The report on paper, in a packet and as it is fetched.
pub(in crate::serve) const PDF: &str = "report.pdf";

#[derive(Deserialize)]
pub(in crate::serve) struct Wished {
    #[serde(default)]
    packet: String,
    #[serde(default)]
    without_places: String,
    #[serde(default)]
    paper: String,
}

/// `GET /jobs/{job}/packets`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
) -> Response {
    match AtJob::open(&shared, &who, &id).await {
        Ok(at) => at.page(Part::Packets, &[], &body(&at, None)),
        Err(response) => response,
    }
}

/// `POST /jobs/{job}/packets`.
pub(in crate::serve) async fn ask(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    Form(wished): Form<Wished>,
) -> Response {
    let at = match AtJob::open(&shared, &who, &id).await {
        Ok(at) => at,
        Err(response) => return response,
    };
    let again = |words: &str| {
        let mut response = at.page(Part::Packets, &[], &body(&at, Some(words)));
        *response.status_mut() = StatusCode::UNPROCESSABLE_ENTITY;
        response
    };
    let Some(kind) = PacketKind::from_folder(&wished.packet) else {
        return again("Choose which packet to make.");
    };
    let wish = Wish {
        job: at.id,
        kind,
        without_places: kind != PacketKind::Archive && !wished.without_places.is_empty(),
        paper: PaperSize::from_name(&wished.paper).unwrap_or_default(),
        by: at.person.name.clone(),
    };
    if shared.packets.ask(&shared, wish).is_none() {
        return again("Too many packets are being made: wait for one of them, or stop it.");
    }
    let actor = Actor::Person(at.person.id);
    let noted = shared.note(actor, DeedKind::PacketMade, Some(at.id), kind.folder());
    match noted.await {
        Ok(()) => to(&shared, &format!("/jobs/{}/packets", at.id)),
        Err(error) => store_unwell(&shared, &error),
    }
}

/// `POST /jobs/{job}/packets/{packet}/stop`.
pub(in crate::serve) async fn stop(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((id, packet)): Path<(String, u64)>,
) -> Response {
    let at = match AtJob::open(&shared, &who, &id).await {
        Ok(at) => at,
        Err(response) => return response,
    };
    if shared.packets.stop(at.id, packet) {
        to(&shared, &format!("/jobs/{}/packets", at.id))
    } else {
        nothing_here(&shared)
    }
}

/// `GET /jobs/{job}/packets/{packet}/{file}`: the zip.
pub(in crate::serve) async fn fetch(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((id, packet, name)): Path<(String, u64, String)>,
) -> Response {
    let at = match AtJob::open(&shared, &who, &id).await {
        Ok(at) => at,
        Err(response) => return response,
    };
    let making = shared.packets.one(at.id, packet);
    let Some(making) = making.filter(|making| name == zip_name(making) || name == PDF) else {
        return nothing_here(&shared);
    };
    let actor = Actor::Person(at.person.id);
    let noted = shared.note(
        actor,
        DeedKind::PacketFetched,
        Some(at.id),
        making.kind.folder(),
    );
    if let Err(error) = noted.await {
        return store_unwell(&shared, &error);
    }
    let given = if name == PDF {
        give_pdf(&shared, &making).await
    } else {
        give_zip(&shared, &making).await
    };
    given.unwrap_or_else(|| nothing_here(&shared))
}

/// `GET /jobs/{job}/tables/{file}`: the shared report as it stands now, without making a packet.
pub(in crate::serve) async fn table(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((id, name)): Path<(String, String)>,
) -> Response {
    let at = match AtJob::open(&shared, &who, &id).await {
        Ok(at) => at,
        Err(response) => return response,
    };
    let blobs = match shared.hub.records().blobs(at.id).await {
        Ok(blobs) => blobs,
        Err(error) => return store_unwell(&shared, &error),
    };
    let company = shared.hub.office().company().name.clone();
    let inputs = match inputs_of(&shared.papers, at.id).await {
        Ok((inputs, _)) => inputs,
        Err(error) => return store_unwell(&shared, &error),
    };
    let (job, now) = (at.job.clone(), shared.hub.now());
    let made = tokio::task::spawn_blocking(move || {
        let order = walk_order(&job);
        let here = |kind: BlobKind, hash: PhotoHash| {
            blobs
                .iter()
                .any(|file| file.kind == kind && file.hash == hash)
        };
        let choices = Choices {
            scope: inputs,
            ..Choices::default()
        };
        online_page(&job, &order, &company, (&choices, now), &here, &[])
    });
    let page = match made.await {
        Ok(Ok(page)) => page,
        Ok(Err(error)) => return unwell(&shared, &storage(&error)),
        Err(error) => return unwell(&shared, &storage(&error)),
    };
    let actor = Actor::Person(at.person.id);
    let noted = shared.note(actor, DeedKind::PacketFetched, Some(at.id), &name);
    if let Err(error) = noted.await {
        return store_unwell(&shared, &error);
    }
    table_of(&page, &name).unwrap_or_else(|| nothing_here(&shared))
}

fn storage(error: &dyn std::fmt::Display) -> chalkwalk_core::document::Refusal {
    chalkwalk_core::document::Refusal::Storage(error.to_string())
}

/// A table, the data or the spreadsheet of a page; `None` where there is none of that name.
pub(in crate::serve) fn table_of(
    page: &chalkwalk_core::packet::OnlinePage,
    name: &str,
) -> Option<Response> {
    const XLSX: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";
    if name == "report.xlsx" {
        return match press::workbook(&page.report, PaperSize::default()) {
            Ok(bytes) => Some(attached(name, XLSX, bytes)),
            Err(error) => {
                tracing::error!(%error, "a spreadsheet could not be written");
                Some(StatusCode::INTERNAL_SERVER_ERROR.into_response())
            }
        };
    }
    let kind = match name.rsplit_once('.') {
        Some((_, "csv")) => "text/csv; charset=utf-8",
        _ => "application/json",
    };
    let bytes = page.tables.get(name)?.clone();
    Some(attached(name, kind, bytes))
}

fn attached(name: &str, kind: &'static str, body: impl IntoResponse) -> Response {
    let mut response = body.into_response();
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
    let name = HeaderValue::from_str(&format!("attachment; filename=\"{name}\""));
    if let Ok(name) = name {
        headers.insert(header::CONTENT_DISPOSITION, name);
    }
    let caching = HeaderName::from_static("cache-control");
    headers.insert(caching, HeaderValue::from_static("private, no-store"));
    response
}

/// The name under which a packet is handed out.
pub(in crate::serve) fn zip_name(making: &Making) -> String {
    format!("{}.zip", making.kind.folder())
}

/// The zip, piece by piece; `None` where it is not there.
pub(in crate::serve) async fn give_zip(shared: &Shared, making: &Making) -> Option<Response> {
    let Stage::Ready(size) = making.stage() else {
        return None;
    };
    let open = tokio::fs::File::open(file(shared, making)).await.ok()?;
    let pieces = stream::try_unfold(open, |mut open| async move {
        let mut piece = vec![0; limits::PACKET_PIECE];
        let count = open.read(&mut piece).await?;
        piece.truncate(count);
        Ok::<_, std::io::Error>((count > 0).then_some((piece, open)))
    });
    let body = Body::from_stream(pieces);
    let mut response = attached(&zip_name(making), "application/zip", body);
    response
        .headers_mut()
        .insert(header::CONTENT_LENGTH, HeaderValue::from(size));
    Some(response)
}

/// The report of a packet as PDF, out of its zip; `None` where it is not there.
pub(in crate::serve) async fn give_pdf(shared: &Shared, making: &Making) -> Option<Response> {
    if !matches!(making.stage(), Stage::Ready(_)) {
        return None;
    }
    let (zip, within) = (
        file(shared, making),
        format!("{}/data/{PDF}", making.kind.folder()),
    );
    let read = move || {
        let mut zip = zip::ZipArchive::new(std::fs::File::open(zip).ok()?).ok()?;
        let mut bytes = Vec::new();
        let entry = zip.by_name(&within).ok()?;
        let mut entry = std::io::Read::take(entry, limits::PACKET_PDF_BYTES);
        std::io::Read::read_to_end(&mut entry, &mut bytes).ok()?;
        Some(bytes)
    };
    let bytes = tokio::task::spawn_blocking(read).await.ok()??;
    Some(attached(PDF, "application/pdf", bytes))
}

fn body(at: &AtJob, wrong: Option<&str>) -> Markup {
    let path = at.path();
    let makings = at.shared.packets.of(at.id);
    let open = makings
        .iter()
        .any(|m| matches!(m.stage(), Stage::Waiting | Stage::Working));
    let lacking = at.status.photos.saturating_sub(at.status.originals);
    html! {
        h2 { "Packets" }
        p { "A packet is one file with everything in it: the report, the tables, the photos as the "
            "camera wrote them with their signed captures. Anybody can check it without this "
            "server; the text in it says how." }
        @if let Some(wrong) = wrong { (notice(Tone::Bad, &html! { (wrong) })) }
        @if lacking > 0 {
            (notice(Tone::Warn, &html! { (counted(lacking, "original has", "originals have"))
                " not come in yet. A packet made now says which." }))
        }
        section.card {
            h3 { "Make a packet" }
            form method="post" action={ (path) "/packets" } {
                fieldset {
                    legend { "For whom" }
                    (choice(PacketKind::Shared,
                        "Findings with photos, quantities, measures, sections of the code. \
                         Nothing that is for the office only.", true))
                    (choice(PacketKind::Owner,
                        "The account in plain words, and the photos of the home, inside as well.",
                        false))
                    (choice(PacketKind::Production,
                        "Materials, deck, obstacles, what to confirm at tear-off, safety.", false))
                    (choice(PacketKind::Archive,
                        "Everything, what is for the office only included and marked. Do not \
                         hand it on.", false))
                }
                p { label.check { input type="checkbox" name="without_places" value="yes";
                    " Leave out where each photo was taken (the archive always keeps it)" } }
                div.field {
                    label for="paper" { "Paper of the PDF" }
                    select #paper name="paper" {
                        option value=(PaperSize::Letter.name()) { "Letter" }
                        option value=(PaperSize::A4.name()) { "A4" }
                    }
                }
                p { button { (icon("package")) "Make it" } }
            }
        }
        section.card {
            h3 { "Made lately" }
            @if makings.is_empty() {
                p.soft { "None yet. What is made here stays until newer ones take its place or the "
                    "server is started anew: fetch it and keep it where you keep such things." }
            } @else {
                (list(at, &makings))
                @if open { p { a href={ (path) "/packets" } { (icon("refresh-cw")) " See how far it is" } } }
            }
        }
        section.card {
            h3 { "Tables alone" }
            p { "What the adjuster's packet says, as it stands now, without photos." }
            p {
                a href={ (path) "/tables/report.xlsx" } { (icon("download")) " Spreadsheet (XLSX)" } " · "
                a href={ (path) "/tables/findings.csv" } { "Findings (CSV)" } " · "
                a href={ (path) "/tables/scope.csv" } { "Quantities (CSV)" } " · "
                a href={ (path) "/tables/measurements.csv" } { "Measurements (CSV)" } " · "
                a href={ (path) "/tables/photos.csv" } { "Photos (CSV)" } " · "
                a href={ (path) "/tables/report.json" } { "All of it (JSON)" }
            }
        }
    }
}

fn choice(kind: PacketKind, words: &str, chosen: bool) -> Markup {
    let id = format!("packet-{}", kind.folder());
    html! {
        div.field {
            label for=(id) {
                input id=(id) type="radio" name="packet" value=(kind.folder()) checked[chosen]
                    aria-describedby={ (id) "-hint" };
                " " (for_whom(kind))
            }
            p.hint id={ (id) "-hint" } { (words) }
        }
    }
}

fn list(at: &AtJob, makings: &[std::sync::Arc<Making>]) -> Markup {
    let path = at.path();
    let table = html! {
        table.stack {
            thead { tr { th { "Packet" } th { "Asked for" } th { "State" } th { "What now" } } }
            tbody { @for making in makings {
                @let stage = making.stage();
                tr {
                    td data-label="Packet" { (for_whom(making.kind))
                        @if making.without_places { span.soft { ", without places" } } }
                    td data-label="Asked for" { (making.by) ", " (at.when(making.asked_at)) }
                    td data-label="State" { (state(making, &stage)) }
                    td data-label="What now" {
                        @match stage {
                            Stage::Ready(_) => {
                                a href={ (path) "/packets/" (making.id) "/" (zip_name(making)) } {
                                    (icon("download")) " Fetch " (zip_name(making))
                                }
                                " · "
                                a href={ (path) "/packets/" (making.id) "/" (PDF) } { "PDF alone" }
                            }
                            Stage::Waiting | Stage::Working => {
                                form method="post"
                                    action={ (path) "/packets/" (making.id) "/stop" } {
                                    button { (icon("x")) "Stop" }
                                }
                            }
                            Stage::Stopped | Stage::Failed(_) => "Ask for it again above.",
                        }
                    }
                }
            } }
        }
    };
    sheet("Packets made lately", &table)
}

fn state(making: &Making, stage: &Stage) -> Markup {
    html! {
        @match stage {
            Stage::Waiting => { (icon("clock")) " waits for its turn" }
            Stage::Working => {
                @let (done, all) = making.progress();
                (icon("circle-dashed")) " being made, " (done) " of "
                (counted(all as u64, "photo", "photos"))
            }
            Stage::Ready(size) => { (icon("circle-check")) " ready and checked, " (megabytes(*size)) }
            Stage::Stopped => { (icon("circle-slash")) " stopped" }
            Stage::Failed(words) => { (icon("triangle-alert")) " " (words) }
        }
    }
}

/// For whom a packet is.
const fn for_whom(kind: PacketKind) -> &'static str {
    match kind {
        PacketKind::Shared => "The insurer's adjuster",
        PacketKind::Owner => "The owner",
        PacketKind::Production => "Production",
        PacketKind::Archive => "The office's own archive",
    }
}

/// `24.1 MB`.
fn megabytes(bytes: u64) -> String {
    let tenths = bytes / 100_000;
    format!("{}.{} MB", tenths / 10, tenths % 10)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_read_as_people_say_them() {
        assert_eq!(megabytes(24_183_000), "24.1 MB");
        assert_eq!(megabytes(0), "0.0 MB");
    }
}

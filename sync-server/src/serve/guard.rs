//! Who may ask what: one layer that every route stands behind, by what the table says it takes.

use std::time::Instant;

use axum::extract::{ConnectInfo, FromRequestParts, RawPathParams, Request, State};
use axum::http::request::Parts;
use axum::http::{HeaderMap, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};
use chalkwalk_core::job::{Certificate, Role};
use serde::Serialize;

use super::front::{Front, Peer};
use super::routes::{Route, Takes};
use super::tries::network;
use super::{Shared, kept, pages};
use crate::limits;
use crate::people::hash_of;
use crate::store::{Once, Person, Share, StoreError};

/// What the guard found: handlers ask for the one their route takes.
#[derive(Clone, Debug)]
pub(crate) struct SignedIn {
    pub(crate) person: Person,
    /// Hash of the sign-in.
    pub(crate) hash: [u8; 32],
}

/// A device with a token that counts.
#[derive(Clone, Debug)]
pub(crate) struct ByDevice(pub(crate) Certificate);

/// A one-time link that counts, with its token.
#[derive(Clone, Debug)]
pub(crate) struct ByLink {
    pub(crate) once: Once,
}

/// A shared link that counts.
#[derive(Clone, Debug)]
pub(crate) struct ByShare(pub(crate) Share);

/// The state of one route's guard.
#[derive(Clone)]
pub(crate) struct Guard {
    pub(crate) shared: Shared,
    pub(crate) route: &'static Route,
}

/// Lets a request through, or answers it.
pub(crate) async fn guard(State(guard): State<Guard>, request: Request, next: Next) -> Response {
    let began = Instant::now();
    let route = guard.route;
    let (mut parts, body) = request.into_parts();
    let response = match admit(&guard, &mut parts).await {
        Ok(()) => next.run(Request::from_parts(parts, body)).await,
        Err(No::Answer(response)) => response,
        Err(No::SignedOut) => match kept::sent_again(&guard, parts, body).await {
            Ok((request, cookie)) => {
                let mut response = next.run(request).await;
                response.headers_mut().append(header::SET_COOKIE, cookie);
                response
            }
            Err(response) => response,
        },
    };
    let status = response.status().as_u16();
    let metrics = &guard.shared.house.metrics;
    metrics.answered(route.method.as_str(), route.path, status, began.elapsed());
    response
}

/// Why a request is not let through.
pub(super) enum No {
    /// The answer.
    Answer(Response),
    /// It changes something, and nobody is signed in: what was typed must not be lost.
    SignedOut,
}

impl From<Response> for No {
    fn from(response: Response) -> Self {
        No::Answer(response)
    }
}

async fn admit(guard: &Guard, request: &mut Parts) -> Result<(), No> {
    let shared = &guard.shared;
    match guard.route.takes {
        Takes::Nothing | Takes::Code | Takes::DeviceKey => {}
        Takes::Form => own_page(shared, request)?,
        Takes::Person(least) => {
            let signed_in = person(shared, request, least).await?;
            request.extensions.insert(signed_in);
        }
        Takes::Device => {
            let device = device(shared, request).await?;
            request.extensions.insert(device);
        }
        Takes::Link => {
            own_page(shared, request)?;
            let link = link(shared, request).await?;
            request.extensions.insert(link);
        }
        Takes::Share => {
            let share = share(shared, request).await?;
            request.extensions.insert(share);
        }
        Takes::Operator => operator(shared, request)?,
    }
    Ok(())
}

/// Refuses a form that another site's page sends in a person's name.
#[expect(clippy::result_large_err, reason = "a refusal is a whole answer")]
fn own_page(shared: &Shared, request: &Parts) -> Result<(), Response> {
    let front = &shared.house.front;
    if front.is_from_own_page(&request.method, &request.headers, &request.uri) {
        return Ok(());
    }
    let words = "This form did not come from a page of this server, so nothing was changed. Open \
                 the page again and send the form from there.";
    Err(pages::refused(
        shared,
        StatusCode::FORBIDDEN,
        "Not from this page",
        words,
    ))
}

/// The person who is signed in, where their part goes so far.
pub(super) async fn person(shared: &Shared, request: &Parts, least: Role) -> Result<SignedIn, No> {
    own_page(shared, request)?;
    let now = shared.hub.now();
    for secret in cookies(&request.headers, &shared.cookie()) {
        let Some(hash) = hash_of(secret) else {
            continue;
        };
        let found = shared.accounts().sign_in(hash).await;
        let Some((sign_in, person)) = found.map_err(|error| unwell(shared, &error))? else {
            continue;
        };
        if !sign_in.counts(now) || person.shut_out_at.is_some() {
            continue;
        }
        if now - sign_in.seen_at >= limits::SIGN_IN_TOUCH_MS {
            let touched = shared.accounts().touch_sign_in(hash, now).await;
            touched.map_err(|error| unwell(shared, &error))?;
        }
        if rank(person.role) < rank(least) {
            let words = "Your part at this company does not go so far. Ask an admin where you \
                         need it.";
            let title = "Not for your part";
            return Err(pages::refused(shared, StatusCode::FORBIDDEN, title, words).into());
        }
        return Ok(SignedIn { person, hash });
    }
    Err(signed_out(shared, request))
}

/// The order in which parts may do more.
pub(crate) const fn rank(role: Role) -> u8 {
    match role {
        Role::Office => 0,
        Role::Crew => 1,
        Role::Estimator => 2,
        Role::Admin => 3,
    }
}

fn signed_out(shared: &Shared, request: &Parts) -> No {
    if request.method != Method::GET {
        return No::SignedOut;
    }
    let to = request.uri.path_and_query().map_or("/", |to| to.as_str());
    let at = format!("{}/sign-in?to={}", shared.base, pages::escaped(to));
    Redirect::to(&at).into_response().into()
}

/// The values of every cookie of this name.
fn cookies<'a>(headers: &'a HeaderMap, name: &'a str) -> impl Iterator<Item = &'a str> {
    headers
        .get_all(header::COOKIE)
        .iter()
        .filter_map(|line| line.to_str().ok())
        .flat_map(|line| line.split(';'))
        .filter_map(move |pair| pair.trim().strip_prefix(name)?.strip_prefix('='))
        .take(8)
}

async fn device(shared: &Shared, request: &Parts) -> Result<ByDevice, Response> {
    let no = |words: &str| {
        let mut response = refusal(StatusCode::UNAUTHORIZED, words);
        let scheme = header::HeaderValue::from_static("Bearer");
        response
            .headers_mut()
            .insert(header::WWW_AUTHENTICATE, scheme);
        response
    };
    let now = shared.hub.now();
    let from = network(client(shared, request));
    let tries = &shared.house.tries.tokens;
    if !tries.may_try(&from, now) {
        return Err(too_many(
            "too many wrong tokens from your network: wait a minute",
        ));
    }
    let Some(token) = bearer(&request.headers) else {
        return Err(no(
            "a token is needed: ask for a challenge and prove the device's key",
        ));
    };
    let Some(device) = super::token::Tokens::of(&shared.hub).device(token, now) else {
        tries.count(from, now);
        return Err(no(
            "the token is wrong or its time is over: prove the device's key again",
        ));
    };
    match super::token::admitted(&shared.hub, device).await {
        Ok(Some(certificate)) => Ok(ByDevice(certificate)),
        Ok(None) => Err(refusal(
            StatusCode::FORBIDDEN,
            "the office has shut out this device: ask the office",
        )),
        Err(error) => Err(call_unwell(&error)),
    }
}

pub(super) fn bearer(headers: &HeaderMap) -> Option<&str> {
    let value = headers.get(header::AUTHORIZATION)?.to_str().ok()?;
    let (scheme, token) = value.split_once(' ')?;
    scheme.eq_ignore_ascii_case("bearer").then(|| token.trim())
}

async fn token_in_path(request: &mut Parts) -> Option<[u8; 32]> {
    let params = RawPathParams::from_request_parts(request, &()).await.ok()?;
    let (_, token) = params.iter().find(|(name, _)| *name == "token")?;
    hash_of(token)
}

async fn link(shared: &Shared, request: &mut Parts) -> Result<ByLink, Response> {
    let gone = || {
        let words = "This link was used already, or its time is over. Ask whoever sent it for a \
                     new one; an admin makes it on the page People.";
        pages::refused(
            shared,
            StatusCode::GONE,
            "This link no longer counts",
            words,
        )
    };
    let Some(hash) = token_in_path(request).await else {
        return Err(gone());
    };
    let once = shared.accounts().once(hash).await;
    match once.map_err(|error| unwell(shared, &error))? {
        Some(once) if shared.hub.now() < once.expires_at => Ok(ByLink { once }),
        _ => Err(gone()),
    }
}

async fn share(shared: &Shared, request: &mut Parts) -> Result<ByShare, Response> {
    let gone = || {
        let words = "This link no longer shows anything: its time is over, it was withdrawn, or \
                     it was not copied whole. Ask the office that sent it for a new one.";
        pages::plain(shared, StatusCode::GONE, "Nothing is shown here", words)
    };
    let Some(hash) = token_in_path(request).await else {
        return Err(gone());
    };
    let share = shared.accounts().share(hash).await;
    match share.map_err(|error| unwell(shared, &error))? {
        Some(share) if share.counts(shared.hub.now()) => Ok(ByShare(share)),
        Some(share) => {
            shared.share_refused(&share).await;
            Err(gone())
        }
        None => Err(gone()),
    }
}

#[expect(clippy::result_large_err, reason = "a refusal is a whole answer")]
fn operator(shared: &Shared, request: &Parts) -> Result<(), Response> {
    let headers = &request.headers;
    let token = bearer(headers).map(|token| blake3::hash(token.as_bytes()));
    let known = shared.house.front.metrics.map(blake3::Hash::from_bytes);
    // Hashes are compared in constant time.
    if token.is_some() && token == known {
        return Ok(());
    }
    let here = peer(request).is_some_and(|peer| Front::on_this_machine(headers, peer));
    if here && token.is_none() {
        return Ok(());
    }
    let words = "metrics are shown on the server itself, or with the token of --metrics-token-file";
    Err(refusal(StatusCode::FORBIDDEN, words))
}

pub(super) fn peer(request: &Parts) -> Option<Peer> {
    let info = request.extensions.get::<ConnectInfo<Peer>>();
    info.map(|ConnectInfo(peer)| *peer)
}

fn client(shared: &Shared, request: &Parts) -> std::net::IpAddr {
    let nobody = Peer(std::net::SocketAddr::from(([0, 0, 0, 0], 0)));
    let peer = peer(request).unwrap_or(nobody);
    shared.house.front.client(&request.headers, peer)
}

/// What a program is told when it is refused.
#[derive(Serialize)]
struct Refusal<'a> {
    error: &'a str,
}

/// A refusal for a program.
pub(super) fn refusal(code: StatusCode, words: &str) -> Response {
    (code, axum::Json(Refusal { error: words })).into_response()
}

/// A refusal that asks a program to wait a minute.
pub(super) fn too_many(words: &str) -> Response {
    let mut response = refusal(StatusCode::TOO_MANY_REQUESTS, words);
    wait_a_minute(&mut response);
    response
}

/// Says when another try counts.
pub(super) fn wait_a_minute(response: &mut Response) {
    let wait = header::HeaderValue::from_static("60");
    response.headers_mut().insert(header::RETRY_AFTER, wait);
}

/// Storage failed while a program was served.
pub(super) fn call_unwell(error: &StoreError) -> Response {
    tracing::error!(error = error.chain(), "storage does not answer");
    let words = "the office cannot answer now: try again later";
    refusal(StatusCode::SERVICE_UNAVAILABLE, words)
}

fn unwell(shared: &Shared, error: &StoreError) -> Response {
    tracing::error!(error = error.chain(), "storage does not answer");
    let words = "The office's storage does not answer now. Nothing that was kept is lost by this. \
                 Try again in a moment.";
    pages::plain(shared, StatusCode::SERVICE_UNAVAILABLE, "Not now", words)
}

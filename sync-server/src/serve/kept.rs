//! A form that comes in after its sign-in ended: nothing that was typed is lost. The answer is a page
//! to sign in that holds the form as it was sent; signing in there sends it on, in one step and
//! without scripts. The password never reaches what the form is for.

use axum::body::{Body, to_bytes};
use axum::extract::{Form, FromRequest, Request};
use axum::http::request::Parts;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use maud::html;

use super::front::Peer;
use super::guard::{Guard, No, SignedIn, peer, person, wait_a_minute};
use super::pages::form::Field;
use super::pages::sign_in::{NoEntry, enter};
use super::routes::{Takes, body_limit};
use super::{Shared, pages};

/// Names of the two fields that this page adds to a form.
const LOGIN: &str = "sign-in-login";
const PASSWORD: &str = "sign-in-password";
/// Room for those two beside the largest form, bytes.
const ROOM: usize = 4 << 10;
const URLENCODED: &str = "application/x-www-form-urlencoded";

type Pairs = Vec<(String, String)>;

/// The request as it is let through after signing in, with the cookie of the sign-in.
///
/// # Errors
/// The page that keeps what was typed, or says why it cannot.
pub(super) async fn sent_again(
    guard: &Guard,
    mut parts: Parts,
    body: Body,
) -> Result<(Request, HeaderValue), Response> {
    let shared = &guard.shared;
    if !is_kept(guard, &parts) {
        return Err(not_kept(shared));
    }
    let Ok(bytes) = to_bytes(body, body_limit(guard.route) + ROOM).await else {
        return Err(too_large(shared));
    };
    let typed = read(&parts, bytes.to_vec()).await?;
    let given = |name: &str| typed.iter().find(|(known, _)| known == name);
    let (Some((_, login)), Some((_, password))) = (given(LOGIN), given(PASSWORD)) else {
        return Err(page(shared, &parts, &typed, StatusCode::UNAUTHORIZED, None));
    };
    let nobody = Peer(std::net::SocketAddr::from(([0, 0, 0, 0], 0)));
    let from = peer(&parts).unwrap_or(nobody);
    let cookie = match enter(shared, &parts.headers, from, login, password).await {
        Ok(cookie) => cookie,
        Err(NoEntry::Unwell(response)) => return Err(response),
        Err(NoEntry::Refused(code, words)) => {
            // The form is refused for want of a sign-in, whatever was wrong with this one.
            let code = match code {
                StatusCode::FORBIDDEN => StatusCode::UNAUTHORIZED,
                other => other,
            };
            return Err(page(shared, &parts, &typed, code, Some(&words)));
        }
    };
    parts.headers.insert(header::COOKIE, pair_of(&cookie));
    parts.headers.remove(header::CONTENT_LENGTH);
    let signed_in = signed_in(guard, &parts).await.map_err(|no| match no {
        No::Answer(mut response) => {
            response
                .headers_mut()
                .append(header::SET_COOKIE, cookie.clone());
            response
        }
        No::SignedOut => not_kept(shared),
    })?;
    parts.extensions.insert(signed_in);
    let request = Request::from_parts(parts, Body::from(without_sign_in(&bytes)));
    Ok((request, cookie))
}

async fn signed_in(guard: &Guard, parts: &Parts) -> Result<SignedIn, No> {
    match guard.route.takes {
        Takes::Person(least) => person(&guard.shared, parts, least).await,
        _ => Err(No::SignedOut),
    }
}

/// Passwords are never laid into a page, files cannot be, and whoever wants to be signed out is.
fn is_kept(guard: &Guard, parts: &Parts) -> bool {
    let route = guard.route;
    let kind = parts
        .headers
        .get(header::CONTENT_TYPE)
        .and_then(|kind| kind.to_str().ok());
    let form = kind.is_none_or(|kind| kind.trim_start().starts_with(URLENCODED));
    form && !route.form.contains(&"password") && !route.path.starts_with("/sign-out")
}

async fn read(parts: &Parts, bytes: Vec<u8>) -> Result<Pairs, Response> {
    if bytes.is_empty() {
        return Ok(Pairs::new());
    }
    let request = Request::from_parts(parts.clone(), Body::from(bytes));
    let form = Form::<Pairs>::from_request(request, &()).await;
    form.map(|Form(pairs)| pairs)
        .map_err(IntoResponse::into_response)
}

/// The form as it was sent, without what this page added.
fn without_sign_in(bytes: &[u8]) -> Vec<u8> {
    let added = |pair: &&[u8]| {
        let name = pair.split(|byte| *byte == b'=').next().unwrap_or_default();
        name == LOGIN.as_bytes() || name == PASSWORD.as_bytes()
    };
    let pairs: Vec<&[u8]> = bytes
        .split(|byte| *byte == b'&')
        .filter(|pair| !added(pair))
        .collect();
    pairs.join(&b'&')
}

/// Name and value of a cookie that is set, as a browser sends it back.
fn pair_of(cookie: &HeaderValue) -> HeaderValue {
    let text = cookie.to_str().unwrap_or_default();
    let pair = text.split(';').next().unwrap_or_default();
    HeaderValue::from_str(pair).unwrap_or(HeaderValue::from_static(""))
}

fn page(
    shared: &Shared,
    parts: &Parts,
    typed: &Pairs,
    code: StatusCode,
    trouble: Option<&str>,
) -> Response {
    let to = parts.uri.path_and_query().map_or("/", |to| to.as_str());
    let kept = || {
        typed
            .iter()
            .filter(|(name, _)| name != LOGIN && name != PASSWORD)
    };
    let login = typed
        .iter()
        .find(|(name, _)| name == LOGIN)
        .map_or("", |(_, login)| login);
    let seen: Vec<_> = kept().filter(|pair| is_typed(typed, pair)).collect();
    let body = html! {
        header { h1 { "You were signed out meanwhile" } }
        div.narrow {
            p { "Nothing is lost and nothing was sent on yet: what you typed is kept on this page. \
                 Sign in here, and it is sent as it stands." }
            @if let Some(words) = trouble { (pages::form::notice(pages::form::Tone::Bad, &html! { p { (words) } })) }
            form method="post" action=(to) {
                (Field {
                    name: LOGIN, label: "Name or mail address", value: login, required: true,
                    autocomplete: Some("username"), ..Field::default()
                }.line("text"))
                (pages::sign_in::password(PASSWORD, "Password", "", "current-password"))
                @for (name, value) in kept() { input type="hidden" name=(name) value=(value); }
                p { button.main { "Sign in and send" } }
            }
            @if !seen.is_empty() {
                h2 { "What you typed" }
                dl.stated { @for (name, value) in seen {
                    div.wide { dt { (pages::words::capital(&name.replace(['_', '-'], " "))) } dd.said { (value) } }
                } }
            }
        }
    };
    let page = pages::frame(shared, None, "You were signed out", &body);
    let mut response = (code, page).into_response();
    if code == StatusCode::TOO_MANY_REQUESTS {
        wait_a_minute(&mut response);
    }
    response
}

/// What a person typed, as far as a form tells: what differs from what it was shown with.
fn is_typed(typed: &Pairs, (name, value): &(String, String)) -> bool {
    let own = |prefix: &str| name.starts_with(prefix);
    let was = typed
        .iter()
        .find(|(known, _)| known.strip_prefix("was-") == Some(name));
    let same = was.is_some_and(|(_, was)| was == value);
    !(value.is_empty() || same || own("was-") || own("seen-") || name == "id" || name == "seen")
}

fn not_kept(shared: &Shared) -> Response {
    let words = "You are signed out, so nothing was changed. Sign in, go back, and send the form \
                 again; a file has to be chosen again.";
    pages::refused(shared, StatusCode::UNAUTHORIZED, "Signed out", words)
}

fn too_large(shared: &Shared) -> Response {
    let words = "You are signed out, and what was sent is too large to be kept here. Go back: your \
                 browser still shows it. Copy the longest text, sign in, and send it in parts.";
    pages::refused(shared, StatusCode::PAYLOAD_TOO_LARGE, "Signed out", words)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_form_goes_on_without_name_and_password() {
        let sent = b"text=a%26b&sign-in-login=Ada&x=&sign-in-password=p%3Dq&sign-in-password=r&y=1";
        assert_eq!(without_sign_in(sent), b"text=a%26b&x=&y=1");
        assert_eq!(without_sign_in(b""), b"");
    }

    #[test]
    fn only_what_differs_is_shown_as_typed() {
        let pair = |name: &str, value: &str| (name.to_owned(), value.to_owned());
        let typed = vec![
            pair("cause", "hail"),
            pair("was-cause", "hail"),
            pair("text", "new"),
            pair("was-text", "old"),
            pair("id", "01J"),
            pair("empty", ""),
        ];
        let shown: Vec<&str> = typed
            .iter()
            .filter(|pair| is_typed(&typed, pair))
            .map(|(name, _)| name.as_str())
            .collect();
        assert_eq!(shown, ["text"]);
    }

    #[test]
    fn a_cookie_is_sent_back_by_name_and_value() {
        let set = HeaderValue::from_static("chalkwalk=abc; Path=/; HttpOnly");
        assert_eq!(pair_of(&set), "chalkwalk=abc");
    }
}

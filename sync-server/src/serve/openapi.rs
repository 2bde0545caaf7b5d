//! The OpenAPI 3.1 description of the routes, made from their table.

use std::collections::BTreeMap;

use axum::Json;
use axum::http::Method;
use axum::response::{IntoResponse, Response};
use serde_json::{Map, Value, json};

use super::routes::{ROUTES, Route, Takes};
use crate::limits;

/// `GET /openapi.json`.
pub(super) async fn openapi() -> Response {
    Json(description()).into_response()
}

/// The description of every route.
pub fn description() -> Value {
    let mut paths: BTreeMap<String, Map<String, Value>> = BTreeMap::new();
    for route in ROUTES {
        let path = route.path.replace("{*file}", "{file}");
        let method = route.method.as_str().to_lowercase();
        paths
            .entry(path)
            .or_default()
            .insert(method, operation(route));
    }
    json!({
        "openapi": "3.1.0",
        "info": {
            "title": "Chalkwalk office server",
            "version": env!("CARGO_PKG_VERSION"),
            "description": "What devices and pages ask of an office. Further companies of a \
                            server have the same routes under /at/NAME.",
            "license": { "name": "Apache-2.0", "identifier": "Apache-2.0" },
        },
        "paths": paths,
        "components": {
            "securitySchemes": {
                "device": { "type": "http", "scheme": "bearer",
                    "description": "A token of minutes that a device gets from /token." },
                "person": { "type": "apiKey", "in": "cookie", "name": "chalkwalk",
                    "description": "A sign-in of the pages." },
                "operator": { "type": "http", "scheme": "bearer",
                    "description": "The token of --metrics-token-file." },
            },
            "schemas": schemas(),
        },
    })
}

fn operation(route: &Route) -> Value {
    let mut operation = Map::new();
    operation.insert("summary".into(), json!(route.about));
    let words: Vec<&str> = route
        .path
        .split(['/', '{', '}', '*', '.', '-'])
        .filter(|word| !word.is_empty())
        .collect();
    let folder = if route.path.len() > 1 && route.path.ends_with('/') {
        "_folder"
    } else {
        ""
    };
    let method = route.method.as_str().to_lowercase();
    let id = format!("{method}_{}{folder}", words.join("_"));
    operation.insert("operationId".into(), json!(id));
    let parameters = parameters(route);
    if !parameters.is_empty() {
        operation.insert("parameters".into(), json!(parameters));
    }
    if let Some(body) = body(route) {
        operation.insert("requestBody".into(), body);
    }
    let security = match route.takes {
        Takes::Device => json!([{ "device": [] }]),
        Takes::Person(_) => json!([{ "person": [] }]),
        Takes::Operator => json!([{ "operator": [] }, {}]),
        _ => json!([]),
    };
    operation.insert("security".into(), security);
    let mut responses = Map::new();
    for status in statuses(route) {
        responses.insert(status.to_string(), response(route, status));
    }
    operation.insert("responses".into(), Value::Object(responses));
    Value::Object(operation)
}

/// The statuses of a route: its own, and those of its credentials.
fn statuses(route: &Route) -> Vec<u16> {
    let guard: &[u16] = match (route.takes, &route.method) {
        (Takes::Nothing | Takes::Code | Takes::DeviceKey, _) => &[],
        (Takes::Form, _) => &[403],
        (Takes::Device, _) => &[401, 403, 429, 503],
        (Takes::Person(_), &Method::GET) => &[303, 403, 503],
        (Takes::Person(_), _) => &[401, 403, 413, 429, 503],
        (Takes::Link, _) => &[403, 410, 503],
        (Takes::Share, _) => &[410, 503],
        (Takes::Operator, _) => &[403],
    };
    let mut all: Vec<u16> = route.answers.iter().chain(guard).copied().collect();
    // Paths that hold no text are answered before a route is reached.
    if route.path.contains('{') {
        all.extend([400, 404]);
    }
    all.sort_unstable();
    all.dedup();
    all
}

fn parameters(route: &Route) -> Vec<Value> {
    let mut parameters = Vec::new();
    for name in names_in(route.path) {
        let schema = match name {
            "hash" => json!({ "type": "string", "pattern": "^[0-9a-f]{64}$" }),
            "token" => json!({ "type": "string", "pattern": "^[0-9a-f]{64}$" }),
            "job" | "device" => {
                json!({ "type": "string", "pattern": "^[0-7][0-9A-HJKMNP-TV-Z]{25}$" })
            }
            "person" | "share" => json!({ "type": "string", "pattern": "^[0-9a-f]{32}$" }),
            _ => json!({ "type": "string", "minLength": 1 }),
        };
        parameters.push(json!({
            "name": name, "in": "path", "required": true, "schema": schema,
        }));
    }
    if route.takes == Takes::Device && route.path.contains("{hash}") {
        parameters.push(json!({
            "name": "job", "in": "query", "required": true,
            "description": "The job that names the photo.",
            "schema": { "type": "string", "pattern": "^[0-7][0-9A-HJKMNP-TV-Z]{25}$" },
        }));
    }
    if route.method == Method::PATCH {
        parameters.push(json!({
            "name": "Upload-Offset", "in": "header", "required": true,
            "description": "Where these bytes begin: what HEAD says is held.",
            "schema": { "type": "integer", "minimum": 0 },
        }));
    }
    parameters
}

fn names_in(path: &str) -> impl Iterator<Item = &str> {
    path.split('/').filter_map(|part| {
        let name = part.strip_prefix('{')?.strip_suffix('}')?;
        Some(name.trim_start_matches('*'))
    })
}

fn body(route: &Route) -> Option<Value> {
    let schema = |name: &str| json!({ "$ref": format!("#/components/schemas/{name}") });
    let json_body = |name: &str| json!({ "required": true, "content": { "application/json": { "schema": schema(name) } } });
    let bytes = || {
        json!({ "required": true, "content": { "application/octet-stream": {
            "schema": { "type": "string", "format": "binary" } } } })
    };
    match (route.method.as_str(), route.path) {
        ("POST", "/enrol") => return Some(json_body("AskEnrolment")),
        ("POST", "/token/challenge") => return Some(json_body("AskChallenge")),
        ("POST", "/token") => return Some(json_body("AskToken")),
        ("POST", "/photos/lacking") => return Some(json_body("AskLacking")),
        ("PUT" | "PATCH", _) => return Some(bytes()),
        ("POST", "/jobs/new") => return Some(prepared()),
        _ => {}
    }
    if route.form.is_empty() {
        return None;
    }
    let field = |name: &&str| match *name {
        "file" => json!({ "type": "string", "format": "binary" }),
        _ => json!({ "type": "string" }),
    };
    let fields: Map<String, Value> = route
        .form
        .iter()
        .map(|name| ((*name).to_owned(), field(name)))
        .collect();
    let kind = match route.takes_file() {
        true => "multipart/form-data",
        false => "application/x-www-form-urlencoded",
    };
    let schema = json!({ "schema": { "type": "object", "properties": fields } });
    Some(json!({ "required": true, "content": { kind: schema } }))
}

/// The form with which a job is prepared: a few of its fields, and its files.
fn prepared() -> Value {
    let text = || json!({ "type": "string" });
    let file = || json!({ "type": "string", "format": "binary" });
    let schema = json!({ "type": "object", "required": ["street"], "properties": {
        "street": text(), "town": text(), "owner": text(), "time_zone": text(),
        "latitude": text(), "longitude": text(), "date_of_loss": text(),
        "device": { "type": "array", "items": text() },
        "measured": file(), "storm": { "type": "array", "items": file() },
    } });
    json!({ "required": true, "content": { "multipart/form-data": { "schema": schema } } })
}

fn response(route: &Route, status: u16) -> Value {
    let words = match status {
        101 => "The session begins.",
        200 => "As asked.",
        201 => "Taken, whole, checked and durable.",
        206 => "The range asked for.",
        303 | 308 => "Go on there.",
        304 => "Unaltered.",
        400 => "The request does not read, or the file did not come whole.",
        401 => "Signed out, or the token does not count.",
        403 => "Not permitted.",
        404 => "Not here.",
        406 => "Of no kind that is asked for.",
        408 => "Nothing came for a minute.",
        409 => "It does not go with what is here.",
        410 => "The link no longer counts.",
        411 => "The length is missing.",
        413 => "Too long.",
        415 => "Of another kind than is taken.",
        416 => "The file ends before that range.",
        422 => "It cannot be taken as it is.",
        426 => "A WebSocket is asked for here.",
        429 => "Too many wrong tries: wait.",
        503 => "Not now.",
        507 => "There is no room.",
        _ => "See the words.",
    };
    let mut response = json!({ "description": words });
    if let Some(schema) = answer_schema(route, status) {
        response["content"] = json!({ "application/json": { "schema": schema } });
    }
    response
}

/// The schema of a JSON answer, where a route's answer is always one.
fn answer_schema(route: &Route, status: u16) -> Option<Value> {
    let name = match (route.method.as_str(), route.path, status) {
        ("POST", "/enrol", 200) => "Enrolment",
        ("POST", "/token/challenge", 200) => "Challenge",
        ("POST", "/token", 200) => "Token",
        ("POST", "/photos/lacking", 200) => "Lacking",
        ("PUT" | "PATCH", _, 200 | 201) => "Held",
        _ => return None,
    };
    Some(json!({ "$ref": format!("#/components/schemas/{name}") }))
}

fn schemas() -> Value {
    let hex =
        |digits: u32| json!({ "type": "string", "pattern": format!("^[0-9a-f]{{{digits}}}$") });
    let id = || json!({ "type": "string", "pattern": "^[0-7][0-9A-HJKMNP-TV-Z]{25}$" });
    let object = |required: &[&str], properties: Value| {
        json!({ "type": "object", "required": required, "properties": properties,
            "additionalProperties": false })
    };
    json!({
        "AskEnrolment": object(&["code", "device", "key", "person", "device_name", "role"], json!({
            "code": { "type": "string" }, "device": id(), "key": hex(64),
            "person": { "type": "string", "minLength": 1, "maxLength": limits::NAME_BYTES },
            "device_name": { "type": "string", "minLength": 1, "maxLength": limits::NAME_BYTES },
            "role": { "enum": ["crew", "estimator", "admin"] },
        })),
        "Enrolment": object(&["certificate", "signature", "office_key", "company", "company_name"],
            json!({
                "certificate": { "type": "string" }, "signature": hex(128),
                "office_key": hex(64), "company": id(), "company_name": { "type": "string" },
            })),
        "AskChallenge": object(&["device"], json!({ "device": id() })),
        "Challenge": object(&["challenge", "expires_at"], json!({
            "challenge": hex(144), "expires_at": { "type": "integer" } })),
        "AskToken": object(&["challenge", "signature"], json!({
            "challenge": hex(144), "signature": hex(128) })),
        "Token": object(&["token", "expires_at"], json!({
            "token": hex(144), "expires_at": { "type": "integer" } })),
        "AskLacking": object(&["job", "hashes"], json!({
            "job": id(), "thumbnails": { "type": "boolean" },
            "hashes": { "type": "array", "items": hex(64), "maxItems": limits::LACKING_HASHES },
        })),
        "Lacking": object(&["lacking", "unknown"], json!({
            "lacking": { "type": "array", "items": object(&["hash", "held"], json!({
                "hash": hex(64), "held": { "type": "integer", "minimum": 0 } })) },
            "unknown": { "type": "array", "items": hex(64) },
        })),
        "Held": object(&["held", "whole"], json!({
            "held": { "type": "integer", "minimum": 0 }, "whole": { "type": "boolean" } })),
    })
}

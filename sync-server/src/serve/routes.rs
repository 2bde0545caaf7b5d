//! The table of routes: path, method, what it takes to be let in. The router is built from it, and
//! so are the API description and the test that tries every route with the wrong credentials.

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::Method;
use axum::middleware::from_fn_with_state;
use axum::routing::{MethodRouter, get, head, patch, post, put};
use chalkwalk_core::job::Role;
use chalkwalk_core::limits as shared_limits;

use super::guard::{Guard, guard};
use super::{
    Shared, assets, enrol, field, health, live, metrics, openapi, pages, photos, shared, socket,
    token, upload,
};
use crate::limits;

/// What lets a request through.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Takes {
    /// Anybody.
    Nothing,
    /// Anybody, from the server's own page: a form.
    Form,
    /// An enrolment code in the request.
    Code,
    /// The device's key, proven within the exchange.
    DeviceKey,
    /// A device's token.
    Device,
    /// A person who is signed in, in this part or one that may do more.
    Person(Role),
    /// A one-time link in the path.
    Link,
    /// A shared link in the path.
    Share,
    /// This machine, or the token of whoever watches the server.
    Operator,
}

/// At which address a route stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Door {
    /// Where devices speak.
    Devices,
    /// Where people read.
    Pages,
    /// At both.
    Both,
}

/// One route.
pub struct Route {
    /// The method.
    pub method: Method,
    /// The path below the company's address.
    pub path: &'static str,
    /// What lets a request through.
    pub takes: Takes,
    /// Where it stands.
    pub door: Door,
    /// What it does, for the API description.
    pub about: &'static str,
    /// The statuses it answers with, beside those of its credentials.
    pub answers: &'static [u16],
    /// Fields of the form it takes.
    pub form: &'static [&'static str],
    handler: fn() -> MethodRouter<Shared>,
}

impl Route {
    /// Whether its form has a file in it.
    pub(super) fn takes_file(&self) -> bool {
        self.form.contains(&"file")
    }
}

impl std::fmt::Debug for Route {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} {}", self.method, self.path)
    }
}

const CREW: Takes = Takes::Person(Role::Crew);
const ESTIMATOR: Takes = Takes::Person(Role::Estimator);
const ADMIN: Takes = Takes::Person(Role::Admin);
const NO_FORM: &[&str] = &[];
/// A record's fields, as its kind has them; each may come with `was-` and the value that the form was
/// shown with, and where two clash with `take-` and `seen-`.
const RECORD_FORM: &[&str] = &["id", "place", "slope", "text", "audience", "hits"];

macro_rules! routes {
    ($( $method:ident $path:literal, $takes:expr, $door:ident, [$($answer:literal)*], $form:expr,
        $handler:expr, $about:literal; )*) => {
        /// Every route of the server.
        pub const ROUTES: &[Route] = &[$(
            Route {
                method: Method::$method,
                path: $path,
                takes: $takes,
                door: Door::$door,
                about: $about,
                answers: &[$($answer),*],
                form: $form,
                handler: || $handler,
            },
        )*];
    };
}

routes! {
    GET "/health", Takes::Nothing, Both, [200], NO_FORM, get(health::health),
        "Whether the server runs.";
    GET "/ready", Takes::Nothing, Both, [200 503], NO_FORM, get(health::ready),
        "Whether the server takes work: storage answers and it does not stop.";
    GET "/metrics", Takes::Operator, Devices, [200], NO_FORM, get(metrics::metrics),
        "Counts for a watching program, as Prometheus text.";
    GET "/openapi.json", Takes::Nothing, Both, [200], NO_FORM, get(openapi::openapi),
        "This description.";

    POST "/enrol", Takes::Code, Devices, [200 400 403 413 429 503], NO_FORM, post(enrol::enrol),
        "Makes a device one of the office's, for a one-time code.";
    GET "/sync", Takes::DeviceKey, Devices, [101 400 426 503], NO_FORM, get(socket::sync),
        "One session over a WebSocket; the wire format is described with the core.";
    POST "/token/challenge", Takes::DeviceKey, Devices, [200 400 413], NO_FORM,
        post(token::challenge), "A challenge for a device to sign.";
    POST "/token", Takes::DeviceKey, Devices, [200 400 403 413 429 503], NO_FORM,
        post(token::token), "A token of minutes, for a signed challenge.";
    POST "/photos/lacking", Takes::Device, Devices, [200 400 403 413 503], NO_FORM,
        post(upload::lacking), "Which of these files the office does not hold whole.";
    PUT "/photos/{hash}", Takes::Device, Devices, [200 201 400 403 404 408 411 413 422 503 507],
        NO_FORM, put(upload::put_original),
        "Hands in an original whole and from its start. Harmless to repeat.";
    PATCH "/photos/{hash}", Takes::Device, Devices,
        [200 400 403 404 408 409 413 422 503 507], NO_FORM, patch(upload::patch_original),
        "Hands in more of an original, from the offset that the office holds.";
    HEAD "/photos/{hash}", Takes::Device, Devices, [200 400 403 404 413 503], NO_FORM,
        head(upload::head_original), "How much of an original the office holds.";
    GET "/photos/{hash}", Takes::Device, Devices, [200 206 304 400 403 404 416 503], NO_FORM,
        get(upload::get_original), "An original, whole or a range of it.";
    PUT "/photos/{hash}/thumbnail", Takes::Device, Devices,
        [200 201 400 403 404 408 411 413 415 422 503 507], NO_FORM, put(upload::put_thumbnail),
        "Hands in the small picture of an original.";
    GET "/photos/{hash}/thumbnail", Takes::Device, Devices, [200 206 304 400 403 404 416 503],
        NO_FORM, get(upload::get_thumbnail), "The small picture of an original.";

    GET "/field", Takes::Nothing, Devices, [308], NO_FORM, get(field::to_folder),
        "To the crew's page.";
    GET "/field/", Takes::Nothing, Devices, [200 404], NO_FORM, get(field::index),
        "The crew's page: what a phone keeps and works from with no signal.";
    GET "/field/{*file}", Takes::Nothing, Devices, [200 404], NO_FORM, get(field::file),
        "A script, letter or picture of the crew's page.";

    GET "/shared/{token}", Takes::Share, Pages, [308 503], NO_FORM, get(shared::to_folder),
        "To the page of a shared link.";
    GET "/shared/{token}/", Takes::Share, Pages, [200 503], NO_FORM, get(shared::page),
        "What a shared link shows of one job.";
    GET "/shared/{token}/{*file}", Takes::Share, Pages, [200 206 304 404 416 503], NO_FORM,
        get(shared::file), "A picture or table of a shared link's page.";

    GET "/", CREW, Pages, [200 503], NO_FORM, get(pages::jobs::list), "The list of jobs.";
    GET "/live", CREW, Pages, [200 406 503], NO_FORM, get(live::live),
        "News for an open page, as server-sent events.";
    GET "/style.css", Takes::Nothing, Pages, [200], NO_FORM, get(assets::style),
        "How the pages look.";
    GET "/assets/{file}", Takes::Nothing, Pages, [200 404], NO_FORM, get(assets::file),
        "Letters, scripts and little pictures of the pages.";
    GET "/sign-in", Takes::Nothing, Pages, [200], NO_FORM, get(pages::sign_in::page),
        "The form to sign in.";
    POST "/sign-in", Takes::Form, Pages, [303 403 413 415 422 429 503],
        &["login", "password", "to"], post(pages::sign_in::sign_in), "Signs a person in.";
    POST "/sign-out", CREW, Pages, [303 503], NO_FORM, post(pages::sign_in::sign_out),
        "Signs this browser out.";
    POST "/sign-out/everywhere", CREW, Pages, [303 503], NO_FORM,
        post(pages::sign_in::sign_out_everywhere), "Signs the person out in every browser.";
    GET "/once/{token}", Takes::Link, Pages, [200 503], NO_FORM, get(pages::once::page),
        "What a one-time link is for.";
    POST "/once/{token}", Takes::Link, Pages, [303 409 410 413 415 422 503],
        &["name", "mail", "password", "again"], post(pages::once::accept),
        "Uses a one-time link: joins, signs in, or sets a new password.";
    GET "/account", CREW, Pages, [200], NO_FORM, get(pages::account::page),
        "The person's own account.";
    POST "/account/password", CREW, Pages, [200 403 413 415 422 429 503],
        &["current", "password", "again"], post(pages::account::change_password),
        "Changes the person's password and ends all other sign-ins.";
    GET "/people", ADMIN, Pages, [200 503], NO_FORM, get(pages::people::page), "Everybody.";
    POST "/people/invite", ADMIN, Pages, [200 413 415 422 503], &["role"],
        post(pages::people::invite), "Makes a link with which somebody joins.";
    POST "/people/{person}/link", ADMIN, Pages, [200 404 413 415 422 503], NO_FORM,
        post(pages::people::password_link), "Makes a link to set a new password.";
    POST "/people/{person}/role", ADMIN, Pages, [303 404 409 413 415 422 503], &["role"],
        post(pages::people::set_role), "Gives a person another part.";
    POST "/people/{person}/shut-out", ADMIN, Pages, [303 404 409 503], NO_FORM,
        post(pages::people::shut_out), "Shuts a person out.";
    POST "/people/{person}/let-in", ADMIN, Pages, [303 404 503], NO_FORM,
        post(pages::people::let_in), "Lets a person in again.";
    GET "/devices", ESTIMATOR, Pages, [200 503], NO_FORM, get(pages::devices::page),
        "Every device.";
    POST "/devices/invite", ESTIMATOR, Pages, [200 403 413 415 422 503], &["role"],
        post(pages::devices::invite), "Makes a code for a device, as text and as QR.";
    GET "/devices/{device}", ESTIMATOR, Pages, [200 404 503], NO_FORM,
        get(pages::devices::one), "What is known of a device.";
    POST "/devices/{device}/revoke", ESTIMATOR, Pages, [303 404 503], NO_FORM,
        post(pages::devices::revoke), "Shuts a device out and ends its sessions.";
    POST "/devices/{device}/reinstate", ESTIMATOR, Pages, [303 404 503], NO_FORM,
        post(pages::devices::reinstate), "Lets a device in again.";
    POST "/devices/{device}/lost", ESTIMATOR, Pages, [200 404 503], NO_FORM,
        post(pages::devices::lost),
        "Shuts a lost device out, says what it had, and makes a code for the next.";
    GET "/jobs/{job}", CREW, Pages, [200 404 503], NO_FORM, get(pages::house::page), "One job.";
    GET "/jobs/{job}/thumbnail/{hash}", CREW, Pages, [200 206 304 404 416 503], NO_FORM,
        get(photos::thumbnail), "The small picture of a photo of a job.";
    GET "/jobs/{job}/original/{hash}", CREW, Pages, [200 206 304 404 416 503], NO_FORM,
        get(photos::original), "The original of a photo of a job.";
    GET "/jobs/{job}/access", ESTIMATOR, Pages, [200 404 503], NO_FORM,
        get(pages::access::page), "Who sees a job: devices and shared links.";
    POST "/jobs/{job}/close", ESTIMATOR, Pages, [303 404 503], NO_FORM,
        post(pages::access::close), "Closes a job for crews that did not write to it.";
    POST "/jobs/{job}/open", ESTIMATOR, Pages, [303 404 503], NO_FORM,
        post(pages::access::open), "Opens a job again.";
    POST "/jobs/{job}/assign", ESTIMATOR, Pages, [303 404 413 415 422 503], &["device"],
        post(pages::access::assign), "Assigns a device to a job.";
    POST "/jobs/{job}/unassign", ESTIMATOR, Pages, [303 404 413 415 422 503], &["device"],
        post(pages::access::unassign), "Takes a device off a job.";
    POST "/jobs/{job}/shares", ESTIMATOR, Pages, [200 404 413 415 422 503], &["note", "days"],
        post(pages::access::make_share), "Makes a shared link to a job.";
    POST "/jobs/{job}/shares/{share}/withdraw", ESTIMATOR, Pages, [303 404 503], NO_FORM,
        post(pages::access::withdraw), "Withdraws a shared link.";
    GET "/jobs/new", ESTIMATOR, Pages, [200 503], NO_FORM, get(pages::prepare::page),
        "The form with which a job is prepared.";
    POST "/jobs/new", ESTIMATOR, Pages, [303 400 413 422 503], NO_FORM,
        post(pages::prepare::begin),
        "Begins a job with what is known of the house, a measurement report and storm reports.";
    GET "/jobs/{job}/findings", CREW, Pages, [200 404 503], NO_FORM, get(pages::findings::page),
        "The findings of a job, all or those that the query asks for.";
    GET "/jobs/{job}/findings/{finding}", CREW, Pages, [200 404 503], NO_FORM,
        get(pages::findings::one_page), "One finding, with its photos and how it came about.";
    GET "/jobs/{job}/records/{kind}/new", ESTIMATOR, Pages, [200 404 503], NO_FORM,
        get(pages::edit::new_page), "The form to add a record: a finding, part, measure, place.";
    POST "/jobs/{job}/records/{kind}", ESTIMATOR, Pages, [303 404 409 413 415 422 503],
        RECORD_FORM, post(pages::edit::add), "Adds a record.";
    GET "/jobs/{job}/records/{kind}/{record}", CREW, Pages, [200 404 503], NO_FORM,
        get(pages::edit::page), "One record, with its photos and how it came about.";
    GET "/jobs/{job}/records/{kind}/{record}/edit", ESTIMATOR, Pages, [200 404 503], NO_FORM,
        get(pages::edit::edit_page), "The form to change a record.";
    POST "/jobs/{job}/records/{kind}/{record}", ESTIMATOR, Pages,
        [303 404 409 413 415 422 503], RECORD_FORM, post(pages::edit::amend),
        "Changes the fields that differ from what the form was shown with.";
    POST "/jobs/{job}/records/{kind}/{record}/strike", ESTIMATOR, Pages,
        [303 404 409 413 415 422 503], &["reason"], post(pages::edit::strike),
        "Strikes a record with a reason; a question is withdrawn.";
    POST "/jobs/{job}/records/{kind}/{record}/reinstate", ESTIMATOR, Pages, [303 404 409 503],
        NO_FORM, post(pages::edit::reinstate), "Lets a struck record stand again.";
    POST "/jobs/{job}/records/{kind}/{record}/photos", ESTIMATOR, Pages,
        [303 404 409 413 415 422 503], &["photo", "do"], post(pages::edit::photos),
        "Says that a photo shows a record, or does not after all.";
    POST "/jobs/{job}/records/{kind}/{record}/count", ESTIMATOR, Pages,
        [303 404 409 413 415 422 503], &["hits", "was-hits"], post(pages::edit::count),
        "States the hits that the person counted.";
    GET "/jobs/{job}/marks/{photo}", ESTIMATOR, Pages, [200 404 503], NO_FORM,
        get(pages::marks::page), "The marks drawn beside a photo, to be changed.";
    POST "/jobs/{job}/marks/{photo}", ESTIMATOR, Pages, [303 404 409 413 415 422 503],
        &["seen", "kind", "x", "y", "size", "to-x", "to-y", "words"],
        post(pages::marks::draw), "Draws marks beside a photo.";
    GET "/jobs/{job}/open", CREW, Pages, [200 404 503], NO_FORM, get(pages::open::page),
        "What is open: questions, fields stated in two ways, the check before leaving.";
    POST "/jobs/{job}/open/settle", ESTIMATOR, Pages, [303 404 409 413 415 422 503],
        &["record", "field", "seen", "statement"], post(pages::open::settle),
        "Settles what two people stated differently.";
    GET "/jobs/{job}/open/ask", ESTIMATOR, Pages, [200 404 503], NO_FORM,
        get(pages::open::ask_page), "The form to ask the crew.";
    POST "/jobs/{job}/questions", ESTIMATOR, Pages, [303 404 409 413 415 422 503],
        &["id", "about", "text"], post(pages::open::ask), "Asks the crew.";
    POST "/jobs/{job}/questions/{question}/answer", CREW, Pages, [303 404 409 413 415 422 503],
        &["id", "text", "photo"], post(pages::open::answer), "Answers a question.";
    GET "/jobs/{job}/sides", CREW, Pages, [200 404 503], NO_FORM, get(pages::sides::page),
        "The house place by place.";
    GET "/jobs/{job}/sides/{kind}/{place}", CREW, Pages, [200 404 503], NO_FORM,
        get(pages::sides::place_page), "One side, slope, room, structure or eave.";
    GET "/jobs/{job}/scope", ESTIMATOR, Pages, [200 404 503], NO_FORM,
        get(pages::estimate::page), "The scope of a job, line by line.";
    GET "/jobs/{job}/scope.csv", ESTIMATOR, Pages, [200 404 503], NO_FORM,
        get(pages::estimate::csv), "The scope as CSV.";
    GET "/jobs/{job}/scope.json", ESTIMATOR, Pages, [200 404 503], NO_FORM,
        get(pages::estimate::json), "The scope as JSON, with what it was made with.";
    GET "/jobs/{job}/scope/line", ESTIMATOR, Pages, [200 404 503], NO_FORM,
        get(pages::estimate::line_page), "One line of the scope, with what it rests on.";
    GET "/jobs/{job}/scope/line/new", ESTIMATOR, Pages, [200 404 503], NO_FORM,
        get(pages::estimate::add_page), "The form for a line that the office adds.";
    POST "/jobs/{job}/scope/change", ESTIMATOR, Pages, [303 404 409 413 415 422 503],
        &["do", "key", "seen", "quantity", "unit", "action", "audience", "place", "item",
          "reason", "was-quantity", "was-unit", "was-action", "was-audience"],
        post(pages::estimate::change), "Amends, leaves out, puts back or adds a line of the scope.";
    GET "/jobs/{job}/scope/inputs", ESTIMATOR, Pages, [200 404 503], NO_FORM,
        get(pages::estimate::inputs_page), "What the scope is made with.";
    POST "/jobs/{job}/scope/inputs", ESTIMATOR, Pages, [303 404 409 413 415 422 503],
        &["was", "edition", "waste", "hits", "steep", "storeys", "gap", "rule", "rakes", "slope",
          "waste_of", "roof"],
        post(pages::estimate::set_inputs), "Sets what the scope is made with.";
    GET "/prices", ESTIMATOR, Pages, [200 503], NO_FORM, get(pages::estimate::prices_page),
        "The company's own price list.";
    POST "/prices", ESTIMATOR, Pages, [303 409 413 422 503],
        &["file", "was", "item", "unit", "price", "work"], post(pages::estimate::put_prices),
        "Puts a price list in place.";
    GET "/jobs/{job}/beside", ESTIMATOR, Pages, [200 404 503], NO_FORM, get(pages::beside::page),
        "Another's scope beside ours.";
    POST "/jobs/{job}/beside", ESTIMATOR, Pages, [303 404 413 422 503], &["file", "name"],
        post(pages::beside::hand_in), "Hands in another's scope, to be looked at.";
    GET "/jobs/{job}/beside/read", ESTIMATOR, Pages, [200 404 503], NO_FORM,
        get(pages::beside::read_page), "A file that was handed in, and how its columns read.";
    POST "/jobs/{job}/beside/keep", ESTIMATOR, Pages, [303 404 413 415 422 503],
        &["file", "name", "as", "said", "sheet", "head", "was-sheet", "was-head", "item",
          "quantity", "unit", "place", "action", "unit_price", "total", "remarks"],
        post(pages::beside::keep), "Keeps another's scope in the job.";
    POST "/jobs/{job}/beside/strike", ESTIMATOR, Pages, [303 404 413 415 422 503],
        &["of", "reason"], post(pages::beside::strike), "Strikes another's scope.";
    GET "/jobs/{job}/beside/join", ESTIMATOR, Pages, [200 404 503], NO_FORM,
        get(pages::beside::join_page), "A row of another's scope and the lines it may stand for.";
    POST "/jobs/{job}/beside/say", ESTIMATOR, Pages, [303 404 409 413 415 422 503],
        &["of", "row", "seen", "line", "reason", "do"], post(pages::beside::say),
        "Says which lines a row of another's scope stands for.";
    GET "/jobs/{job}/beside/disputes", ESTIMATOR, Pages, [200 404 503], NO_FORM,
        get(pages::beside::disputes_page), "The list of differences, to print.";
    GET "/jobs/{job}/beside/disputes.csv", ESTIMATOR, Pages, [200 404 503], NO_FORM,
        get(pages::beside::disputes_csv), "The list of differences as CSV.";
    GET "/jobs/{job}/production", ESTIMATOR, Pages, [200 404 503], NO_FORM,
        get(pages::sheets::production), "The production sheet.";
    GET "/jobs/{job}/account", ESTIMATOR, Pages, [200 404 503], NO_FORM,
        get(pages::sheets::account), "The owner's account.";
    GET "/jobs/{job}/custody", ESTIMATOR, Pages, [200 404 503], NO_FORM, get(pages::custody::page),
        "Who recorded what, and whether it can be checked.";
    GET "/jobs/{job}/custody/findings.csv", ESTIMATOR, Pages, [200 404 503], NO_FORM,
        get(pages::custody::findings), "The findings as CSV, for the office.";
    GET "/jobs/{job}/walk", CREW, Pages, [200 404 503], NO_FORM, get(pages::walk::first),
        "The photos in walk order: the first.";
    GET "/jobs/{job}/walk/{photo}", CREW, Pages, [200 404 503], NO_FORM,
        get(pages::walk::photo), "One photo of the walk, with what was found on it.";
    POST "/jobs/{job}/mark", ESTIMATOR, Pages, [303 404 409 413 415 422 503], &["mark", "was"],
        post(pages::jobs::mark), "The office's word on a job: ready, handed on, or neither.";
    GET "/storage", ADMIN, Pages, [200 503], NO_FORM, get(pages::storage::page),
        "What the office holds, and the rules in force.";
    GET "/jobs/{job}/packets", ESTIMATOR, Pages, [200 404 503], NO_FORM,
        get(pages::packets::page), "The packets of a job.";
    POST "/jobs/{job}/packets", ESTIMATOR, Pages, [303 404 413 415 422 503],
        &["packet", "without_places", "paper"], post(pages::packets::ask), "Has a packet made.";
    POST "/jobs/{job}/packets/{packet}/stop", ESTIMATOR, Pages, [303 400 404 503], NO_FORM,
        post(pages::packets::stop), "Stops a packet that is being made.";
    GET "/jobs/{job}/packets/{packet}/{file}", ESTIMATOR, Pages, [200 400 404 503], NO_FORM,
        get(pages::packets::fetch), "A packet as one file.";
    GET "/jobs/{job}/tables/{file}", ESTIMATOR, Pages, [200 404 503], NO_FORM,
        get(pages::packets::table), "A table of what the shared packet says now.";
    GET "/audit", ADMIN, Pages, [200 503], NO_FORM, get(pages::audit::page),
        "Who saw and did what.";
}

/// Which of the routes stand at an address.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Which {
    /// Those of devices, and those that stand at both.
    Devices,
    /// Those of pages, and those that stand at both.
    Pages,
    /// Those of pages alone, beside those of devices.
    PagesAlone,
}

/// The routes of one company at one address.
pub(crate) fn router(shared: &Shared, which: Which) -> Router {
    let here = |route: &&Route| {
        let door = match which {
            Which::Devices => route.door != Door::Pages,
            Which::Pages => route.door != Door::Devices,
            Which::PagesAlone => route.door == Door::Pages,
        };
        // Whoever watches the server watches all of it.
        door && (route.takes != Takes::Operator || shared.base.is_empty())
    };
    let mut router = Router::new();
    for route in ROUTES.iter().filter(here) {
        let guarded = Guard {
            shared: shared.clone(),
            route,
        };
        let handler = (route.handler)()
            .route_layer(DefaultBodyLimit::max(body_limit(route)))
            .route_layer(from_fn_with_state(guarded, guard));
        router = router.route(&format!("{}{}", shared.base, route.path), handler);
    }
    router.with_state(shared.clone())
}

/// Forms with files, and how large they may be.
const WITH_FILES: &[(&str, usize)] = &[("/jobs/new", limits::PREPARE_BYTES)];

/// Most bytes of a request's body.
pub(super) fn body_limit(route: &Route) -> usize {
    let with_files = WITH_FILES.iter().find(|(path, _)| *path == route.path);
    if let Some((_, most)) = with_files {
        return *most;
    }
    match (route.takes, route.form.is_empty()) {
        (Takes::Code, _) => shared_limits::ENROL_BYTES,
        (Takes::Device | Takes::DeviceKey, true) => limits::CALL_BYTES,
        _ if route.takes_file() => limits::FILE_FORM_BYTES,
        (Takes::Person(_), false) => limits::RECORD_FORM_BYTES,
        _ => limits::FORM_BYTES,
    }
}

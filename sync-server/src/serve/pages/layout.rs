//! What every page has around it: the bar, the ways through a job, the scripts it asks for.

use chalkwalk_core::job::{Job, JobId, Role};
use maud::{DOCTYPE, Markup, html};

use super::super::Shared;
use super::super::guard::rank;
use super::super::icons::icon;
use crate::hub::job_title;
use crate::store::Person;

/// The chapters of one job.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::serve) enum Part {
    /// The front page.
    House,
    /// Photos in walk order.
    Walk,
    /// Sides and slopes.
    Sides,
    /// All findings.
    Findings,
    /// What is open.
    Open,
    /// The scope.
    Scope,
    /// The insurer's scope beside it.
    Beside,
    /// The production sheet.
    Production,
    /// The owner's account.
    Account,
    /// What leaves the house.
    Packets,
    /// Who recorded what, and whether it can be checked.
    Custody,
    /// Who sees the job.
    Access,
}

struct Way {
    part: Part,
    /// Below `/jobs/{job}`.
    path: &'static str,
    words: &'static str,
    icon: &'static str,
    least: Role,
    /// Begins a group of its own.
    apart: bool,
}

const WAYS: &[Way] = &[
    way(Part::House, "", "The house", "house", Role::Crew, false),
    way(
        Part::Walk,
        "/walk",
        "Walk round",
        "footprints",
        Role::Crew,
        false,
    ),
    way(
        Part::Sides,
        "/sides",
        "Sides and slopes",
        "layers",
        Role::Crew,
        false,
    ),
    way(
        Part::Findings,
        "/findings",
        "Findings",
        "list",
        Role::Crew,
        false,
    ),
    way(
        Part::Open,
        "/open",
        "Open points",
        "circle-dashed",
        Role::Crew,
        false,
    ),
    way(
        Part::Scope,
        "/scope",
        "Scope",
        "clipboard-list",
        Role::Estimator,
        true,
    ),
    way(
        Part::Beside,
        "/beside",
        "Insurer's scope",
        "scale",
        Role::Estimator,
        false,
    ),
    way(
        Part::Production,
        "/production",
        "Production",
        "hard-hat",
        Role::Estimator,
        false,
    ),
    way(
        Part::Account,
        "/account",
        "Owner's account",
        "mail",
        Role::Estimator,
        false,
    ),
    way(
        Part::Packets,
        "/packets",
        "Packets",
        "package",
        Role::Estimator,
        true,
    ),
    way(
        Part::Custody,
        "/custody",
        "Custody",
        "shield-check",
        Role::Estimator,
        false,
    ),
    way(
        Part::Access,
        "/access",
        "Who sees it",
        "users",
        Role::Estimator,
        false,
    ),
];

const fn way(
    part: Part,
    path: &'static str,
    words: &'static str,
    icon: &'static str,
    least: Role,
    apart: bool,
) -> Way {
    Way {
        part,
        path,
        words,
        icon,
        least,
        apart,
    }
}

/// What stands at the head of every page of a job.
pub(in crate::serve) struct JobHead {
    /// The job.
    pub(in crate::serve) id: JobId,
    /// Its address.
    pub(in crate::serve) title: String,
    under: String,
}

impl JobHead {
    pub(in crate::serve) fn of(id: JobId, job: &Job) -> Self {
        let property = job.property();
        let owner = property.and_then(|property| property.owner.clone());
        let loss = property.and_then(|property| property.date_of_loss);
        let loss = loss.map_or_else(
            || "date of loss not recorded".to_owned(),
            |date| format!("date of loss {}", date.format("%-d %B %Y")),
        );
        let parts: Vec<String> = owner.into_iter().chain([loss]).collect();
        Self {
            id,
            title: job_title(job),
            under: parts.join(" · "),
        }
    }
}

/// A page of one job. `scripts` are names in `/assets/`.
pub(in crate::serve) fn job_page(
    shared: &Shared,
    who: &Person,
    head: &JobHead,
    part: Part,
    scripts: &[&str],
    main: &Markup,
) -> Markup {
    let base = &shared.base;
    let here = WAYS.iter().find(|way| way.part == part);
    let words = here.map_or("", |way| way.words);
    let title = match part {
        Part::House => head.title.clone(),
        _ => format!("{words} · {}", head.title),
    };
    let body = html! {
        main.job {
            header {
                p.up { a href={ (base) "/" } { "All jobs" } }
                h1 { (head.title) }
                p { (head.under) }
            }
            nav.parts aria-label="This job" {
                ul { @for way in WAYS {
                    @if rank(who.role) >= rank(way.least) {
                        li.apart[way.apart] {
                            a href={ (base) "/jobs/" (head.id) (way.path) }
                                aria-current=[(way.part == part).then_some("page")] {
                                (icon(way.icon)) (way.words)
                            }
                        }
                    }
                } }
            }
            div.chapter id="main" tabindex="-1" { (main) }
        }
    };
    page(shared, Some(who), &title, scripts, &body)
}

/// Any page: the bar, then the body.
pub(in crate::serve) fn page(
    shared: &Shared,
    who: Option<&Person>,
    title: &str,
    scripts: &[&str],
    body: &Markup,
) -> Markup {
    let base = &shared.base;
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta name="robots" content="noindex";
                title { (title) }
                link rel="icon" href={ (base) "/assets/icon.svg" } type="image/svg+xml";
                link rel="stylesheet" href={ (base) "/style.css" };
                @for script in scripts {
                    script src={ (base) "/assets/" (script) } type="module" {}
                }
            }
            body {
                (bar(shared, who))
                (body)
            }
        }
    }
}

/// A wide table in a frame that scrolls by itself, by keyboard too.
pub(in crate::serve) fn sheet(label: &str, table: &Markup) -> Markup {
    html! { div.sheet role="region" aria-label=(label) tabindex="0" { (table) } }
}

fn bar(shared: &Shared, who: Option<&Person>) -> Markup {
    let base = &shared.base;
    let company = &shared.hub.office().company().name;
    let may = |least: Role| who.is_some_and(|who| rank(who.role) >= rank(least));
    let link = |path: &str, name: &str, words: &str| {
        html! { a href={ (base) (path) } { (icon(name)) span { (words) } } }
    };
    html! {
        header.bar { a.skip href="#main" { "To the content" } div {
            a.mark href={ (base) "/" } { (mark()) (company) }
            @if let Some(person) = who {
                nav aria-label="The office" {
                    (link("/", "house", "Jobs"))
                    @if may(Role::Estimator) { (link("/devices", "smartphone", "Devices")) }
                    @if may(Role::Admin) {
                        (link("/people", "users", "People"))
                        (link("/audit", "scroll-text", "Audit"))
                        (link("/storage", "hard-drive", "Storage"))
                    }
                }
                nav.end aria-label="You" {
                    (link("/account", "user", &person.name))
                    form method="post" action={ (base) "/sign-out" } {
                        button { (icon("log-out")) span { "Sign out" } }
                    }
                }
            }
        } }
    }
}

/// A gable over a ring of chalk.
fn mark() -> Markup {
    html! {
        svg viewBox="0 0 32 32" aria-hidden="true" fill="none" stroke="currentColor"
            stroke-linecap="round" stroke-linejoin="round" {
            path d="M5.5 17.5 16 8l10.5 9.5" stroke-width="2.6" {}
            ellipse cx="16" cy="20.5" rx="5.6" ry="5" stroke-width="2" stroke-dasharray="9 1.4 13 1.2 7" {}
        }
    }
}

//! Verbs that run an office: people, devices, companies.

use std::path::Path;

use chalkwalk_core::job::{DeviceId, Role};
use serde_json::{Value, json};

use super::office_args::{
    CompanyArgs, CompanyVerb, DeviceArgs, DeviceVerb, PersonArgs, PersonVerb,
};
use super::output::{Failure, Output};
use super::server::storage;
use crate::enrol::{CODE_LASTS, Invitation, make_code, pin_of};
use crate::env::SystemEnv;
use crate::hub::{Hub, Lost};
use crate::people::{FirstLink, first_link_on, invitation_link_on, password_link_on};
use crate::serve::{companies, open_hub_on};
use crate::storage::Storage;

pub(super) fn person(args: &PersonArgs, out: Output) -> Result<(), Failure> {
    let storage = storage(&args.storage)?;
    let link = match &args.what {
        PersonVerb::Invite { role } => {
            let role = Role::from_code(role)
                .ok_or_else(|| Failure::new("the role is crew, estimator or admin"))?;
            invitation_link_on(&args.data, &storage, role)?
        }
        PersonVerb::Password { login } => password_link_on(&args.data, &storage, login)?
            .ok_or_else(|| {
                Failure::new("nobody has this name or mail address: the page People lists all")
            })?,
    };
    let address = format!("{}{}", args.pages.trim_end_matches('/'), link.path());
    out.give(&json!({ "link": address }), || {
        format!("{address}\nIt counts once. Hand it to the person yourself.")
    })
}

pub(super) fn device(args: &DeviceArgs, out: Output) -> Result<(), Failure> {
    let (value, words) = on_hub(
        &args.data,
        &storage(&args.storage)?,
        async |hub| match &args.what {
            DeviceVerb::List => list(&hub).await,
            DeviceVerb::Revoke { device } => {
                known(hub.revoke(*device).await?)?;
                Ok(said(*device, "is shut out"))
            }
            DeviceVerb::Reinstate { device } => {
                known(hub.reinstate(*device).await?)?;
                Ok(said(*device, "may connect again"))
            }
            DeviceVerb::Lost { device } => lost(&hub, *device).await,
        },
    )?;
    out.give(&value, || words)
}

fn on_hub<T>(
    data: &Path,
    storage: &Storage,
    work: impl AsyncFnOnce(Hub) -> Result<T, Failure>,
) -> Result<T, Failure> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()?;
    runtime.block_on(async { work(open_hub_on(data, storage, None).await?).await })
}

fn known(known: bool) -> Result<(), Failure> {
    if known {
        return Ok(());
    }
    let words = "no device of this id is known here: chalkwalk device list names all";
    Err(Failure::new(words))
}

fn said(device: DeviceId, words: &str) -> (Value, String) {
    (
        json!({ "device": device }),
        format!("Device {device} {words}."),
    )
}

async fn list(hub: &Hub) -> Result<(Value, String), Failure> {
    let (mut values, mut lines) = (Vec::new(), Vec::new());
    for device in hub.records().devices().await? {
        let about = hub.office().verify(&device.certificate).ok();
        let (person, name, role) = about.map_or_else(Default::default, |about| {
            (about.person, about.device_name, about.role.code())
        });
        let state = if device.revoked_at.is_some() {
            "shut out"
        } else {
            "may connect"
        };
        lines.push(format!(
            "{}  {role:<9}  {state:<11}  {person}, {name}",
            device.id
        ));
        values.push(json!({
            "device": device.id, "person": person, "name": name, "role": role,
            "revoked_at": device.revoked_at,
        }));
    }
    if lines.is_empty() {
        lines.push("No device has joined yet: chalkwalk invite makes a code.".to_owned());
    }
    Ok((json!(values), lines.join("\n")))
}

async fn lost(hub: &Hub, device: DeviceId) -> Result<(Value, String), Failure> {
    let record = hub.records().device(device).await?;
    let role = record
        .as_ref()
        .and_then(|record| hub.office().verify(&record.certificate).ok())
        .map_or(Role::Crew, |about| about.role);
    known(hub.revoke(device).await?)?;
    let had = hub.lost(device).await?;
    let mut env = SystemEnv;
    let made = make_code(hub.records(), hub.office(), role, "", CODE_LASTS, &mut env);
    let invitation = made.await?;
    let jobs: Vec<Value> = had
        .jobs
        .iter()
        .map(|job| {
            json!({
                "job": job.job, "title": job.title, "changes_on_it": job.changes_there,
                "it_wrote": job.written_here, "changes_not_handed_in": job.changes_not_here,
                "originals_not_handed_in": job.originals_not_here,
            })
        })
        .collect();
    let value = json!({
        "device": device, "last_heard": had.last_heard, "jobs": jobs,
        "code": invitation.code, "pin": invitation.pin,
    });
    Ok((value, lost_words(&had, &invitation)))
}

fn lost_words(had: &Lost, invitation: &Invitation) -> String {
    let mut lines = vec![format!("Device {} is shut out.", had.device)];
    if had.jobs.is_empty() {
        lines.push("As far as it said, no job of the office was on it.".to_owned());
    }
    for job in &had.jobs {
        lines.push(format!(
            "{}: {} changes on it, {} of its own handed in, {} not handed in, {} originals not \
             handed in",
            job.title,
            job.changes_there,
            job.written_here,
            job.changes_not_here,
            job.originals_not_here
        ));
    }
    lines
        .push("What it recorded after it last spoke with the office is not known here.".to_owned());
    lines.push(format!(
        "For the next device: code {}, pin {}",
        invitation.code, invitation.pin
    ));
    lines.join("\n")
}

pub(super) fn company(args: &CompanyArgs, out: Output) -> Result<(), Failure> {
    match &args.what {
        CompanyVerb::Add { name, company } => {
            let storage = storage(&args.storage)?;
            let office = companies::add_on(&args.data, &storage, name, company)?;
            let pin = pin_of(&office.public_key());
            let at = args.data.join("companies").join(name);
            let first = match first_link_on(&at, &storage.of_company(name)?)? {
                FirstLink::Link(link) => Some(format!("/at/{name}{}", link.path())),
                FirstLink::NotNeeded => None,
            };
            let value = json!({ "path": format!("/at/{name}"), "pin": pin, "first_admin": first });
            out.give(&value, || {
                format!(
                    "{company} stands at /at/{name}, within seconds where the server runs. Its \
                     folder is {}. Its first admin joins by {}, below the address of the pages.",
                    at.display(),
                    first.as_deref().unwrap_or_default()
                )
            })
        }
        CompanyVerb::List => {
            let names = companies::list(&args.data)?;
            out.give(&json!(names), || {
                if names.is_empty() {
                    return "There is no further company on this server.".to_owned();
                }
                names.join("\n")
            })
        }
    }
}

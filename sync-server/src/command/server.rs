//! The office server and how devices join it.

use std::path::Path;
use std::time::Duration;

use chalkwalk_core::job::Role;
use chalkwalk_core::notebook::Enrolment;
use serde_json::json;

use super::args::{EnrolArgs, InviteArgs, ServeArgs, StorageArgs};
use super::jobs::{close, open};
use super::office_args::JudgeArgs;
use super::output::{Failure, Output, print_line};
use crate::client::{self, Applicant};
use crate::enrol::{Ticket, picture};
use crate::serve::{Pages, ServeConfig, serve_until_told};
use crate::storage::Storage;
use crate::transport::Trust;

pub(super) fn serve(args: &ServeArgs) -> Result<(), Failure> {
    let filter = tracing_subscriber::EnvFilter::try_from_default_env()
        .unwrap_or_else(|_| tracing_subscriber::EnvFilter::new("info"));
    tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(std::io::stderr)
        .init();
    let config = ServeConfig {
        data: args.data.clone(),
        storage: storage(&args.storage)?,
        listen: args.listen,
        pages: args.pages.map_or(Pages::ThisMachine, Pages::At),
        company: Some(args.company.clone()),
        way: args.running.way()?,
        keeping: args.running.keeping(),
        metrics_token: args.running.metrics_token()?,
        judging: args.running.judging(),
    };
    let scheme = match config.way {
        crate::serve::Way::Tls { .. } => "https",
        _ => "http",
    };
    serve_until_told(config, |ready| {
        let pages = ready.pages.map(|at| format!("{scheme}://{at}/"));
        let link = |path: &String| ready.pages.map(|at| format!("{scheme}://{at}{path}"));
        let first: Vec<String> = ready.first_links.iter().filter_map(link).collect();
        let line = json!({
            "devices": format!("{scheme}://{}", ready.listen), "pages": pages,
            "office": ready.company, "pin": ready.pin, "first_admin": first,
        });
        print_line(&line.to_string());
    })?;
    Ok(())
}

pub(super) fn judge(args: &JudgeArgs) -> Result<(), Failure> {
    Ok(crate::judge::run_worker(
        args.memory,
        std::io::stdin().lock(),
        std::io::stdout().lock(),
    )?)
}

/// The storage that the addresses name.
pub(super) fn storage(args: &StorageArgs) -> Result<Storage, Failure> {
    Ok(Storage::parse(
        args.records.as_deref(),
        args.blobs.as_deref(),
    )?)
}

pub(super) fn invite(args: &InviteArgs, out: Output) -> Result<(), Failure> {
    let role = Role::from_code(&args.role)
        .ok_or_else(|| Failure::new("the role is crew, estimator or admin"))?;
    let lasts = Duration::from_secs(u64::from(args.hours) * 3600);
    let storage = storage(&args.storage)?;
    let invitation = crate::enrol::invite_on(&args.data, &storage, role, "", lasts)?;
    let ticket = args.address.as_ref().map(|address| Ticket {
        address: address.clone(),
        pin: invitation.pin.clone(),
        code: invitation.code.clone(),
    });
    if let (Some(ticket), Some(file)) = (&ticket, &args.qr) {
        let picture = picture(ticket).ok_or_else(|| {
            Failure::new("the address is too long for a picture: give a shorter one")
        })?;
        std::fs::write(file, picture)?;
    }
    let text = ticket.as_ref().map(Ticket::text);
    let value = json!({ "code": invitation.code, "pin": invitation.pin, "qr": text });
    out.give(&value, || match &text {
        Some(text) => format!(
            "code {}\npin  {}\nOn the device: chalkwalk enrol --qr '{text}'",
            invitation.code, invitation.pin
        ),
        None => format!(
            "code {}\npin  {}\nOn the device: chalkwalk enrol ADDRESS --code {} --pin {}",
            invitation.code, invitation.pin, invitation.code, invitation.pin
        ),
    })
}

pub(super) fn enrol(dir: &Path, args: &EnrolArgs, out: Output) -> Result<(), Failure> {
    let mut notebook = open(dir)?;
    let (office, code, pin) = match &args.qr {
        Some(text) => {
            let ticket: Ticket = text.parse()?;
            (ticket.address, ticket.code, Some(ticket.pin))
        }
        None => (
            args.office.clone().unwrap_or_default(),
            args.code.clone().unwrap_or_default(),
            args.pin.clone(),
        ),
    };
    let trust = Trust::of(args.ca.clone());
    let company = join_by(&trust, &mut notebook, &office, &code, pin.as_deref())?;
    close(notebook)?;
    out.give(&json!({ "office": company }), || {
        format!("This notebook belongs to {company} now.")
    })
}

/// Joins an office; the value is its name.
pub(super) fn join(
    notebook: &mut chalkwalk_core::notebook::Notebook,
    address: &str,
    code: &str,
    pin: Option<&str>,
) -> Result<String, Failure> {
    join_by(&Trust::System, notebook, address, code, pin)
}

fn join_by(
    trust: &Trust,
    notebook: &mut chalkwalk_core::notebook::Notebook,
    address: &str,
    code: &str,
    pin: Option<&str>,
) -> Result<String, Failure> {
    let identity = notebook.identity().clone();
    let applicant = Applicant {
        device: identity.device,
        key: &identity.key,
        person: &identity.person,
        device_name: &identity.device_name,
        role: identity.role,
    };
    let answer = client::enrol_by(trust, address, code, pin, &applicant)?;
    let company_name = answer.company_name.clone();
    notebook.enrol(Enrolment {
        company: answer.company,
        company_name: answer.company_name,
        office_key: answer.office_key.to_bytes().to_vec(),
        certificate: answer.certificate,
        address: address.to_owned(),
    })?;
    Ok(company_name)
}

//! The arguments of the verbs that run an office.

use std::path::PathBuf;
use std::time::Duration;

use chalkwalk_core::job::DeviceId;
use clap::{Args, Subcommand, ValueEnum};

use super::output::Failure;
use crate::judge::{Judging, WorkerConfig};
use crate::limits;
use crate::serve::{Keeping, Way};

/// How a server is run.
#[derive(Debug, Args)]
pub(super) struct RunningArgs {
    /// Certificate for TLS, PEM, with those it hangs from.
    #[arg(long, requires = "tls_key", conflicts_with = "behind_proxy")]
    tls_cert: Option<PathBuf>,
    /// Key of the certificate, PEM.
    #[arg(long, requires = "tls_cert")]
    tls_key: Option<PathBuf>,
    /// A proxy before the server speaks TLS and sets X-Forwarded-For, -Proto and -Host.
    #[arg(long)]
    behind_proxy: bool,
    /// File with the token for /metrics; without it they are shown on this machine alone.
    #[arg(long)]
    metrics_token_file: Option<PathBuf>,
    /// Most jobs of each company.
    #[arg(long)]
    quota_jobs: Option<u64>,
    /// Most bytes of photos of each company.
    #[arg(long)]
    quota_bytes: Option<u64>,
    /// Remove partial uploads that nobody went on with for so many days.
    #[arg(long, value_parser = clap::value_parser!(u32).range(1..=3650))]
    remove_partial_uploads_after_days: Option<u32>,
    /// Remove sign-ins that ended and one-time links whose time is over.
    #[arg(long)]
    remove_ended_sign_ins: bool,
    /// Where what devices send is judged first: in processes of their own under limits of memory
    /// and time, or in the server itself.
    #[arg(long, value_enum, default_value_t = JudgedIn::Workers)]
    judge: JudgedIn,
    /// Most memory of such a process, MiB.
    #[arg(long, default_value_t = (limits::WORKER_MEMORY >> 20) as u32, value_parser = clap::value_parser!(u32).range(16..))]
    judge_memory: u32,
    /// How long one batch may take there, seconds.
    #[arg(long, default_value_t = (limits::WORKER_MS / 1_000) as u32, value_parser = clap::value_parser!(u32).range(1..=3600))]
    judge_seconds: u32,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum JudgedIn {
    Workers,
    Here,
}

/// How a worker limits itself.
#[derive(Debug, Args)]
pub(super) struct JudgeArgs {
    /// Bytes of memory beyond what it takes at its start.
    #[arg(long)]
    pub(super) memory: u64,
}

impl RunningArgs {
    pub(super) fn way(&self) -> Result<Way, Failure> {
        Ok(match (&self.tls_cert, &self.tls_key) {
            (Some(certificates), Some(key)) => Way::Tls {
                certificates: certificates.clone(),
                key: key.clone(),
            },
            (None, None) if self.behind_proxy => Way::Proxy,
            (None, None) => Way::Plain,
            _ => return Err(Failure::new("give --tls-cert and --tls-key together")),
        })
    }

    pub(super) fn keeping(&self) -> Keeping {
        Keeping {
            jobs: self.quota_jobs,
            bytes: self.quota_bytes,
            partial_uploads_days: self.remove_partial_uploads_after_days,
            ended_sign_ins: self.remove_ended_sign_ins,
        }
    }

    pub(super) fn judging(&self) -> Judging {
        let workers = (self.judge == JudgedIn::Workers)
            .then(WorkerConfig::of_this_program)
            .flatten();
        workers.map_or(Judging::Here, |usual| {
            Judging::Workers(WorkerConfig {
                memory: u64::from(self.judge_memory) << 20,
                time: Duration::from_secs(u64::from(self.judge_seconds)),
                ..usual
            })
        })
    }

    pub(super) fn metrics_token(&self) -> Result<Option<String>, Failure> {
        let Some(file) = &self.metrics_token_file else {
            return Ok(None);
        };
        let text = std::fs::read_to_string(file).map_err(|error| {
            Failure::new(format!(
                "the file {} cannot be read: {error}",
                file.display()
            ))
        })?;
        let token = text.trim();
        if token.len() < 16 {
            return Err(Failure::new("a metrics token has at least 16 characters"));
        }
        Ok(Some(token.to_owned()))
    }
}

#[derive(Debug, Args)]
pub(super) struct PersonArgs {
    /// Folder of the office; that of a further company is companies/NAME in it.
    #[arg(long, default_value = "office", global = true)]
    pub(super) data: PathBuf,
    #[command(flatten)]
    pub(super) storage: super::args::StorageArgs,
    /// Address of the pages, so that the whole link is printed.
    #[arg(long, default_value = "http://127.0.0.1:7433", global = true)]
    pub(super) pages: String,
    #[command(subcommand)]
    pub(super) what: PersonVerb,
}

#[derive(Debug, Subcommand)]
pub(super) enum PersonVerb {
    /// Make a link with which somebody joins, such as an admin where the first link was lost.
    Invite {
        /// What the person will do.
        #[arg(long, default_value = "admin", value_parser = ["crew", "estimator", "admin"])]
        role: String,
    },
    /// Make a link with which a person sets a new password.
    Password {
        /// The name or mail address.
        login: String,
    },
}

#[derive(Debug, Args)]
pub(super) struct DeviceArgs {
    /// Folder of the office; that of a further company is companies/NAME in it.
    #[arg(long, default_value = "office", global = true)]
    pub(super) data: PathBuf,
    #[command(flatten)]
    pub(super) storage: super::args::StorageArgs,
    #[command(subcommand)]
    pub(super) what: DeviceVerb,
}

#[derive(Debug, Subcommand)]
pub(super) enum DeviceVerb {
    /// List the devices.
    List,
    /// Shut a device out; a running server ends its sessions within seconds.
    Revoke {
        /// The device.
        device: DeviceId,
    },
    /// Let a device in again.
    Reinstate {
        /// The device.
        device: DeviceId,
    },
    /// Shut a lost device out, say what it had, and make a code for the next.
    Lost {
        /// The device.
        device: DeviceId,
    },
}

#[derive(Debug, Args)]
pub(super) struct CompanyArgs {
    /// Folder of the server.
    #[arg(long, default_value = "office", global = true)]
    pub(super) data: PathBuf,
    #[command(flatten)]
    pub(super) storage: super::args::StorageArgs,
    #[command(subcommand)]
    pub(super) what: CompanyVerb,
}

#[derive(Debug, Subcommand)]
pub(super) enum CompanyVerb {
    /// Add a company; a running server shows it within seconds.
    Add {
        /// Its name in addresses: /at/NAME.
        name: String,
        /// Its name as pages show it.
        #[arg(long)]
        company: String,
    },
    /// List the further companies.
    List,
}

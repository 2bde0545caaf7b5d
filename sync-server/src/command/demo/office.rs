//! The office's server as a process of its own.

use std::io::{BufRead, BufReader};
use std::net::SocketAddr;
use std::path::Path;
use std::process::{Child, Command, Stdio};

use serde_json::Value;

use super::super::output::Failure;

pub(super) struct OfficeProcess {
    child: Child,
    devices: String,
    pages: String,
}

impl OfficeProcess {
    /// Starts `chalkwalk serve` and waits until it takes connections.
    pub(super) fn start(data: &Path, pages: Option<SocketAddr>) -> Result<Self, Failure> {
        let mut command = Command::new(std::env::current_exe()?);
        command.args([
            "serve",
            "--listen",
            "127.0.0.1:0",
            "--company",
            "Tessel Ford Roofing (invented)",
        ]);
        command.arg("--data").arg(data);
        if let Some(pages) = pages {
            command.arg("--pages").arg(pages.to_string());
        }
        command
            .env("RUST_LOG", "warn")
            // The demo's office is in its own folder, whatever this machine's office is in.
            .env_remove("CHALKWALK_RECORDS")
            .env_remove("CHALKWALK_BLOBS")
            .stdin(Stdio::null())
            .stdout(Stdio::piped());
        let mut child = command.spawn()?;
        let mut line = String::new();
        if let Some(output) = child.stdout.take() {
            BufReader::new(output).read_line(&mut line)?;
        }
        let ready: Value = serde_json::from_str(&line).map_err(|_| {
            let _ = child.kill();
            Failure::new("the office's server did not start: see its words above")
        })?;
        let word = |name: &str| ready[name].as_str().unwrap_or_default().to_owned();
        Ok(Self {
            devices: word("devices"),
            pages: word("pages"),
            child,
        })
    }

    /// Where devices speak to it.
    pub(super) fn devices(&self) -> &str {
        &self.devices
    }

    /// Where its pages are.
    pub(super) fn pages(&self) -> &str {
        &self.pages
    }

    /// Ends it as a power cut would: what it acknowledged must be there afterwards.
    pub(super) fn stop(mut self) -> Result<(), Failure> {
        self.child.kill()?;
        self.child.wait()?;
        Ok(())
    }

    /// Waits until somebody ends it.
    pub(super) fn wait(mut self) -> Result<(), Failure> {
        self.child.wait()?;
        Ok(())
    }
}

impl Drop for OfficeProcess {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

//! A server in a process of its own, so that its cost is its own too.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

/// Ticks a second in `/proc`: fixed for programs on Linux.
const TICKS: f64 = 100.0;

/// This same program, run with other arguments; it is ended when this is dropped.
pub struct Child {
    process: std::process::Child,
    /// The first line that it printed, such as its port.
    pub said: String,
}

impl Child {
    /// Starts it, and waits for its first line.
    pub fn start(arguments: &[&str]) -> Self {
        let mut process = Command::new(std::env::current_exe().unwrap())
            .args(arguments)
            .stdout(Stdio::piped())
            .stdin(Stdio::piped())
            .spawn()
            .unwrap();
        let mut said = String::new();
        let out = process.stdout.take().unwrap();
        BufReader::new(out).read_line(&mut said).unwrap();
        let said = said.trim().to_owned();
        assert!(!said.is_empty(), "the server of the bench did not start");
        Self { process, said }
    }

    /// Its process.
    pub fn id(&self) -> u32 {
        self.process.id()
    }
}

impl Drop for Child {
    fn drop(&mut self) {
        // Ended already where this fails.
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// What the child runs: an office server on a folder. It prints its port and never returns.
pub fn serve_here(data: &Path) -> ! {
    let config = chalkwalk_sync_server::serve::ServeConfig {
        data: data.to_owned(),
        ..Default::default()
    };
    let ready = |ready: chalkwalk_sync_server::serve::Ready| println!("{}", ready.listen.port());
    chalkwalk_sync_server::serve::serve_until_told(config, ready).unwrap();
    std::process::exit(0)
}

/// Processor time that a process has used.
pub fn cpu_of(process: u32) -> Duration {
    let text = std::fs::read_to_string(format!("/proc/{process}/stat")).unwrap();
    let after = text.rsplit_once(')').unwrap().1;
    let fields: Vec<&str> = after.split_whitespace().collect();
    let ticks: f64 = fields[11].parse::<f64>().unwrap() + fields[12].parse::<f64>().unwrap();
    Duration::from_secs_f64(ticks / TICKS)
}

/// Memory of a process that is in the machine's, bytes.
pub fn rss_of(process: u32) -> u64 {
    let text = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap();
    let line = text
        .lines()
        .find(|line| line.starts_with("VmRSS:"))
        .unwrap();
    let kilobytes: u64 = line.split_whitespace().nth(1).unwrap().parse().unwrap();
    kilobytes * 1024
}

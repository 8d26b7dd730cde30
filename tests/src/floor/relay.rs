//! A relay as a process of its own, killed when dropped.

use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use super::Trouble;

/// A running relay.
#[derive(Debug)]
pub struct RelayProcess {
    child: Child,
    database: PathBuf,
    url: String,
}

impl RelayProcess {
    /// Starts `tailcomb relay` over a database file, on a port that the system picks.
    ///
    /// # Errors
    /// Any.
    pub fn start(database: &Path) -> Result<Self, Trouble> {
        Self::start_at(database, "127.0.0.1:0")
    }

    /// As [`RelayProcess::start`], on a given address.
    ///
    /// # Errors
    /// Any.
    pub fn start_at(database: &Path, listen: &str) -> Result<Self, Trouble> {
        let mut child = Command::new(binary()?)
            .args(["--json", "relay", "--listen", listen, "--database"])
            .arg(database)
            .env("RUST_LOG", "warn")
            .stdout(Stdio::piped())
            .stdin(Stdio::null())
            .spawn()?;
        let out = child.stdout.take().ok_or("the relay has no output")?;
        let mut line = String::new();
        BufReader::new(out).read_line(&mut line)?;
        let ready: serde_json::Value = serde_json::from_str(&line)?;
        let url =
            ready.get("url").and_then(|u| u.as_str()).ok_or("the relay did not say where it listens")?;
        Ok(Self { child, database: database.to_owned(), url: url.to_owned() })
    }

    /// Where it listens.
    #[must_use]
    pub fn url(&self) -> &str {
        &self.url
    }

    /// Kills it as a power cut would (SIGKILL) and starts it again on the same port and database.
    ///
    /// # Errors
    /// Any.
    pub fn kill_and_restart(&mut self) -> Result<(), Trouble> {
        self.child.kill()?;
        self.child.wait()?;
        let listen = self.url.trim_start_matches("http://").to_owned();
        *self = Self::start_at(&self.database.clone(), &listen)?;
        Ok(())
    }

    /// Largest resident memory so far, MiB.
    ///
    /// # Errors
    /// Any.
    pub fn peak_mib(&self) -> Result<f64, Trouble> {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.child.id()))?;
        let line = status.lines().find(|l| l.starts_with("VmHWM:")).ok_or("no VmHWM")?;
        let kib: f64 = line.split_whitespace().nth(1).ok_or("no figure")?.parse()?;
        Ok(kib / 1024.0)
    }

    /// Processor time used so far, seconds.
    ///
    /// # Errors
    /// Any.
    pub fn cpu_s(&self) -> Result<f64, Trouble> {
        let stat = std::fs::read_to_string(format!("/proc/{}/stat", self.child.id()))?;
        let after_name = stat.rsplit(')').next().ok_or("no stat")?;
        let ticks: f64 =
            after_name.split_whitespace().skip(11).take(2).map(|t| t.parse::<f64>().unwrap_or(0.0)).sum();
        // USER_HZ is 100 on Linux, whatever the kernel's own tick.
        Ok(ticks / 100.0)
    }

    /// Bytes of the database on disk, log and all, MB.
    #[must_use]
    pub fn disk_mb(&self) -> f64 {
        let files = ["", "-wal", "-shm"].map(|end| format!("{}{end}", self.database.display()));
        #[expect(clippy::cast_precision_loss, reason = "a figure to print")]
        let bytes =
            files.iter().filter_map(|f| std::fs::metadata(f).ok()).map(|m| m.len() as f64).sum::<f64>();
        bytes / 1e6
    }
}

impl Drop for RelayProcess {
    fn drop(&mut self) {
        drop(self.child.kill());
        drop(self.child.wait());
    }
}

/// The `tailcomb` binary that was built beside this one.
///
/// # Errors
/// When there is none.
pub fn binary() -> Result<PathBuf, Trouble> {
    if let Some(path) = std::env::var_os("TAILCOMB_BIN") {
        return Ok(PathBuf::from(path));
    }
    let mut dir = std::env::current_exe()?;
    while dir.pop() {
        let candidate = dir.join("tailcomb");
        if candidate.is_file() {
            return Ok(candidate);
        }
    }
    Err("build the tailcomb binary first: cargo build -p tailcomb-server".into())
}

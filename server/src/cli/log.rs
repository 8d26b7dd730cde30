//! Logs on standard error: what happens in the machinery, never a client's data. `RUST_LOG` chooses how much.

use tracing_subscriber::EnvFilter;

/// Starts logging at `level` and above unless `RUST_LOG` says otherwise; as JSON lines for `--json`.
pub(super) fn start(level: &str, json: bool) {
    let filter = EnvFilter::try_from_default_env().unwrap_or_else(|_| EnvFilter::new(level));
    let lines = tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr);
    // A second call in one process (tests) changes nothing.
    if json {
        drop(lines.json().try_init());
    } else {
        drop(lines.with_ansi(false).with_target(false).try_init());
    }
}

//! SIGINT and SIGTERM as something to wait for.

use tokio::signal::unix::{Signal, SignalKind, signal};

use super::error::CliError;

/// Both signals that ask a process to end.
#[derive(Debug)]
pub(crate) struct Stop {
    interrupt: Signal,
    terminate: Signal,
}

impl Stop {
    /// Listens from now on.
    ///
    /// # Errors
    /// When the system does not let this process listen.
    pub(crate) fn listen() -> Result<Self, CliError> {
        let listen = |kind| {
            signal(kind).map_err(|e| CliError::new("signals", format!("cannot listen for signals: {e}")))
        };
        Ok(Self { interrupt: listen(SignalKind::interrupt())?, terminate: listen(SignalKind::terminate())? })
    }

    /// Returns once one of them has arrived.
    pub(crate) async fn wanted(&mut self) {
        tokio::select! {
            _ = self.interrupt.recv() => {}
            _ = self.terminate.recv() => {}
        }
    }
}

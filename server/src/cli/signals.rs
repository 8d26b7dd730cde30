//! What asks a process to end, as something to wait for.

use tokio::io::AsyncReadExt;
use tokio::signal::unix::{Signal, SignalKind, signal};

use super::error::CliError;

/// SIGINT, SIGTERM, and the end of standard input where that was asked for.
#[derive(Debug)]
pub(crate) struct Stop {
    interrupt: Signal,
    terminate: Signal,
    input: Option<tokio::io::Stdin>,
}

impl Stop {
    /// Listens from now on.
    ///
    /// # Errors
    /// When the system does not let this process listen.
    pub(crate) fn listen(until_input_ends: bool) -> Result<Self, CliError> {
        let listen = |kind| {
            signal(kind).map_err(|e| CliError::new("signals", format!("cannot listen for signals: {e}")))
        };
        Ok(Self {
            interrupt: listen(SignalKind::interrupt())?,
            terminate: listen(SignalKind::terminate())?,
            input: until_input_ends.then(tokio::io::stdin),
        })
    }

    /// Returns once one of them has come.
    pub(crate) async fn wanted(&mut self) {
        let Self { interrupt, terminate, input } = self;
        let ended = async {
            match input {
                Some(input) => {
                    let mut ignored = [0_u8; 256];
                    while input.read(&mut ignored).await.is_ok_and(|read| read > 0) {}
                }
                None => std::future::pending().await,
            }
        };
        tokio::select! {
            _ = interrupt.recv() => {}
            _ = terminate.recv() => {}
            () = ended => {}
        }
    }
}

//! `tailcomb relay`: runs a relay until it is told to stop.

use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::Arc;

use clap::Args;
use serde_json::json;
use tokio::net::TcpListener;

use super::error::CliError;
use super::output::{Output, print};
use super::signals::Stop;
use crate::relay::{Founding, PhoneApp, RelayConfig, serve};

/// What whoever runs a relay may choose.
#[derive(Debug, Clone, Args)]
pub struct RelayArgs {
    /// Where to listen; port 0 lets the system pick one.
    #[arg(long, default_value = "127.0.0.1:7420", value_name = "ADDRESS:PORT")]
    pub listen: SocketAddr,
    /// The database file; made when it is not there.
    #[arg(long, default_value = "tailcomb-relay.db", value_name = "FILE")]
    pub database: PathBuf,
    /// Let nobody found a salon here any more; salons that are here go on.
    #[arg(long)]
    pub closed: bool,
    /// Hand out the phone app in this folder instead of the one in this program.
    #[arg(long, value_name = "FOLDER")]
    pub app: Option<PathBuf>,
    /// Stop when standard input ends, too; for a program that starts this one and must not outlive it.
    #[arg(long)]
    pub until_input_ends: bool,
}

/// Runs it. Prints one line once it listens.
///
/// # Errors
/// [`CliError`] when it cannot start or did not end well.
pub(super) async fn run(args: RelayArgs, json_wanted: bool) -> Result<(), CliError> {
    let mut config = RelayConfig::new(&args.database);
    if args.closed {
        config.founding = Founding::Closed;
    }
    if let Some(folder) = &args.app {
        let app = PhoneApp::in_folder(folder)
            .map_err(|failed| CliError::new("app", format!("cannot read {}: {failed}", folder.display())))?;
        config.phone = Arc::new(app);
    }
    let mut stop = Stop::listen(args.until_input_ends)?;
    let listener = TcpListener::bind(args.listen).await.map_err(|failed| {
        CliError::new("listen", format!("cannot listen on {}: {failed}", args.listen))
            .hint("stop what uses that port, or choose another with --listen")
    })?;
    let address = listener.local_addr().map_err(|failed| CliError::new("listen", failed.to_string()))?;
    let url = format!("http://{address}");
    let ready = Output::new(
        format!("relay open at {url}, keeping {}", args.database.display()),
        json!({
            "url": url,
            "database": args.database.display().to_string(),
            "version": env!("CARGO_PKG_VERSION"),
        }),
    );
    print(&ready.text(json_wanted));
    serve(config, listener, async move { stop.wanted().await })
        .await
        .map_err(|failed| CliError::new("relay", failed.to_string()))
}

//! `tailcomb relay`: runs a relay until it is told to stop.

use std::net::{IpAddr, SocketAddr};
use std::path::PathBuf;
use std::sync::Arc;

use clap::Args;
use serde_json::json;
use tokio::net::TcpListener;

use super::error::CliError;
use super::output::{Output, print};
use super::signals::Stop;
use crate::relay::tls::{Authority, Source, Tls, TlsError, reachable};
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
    /// Speak TLS, with an authority of the relay's own that each device is told to trust once. Phones need it to keep
    /// anything; it is made beside the database, where it must stay secret.
    #[arg(long, conflicts_with = "certificate")]
    pub tls: bool,
    /// Speak TLS with this certificate (PEM, with those above it), e.g. one that a public authority made for you.
    #[arg(long, value_name = "FILE", requires = "key")]
    pub certificate: Option<PathBuf>,
    /// The key of that certificate (PEM).
    #[arg(long, value_name = "FILE", requires = "certificate")]
    pub key: Option<PathBuf>,
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
    config.tls = tls(&args)?;
    let mut stop = Stop::listen(args.until_input_ends)?;
    let listener = TcpListener::bind(args.listen).await.map_err(|failed| {
        CliError::new("listen", format!("cannot listen on {}: {failed}", args.listen))
            .hint("stop what uses that port, or choose another with --listen")
    })?;
    let address = listener.local_addr().map_err(|failed| CliError::new("listen", failed.to_string()))?;
    let ready = opened(&args, &config, address);
    print(&ready.text(json_wanted));
    serve(config, listener, async move { stop.wanted().await })
        .await
        .map_err(|failed| CliError::new("relay", failed.to_string()))
}

fn tls(args: &RelayArgs) -> Result<Option<Arc<Tls>>, CliError> {
    let made = || -> Result<Option<Tls>, TlsError> {
        let source = match (&args.certificate, &args.key) {
            (Some(certificate), Some(key)) => {
                Source::Files { certificate: certificate.clone(), key: key.clone() }
            }
            _ if args.tls => {
                Source::Own(Box::new(Authority::in_folder(&args.database.with_extension("tls"))?))
            }
            _ => return Ok(None),
        };
        Tls::new(source).map(Some)
    };
    let tls = made().map_err(|failed| CliError::new("tls", failed.to_string()))?;
    Ok(tls.map(Arc::new))
}

/// Where the relay is, for whoever started it: addresses that can be typed, not the one that means all of them.
fn opened(args: &RelayArgs, config: &RelayConfig, address: SocketAddr) -> Output {
    let everywhere = address.ip().is_unspecified();
    let at: Vec<SocketAddr> = match everywhere {
        // Link-local IPv6 addresses cannot be typed into a browser.
        true => reachable()
            .into_iter()
            .filter(|ip| address.is_ipv6() || ip.is_ipv4())
            .filter(|ip| !matches!(ip, IpAddr::V6(ip) if ip.is_unicast_link_local()))
            .map(|ip| SocketAddr::new(ip, address.port()))
            .collect(),
        false => vec![address],
    };
    let scheme = if config.tls.is_some() { "https" } else { "http" };
    let urls: Vec<String> = at.iter().map(|at| format!("{scheme}://{at}")).collect();
    let url = urls.first().cloned().unwrap_or_else(|| format!("{scheme}://{address}"));
    let mut human = format!("relay open at {}, keeping {}", urls.join(" · "), args.database.display());
    let authority = config.tls.as_ref().and_then(|tls| tls.authority());
    let trust = at.first().map(|at| format!("http://{at}/trust"));
    if let (Some(authority), Some(trust)) = (authority, &trust) {
        human.push_str(&format!(
            "\nfirst on each phone or other machine: open {trust} and trust this salon's authority, if it shows\n{}",
            fingerprint(authority)
        ));
    }
    Output::new(
        human,
        json!({
            "url": url,
            "urls": urls,
            "trust": authority.and(trust),
            "fingerprint": authority.map(Authority::fingerprint),
            "app": config.phone.is_there(),
            "database": args.database.display().to_string(),
            "version": env!("CARGO_PKG_VERSION"),
        }),
    )
}

/// In two rows, as people compare it.
fn fingerprint(authority: &Authority) -> String {
    let shown = authority.fingerprint().replace(':', " ");
    let (first, second) = shown.split_at(shown.len() / 2);
    format!("  {}\n  {}", first.trim(), second.trim())
}

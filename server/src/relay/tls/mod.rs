//! TLS, so that phones hold this relay's pages for secure and give the app storage and a worker: with the salon's own
//! certificate, or with one from an authority that the relay makes for itself (`authority`).
//!
//! Both kinds are read or made anew from time to time: a certificate that was renewed on the disk, or an address that
//! this machine got meanwhile, needs no restart.

mod authority;

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, PoisonError, RwLock};
use std::time::Duration;

pub use authority::{Authority, reachable};
use rustls::ServerConfig;
use rustls::crypto::CryptoProvider;
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use rustls::server::{ClientHello, ResolvesServerCert};
use rustls::sign::CertifiedKey;
use tokio_rustls::TlsAcceptor;

/// How often the certificate is looked at again.
const LOOK_AGAIN: Duration = Duration::from_secs(600);

/// Why there is no TLS.
#[derive(Debug, thiserror::Error)]
pub enum TlsError {
    /// A file cannot be read or written.
    #[error("{}: {why}", path.display())]
    File {
        /// Which.
        path: PathBuf,
        /// Why.
        why: io::Error,
    },
    /// It holds no certificate, or no key.
    #[error("{}: {why}", path.display())]
    Pem {
        /// Which.
        path: PathBuf,
        /// Why.
        why: String,
    },
    /// The key is not the certificate's, or of a kind that is not known here.
    #[error("this certificate and this key cannot be used together: {0}")]
    Pair(rustls::Error),
    /// A certificate cannot be made.
    #[error("a certificate cannot be made: {0}")]
    Making(#[from] rcgen::Error),
}

/// Where the certificate comes from.
#[derive(Debug)]
pub enum Source {
    /// The salon's own, with what stands above it, and its key; PEM.
    Files {
        /// The certificates.
        certificate: PathBuf,
        /// The key.
        key: PathBuf,
    },
    /// One that the relay's own authority signs.
    Own(Box<Authority>),
}

impl Source {
    fn certified(&self) -> Result<CertifiedKey, TlsError> {
        let (chain, key) = match self {
            Self::Own(authority) => authority.certificate()?,
            Self::Files { certificate, key } => {
                let pem = |path: &Path, why: String| TlsError::Pem { path: path.to_owned(), why };
                let chain =
                    CertificateDer::pem_slice_iter(&read(certificate)?).collect::<Result<Vec<_>, _>>();
                let chain = chain.map_err(|e| pem(certificate, e.to_string()))?;
                if chain.is_empty() {
                    return Err(pem(certificate, "no certificate is in it".into()));
                }
                let key_read = PrivateKeyDer::from_pem_slice(&read(key)?);
                (chain, key_read.map_err(|e| pem(key, e.to_string()))?)
            }
        };
        CertifiedKey::from_der(chain, key, &provider()).map_err(TlsError::Pair)
    }
}

fn read(path: &Path) -> Result<Vec<u8>, TlsError> {
    fs::read(path).map_err(|why| TlsError::File { path: path.to_owned(), why })
}

fn provider() -> CryptoProvider {
    rustls::crypto::ring::default_provider()
}

/// The relay's side of TLS.
#[derive(Debug)]
pub struct Tls {
    source: Source,
    current: RwLock<Arc<CertifiedKey>>,
}

impl Tls {
    /// Reads or makes the certificate.
    ///
    /// # Errors
    /// [`TlsError`].
    pub fn new(source: Source) -> Result<Self, TlsError> {
        let current = RwLock::new(Arc::new(source.certified()?));
        Ok(Self { source, current })
    }

    /// The relay's own authority, where it has one.
    #[must_use]
    pub fn authority(&self) -> Option<&Authority> {
        match &self.source {
            Source::Own(authority) => Some(authority),
            Source::Files { .. } => None,
        }
    }

    pub(crate) fn acceptor(self: &Arc<Self>) -> Result<TlsAcceptor, TlsError> {
        let mut config = ServerConfig::builder_with_provider(Arc::new(provider()))
            .with_safe_default_protocol_versions()
            .map_err(TlsError::Pair)?
            .with_no_client_auth()
            .with_cert_resolver(Arc::new(Shown(Arc::clone(self))));
        config.alpn_protocols = vec![b"http/1.1".to_vec()];
        Ok(TlsAcceptor::from(Arc::new(config)))
    }

    /// Looks at the certificate again for as long as it is polled. One that cannot be had leaves the old one.
    pub(crate) async fn keep_current(&self) {
        loop {
            tokio::time::sleep(LOOK_AGAIN).await;
            self.look_again();
        }
    }

    fn look_again(&self) {
        match self.source.certified() {
            Ok(fresh) => *self.current.write().unwrap_or_else(PoisonError::into_inner) = Arc::new(fresh),
            Err(failed) => tracing::warn!(%failed, "the certificate cannot be renewed"),
        }
    }
}

#[derive(Debug)]
struct Shown(Arc<Tls>);

impl ResolvesServerCert for Shown {
    fn resolve(&self, _: ClientHello<'_>) -> Option<Arc<CertifiedKey>> {
        Some(Arc::clone(&self.0.current.read().unwrap_or_else(PoisonError::into_inner)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(folder: &Path, names: [&str; 1]) -> (PathBuf, PathBuf) {
        let made = rcgen::generate_simple_self_signed(names.map(str::to_owned)).unwrap();
        let (certificate, key) = (folder.join("salon.pem"), folder.join("salon.key"));
        fs::write(&certificate, made.cert.pem()).unwrap();
        fs::write(&key, made.signing_key.serialize_pem()).unwrap();
        (certificate, key)
    }

    #[test]
    fn a_certificate_renewed_on_the_disk_is_shown_without_a_restart_and_a_broken_one_changes_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let (certificate, key) = written(folder.path(), ["relay.example"]);
        let tls = Tls::new(Source::Files { certificate: certificate.clone(), key }).unwrap();
        let shown = || tls.current.read().unwrap().cert.clone();
        let first = shown();
        fs::write(&certificate, "nothing").unwrap();
        tls.look_again();
        assert_eq!(shown(), first);
        written(folder.path(), ["relay.example"]);
        tls.look_again();
        assert_ne!(shown(), first);
        assert!(tls.authority().is_none(), "phones need not be told to trust it");
    }

    #[test]
    fn files_that_cannot_be_used_are_named() {
        let folder = tempfile::tempdir().unwrap();
        let (certificate, key) = written(folder.path(), ["relay.example"]);
        let missing = folder.path().join("missing.pem");
        let error = |certificate: &Path, key: &Path| {
            let source = Source::Files { certificate: certificate.to_owned(), key: key.to_owned() };
            Tls::new(source).unwrap_err().to_string()
        };
        assert!(error(&missing, &key).contains("missing.pem"));
        assert!(error(&key, &key).contains("no certificate is in it"));
        assert!(error(&certificate, &certificate).contains("salon.pem"));
        let other = tempfile::tempdir().unwrap();
        let (_, foreign) = written(other.path(), ["relay.example"]);
        assert!(error(&certificate, &foreign).contains("cannot be used together"));
    }
}

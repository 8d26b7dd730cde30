//! How a request goes to a relay, and whose word is taken that it is one.

use std::time::Duration;

use rustls::RootCertStore;
use rustls::pki_types::CertificateDer;
use rustls::pki_types::pem::PemObject as _;

use super::NetError;
use crate::sync::Outgoing;
use crate::wire::api::MAX_ANSWER_BYTES;

/// Whose word a station takes that a relay is who it says; matters where its address begins with https.
#[derive(Debug, Clone, Default)]
pub struct Trust(Option<reqwest::Certificate>);

impl Trust {
    /// The authorities that this system trusts.
    #[must_use]
    pub fn system() -> Self {
        Self(None)
    }

    /// This authority (PEM) and no other: a salon's own relay.
    ///
    /// # Errors
    /// [`NetError::Authority`] for anything but one certificate.
    pub fn only(authority: &[u8]) -> Result<Self, NetError> {
        let read: Vec<_> = CertificateDer::pem_slice_iter(authority).flatten().collect();
        let [one] = read.as_slice() else { return Err(NetError::Authority) };
        // Whether it is a certificate is found out here, and not when the relay is first asked.
        RootCertStore::empty().add(one.clone()).map_err(|_| NetError::Authority)?;
        let one = reqwest::Certificate::from_der(one).map_err(|_| NetError::Authority)?;
        Ok(Self(Some(one)))
    }

    pub(super) fn client(&self) -> Result<reqwest::Client, NetError> {
        // Another part of the program may have chosen it already.
        drop(rustls::crypto::ring::default_provider().install_default());
        let client = reqwest::Client::builder()
            .tcp_nodelay(true)
            .connect_timeout(Duration::from_secs(5))
            // Shorter than the relay keeps an idle connection, so that no request meets a closing one.
            .pool_idle_timeout(Duration::from_secs(20));
        let client = match &self.0 {
            Some(authority) => client.tls_certs_only([authority.clone()]),
            None => client,
        };
        client.build().map_err(NetError::Setup)
    }
}

/// Posts a request and reads at most as much of the answer as an answer may have.
pub(super) async fn post(http: &reqwest::Client, relay: &str, out: &Outgoing) -> Result<Vec<u8>, NetError> {
    let url = format!("{}/v1/{}", relay.trim_end_matches('/'), out.name);
    let unreachable = |error: reqwest::Error| match is_distrust(&error) {
        true => NetError::Untrusted { url: relay.to_owned() },
        false => NetError::Unreachable { url: relay.to_owned() },
    };
    let mut response = http
        .post(url)
        .timeout(Duration::from_millis(out.timeout_ms))
        .header("content-type", "application/cbor")
        .body(out.body.clone())
        .send()
        .await
        .map_err(unreachable)?;
    let mut body = Vec::new();
    while let Some(chunk) = response.chunk().await.map_err(unreachable)? {
        if body.len() + chunk.len() > MAX_ANSWER_BYTES {
            return Err(NetError::Unreachable { url: relay.to_owned() });
        }
        body.extend_from_slice(&chunk);
    }
    Ok(body)
}

/// Whether it failed because of the other side's certificate.
fn is_distrust(error: &(dyn std::error::Error + 'static)) -> bool {
    if matches!(error.downcast_ref(), Some(rustls::Error::InvalidCertificate(_))) {
        return true;
    }
    // An I/O error passes over what it carries when it is asked for its source.
    let within = match error.downcast_ref::<std::io::Error>() {
        Some(io) => io.get_ref().map(|error| error as &(dyn std::error::Error + 'static)),
        None => error.source(),
    };
    within.is_some_and(is_distrust)
}

#[cfg(test)]
mod tests {
    #[test]
    fn a_relay_under_an_international_name_has_an_address() {
        // As it is sent; links carry no other (`tailcomb_wire::link`).
        let url = reqwest::Url::parse("https://xn--mller-kva.example/v1/pull").unwrap();
        assert_eq!(url.host_str(), Some("xn--mller-kva.example"));
    }
}

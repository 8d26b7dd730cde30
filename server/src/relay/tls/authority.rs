//! An authority of the relay's own: made once, kept beside the relay's records, trusted once by each device. It can vouch
//! for machines of a private network alone, so that a stolen one is of no use against anything else.

use std::fs::{self, DirBuilder, OpenOptions};
use std::io::{self, Write as _};
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr};
use std::os::unix::fs::{DirBuilderExt as _, OpenOptionsExt as _};
use std::path::Path;

use data_encoding::HEXUPPER;

use jiff::civil::Date;
use jiff::tz::TimeZone;
use rcgen::{
    BasicConstraints, CertificateParams, CidrSubnet, DnType, ExtendedKeyUsagePurpose, GeneralSubtree, IsCa,
    Issuer, KeyPair, KeyUsagePurpose, NameConstraints, date_time_ymd,
};
use rustls::pki_types::pem::PemObject as _;
use rustls::pki_types::{CertificateDer, PrivateKeyDer, PrivatePkcs8KeyDer};
use sha2::{Digest as _, Sha256};

use super::TlsError;

/// How long a device's trust lasts.
const AUTHORITY_DAYS: i64 = 3_650;
/// How long a certificate of the relay is good: less than the 825 days that Apple's devices take from an authority
/// that their owner trusts (support.apple.com/en-us/103769). A running relay makes itself a new one long before.
const CERTIFICATE_DAYS: i64 = 397;

/// Networks that are nobody's on the internet: RFC 1918, RFC 3927, RFC 4193, RFC 4291, RFC 6598, and this machine itself.
const NETWORKS: [(IpAddr, u8); 9] = [
    (IpAddr::V4(Ipv4Addr::new(10, 0, 0, 0)), 8),
    (IpAddr::V4(Ipv4Addr::new(172, 16, 0, 0)), 12),
    (IpAddr::V4(Ipv4Addr::new(192, 168, 0, 0)), 16),
    (IpAddr::V4(Ipv4Addr::new(169, 254, 0, 0)), 16),
    (IpAddr::V4(Ipv4Addr::new(100, 64, 0, 0)), 10),
    (IpAddr::V4(Ipv4Addr::new(127, 0, 0, 0)), 8),
    (IpAddr::V6(Ipv6Addr::new(0xfc00, 0, 0, 0, 0, 0, 0, 0)), 7),
    (IpAddr::V6(Ipv6Addr::new(0xfe80, 0, 0, 0, 0, 0, 0, 0)), 10),
    (IpAddr::V6(Ipv6Addr::LOCALHOST), 128),
];
/// Names that mean something on a private network alone: RFC 6761, RFC 6762, RFC 8375.
const NAMES: [&str; 3] = ["local", "localhost", "home.arpa"];

/// See the module.
#[derive(Debug)]
pub struct Authority {
    key: KeyPair,
    certificate: CertificateDer<'static>,
    pem: String,
}

impl Authority {
    /// The one in this folder; made when none is there.
    ///
    /// # Errors
    /// [`TlsError`].
    pub fn in_folder(folder: &Path) -> Result<Self, TlsError> {
        let file = |path: &Path, why| TlsError::File { path: path.to_owned(), why };
        let (key_path, path) = (folder.join("authority.key"), folder.join("authority.pem"));
        DirBuilder::new().recursive(true).mode(0o700).create(folder).map_err(|e| file(folder, e))?;
        if !path.exists() {
            let key = KeyPair::generate()?;
            let pem = described(&key, today()).self_signed(&key)?.pem();
            private(&key_path, key.serialize_pem().as_bytes()).map_err(|e| file(&key_path, e))?;
            private(&path, pem.as_bytes()).map_err(|e| file(&path, e))?;
        }
        let pem = fs::read_to_string(&path).map_err(|e| file(&path, e))?;
        let key = fs::read_to_string(&key_path).map_err(|e| file(&key_path, e))?;
        let key =
            KeyPair::from_pem(&key).map_err(|e| TlsError::Pem { path: key_path, why: e.to_string() })?;
        let certificate = CertificateDer::from_pem_slice(pem.as_bytes())
            .map_err(|e| TlsError::Pem { path, why: e.to_string() })?;
        Ok(Self { key, certificate, pem })
    }

    /// The certificate that devices are to trust, as PEM.
    #[must_use]
    pub fn pem(&self) -> &str {
        &self.pem
    }

    pub(crate) fn der(&self) -> &[u8] {
        &self.certificate
    }

    /// By which people tell that what they are about to trust is this one: SHA-256, as devices show it.
    #[must_use]
    pub fn fingerprint(&self) -> String {
        let bytes = Sha256::digest(&self.certificate);
        let pairs: Vec<String> = bytes.iter().map(|byte| HEXUPPER.encode(&[*byte])).collect();
        pairs.join(":")
    }

    /// A certificate for this machine as it is reached now, with its key.
    pub(super) fn certificate(
        &self,
    ) -> Result<(Vec<CertificateDer<'static>>, PrivateKeyDer<'static>), TlsError> {
        self.certificate_for(names_here(), today())
    }

    fn certificate_for(
        &self,
        names: Vec<String>,
        today: Date,
    ) -> Result<(Vec<CertificateDer<'static>>, PrivateKeyDer<'static>), TlsError> {
        let mut asked = CertificateParams::new(names)?;
        asked.distinguished_name.push(DnType::CommonName, "Tailcomb relay");
        asked.key_usages = vec![KeyUsagePurpose::DigitalSignature];
        asked.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
        asked.use_authority_key_identifier_extension = true;
        good_for(&mut asked, today, CERTIFICATE_DAYS);
        let key = KeyPair::generate()?;
        let params = described(&self.key, today);
        let made = asked.signed_by(&key, &Issuer::from_params(&params, &self.key))?;
        let key = PrivatePkcs8KeyDer::from(key.serialize_der());
        Ok((vec![made.der().clone(), self.certificate.clone()], key.into()))
    }
}

/// What the authority's certificate says. Its name comes from its key, so that two salons' authorities can be told apart.
fn described(key: &KeyPair, today: Date) -> CertificateParams {
    let mut params = CertificateParams::default();
    let hash = HEXUPPER.encode(&Sha256::digest(key.public_key_raw()));
    params.distinguished_name = rcgen::DistinguishedName::new();
    let name = format!("Tailcomb salon {}", hash.get(..8).unwrap_or_default());
    params.distinguished_name.push(DnType::CommonName, name);
    params.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
    params.key_usages = vec![KeyUsagePurpose::KeyCertSign, KeyUsagePurpose::CrlSign];
    let networks = NETWORKS
        .iter()
        .map(|(address, prefix)| GeneralSubtree::IpAddress(CidrSubnet::from_addr_prefix(*address, *prefix)));
    let names = NAMES.iter().map(|name| GeneralSubtree::DnsName((*name).to_owned()));
    let permitted_subtrees = networks.chain(names).collect();
    params.name_constraints = Some(NameConstraints { permitted_subtrees, excluded_subtrees: Vec::new() });
    good_for(&mut params, today, AUTHORITY_DAYS);
    params
}

/// From yesterday on: a device's clock may be behind.
fn good_for(params: &mut CertificateParams, today: Date, days: i64) {
    let at = |days| {
        let day = today.saturating_add(jiff::Span::new().days(days));
        date_time_ymd(day.year().into(), day.month().unsigned_abs(), day.day().unsigned_abs())
    };
    (params.not_before, params.not_after) = (at(-1), at(days - 1));
}

fn private(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let fresh = path.with_extension("new");
    let mut file = OpenOptions::new().create(true).truncate(true).write(true).mode(0o600).open(&fresh)?;
    file.write_all(bytes)?;
    file.sync_all()?;
    fs::rename(&fresh, path)
}

fn today() -> Date {
    TimeZone::UTC.to_datetime(jiff::Timestamp::now()).date()
}

/// Whether the authority may vouch for an address.
fn is_private(address: IpAddr) -> bool {
    NETWORKS.iter().any(|(network, prefix)| match (address, network) {
        (IpAddr::V4(a), IpAddr::V4(n)) => {
            let mask = u32::MAX.checked_shl(32 - u32::from(*prefix)).unwrap_or(0);
            a.to_bits() & mask == n.to_bits()
        }
        (IpAddr::V6(a), IpAddr::V6(n)) => {
            let mask = u128::MAX.checked_shl(128 - u32::from(*prefix)).unwrap_or(0);
            a.to_bits() & mask == n.to_bits()
        }
        _ => false,
    })
}

/// The addresses at which others in a private network reach this machine; its own ones for itself come last.
#[must_use]
pub fn reachable() -> Vec<IpAddr> {
    let mut addresses: Vec<IpAddr> = if_addrs::get_if_addrs()
        .unwrap_or_default()
        .into_iter()
        .map(|interface| interface.ip())
        .filter(|address| is_private(*address))
        .collect();
    addresses.extend([IpAddr::V4(Ipv4Addr::LOCALHOST), IpAddr::V6(Ipv6Addr::LOCALHOST)]);
    addresses.sort_by_key(|address| (address.is_loopback(), address.is_ipv6(), *address));
    addresses.dedup();
    addresses
}

fn names_here() -> Vec<String> {
    let mut names: Vec<String> = reachable().iter().map(IpAddr::to_string).collect();
    names.push("localhost".to_owned());
    let host = rustix::system::uname().nodename().to_string_lossy().to_lowercase();
    let host = host.split('.').next().unwrap_or_default();
    if !host.is_empty() && host.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-') {
        names.push(format!("{host}.local"));
    }
    names
}

#[cfg(test)]
mod tests {
    use std::os::unix::fs::PermissionsExt as _;
    use std::sync::Arc;

    use rustls::RootCertStore;
    use rustls::client::WebPkiServerVerifier;
    use rustls::client::danger::ServerCertVerifier as _;
    use rustls::pki_types::{ServerName, UnixTime};

    use super::*;

    /// What a device that trusts the authority makes of a certificate for these names when it meets this one.
    fn trusted(authority: &Authority, names: &[&str], met: &str) -> bool {
        let names = names.iter().map(|name| (*name).to_owned()).collect();
        let (chain, _) = authority.certificate_for(names, today()).unwrap();
        let mut roots = RootCertStore::empty();
        roots.add(CertificateDer::from_pem_slice(authority.pem().as_bytes()).unwrap()).unwrap();
        let verifier =
            WebPkiServerVerifier::builder_with_provider(Arc::new(roots), Arc::new(super::super::provider()));
        let met = ServerName::try_from(met.to_owned()).unwrap();
        let verifier = verifier.build().unwrap();
        verifier.verify_server_cert(&chain[0], &chain[1..], &met, &[], UnixTime::now()).is_ok()
    }

    #[test]
    fn it_is_made_once_and_is_its_owners_alone() {
        let folder = tempfile::tempdir().unwrap();
        let kept = folder.path().join("tls");
        let first = Authority::in_folder(&kept).unwrap();
        let again = Authority::in_folder(&kept).unwrap();
        assert_eq!(first.fingerprint(), again.fingerprint());
        assert!(
            trusted(&again, &["192.168.4.20"], "192.168.4.20"),
            "a restart does not lose the devices' trust"
        );
        let mode = |path| fs::metadata(kept.join(path)).unwrap().permissions().mode() & 0o777;
        assert_eq!((mode("."), mode("authority.key")), (0o700, 0o600));
    }

    #[test]
    fn it_can_vouch_for_machines_of_a_private_network_and_for_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let authority = Authority::in_folder(folder.path()).unwrap();
        for name in ["192.168.4.20", "10.1.2.3", "127.0.0.1", "fd12::4", "desk.local", "localhost"] {
            assert!(trusted(&authority, &[name], name), "{name}");
        }
        for name in ["bank.example", "8.8.8.8", "2001:db8::1", "local.example"] {
            assert!(!trusted(&authority, &[name], name), "{name}");
        }
        assert!(!trusted(&authority, &["desk.local"], "till.local"), "another machine");
    }

    #[test]
    fn this_machine_is_named_by_the_addresses_that_are_private() {
        let addresses = reachable();
        assert!(addresses.contains(&IpAddr::V4(Ipv4Addr::LOCALHOST)));
        assert!(addresses.iter().all(|address| is_private(*address)), "{addresses:?}");
        assert!(!is_private("8.8.8.8".parse().unwrap()) && !is_private("172.32.0.1".parse().unwrap()));
        assert!(is_private("172.31.255.255".parse().unwrap()) && is_private("fe80::1".parse().unwrap()));
    }

    #[test]
    fn the_fingerprint_reads_as_devices_show_it() {
        let folder = tempfile::tempdir().unwrap();
        let shown = Authority::in_folder(folder.path()).unwrap().fingerprint();
        assert_eq!(shown.split(':').count(), 32);
        assert!(
            shown.bytes().all(|b| b.is_ascii_digit() || (b'A'..=b'F').contains(&b) || b == b':'),
            "{shown}"
        );
    }
}

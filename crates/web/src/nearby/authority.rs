//! A certificate that a phone of the shop can come to trust: signed by an authority made here at the first start, which the
//! person installs on the phone once. What it signs is good for private addresses and `.local` names alone.

use std::fs;
use std::io;
use std::net::IpAddr;
use std::path::{Path, PathBuf};

use rcgen::{
    BasicConstraints, CertificateParams, CidrSubnet, DistinguishedName, DnType, ExtendedKeyUsagePurpose,
    GeneralSubtree, IsCa, Issuer, KeyPair, KeyUsagePurpose, NameConstraints,
};
use time::{Duration, OffsetDateTime};

/// Phones refuse a certificate that is good for longer than 398 days.
const DAYS: i64 = 397;
const AUTHORITY_DAYS: i64 = 3650;

/// A chain and its key, PEM.
#[derive(Clone, Debug)]
pub(super) struct Certificate {
    pub(super) chain: String,
    pub(super) key: String,
}

/// See the module.
#[derive(Debug)]
pub(super) struct Authority {
    params: CertificateParams,
    key: KeyPair,
    /// Its certificate as phones take it.
    pub(super) der: Vec<u8>,
}

fn failed(error: rcgen::Error) -> io::Error {
    io::Error::other(error)
}

fn params(name: &str, from: OffsetDateTime) -> CertificateParams {
    let private = [
        CidrSubnet::V4([10, 0, 0, 0], [255, 0, 0, 0]),
        CidrSubnet::V4([172, 16, 0, 0], [255, 240, 0, 0]),
        CidrSubnet::V4([192, 168, 0, 0], [255, 255, 0, 0]),
        CidrSubnet::V4([169, 254, 0, 0], [255, 255, 0, 0]),
        CidrSubnet::V4([127, 0, 0, 0], [255, 0, 0, 0]),
    ];
    let addresses = private.into_iter().map(GeneralSubtree::IpAddress);
    let names = ["local", "localhost"].map(|name| GeneralSubtree::DnsName(name.to_owned()));
    let mut params = CertificateParams::default();
    params.distinguished_name = DistinguishedName::new();
    params.distinguished_name.push(DnType::CommonName, name);
    params.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
    params.key_usages = vec![KeyUsagePurpose::KeyCertSign, KeyUsagePurpose::CrlSign];
    params.name_constraints = Some(NameConstraints {
        permitted_subtrees: addresses.chain(names).collect(),
        excluded_subtrees: Vec::new(),
    });
    (params.not_before, params.not_after) = (from - Duration::days(1), from + Duration::days(AUTHORITY_DAYS));
    params
}

impl Authority {
    /// The one kept in a folder, or a new one.
    ///
    /// # Errors
    /// Where the folder cannot be read or written, or holds something else under these names.
    pub(super) fn at(folder: &Path, now: OffsetDateTime) -> io::Result<Self> {
        let [key, made, der] = ["authority.key", "authority.made", "authority.crt"].map(|name| folder.join(name));
        if key.exists() {
            let seconds = fs::read_to_string(made)?;
            let from = seconds.trim().parse().map_err(io::Error::other)?;
            let from = OffsetDateTime::from_unix_timestamp(from).map_err(io::Error::other)?;
            let key = KeyPair::from_pem(&fs::read_to_string(key)?).map_err(failed)?;
            return Ok(Self {
                params: params(&name(&key), from),
                key,
                der: fs::read(der)?,
            });
        }
        fs::create_dir_all(folder)?;
        let pair = KeyPair::generate().map_err(failed)?;
        let from = now.replace_nanosecond(0).map_err(io::Error::other)?;
        let params = params(&name(&pair), from);
        let certificate = params.self_signed(&pair).map_err(failed)?;
        fs::write(&der, certificate.der())?;
        fs::write(made, from.unix_timestamp().to_string())?;
        keep_secret(&key, &pair.serialize_pem())?;
        Ok(Self {
            params,
            der: certificate.der().to_vec(),
            key: pair,
        })
    }

    /// A certificate for these addresses, and this machine's own.
    ///
    /// # Errors
    /// Where it cannot be signed.
    pub(super) fn certificate(&self, addresses: &[IpAddr], now: OffsetDateTime) -> io::Result<Certificate> {
        let own = [IpAddr::from([127, 0, 0, 1])];
        let names = addresses.iter().chain(&own).map(ToString::to_string);
        let names = names.chain(["localhost".to_owned()]).collect::<Vec<_>>();
        let mut params = CertificateParams::new(names).map_err(failed)?;
        params.distinguished_name = DistinguishedName::new();
        params.distinguished_name.push(DnType::CommonName, "Probewise bench");
        params.key_usages = vec![KeyUsagePurpose::DigitalSignature];
        params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
        (params.not_before, params.not_after) = (now - Duration::days(1), now + Duration::days(DAYS - 1));
        let pair = KeyPair::generate().map_err(failed)?;
        let issuer = Issuer::from_params(&self.params, &self.key);
        let certificate = params.signed_by(&pair, &issuer).map_err(failed)?;
        Ok(Certificate {
            chain: certificate.pem(),
            key: pair.serialize_pem(),
        })
    }
}

/// Told apart from another shop's in a phone's list by the first digits of its key.
fn name(key: &KeyPair) -> String {
    use sha2::{Digest as _, Sha256};
    let digest = Sha256::digest(key.public_key_raw());
    format!("Probewise bench {}", super::passes::hex(&digest[..3]))
}

/// Writes what only this user may read.
pub(super) fn keep_secret(path: &Path, text: &str) -> io::Result<()> {
    use std::io::Write as _;
    let beside: PathBuf = path.with_extension("new");
    let mut options = fs::OpenOptions::new();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut file = options.open(&beside)?;
    file.write_all(text.as_bytes())?;
    file.sync_all()?;
    fs::rename(beside, path)
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use rustls::client::WebPkiServerVerifier;
    use rustls::client::danger::ServerCertVerifier as _;
    use rustls::pki_types::pem::PemObject as _;
    use rustls::pki_types::{CertificateDer, ServerName, UnixTime};

    use super::*;

    const NOW: u64 = 1_700_000_000;

    fn now() -> OffsetDateTime {
        OffsetDateTime::from_unix_timestamp(NOW.cast_signed()).unwrap()
    }

    /// Whether a phone that installed `authority` takes the certificate for this address, so many days later.
    fn trusted(authority: &Authority, certificate: &Certificate, address: &str, days: u64) -> bool {
        let mut roots = rustls::RootCertStore::empty();
        roots.add(CertificateDer::from(authority.der.clone())).unwrap();
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        let verifier = WebPkiServerVerifier::builder_with_provider(Arc::new(roots), provider);
        let leaf = CertificateDer::from_pem_slice(certificate.chain.as_bytes()).unwrap();
        let at = UnixTime::since_unix_epoch(std::time::Duration::from_secs(NOW + days * 86_400));
        let name = ServerName::try_from(address.to_owned()).unwrap();
        let verified = verifier.build().unwrap().verify_server_cert(&leaf, &[], &name, &[], at);
        verified.is_ok()
    }

    #[test]
    fn what_it_signs_is_good_for_this_machine_in_a_private_network_and_for_a_year() {
        let folder = tempfile::tempdir().unwrap();
        let authority = Authority::at(folder.path(), now()).unwrap();
        let ours: IpAddr = "192.168.1.7".parse().unwrap();
        let certificate = authority.certificate(&[ours], now()).unwrap();
        assert!(trusted(&authority, &certificate, "192.168.1.7", 0));
        assert!(trusted(&authority, &certificate, "localhost", 390));
        assert!(!trusted(&authority, &certificate, "192.168.1.8", 0));
        assert!(!trusted(&authority, &certificate, "192.168.1.7", 400));
        // Outside private networks nothing that it signs is good.
        let far: IpAddr = "8.8.8.8".parse().unwrap();
        let beyond = authority.certificate(&[far], now()).unwrap();
        assert!(!trusted(&authority, &beyond, "8.8.8.8", 0));
    }

    #[test]
    fn after_a_restart_it_is_the_same_one() {
        let folder = tempfile::tempdir().unwrap();
        let first = Authority::at(folder.path(), now()).unwrap();
        let later = Authority::at(folder.path(), now() + Duration::days(30)).unwrap();
        assert_eq!(first.der, later.der);
        let ours: IpAddr = "10.0.0.5".parse().unwrap();
        let certificate = later.certificate(&[ours], now() + Duration::days(30)).unwrap();
        assert!(trusted(&first, &certificate, "10.0.0.5", 31));
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt as _;
            let kept = fs::metadata(folder.path().join("authority.key")).unwrap();
            assert_eq!(kept.permissions().mode() & 0o077, 0, "others cannot read the key");
        }
    }
}

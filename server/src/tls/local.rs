//! A certificate authority of the ship's own, for networks without internet and without a domain.
//!
//! Whoever trusts it trusts it for the ship's names and for private names and addresses alone: it carries
//! name constraints (RFC 5280 section 4.2.1.10). Its key lies in the data folder, readable by its owner
//! only and without a passphrase, as the server renews its certificate by itself.

use super::names::{HostName, Names, loopback};
use super::{Material, TlsError, files};
use rcgen::{
    BasicConstraints, CertificateParams, CidrSubnet, DistinguishedName, DnType,
    ExtendedKeyUsagePurpose, GeneralSubtree, IsCa, Issuer, KeyPair, KeyUsagePurpose,
    NameConstraints, SanType,
};
use rustls_pki_types::CertificateDer;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr};
use std::path::{Path, PathBuf};
use time::{Duration, OffsetDateTime};
use x509_parser::extensions::GeneralName;
use x509_parser::prelude::{FromDer as _, X509Certificate};

const AUTHORITY: &str = "authority.pem";
const SERVER: &str = "server.pem";
/// How long the authority lasts: phones that trust it need not be touched again.
const AUTHORITY_LASTS: Duration = Duration::days(3_652);
/// How long a server's certificate lasts. Apple takes up to 825 days from an authority that a person
/// added (support.apple.com/103769).
const SERVER_LASTS: Duration = Duration::days(800);
/// Clocks of phones lag; what starts a day ago has started for all of them.
const EARLIER: Duration = Duration::days(1);
/// Names that nobody can hold in the world: RFC 6761, RFC 8375, RFC 6762, ICANN's reserved `internal`.
const PRIVATE_NAMES: [&str; 4] = ["localhost", "home.arpa", "local", "internal"];
/// Addresses of private networks: RFC 1918, RFC 6598, RFC 3927, RFC 1122.
const PRIVATE_V4: [(Ipv4Addr, u8); 6] = [
    (Ipv4Addr::new(10, 0, 0, 0), 8),
    (Ipv4Addr::new(172, 16, 0, 0), 12),
    (Ipv4Addr::new(192, 168, 0, 0), 16),
    (Ipv4Addr::new(100, 64, 0, 0), 10),
    (Ipv4Addr::new(169, 254, 0, 0), 16),
    (Ipv4Addr::new(127, 0, 0, 0), 8),
];
/// RFC 4193, RFC 4291.
const PRIVATE_V6: [(Ipv6Addr, u8); 3] = [
    (Ipv6Addr::new(0xfc00, 0, 0, 0, 0, 0, 0, 0), 7),
    (Ipv6Addr::new(0xfe80, 0, 0, 0, 0, 0, 0, 0), 10),
    (Ipv6Addr::LOCALHOST, 128),
];

/// The ship's own certificate authority.
#[derive(Debug)]
pub struct LocalAuthority {
    folder: PathBuf,
    certificate: CertificateDer<'static>,
    issuer: Issuer<'static, KeyPair>,
}

impl LocalAuthority {
    /// Reads the authority in `folder`, or makes one that may sign for `names` and private ones.
    ///
    /// # Errors
    /// [`TlsError`] if the folder or the file is not right, or nothing can be made.
    pub fn load_or_make(
        folder: &Path,
        names: &Names,
        now: OffsetDateTime,
    ) -> Result<Self, TlsError> {
        files::make_folder(folder)?;
        let path = folder.join(AUTHORITY);
        let text = if let Some(text) = files::read(&path)? {
            text
        } else {
            let text = make(names, now)?;
            files::write(&path, &text)?;
            text
        };
        let damaged = |reason: &str| TlsError::Damaged {
            path: path.clone(),
            reason: reason.to_owned(),
        };
        let (certificates, key) = files::parse(&text);
        let certificate = certificates.into_iter().next();
        let certificate = certificate.ok_or_else(|| damaged("it holds no certificate"))?;
        let key = key.ok_or_else(|| damaged("it holds no private key"))?;
        let key = KeyPair::try_from(&key).map_err(|_| damaged("its key cannot be used"))?;
        let known = X509Certificate::from_der(&certificate)
            .map(|(_, parsed)| parsed.public_key().subject_public_key.data.to_vec());
        if known.ok().as_deref() != Some(key.public_key_raw()) {
            return Err(damaged("its key is not its certificate's"));
        }
        let issuer = Issuer::from_ca_cert_der(&certificate, key)
            .map_err(|_| damaged("its certificate is no authority's"))?;
        Ok(Self {
            folder: folder.to_owned(),
            certificate,
            issuer,
        })
    }

    /// Returns the certificate that phones are to trust, DER.
    pub fn certificate(&self) -> &CertificateDer<'static> {
        &self.certificate
    }

    /// Says whether phones that trust the authority would take its word for `name`.
    pub fn may_sign_for(&self, name: &HostName) -> bool {
        let Ok((_, certificate)) = X509Certificate::from_der(&self.certificate) else {
            return false;
        };
        let Ok(Some(constraints)) = certificate.name_constraints() else {
            return true;
        };
        let permitted = constraints.value.permitted_subtrees.iter().flatten();
        permitted
            .into_iter()
            .any(|subtree| covers(&subtree.base, name))
    }

    /// Returns the server's certificate for `wanted`: the one that is kept, or, when it is past half its
    /// life or for other names, a new one.
    ///
    /// # Errors
    /// [`TlsError`] if the file cannot be read or written, or nothing can be made.
    pub fn server(&self, wanted: &Names, now: OffsetDateTime) -> Result<Material, TlsError> {
        let path = self.folder.join(SERVER);
        if let Some(text) = files::read(&path)?
            && let Some(material) = self.still_good(&text, wanted, now)
        {
            return Ok(material);
        }
        let text = self.issue(wanted, now)?;
        files::write(&path, &text)?;
        tracing::info!(path = %path.display(), "made a server certificate");
        self.still_good(&text, wanted, now)
            .ok_or(TlsError::Damaged {
                path,
                reason: "the certificate just made is not good".to_owned(),
            })
    }

    fn still_good(&self, text: &[u8], wanted: &Names, now: OffsetDateTime) -> Option<Material> {
        let (mut chain, key) = files::parse(text);
        // The authority's certificate stands there to tell whose this one is; phones have it.
        if chain.len() != 2 || chain.pop()? != self.certificate {
            return None;
        }
        let material = Material::new(chain, key?).ok()?;
        let (from, until) = (material.not_before, material.not_after);
        let is_fresh = (from..from + (until - from) / 2).contains(&now.unix_timestamp());
        (is_fresh && material.names == *wanted).then_some(material)
    }

    fn issue(&self, wanted: &Names, now: OffsetDateTime) -> Result<Vec<u8>, TlsError> {
        let key = KeyPair::generate()?;
        let mut params = CertificateParams::default();
        params.distinguished_name = named("Clearhawse ship's server");
        params.is_ca = IsCa::ExplicitNoCa;
        params.key_usages = vec![KeyUsagePurpose::DigitalSignature];
        params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
        params.use_authority_key_identifier_extension = true;
        params.not_before = now - EARLIER;
        params.not_after = now - EARLIER + SERVER_LASTS;
        for name in wanted {
            params.subject_alt_names.push(match name {
                HostName::Host(host) => SanType::DnsName(host.as_str().try_into()?),
                HostName::Address(address) => SanType::IpAddress(*address),
            });
        }
        let certificate = params.signed_by(&key, &self.issuer)?;
        let own = files::pem("CERTIFICATE", &self.certificate);
        Ok([certificate.pem(), own, key.serialize_pem()]
            .concat()
            .into_bytes())
    }
}

fn named(name: &str) -> DistinguishedName {
    let mut named = DistinguishedName::new();
    named.push(DnType::CommonName, name);
    named
}

fn make(names: &Names, now: OffsetDateTime) -> Result<Vec<u8>, TlsError> {
    let key = KeyPair::generate()?;
    let mark: [u8; 2] = crate::authority::random()?;
    let mut params = CertificateParams::default();
    // Two ships' authorities are told apart in a phone's list.
    let mark = record::hex::encode(&mark).to_uppercase();
    params.distinguished_name = named(&format!("Clearhawse ship's network {mark}"));
    params.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
    params.key_usages = vec![KeyUsagePurpose::KeyCertSign, KeyUsagePurpose::CrlSign];
    params.not_before = now - EARLIER;
    params.not_after = now - EARLIER + AUTHORITY_LASTS;
    params.name_constraints = Some(NameConstraints {
        permitted_subtrees: permitted(names),
        excluded_subtrees: Vec::new(),
    });
    let certificate = params.self_signed(&key)?;
    Ok([certificate.pem(), key.serialize_pem()]
        .concat()
        .into_bytes())
}

fn permitted(names: &Names) -> Vec<GeneralSubtree> {
    let hosts = PRIVATE_NAMES.iter().map(|host| (*host).to_owned());
    let mut permitted: Vec<_> = hosts.map(GeneralSubtree::DnsName).collect();
    let mut subnet = |address: IpAddr, prefix| {
        let subnet = CidrSubnet::from_addr_prefix(address, prefix);
        permitted.push(GeneralSubtree::IpAddress(subnet));
    };
    for (address, prefix) in PRIVATE_V4 {
        subnet(address.into(), prefix);
    }
    for (address, prefix) in PRIVATE_V6 {
        subnet(address.into(), prefix);
    }
    for name in names.difference(&loopback()) {
        match name {
            HostName::Host(host) => permitted.push(GeneralSubtree::DnsName(host.clone())),
            HostName::Address(address) => {
                let prefix = if address.is_ipv4() { 32 } else { 128 };
                let subnet = CidrSubnet::from_addr_prefix(*address, prefix);
                permitted.push(GeneralSubtree::IpAddress(subnet));
            }
        }
    }
    permitted
}

/// Says whether a permitted subtree covers a name: RFC 5280 section 4.2.1.10.
fn covers(subtree: &GeneralName<'_>, name: &HostName) -> bool {
    match (subtree, name) {
        (GeneralName::DNSName(base), HostName::Host(host)) => {
            let rest = host.strip_suffix(&base.to_ascii_lowercase());
            rest.is_some_and(|rest| rest.is_empty() || rest.ends_with('.'))
        }
        (GeneralName::IPAddress(subnet), HostName::Address(address)) => {
            let bytes = match address {
                IpAddr::V4(address) => address.octets().to_vec(),
                IpAddr::V6(address) => address.octets().to_vec(),
            };
            let Some((base, mask)) = subnet.split_at_checked(bytes.len()) else {
                return false;
            };
            let fits = |(byte, (base, mask)): (&u8, (&u8, &u8))| byte & mask == base & mask;
            mask.len() == bytes.len() && bytes.iter().zip(base.iter().zip(mask)).all(fits)
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests;

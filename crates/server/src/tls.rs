//! Certificates: from files that somebody else looks after, or from a certificate authority of the shop's own network.
//!
//! 1. The authority is made once and kept in a folder: `authority.key` (mode 0600, in a folder of mode 0700), `authority.crt` (DER) and
//!    `authority.names`. Whoever copies the key can pretend to be this shop's servers; nothing else in the folder is secret.
//! 2. It is limited to the names that it was made for and to addresses of private networks (name constraints): a device that trusts it
//!    trusts it for nothing else.
//! 3. The server's own certificate and key are made afresh at each start and once a month while it runs, and are not kept.

use std::io::Write;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, UdpSocket};
use std::path::{Path, PathBuf};

use rcgen::{
    BasicConstraints, CertificateParams, CidrSubnet, DistinguishedName, DnType, ExtendedKeyUsagePurpose, GeneralSubtree, IsCa, Issuer,
    KeyPair, KeyUsagePurpose, NameConstraints, SanType,
};
use sha2::{Digest, Sha256};

use crate::shop::Authority;

/// Where the certificate of a server comes from.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Tls {
    /// None: plain HTTP.
    #[default]
    None,
    /// Files in PEM, read again when they change.
    Files {
        /// The certificate with its chain.
        certificate: PathBuf,
        /// Its private key.
        key: PathBuf,
    },
    /// An authority of the shop's own network.
    Own {
        /// The folder that it is kept in.
        folder: PathBuf,
        /// Names that devices reach the server by, beside those that are found.
        names: Vec<String>,
    },
}

/// A certificate and its key, PEM.
#[derive(Clone, PartialEq, Eq)]
pub struct Pair {
    /// The certificate, and what is behind it.
    pub certificate: Vec<u8>,
    /// The private key.
    pub key: Vec<u8>,
}

/// Why there is no certificate, in a sentence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NoCertificate(pub String);

impl std::fmt::Display for NoCertificate {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for NoCertificate {}

/// Days that a server's certificate holds. Source: browsers take at most 398 days from a public authority; kept to for our own; from memory.
const LEAF_DAYS: i64 = 397;
/// Years that the authority holds.
const AUTHORITY_YEARS: i32 = 10;
/// Names of private networks that an authority may vouch for. Source: RFC 6762 (local), RFC 8375 (home.arpa), RFC 6761 (localhost); lan and
/// internal are common practice.
const PRIVATE: [&str; 5] = ["localhost", "local", "home.arpa", "lan", "internal"];

fn failed(place: &Path) -> impl Fn(std::io::Error) -> NoCertificate {
    let place = place.display().to_string();
    move |fault| NoCertificate(format!("{place}: {fault}; see that it is there, can be read and written by the server, and is its own"))
}

fn unmade(fault: rcgen::Error) -> NoCertificate {
    NoCertificate(format!("the certificate could not be made: {fault}; see that the names are plain names or addresses"))
}

/// Reads a certificate and its key.
pub fn from_files(certificate: &Path, key: &Path) -> Result<Pair, NoCertificate> {
    Ok(Pair { certificate: std::fs::read(certificate).map_err(failed(certificate))?, key: std::fs::read(key).map_err(failed(key))? })
}

/// The authority of a folder, made there when there is none, and a certificate for a server of these names.
pub fn own(folder: &Path, names: &[String], listen: IpAddr, now_s: i64) -> Result<(Authority, Pair), NoCertificate> {
    let found = found_names(names, listen);
    let (authority, key) = match std::fs::read(folder.join("authority.key")) {
        Ok(pem) => kept(folder, pem)?,
        Err(fault) if fault.kind() == std::io::ErrorKind::NotFound => made(folder, &found, now_s)?,
        Err(fault) => return Err(failed(&folder.join("authority.key"))(fault)),
    };
    if let Some(other) = found.iter().find(|name| !vouches_for(&authority.names, name)) {
        return Err(NoCertificate(format!(
            "the authority in {} was not made for {other:?}; allowed: private addresses and names that end in {}; leave the name out, or make \
             a new authority in another folder, which every device must then trust anew",
            folder.display(),
            authority.names.join(", ")
        )));
    }
    let pair = leaf(&authority, key, &found, now_s)?;
    Ok((authority, pair))
}

/// The names that devices may reach this machine by: those that were given, its own, and its address.
fn found_names(given: &[String], listen: IpAddr) -> Vec<String> {
    let mut names: Vec<String> = given.to_vec();
    names.extend(["localhost".to_owned(), Ipv4Addr::LOCALHOST.to_string(), Ipv6Addr::LOCALHOST.to_string()]);
    if let Ok(own) = std::fs::read_to_string("/proc/sys/kernel/hostname") {
        let own = own.trim().to_lowercase();
        if !own.is_empty() && own.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-' || byte == b'.') {
            // A name that other machines find it by without a server of names.
            names.extend((!own.contains('.')).then(|| format!("{own}.local")));
            names.push(own);
        }
    }
    names.extend(
        if listen.is_unspecified() { outward() } else { Some(listen) }
            .filter(|address| is_private(*address))
            .map(|address| address.to_string()),
    );
    let mut seen = std::collections::BTreeSet::new();
    names.retain(|name| seen.insert(name.clone()));
    names
}

/// The address of this machine towards others. Nothing is sent: a datagram socket that is only bound to a way out.
fn outward() -> Option<IpAddr> {
    let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
    // Source: RFC 5737, an address for documentation.
    socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9)).ok()?;
    Some(socket.local_addr().ok()?.ip())
}

/// Private networks, as the authority may vouch for. Source: RFC 1918, RFC 4193, RFC 3927, RFC 4291 and RFC 1122 (loopback, link-local).
const NETWORKS: [(IpAddr, u8); 8] = [
    (IpAddr::V4(Ipv4Addr::new(10, 0, 0, 0)), 8),
    (IpAddr::V4(Ipv4Addr::new(172, 16, 0, 0)), 12),
    (IpAddr::V4(Ipv4Addr::new(192, 168, 0, 0)), 16),
    (IpAddr::V4(Ipv4Addr::new(169, 254, 0, 0)), 16),
    (IpAddr::V4(Ipv4Addr::new(127, 0, 0, 0)), 8),
    (IpAddr::V6(Ipv6Addr::new(0xfc00, 0, 0, 0, 0, 0, 0, 0)), 7),
    (IpAddr::V6(Ipv6Addr::new(0xfe80, 0, 0, 0, 0, 0, 0, 0)), 10),
    (IpAddr::V6(Ipv6Addr::LOCALHOST), 128),
];

fn is_private(address: IpAddr) -> bool {
    let bits = |address: IpAddr| match address {
        IpAddr::V4(address) => u128::from(u32::from(address)) << 96,
        IpAddr::V6(address) => u128::from(address),
    };
    NETWORKS.iter().any(|(network, length)| {
        network.is_ipv4() == address.is_ipv4() && (bits(*network) ^ bits(address)).leading_zeros() >= u32::from(*length)
    })
}

fn vouches_for(names: &[String], name: &str) -> bool {
    match name.parse::<IpAddr>() {
        Ok(address) => is_private(address),
        Err(_) => names.iter().any(|of| name == of || name.ends_with(&format!(".{of}"))),
    }
}

/// Makes an authority and keeps it.
fn made(folder: &Path, found: &[String], now_s: i64) -> Result<(Authority, KeyPair), NoCertificate> {
    let mut names: Vec<String> = PRIVATE.map(str::to_owned).to_vec();
    names.extend(found.iter().filter(|name| !vouches_for(&names, name) && name.parse::<IpAddr>().is_err()).cloned().collect::<Vec<_>>());
    let key = KeyPair::generate().map_err(unmade)?;
    let certificate = authority_params(&key, &names, now_s)?.self_signed(&key).map_err(unmade)?;
    private_folder(folder)?;
    private_file(&folder.join("authority.names"), names.join("\n").as_bytes())?;
    private_file(&folder.join("authority.crt"), certificate.der())?;
    // The key last: where it stands, the others do.
    private_file(&folder.join("authority.key"), key.serialize_pem().as_bytes())?;
    Ok((of(certificate.der(), names), key))
}

/// Reads the authority that a folder keeps.
fn kept(folder: &Path, pem: Vec<u8>) -> Result<(Authority, KeyPair), NoCertificate> {
    let place = folder.join("authority.key");
    let unread = || {
        NoCertificate(format!(
            "{} is no private key in PEM; put back the file that was there, or make a new authority in another folder",
            place.display()
        ))
    };
    let key = String::from_utf8(pem).ok().and_then(|pem| KeyPair::from_pem(&pem).ok()).ok_or_else(unread)?;
    let read = |name: &str| std::fs::read(folder.join(name)).map_err(failed(&folder.join(name)));
    let names = String::from_utf8_lossy(&read("authority.names")?).lines().map(str::to_owned).collect();
    Ok((of(&read("authority.crt")?, names), key))
}

fn of(der: &[u8], names: Vec<String>) -> Authority {
    let pairs: Vec<String> = Sha256::digest(der).iter().map(|byte| format!("{byte:02X}")).collect();
    Authority { der: der.to_vec(), fingerprint: pairs.join(":"), names }
}

/// The authority's name: the same for the same key, since what it signs refers to it.
fn authority_name(key: &KeyPair) -> DistinguishedName {
    let short: String = Sha256::digest(key.public_key_raw()).iter().take(3).map(|byte| format!("{byte:02x}")).collect();
    let mut name = DistinguishedName::new();
    name.push(DnType::CommonName, format!("Bushwright, this shop's own network ({short})"));
    name
}

fn authority_params(key: &KeyPair, names: &[String], now_s: i64) -> Result<CertificateParams, NoCertificate> {
    let mut params = CertificateParams::new(Vec::new()).map_err(unmade)?;
    params.distinguished_name = authority_name(key);
    params.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
    params.key_usages = vec![KeyUsagePurpose::KeyCertSign, KeyUsagePurpose::CrlSign];
    let domains = names.iter().map(|name| GeneralSubtree::DnsName(name.clone()));
    let networks = NETWORKS.iter().map(|(network, length)| GeneralSubtree::IpAddress(CidrSubnet::from_addr_prefix(*network, *length)));
    params.name_constraints =
        Some(NameConstraints { permitted_subtrees: domains.chain(networks).collect(), excluded_subtrees: Vec::new() });
    let (year, month, date) = day(now_s);
    dated(&mut params, now_s, (year + AUTHORITY_YEARS, month, date.min(28)));
    Ok(params)
}

/// A certificate for the server, signed by the authority.
fn leaf(authority: &Authority, key: KeyPair, names: &[String], now_s: i64) -> Result<Pair, NoCertificate> {
    let mut issuer = CertificateParams::new(Vec::new()).map_err(unmade)?;
    issuer.distinguished_name = authority_name(&key);
    let issuer = Issuer::new(issuer, key);
    let mut params = CertificateParams::new(Vec::new()).map_err(unmade)?;
    for name in names {
        params.subject_alt_names.push(match name.parse::<IpAddr>() {
            Ok(address) => SanType::IpAddress(address),
            Err(_) => SanType::DnsName(name.as_str().try_into().map_err(unmade)?),
        });
    }
    params.distinguished_name = DistinguishedName::new();
    params.distinguished_name.push(DnType::CommonName, "Bushwright server");
    params.key_usages = vec![KeyUsagePurpose::DigitalSignature];
    params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
    params.use_authority_key_identifier_extension = true;
    dated(&mut params, now_s, day(now_s + LEAF_DAYS * 86_400));
    let own = KeyPair::generate().map_err(unmade)?;
    let certificate = params.signed_by(&own, &issuer).map_err(unmade)?;
    let mut chain = certificate.pem().into_bytes();
    chain.extend(pem_of(&authority.der).into_bytes());
    Ok(Pair { certificate: chain, key: own.serialize_pem().into_bytes() })
}

/// A certificate of DER as PEM. Source: RFC 7468; base 64 of RFC 4648.
fn pem_of(der: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::new();
    for three in der.chunks(3) {
        let bits = three.iter().enumerate().fold(0_u32, |bits, (i, byte)| bits | u32::from(*byte) << (16 - 8 * i));
        for place in 0..4 {
            let letter = LETTERS[(bits >> (18 - 6 * place) & 63) as usize];
            text.push(if place > three.len() { '=' } else { char::from(letter) });
        }
    }
    let lines: Vec<&str> = (0..text.len()).step_by(64).filter_map(|at| text.get(at..(at + 64).min(text.len()))).collect();
    format!("-----BEGIN CERTIFICATE-----\n{}\n-----END CERTIFICATE-----\n", lines.join("\n"))
}

/// Year, month and day of a moment.
fn day(s: i64) -> (i32, u8, u8) {
    let written = job::moment::written(s);
    let part = |range: std::ops::Range<usize>| written.get(range).and_then(|part| part.parse::<i32>().ok()).unwrap_or(1);
    (part(0..4), u8::try_from(part(5..7)).unwrap_or(1), u8::try_from(part(8..10)).unwrap_or(1))
}

/// Gives a certificate its days: from the day before, for clocks that are behind, to `until`.
fn dated(params: &mut CertificateParams, now_s: i64, until: (i32, u8, u8)) {
    let (year, month, date) = day(now_s - 86_400);
    params.not_before = rcgen::date_time_ymd(year, month, date);
    let (year, month, date) = until;
    params.not_after = rcgen::date_time_ymd(year, month, date);
}

fn private_folder(folder: &Path) -> Result<(), NoCertificate> {
    let mut make = std::fs::DirBuilder::new();
    make.recursive(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::DirBuilderExt;
        make.mode(0o700);
    }
    make.create(folder).map_err(failed(folder))
}

/// Writes a new file that only its owner reads.
fn private_file(place: &Path, bytes: &[u8]) -> Result<(), NoCertificate> {
    let mut make = std::fs::OpenOptions::new();
    make.write(true).create(true).truncate(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        make.mode(0o600);
    }
    let mut file = make.open(place).map_err(failed(place))?;
    file.write_all(bytes).and_then(|()| file.sync_all()).map_err(failed(place))
}

//! Certificates and keys on disk, PEM (RFC 7468).

use super::TlsError;
use crate::private_file;
use base64::Engine as _;
use rustls_pki_types::pem::PemObject as _;
use rustls_pki_types::{CertificateDer, PrivateKeyDer};
use std::io::ErrorKind;
use std::path::Path;

/// Makes the folder that only its owner may look into.
///
/// # Errors
/// [`TlsError::File`] if it cannot be made.
pub fn make_folder(folder: &Path) -> Result<(), TlsError> {
    let mut builder = std::fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder
        .create(folder)
        .map_err(|source| TlsError::file(folder, "made", source))
}

/// Reads a file of ours; `None` if there is none.
///
/// # Errors
/// [`TlsError`] if it cannot be read, or others than its owner can read it.
pub fn read(path: &Path) -> Result<Option<Vec<u8>>, TlsError> {
    match private_file::open_to_others(path) {
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(TlsError::file(path, "read", error)),
        Ok(Some(mode)) => {
            return Err(TlsError::OpenToOthers {
                path: path.to_owned(),
                mode,
            });
        }
        Ok(None) => {}
    }
    std::fs::read(path)
        .map(Some)
        .map_err(|source| TlsError::file(path, "read", source))
}

/// Writes a file of ours in the place of what is there.
///
/// # Errors
/// [`TlsError::File`] if it cannot be written.
pub fn write(path: &Path, text: &[u8]) -> Result<(), TlsError> {
    private_file::replace(path, text).map_err(|source| TlsError::file(path, "written", source))
}

/// Returns the certificates and the first private key of a PEM text.
pub fn parse(text: &[u8]) -> (Vec<CertificateDer<'static>>, Option<PrivateKeyDer<'static>>) {
    let certificates = CertificateDer::pem_slice_iter(text).filter_map(Result::ok);
    (
        certificates.collect(),
        PrivateKeyDer::from_pem_slice(text).ok(),
    )
}

/// Reads the certificates of a file, of which there is at least one.
///
/// # Errors
/// [`TlsError`], which names the file, if it cannot be read or holds none.
pub fn certificates(path: &Path) -> Result<Vec<CertificateDer<'static>>, TlsError> {
    let text = std::fs::read(path).map_err(|source| TlsError::file(path, "read", source))?;
    let (certificates, _) = parse(&text);
    if certificates.is_empty() {
        return Err(TlsError::NotPem {
            path: path.to_owned(),
            what: "certificate",
        });
    }
    Ok(certificates)
}

/// Writes `der` as PEM.
pub fn pem(label: &str, der: &[u8]) -> String {
    let text = base64::engine::general_purpose::STANDARD.encode(der);
    let lines: Vec<&str> = text
        .as_bytes()
        .chunks(64)
        .filter_map(|line| std::str::from_utf8(line).ok())
        .collect();
    format!(
        "-----BEGIN {label}-----\n{}\n-----END {label}-----\n",
        lines.join("\n")
    )
}

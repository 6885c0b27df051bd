//! A certificate that the ship has from elsewhere.

use super::{Material, TlsError, files};
use std::path::PathBuf;
use time::OffsetDateTime;

/// Where the certificate and its key are, PEM.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OwnCertificate {
    /// The server's certificate, then those between it and a known authority.
    pub certificate: PathBuf,
    /// The server's private key.
    pub key: PathBuf,
}

impl OwnCertificate {
    /// Reads both and checks that they can be served.
    ///
    /// # Errors
    /// [`TlsError`], which names the file, if one cannot be read or is not PEM, if the key is another
    /// certificate's, or if the certificate is not in force at `now`.
    pub fn load(&self, now: OffsetDateTime) -> Result<Material, TlsError> {
        let chain = files::certificates(&self.certificate)?;
        let key_text = std::fs::read(&self.key);
        let key_text = key_text.map_err(|source| TlsError::file(&self.key, "read", source))?;
        let (_, key) = files::parse(&key_text);
        let key = key.ok_or_else(|| TlsError::NotPem {
            path: self.key.clone(),
            what: "private key",
        })?;
        let material = Material::new(chain, key).map_err(|problem| problem.of(self))?;
        let day = |seconds| {
            OffsetDateTime::from_unix_timestamp(seconds).map_or_else(
                |_| "an unknown day".to_owned(),
                |time| time.date().to_string(),
            )
        };
        let now = now.unix_timestamp();
        if now >= material.not_after {
            return Err(TlsError::Ended {
                path: self.certificate.clone(),
                day: day(material.not_after),
            });
        }
        if now < material.not_before {
            return Err(TlsError::NotBegun {
                path: self.certificate.clone(),
                day: day(material.not_before),
            });
        }
        Ok(material)
    }
}

#[cfg(test)]
mod tests;

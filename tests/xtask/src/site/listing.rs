//! `assets.json`: what the site is made of, for the server's build and for measuring.

use serde::{Deserialize, Serialize};

use super::File;
use super::compress::Packed;
use crate::fault::Fault;
use crate::paths;

/// The site's files and the identity of this build.
#[derive(Debug, Serialize, Deserialize)]
pub struct Listing {
    pub build: String,
    pub files: Vec<Listed>,
}

/// One file: names, digest, and sizes in bytes.
#[derive(Debug, Serialize, Deserialize)]
pub struct Listed {
    pub logical: String,
    pub path: String,
    pub sha256: String,
    pub bytes: usize,
    pub brotli: Option<usize>,
    pub gzip: Option<usize>,
    /// Whether no first page needs it.
    pub is_later: bool,
}

impl Listed {
    pub fn new(file: &File, packed: &Packed, is_later: bool) -> Self {
        Self {
            logical: file.logical.clone(),
            path: file.path.clone(),
            sha256: file.digest.clone(),
            bytes: file.content.len(),
            brotli: packed.brotli.as_ref().map(Vec::len),
            gzip: packed.gzip.as_ref().map(Vec::len),
            is_later,
        }
    }

    /// Returns the bytes that a browser which knows brotli fetches.
    pub fn sent(&self) -> usize {
        self.brotli.unwrap_or(self.bytes)
    }
}

impl Listing {
    /// Reads the listing of the site as it was last built.
    pub fn read() -> Result<Self, Fault> {
        let path = paths::site().join("assets.json");
        let text = paths::read_text(&path)?;
        serde_json::from_str(&text).map_err(|source| Fault::Json { path, source })
    }

    pub fn to_json(&self) -> String {
        serde_json::to_string_pretty(self).expect("invariant: texts and numbers are always JSON")
    }
}

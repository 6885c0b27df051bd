//! Builds the web pages: everything that the server embeds and a browser fetches.
//!
//! ```text
//! target/site/
//!   assets/<name>-<hash>.<ext>   content-hashed, kept by browsers for ever
//!   shell.html                   the content-free page that the offline worker answers with
//!   sw.js                        the offline worker, with the list of what it keeps
//!   notices.txt                  whose work is inside, and on what terms
//!   manifest.webmanifest         what an installed app is called and looks like
//!   assets.json                  the listing: logical name, path, digest and sizes of each file
//!   *.br, *.gz                   the same, compressed, where that makes it smaller
//! ```

mod compress;
mod listing;
mod notices;
mod public;
mod split;
mod style;
mod wasm;
mod weight;

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

use sha2::{Digest as _, Sha256};

use crate::fault::Fault;
use crate::paths;
use crate::run::stage;

pub use listing::{Listed, Listing};

/// One file of the site before compression.
#[derive(Debug)]
pub struct File {
    /// What the sources call it, such as `icons/clearhawse.svg`.
    pub logical: String,
    /// Where it is served, such as `/assets/clearhawse-0123456789abcdef.svg`.
    pub path: String,
    /// SHA-256 of the content, in hexadecimal.
    pub digest: String,
    pub content: Vec<u8>,
}

/// The files collected so far, and the identity of the build once they are all there.
#[derive(Debug, Default)]
pub struct Site {
    build: String,
    files: Vec<File>,
    /// Paths of what the first page does not need.
    later: BTreeSet<String>,
}

impl Site {
    /// Adds a file under a name that its content decides, and returns where it will be served.
    pub fn add_hashed(&mut self, logical: &str, content: Vec<u8>) -> String {
        let digest = hex_digest(&content);
        let name = logical.rsplit('/').next().unwrap_or(logical);
        let (stem, extension) = name.rsplit_once('.').unwrap_or((name, "bin"));
        self.add(
            logical,
            format!("/assets/{stem}-{}.{extension}", &digest[..16]),
            content,
        )
    }

    /// Adds a file whose address must not change from version to version.
    pub fn add_fixed(&mut self, logical: &str, content: Vec<u8>) -> String {
        self.add(logical, format!("/{logical}"), content)
    }

    fn add(&mut self, logical: &str, path: String, content: Vec<u8>) -> String {
        let digest = hex_digest(&content);
        let logical = logical.to_owned();
        self.files.push(File {
            logical,
            path: path.clone(),
            digest,
            content,
        });
        path
    }

    /// Says that no first page needs the file at `path`: a phone keeps it once it has what one needs.
    pub fn keep_later(&mut self, path: &str) {
        self.later.insert(path.to_owned());
    }

    /// Returns where the file that the sources call `logical` is served.
    pub fn path_of(&self, logical: &str) -> Option<&str> {
        self.files
            .iter()
            .find(|file| file.logical == logical)
            .map(|file| file.path.as_str())
    }

    /// Removes the file that the sources call `logical` and returns its content.
    fn take(&mut self, logical: &str) -> Vec<u8> {
        let at = self.files.iter().position(|file| file.logical == logical);
        at.map_or_else(Vec::new, |at| self.files.remove(at).content)
    }

    /// Returns path and digest of every file, in order of path.
    pub fn digests(&self) -> BTreeMap<&str, &str> {
        self.files
            .iter()
            .map(|file| (file.path.as_str(), file.digest.as_str()))
            .collect()
    }
}

/// Builds the site and returns its folder.
pub fn build() -> Result<PathBuf, Fault> {
    let bound = wasm::build()?;
    let mut site = Site::default();
    bound.add_to(&mut site)?;
    stage("site: icons, fonts, style, shell, offline worker", || {
        public::add_assets(&mut site)?;
        style::add(&mut site)?;
        public::add_pages(&mut site)?;
        notices::add(&mut site)
    })?;
    stage("site: brotli and gzip", || write(&site))?;
    weight::hold(&Listing::read()?, bound.is_optimised)?;
    Ok(paths::site())
}

/// Writes the files, their compressed copies and the listing, and removes all that is left over.
fn write(site: &Site) -> Result<(), Fault> {
    let folder = paths::site();
    let mut written = vec![folder.join("assets.json")];
    let mut files = Vec::new();
    let packed = compress::all(&site.files)?;
    for (file, packed) in site.files.iter().zip(packed) {
        let path = folder.join(&file.path[1..]);
        let mut keep = |ending: &str, content: Option<&Vec<u8>>| {
            let Some(content) = content else {
                return Ok(());
            };
            let mut path = path.clone().into_os_string();
            path.push(ending);
            written.push(path.clone().into());
            paths::write(path.as_ref(), content)
        };
        keep("", Some(&file.content))?;
        keep(".br", packed.brotli.as_ref())?;
        keep(".gz", packed.gzip.as_ref())?;
        files.push(Listed::new(file, &packed, site.later.contains(&file.path)));
    }
    let listing = Listing {
        build: site.build.clone(),
        files,
    };
    paths::write(&folder.join("assets.json"), listing.to_json().as_bytes())?;
    for path in paths::files_below(&folder)? {
        if !written.contains(&path) {
            paths::remove(&path)?;
        }
    }
    Ok(())
}

/// Returns the SHA-256 of `content` in hexadecimal.
pub fn hex_digest(content: &[u8]) -> String {
    use std::fmt::Write as _;
    Sha256::digest(content)
        .iter()
        .fold(String::new(), |mut text, byte| {
            write!(text, "{byte:02x}").expect("invariant: writing to a string cannot fail");
            text
        })
}

//! Brotli and gzip copies, made once for each content and kept between builds.

use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use super::File;
use crate::fault::Fault;
use crate::paths;
use crate::run::note;

const BROTLI_QUALITY: i32 = 11;
const BROTLI_WINDOW_BITS: i32 = 22;
const ALREADY_PACKED: [&str; 4] = ["png", "woff2", "jpg", "webp"];

/// The compressed copies that came out smaller than the file.
#[derive(Debug, Default)]
pub struct Packed {
    pub brotli: Option<Vec<u8>>,
    pub gzip: Option<Vec<u8>>,
}

/// Compresses every file that gains by it, in the order given.
pub fn all(files: &[File]) -> Result<Vec<Packed>, Fault> {
    let folder = paths::kept().join("packed");
    paths::make_folder(&folder)?;
    let mut used = Vec::new();
    let packed = files
        .iter()
        .map(|file| one(file, &folder, &mut used))
        .collect();
    for path in paths::files_below(&folder)? {
        if !used.contains(&path) {
            paths::remove(&path)?;
        }
    }
    packed
}

fn one(file: &File, folder: &Path, used: &mut Vec<PathBuf>) -> Result<Packed, Fault> {
    if ALREADY_PACKED
        .iter()
        .any(|ending| file.path.ends_with(ending))
    {
        return Ok(Packed::default());
    }
    let mut copy = |ending: &str, pack: fn(&[u8]) -> io::Result<Vec<u8>>| {
        let kept = folder.join(format!("{}.{ending}", file.digest));
        used.push(kept.clone());
        let packed = if kept.is_file() {
            paths::read(&kept)?
        } else {
            let packed = pack(&file.content).map_err(|source| Fault::Compress {
                name: file.logical.clone(),
                source,
            })?;
            let (from, to) = (file.content.len(), packed.len());
            note(&format!("{}: {from} bytes, {to} in {ending}", file.logical));
            paths::write(&kept, &packed)?;
            packed
        };
        Ok((packed.len() < file.content.len()).then_some(packed))
    };
    Ok(Packed {
        brotli: copy("br", brotli)?,
        gzip: copy("gz", gzip)?,
    })
}

fn brotli(content: &[u8]) -> io::Result<Vec<u8>> {
    let params = brotli::enc::BrotliEncoderParams {
        quality: BROTLI_QUALITY,
        lgwin: BROTLI_WINDOW_BITS,
        size_hint: content.len(),
        ..Default::default()
    };
    let mut packed = Vec::new();
    brotli::BrotliCompress(&mut &*content, &mut packed, &params)?;
    Ok(packed)
}

fn gzip(content: &[u8]) -> io::Result<Vec<u8>> {
    let mut encoder = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
    encoder.write_all(content)?;
    encoder.finish()
}

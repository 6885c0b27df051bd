//! Compiles the browser's half to wasm and makes the JavaScript that loads it.

use std::path::{Path, PathBuf};
use std::process::Command;

use wasm_bindgen_cli_support::Bindgen;

use super::{Site, hex_digest};
use crate::fault::Fault;
use crate::run::{cargo, note, run, stage};
use crate::{paths, tools};

const NAME: &str = "clearhawse";
const TARGET: &str = "wasm32-unknown-unknown";

/// What the compiler emits today. `--all-features` would let the optimiser write modules that
/// browsers refuse.
const FEATURES: [&str; 6] = [
    "--enable-bulk-memory",
    "--enable-multivalue",
    "--enable-mutable-globals",
    "--enable-nontrapping-float-to-int",
    "--enable-reference-types",
    "--enable-sign-ext",
];

/// A folder with the finished wasm and its loader.
#[derive(Debug)]
pub struct Bound {
    folder: PathBuf,
}

/// Compiles and binds. Binding is skipped where it was done before for the same wasm.
pub fn build() -> Result<Bound, Fault> {
    stage(
        "wasm: compile the browser's half (minutes, the first time)",
        || {
            let profile = ["--profile", "wasm"];
            run(cargo()
                .args(["build", "--package", "web", "--target", TARGET])
                .args(profile))
        },
    )?;
    let wasm = paths::target().join(TARGET).join("wasm/web.wasm");
    stage("wasm: loader", || {
        let optimiser = tools::wasm_opt();
        let version = optimiser.as_ref().map_or(0, |(_, version)| *version);
        let input = hex_digest(&paths::read(&wasm)?);
        let kept = paths::kept().join("bound");
        let folder = kept.join(format!("{}-{version}", &input[..16]));
        if folder.join("done").is_file() {
            note("unchanged");
            return Ok(Bound { folder });
        }
        paths::remove(&kept)?;
        bind(&wasm, &folder)?;
        if let Some((optimiser, version)) = optimiser {
            optimise(&optimiser, version, &folder)?;
        }
        paths::write(&folder.join("done"), b"")?;
        Ok(Bound { folder })
    })
}

fn bind(wasm: &Path, folder: &Path) -> Result<(), Fault> {
    paths::make_folder(folder)?;
    let mut bindgen = Bindgen::new();
    bindgen
        .input_path(wasm)
        .out_name(NAME)
        .typescript(false)
        .omit_default_module_path(true)
        .remove_name_section(true)
        .remove_producers_section(true);
    bindgen
        .web(true)
        .and_then(|bindgen| bindgen.generate(folder))
        .map_err(|error| Fault::Bindings {
            wasm: wasm.into(),
            reason: format!("{error:#}"),
        })
}

/// Shrinks the wasm. This saves little on the wire and about a seventh of what is compiled.
fn optimise(optimiser: &Path, version: u32, folder: &Path) -> Result<(), Fault> {
    let wasm = folder.join(format!("{NAME}_bg.wasm"));
    let before = paths::read(&wasm)?.len();
    run(Command::new(optimiser)
        .arg("-Oz")
        .args(FEATURES)
        .arg(&wasm)
        .arg("--output")
        .arg(&wasm))?;
    let after = paths::read(&wasm)?.len();
    note(&format!("wasm-opt {version}: {before} bytes, now {after}"));
    Ok(())
}

impl Bound {
    /// Adds the wasm, its loader, and the scripts that crates brought along.
    pub fn add_to(&self, site: &mut Site) -> Result<(), Fault> {
        let wasm = paths::read(&self.folder.join(format!("{NAME}_bg.wasm")))?;
        site.add_hashed(&format!("{NAME}.wasm"), wasm);
        let mut loader = paths::read_text(&self.folder.join(format!("{NAME}.js")))?;
        let snippets = self.folder.join("snippets");
        if snippets.is_dir() {
            for path in paths::files_below(&snippets)? {
                let inner = path
                    .strip_prefix(&self.folder)
                    .expect("invariant: listed below");
                let inner = inner.to_string_lossy().replace('\\', "/");
                let served = site.add_hashed(&inner, paths::read(&path)?);
                loader = loader.replace(&format!("./{inner}"), &served);
            }
        }
        site.add_hashed(&format!("{NAME}.js"), loader.into_bytes());
        Ok(())
    }
}

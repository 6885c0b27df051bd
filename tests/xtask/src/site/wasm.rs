//! Compiles the browser's half to wasm and makes the JavaScript that loads it.

use std::path::{Path, PathBuf};
use std::process::Command;

use wasm_bindgen_cli_support::Bindgen;

use super::{Site, hex_digest, split};
use crate::fault::Fault;
use crate::run::{cargo, note, run, stage};
use crate::{paths, tools};

/// What the program's files are called before their content names them.
pub const NAME: &str = "clearhawse";
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

/// Inlining makes the wasm smaller as it lies and larger as it is sent: equal code no longer looks equal.
const WITHOUT_INLINING: [&str; 6] = [
    "--always-inline-max-function-size",
    "0",
    "--flexible-inline-max-function-size",
    "0",
    "--one-caller-inline-max-function-size",
    "0",
];

/// A folder with the finished wasm and its loader.
#[derive(Debug)]
pub struct Bound {
    folder: PathBuf,
    /// Whether the optimiser was there to make it smaller than it is elsewhere.
    pub is_optimised: bool,
}

/// Compiles, splits and binds. All but the first is skipped where it was done before for the same wasm.
pub fn build() -> Result<Bound, Fault> {
    stage(
        "wasm: compile the browser's half (minutes, the first time)",
        || {
            run(cargo()
                .args(["rustc", "--package", "web", "--lib", "--target", TARGET])
                .args(["--profile", "wasm"])
                // By the linker's own relocations the program is split; the finished files hold none.
                .args(["--", "-C", "link-arg=--emit-relocs"]))
        },
    )?;
    let wasm = paths::target().join(TARGET).join("wasm/web.wasm");
    stage("wasm: split, loader", || {
        let optimiser = tools::wasm_opt();
        let version = optimiser.as_ref().map_or(0, |(_, version)| *version);
        let is_optimised = optimiser.is_some();
        let input = hex_digest(&paths::read(&wasm)?);
        let kept = paths::kept().join("bound");
        let folder = kept.join(format!("{}-split-{version}", &input[..16]));
        if folder.join("done").is_file() {
            note("unchanged");
            return Ok(Bound {
                folder,
                is_optimised,
            });
        }
        paths::remove(&kept)?;
        paths::make_folder(&folder)?;
        let main = split::split(&wasm, &folder)?;
        bind(&main, &folder)?;
        paths::remove(&main)?;
        for part in split::parts(&folder)? {
            split::shrink(&part)?;
        }
        if let Some((optimiser, version)) = optimiser {
            optimise(&optimiser, version, &folder)?;
        }
        paths::write(&folder.join("done"), b"")?;
        Ok(Bound {
            folder,
            is_optimised,
        })
    })
}

fn bind(wasm: &Path, folder: &Path) -> Result<(), Fault> {
    let mut bindgen = Bindgen::new();
    bindgen
        .input_path(wasm)
        .out_name(NAME)
        .typescript(false)
        .demangle(false)
        .keep_lld_exports(true)
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

/// Shrinks the wasm. This saves little on the wire and about an eighth of what is compiled.
fn optimise(optimiser: &Path, version: u32, folder: &Path) -> Result<(), Fault> {
    let mut all = split::parts(folder)?;
    all.push(folder.join(format!("{NAME}_bg.wasm")));
    for wasm in all {
        let before = paths::read(&wasm)?.len();
        run(Command::new(optimiser)
            .arg("-Oz")
            .args(WITHOUT_INLINING)
            .args(FEATURES)
            .arg(&wasm)
            .arg("--output")
            .arg(&wasm))?;
        let after = paths::read(&wasm)?.len();
        note(&format!("wasm-opt {version}: {before} bytes, now {after}"));
    }
    Ok(())
}

impl Bound {
    /// Adds the wasm in its parts, their loaders, and the scripts that crates brought along.
    pub fn add_to(&self, site: &mut Site) -> Result<(), Fault> {
        let wasm = paths::read(&self.folder.join(format!("{NAME}_bg.wasm")))?;
        site.add_hashed(&format!("{NAME}.wasm"), wasm);
        let mut loader = paths::read_text(&self.folder.join(format!("{NAME}.js")))?;
        let mut linker = paths::read_text(&self.folder.join(split::LINKER))?;
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
        for part in split::parts(&self.folder)? {
            let name = part.file_name().unwrap_or_default().to_string_lossy();
            let served = site.add_hashed(&name, paths::read(&part)?);
            site.keep_later(&served);
            linker = linker.replace(&format!("\"./{name}\""), &format!("\"{served}\""));
        }
        split::add_scripts(site, &loader, &linker)
    }
}

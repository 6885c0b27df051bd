//! Splits the program into what every start needs and what single pages need.

use std::path::{Path, PathBuf};

use super::wasm::NAME;
use super::{Site, hex_digest};
use crate::fault::Fault;
use crate::paths;
use crate::run::note;

/// The script through which the program gets its further parts.
pub const LINKER: &str = "__wasm_split.js";

/// What the parts' files are called: `split_ship.wasm`, or `chunk_4.wasm` for what several parts share.
const PREFIXES: [&str; 2] = ["split_", "chunk_"];

/// Writes the parts and [`LINKER`] into `folder`; returns where the part that every start needs is.
pub fn split(wasm: &Path, folder: &Path) -> Result<PathBuf, Fault> {
    let bytes = paths::read(wasm)?;
    let main = folder.join("main.wasm");
    let loader = format!("./{NAME}.js");
    let linker = format!("./{LINKER}");
    let mut options = wasm_split_cli_support::Options::new(&bytes);
    options.output_dir = folder;
    options.main_out_path = &main;
    options.main_module = &loader;
    options.link_name = &linker;
    let split = wasm_split_cli_support::transform(options).map_err(|error| Fault::Bindings {
        wasm: wasm.into(),
        reason: format!("{error:#}"),
    })?;
    note(&format!("{} further parts", split.split_modules.len()));
    Ok(main)
}

/// Returns the files of the further parts, in order of name.
pub fn parts(folder: &Path) -> Result<Vec<PathBuf>, Fault> {
    let is_part = |path: &PathBuf| {
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        name.ends_with(".wasm") && PREFIXES.iter().any(|prefix| name.starts_with(prefix))
    };
    let mut parts = paths::files_below(folder)?;
    parts.retain(is_part);
    parts.sort();
    Ok(parts)
}

/// Takes out of a part what only the splitting needed: names, and functions that nothing calls.
pub fn shrink(part: &Path) -> Result<(), Fault> {
    let mut config = walrus::ModuleConfig::new();
    config
        .generate_name_section(false)
        .generate_producers_section(false);
    let mut module = config.parse_file(part).map_err(|error| Fault::Bindings {
        wasm: part.into(),
        reason: format!("{error:#}"),
    })?;
    walrus::passes::gc::run(&mut module);
    let features: Vec<_> = module
        .customs
        .iter()
        .filter(|(_, section)| section.name() == "target_features")
        .map(|(id, _)| id)
        .collect();
    for id in features {
        module.customs.delete(id);
    }
    paths::write(part, &module.emit_wasm())
}

/// Adds the loader and [`LINKER`]. Each imports the other, so that neither can be named by what is in it:
/// both are named by what is in both. A second copy under another name would have no program in it.
pub fn add_scripts(site: &mut Site, loader: &str, linker: &str) -> Result<(), Fault> {
    let together = hex_digest([loader, linker].concat().as_bytes());
    let common = &together[..16];
    let loader_path = format!("/assets/{NAME}-{common}.js");
    let linker_path = format!("/assets/{NAME}-parts-{common}.js");
    let loader = with_import(loader, &format!("./{LINKER}"), &linker_path)?;
    let linker = with_import(linker, &format!("./{NAME}.js"), &loader_path)?;
    site.add(&format!("{NAME}.js"), loader_path, loader.into_bytes());
    site.add(
        &format!("{NAME}-parts.js"),
        linker_path,
        linker.into_bytes(),
    );
    Ok(())
}

/// Puts another address into an import. The same text may stand elsewhere, as the name under which the wasm
/// looks for what is imported: there it stays.
fn with_import(script: &str, from: &str, to: &str) -> Result<String, Fault> {
    let was = format!("from \"{from}\"");
    let single = format!("from '{from}'");
    if !script.contains(&was) && !script.contains(&single) {
        return Err(Fault::Reference {
            place: "the program's loader".to_owned(),
            target: from.to_owned(),
        });
    }
    let is = format!("from \"{to}\"");
    Ok(script.replace(&was, &is).replace(&single, &is))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_script_imports_the_other_under_its_one_name() {
        let mut site = Site::default();
        let loader =
            "import * as a from \"./__wasm_split.js\"\nconst b = {\"./__wasm_split.js\": a};";
        let linker = "import { initSync } from \"./clearhawse.js\";";
        add_scripts(&mut site, loader, linker).unwrap();
        let paths = ["clearhawse.js", "clearhawse-parts.js"].map(|name| {
            let path = site.path_of(name).unwrap();
            path.to_owned()
        });
        let text = |name: &str| {
            let file = site.files.iter().find(|file| file.logical == name).unwrap();
            String::from_utf8(file.content.clone()).unwrap()
        };
        let written = text("clearhawse.js");
        assert!(written.contains(&format!("from \"{}\"", paths[1])));
        assert!(written.contains("{\"./__wasm_split.js\": a}"), "{written}");
        assert!(text("clearhawse-parts.js").contains(&format!("from \"{}\"", paths[0])));
    }

    #[test]
    fn a_loader_without_the_import_is_refused() {
        assert!(add_scripts(&mut Site::default(), "", "").is_err());
    }
}

//! Lists the web pages' files for `src/assets.rs`, which carries them inside the program.
//!
//! `CLEARHAWSE_SITE` names their folder, made by `cargo xtask build`. Without it the program is built with
//! no pages, which is enough for the tests that need none.

use std::env;
use std::error::Error;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use serde_json::Value;

fn main() -> Result<(), Box<dyn Error>> {
    println!("cargo::rerun-if-changed=build.rs");
    println!("cargo::rerun-if-env-changed=CLEARHAWSE_SITE");
    let table = match env::var_os("CLEARHAWSE_SITE").filter(|folder| !folder.is_empty()) {
        Some(folder) => table(Path::new(&folder))?,
        None => table_of("", &[]),
    };
    let out = env::var_os("OUT_DIR").ok_or("OUT_DIR is not set")?;
    fs::write(Path::new(&out).join("site.rs"), table)?;
    Ok(())
}

fn table(folder: &Path) -> Result<String, Box<dyn Error>> {
    let path = folder.join("assets.json");
    println!("cargo::rerun-if-changed={}", path.display());
    let text = fs::read_to_string(&path).map_err(|error| format!("{}: {error}", path.display()))?;
    let listing: Value = serde_json::from_str(&text)?;
    let mut rows = Vec::new();
    for file in listing["files"]
        .as_array()
        .ok_or("assets.json lists no files")?
    {
        let text = |name: &str| file[name].as_str().ok_or(format!("a file without {name}"));
        let path = text("path")?;
        let include = |ending: &str| {
            let file = folder.join(format!("{}{ending}", path.trim_start_matches('/')));
            println!("cargo::rerun-if-changed={}", file.display());
            format!("include_bytes!({:?})", file.display().to_string())
        };
        let packed = |size: &str, ending: &str| match file[size].as_u64() {
            Some(_) => format!("Some({})", include(ending)),
            None => "None".to_owned(),
        };
        rows.push(format!(
            "Asset {{ logical: {:?}, path: {path:?}, sha256: {:?}, plain: {}, brotli: {}, gzip: {} }}",
            text("logical")?,
            text("sha256")?,
            match file["gzip"].as_u64() {
                Some(_) => "None".to_owned(),
                None => format!("Some({})", include("")),
            },
            packed("brotli", ".br"),
            packed("gzip", ".gz"),
        ));
    }
    Ok(table_of(
        listing["build"]
            .as_str()
            .ok_or("assets.json names no build")?,
        &rows,
    ))
}

fn table_of(build: &str, rows: &[String]) -> String {
    let mut table = format!("const BUILD: &str = {build:?};\nstatic ASSETS: &[Asset] = &[\n");
    for row in rows {
        writeln!(table, "    {row},").expect("invariant: writing to a string cannot fail");
    }
    table + "];\n"
}

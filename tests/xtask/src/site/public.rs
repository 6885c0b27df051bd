//! Takes over what lies under `public/`: icons and fonts as they are, and the shell, the offline
//! worker and the app manifest with the names of this build put in.

use std::path::Path;

use super::{Site, hex_digest};
use crate::fault::Fault;
use crate::paths;

/// Files that are not served as they lie there.
const MADE_HERE: [&str; 3] = ["manifest.webmanifest", "shell.html", "sw.js"];

/// Where the pictures of the program lie that the app manifest names.
const SCREENS: &str = "screens/";

/// Adds every file that is served as it is, under a hashed name.
pub fn add_assets(site: &mut Site) -> Result<(), Fault> {
    let folder = paths::root().join("public");
    for path in paths::files_below(&folder)? {
        let inner = path
            .strip_prefix(&folder)
            .expect("invariant: listed below this folder");
        let logical = inner.to_string_lossy().replace('\\', "/");
        if !MADE_HERE.contains(&logical.as_str()) {
            site.add_hashed(&logical, paths::read(&path)?);
        }
    }
    Ok(())
}

/// Adds the app manifest, the shell and the offline worker. The worker comes last: it lists all.
pub fn add_pages(site: &mut Site) -> Result<(), Fault> {
    let public = paths::root().join("public");
    let manifest = app_manifest(site, &public.join("manifest.webmanifest"))?;
    site.add_fixed("manifest.webmanifest", manifest.into_bytes());

    let worker = paths::read_text(&public.join("sw.js"))?;
    let template = paths::read_text(&public.join("shell.html"))?;
    // The identity covers everything that a phone would run, so the two templates as well.
    site.add_fixed("sw.js", worker.into_bytes());
    site.add_fixed("shell.html", template.clone().into_bytes());
    site.build = build_id(site);
    let worker = site.take("sw.js");
    site.take("shell.html");

    let shell = fill_shell(site, &template)?;
    site.add_fixed("shell.html", shell.into_bytes());
    let mut digests = site.digests();
    // Pictures for the browser's own question whether to install: no page shows them, so none is kept for offline.
    let shown_before = site
        .files
        .iter()
        .filter(|file| file.logical.starts_with(SCREENS));
    for file in shown_before {
        digests.remove(file.path.as_str());
    }
    let files = serde_json::to_string(&digests).expect("invariant: texts are always JSON");
    let later = serde_json::to_string(&site.later).expect("invariant: texts are always JSON");
    let head = format!(
        "const BUILD = \"{}\";\nconst FILES = {files};\nconst LATER = {later};\n",
        site.build
    );
    site.add_fixed("sw.js", [head.into_bytes(), worker].concat());
    Ok(())
}

/// Returns the identity of what has been collected: the same files give the same text.
fn build_id(site: &Site) -> String {
    let digests = serde_json::to_string(&site.digests());
    let digests = digests.expect("invariant: texts are always JSON");
    hex_digest(digests.as_bytes())[..16].to_owned()
}

fn app_manifest(site: &Site, path: &Path) -> Result<String, Fault> {
    let json = |source| Fault::Json {
        path: path.into(),
        source,
    };
    let text = paths::read_text(path)?;
    let mut manifest: serde_json::Value = serde_json::from_str(&text).map_err(json)?;
    for kind in ["icons", "screenshots"] {
        for picture in manifest[kind].as_array_mut().into_iter().flatten() {
            let source = picture["src"].as_str().unwrap_or_default().to_owned();
            let served = site.path_of(source.trim_start_matches('/'));
            let missing = || Fault::Reference {
                place: path.display().to_string(),
                target: source,
            };
            picture["src"] = served.ok_or_else(missing)?.into();
        }
    }
    serde_json::to_string(&manifest).map_err(json)
}

/// Puts the paths of this build where the template names files in braces, such as `{main.css}`.
fn fill_shell(site: &Site, template: &str) -> Result<String, Fault> {
    let mut shell = String::new();
    let mut rest = template;
    while let Some((before, after)) = rest.split_once('{') {
        let (name, after) = after.split_once('}').unwrap_or((after, ""));
        shell.push_str(before);
        shell.push_str(match name {
            "build" => &site.build,
            _ => site.path_of(name).ok_or_else(|| Fault::Reference {
                place: "public/shell.html".to_owned(),
                target: name.to_owned(),
            })?,
        });
        rest = after;
    }
    shell.push_str(rest);
    Ok(shell)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shell_names_the_files_of_this_build() {
        let mut site = Site {
            build: "42".to_owned(),
            ..Site::default()
        };
        let path = site.add_hashed("icons/a.svg", b"<svg/>".to_vec());
        let shell = fill_shell(&site, "<a b=\"{icons/a.svg}\" c=\"{build}\">").unwrap();
        assert_eq!(shell, format!("<a b=\"{path}\" c=\"42\">"));
    }

    #[test]
    fn a_shell_that_names_no_file_is_refused() {
        let fault = fill_shell(&Site::default(), "<a b=\"{gone.css}\">").unwrap_err();
        assert!(fault.to_string().contains("gone.css"), "{fault}");
    }

    #[test]
    fn a_changed_file_changes_its_name_and_the_build() {
        let mut one = Site::default();
        let mut other = Site::default();
        let first = one.add_hashed("a.js", b"1".to_vec());
        let second = other.add_hashed("a.js", b"2".to_vec());
        assert_ne!(first, second);
        assert_ne!(build_id(&one), build_id(&other));
    }
}

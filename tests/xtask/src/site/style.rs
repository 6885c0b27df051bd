//! Bundles `style/main.css` with everything that it imports, and minifies it.

use std::path::Path;

use lightningcss::bundler::{Bundler, FileProvider};
use lightningcss::dependencies::{Dependency, DependencyOptions};
use lightningcss::error::Error;
use lightningcss::stylesheet::{MinifyOptions, ParserOptions, PrinterOptions};
use lightningcss::targets::{Browsers, Targets};

use super::Site;
use crate::fault::Fault;
use crate::paths;

/// The oldest browsers whose CSS is written: those that can run the program at all.
const BROWSERS: Browsers = Browsers {
    chrome: Some(119 << 16),
    firefox: Some(121 << 16),
    safari: Some(17 << 16),
    ios_saf: Some(17 << 16),
    android: None,
    edge: None,
    ie: None,
    opera: None,
    samsung: None,
};

/// Adds the style sheet. Its `url("/fonts/x.woff2")` means `public/fonts/x.woff2`.
pub fn add(site: &mut Site) -> Result<(), Fault> {
    let main = paths::root().join("style/main.css");
    let css = bundle(&main, |url| match url.strip_prefix('/') {
        Some(logical) => site.path_of(logical).map(str::to_owned),
        None => (url.starts_with("data:") || url.starts_with('#')).then(|| url.to_owned()),
    })?;
    site.add_hashed("main.css", css.into_bytes());
    Ok(())
}

fn bundle(main: &Path, served: impl Fn(&str) -> Option<String>) -> Result<String, Fault> {
    let files = FileProvider::new();
    let mut bundler = Bundler::new(&files, None, ParserOptions::default());
    let mut sheet = bundler.bundle(main).map_err(|error| fault(main, &error))?;
    let targets = Targets::from(BROWSERS);
    sheet
        .minify(MinifyOptions {
            targets,
            ..Default::default()
        })
        .map_err(|error| fault(main, &error))?;
    let printed = sheet
        .to_css(PrinterOptions {
            minify: true,
            targets,
            analyze_dependencies: Some(DependencyOptions {
                remove_imports: false,
            }),
            ..Default::default()
        })
        .map_err(|error| fault(main, &error))?;
    let mut css = printed.code;
    for dependency in printed.dependencies.unwrap_or_default() {
        let (place, url, placeholder) = match dependency {
            Dependency::Url(found) => (found.loc.file_path, found.url, found.placeholder),
            Dependency::Import(found) => (found.loc.file_path, found.url, found.placeholder),
        };
        let path = served(&url).ok_or(Fault::Reference { place, target: url })?;
        css = css.replace(&placeholder, &path);
    }
    Ok(css)
}

fn fault<T: std::fmt::Display>(main: &Path, error: &Error<T>) -> Fault {
    let place = match &error.loc {
        Some(at) => format!("{}:{}:{}", at.filename, at.line + 1, at.column),
        None => main.display().to_string(),
    };
    Fault::Style {
        place,
        reason: error.kind.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder(name: &str, files: &[(&str, &str)]) -> std::path::PathBuf {
        let folder = paths::target().join("xtask-tests").join(name);
        for (file, text) in files {
            paths::write(&folder.join(file), text.as_bytes()).unwrap();
        }
        folder
    }

    #[test]
    fn imports_are_bundled_and_addresses_replaced() {
        let folder = folder(
            "bundled",
            &[
                ("main.css", "@import 'part.css';\nbody { color : #ff0000 }"),
                ("part.css", "i { background: url('/icons/a.svg') }"),
            ],
        );
        let css = bundle(&folder.join("main.css"), |url| {
            assert_eq!(url, "/icons/a.svg");
            Some("/assets/a-01.svg".to_owned())
        });
        let css = css.unwrap();
        assert!(
            css.contains("/assets/a-01.svg") && css.contains("body{color:red}"),
            "{css}"
        );
        assert!(!css.contains("@import"), "{css}");
    }

    #[test]
    fn an_address_that_is_no_file_is_refused_by_name() {
        let folder = folder(
            "refused",
            &[("main.css", "i { background: url('/none.svg') }")],
        );
        let fault = bundle(&folder.join("main.css"), |_| None).unwrap_err();
        assert!(fault.to_string().contains("/none.svg"), "{fault}");
    }

    #[test]
    fn a_mistake_in_an_imported_file_is_shown_with_its_place() {
        let folder = folder(
            "mistaken",
            &[
                ("main.css", "@import 'part.css';"),
                ("part.css", "a { b: c }\n} {"),
            ],
        );
        let fault = bundle(&folder.join("main.css"), |_| None).unwrap_err();
        assert!(fault.to_string().contains("part.css:2:"), "{fault}");
    }
}

//! Where the packages that we build on come from, on what terms, and which of them are there twice.
//!
//! The rules stand in `.cargo/deny.toml`, in the form that `cargo deny` reads; where `cargo deny` is installed it can
//! be asked as well. The check here needs nothing but what cargo knows of the packages, so that it runs
//! everywhere in a second. Advisories are data from a repository of their own: `cargo deny check advisories`.

pub mod licence;
pub mod packages;

use std::collections::{BTreeMap, BTreeSet};

use serde::Deserialize;

use crate::fault::Fault;
use crate::machine::Machine;
use crate::paths;
use crate::run::{cargo, note, run};
use packages::Packages;

/// What we read of `.cargo/deny.toml`.
#[derive(Debug, Deserialize)]
struct Rules {
    graph: Graph,
    licenses: Licences,
    bans: Bans,
    sources: Sources,
}

#[derive(Debug, Deserialize)]
struct Graph {
    targets: Vec<String>,
}

#[derive(Debug, Deserialize)]
struct Licences {
    allow: Vec<String>,
    #[serde(default)]
    exceptions: Vec<Exception>,
}

/// A licence that is accepted for one package alone.
#[derive(Debug, Deserialize)]
struct Exception {
    #[serde(rename = "crate")]
    package: String,
    allow: Vec<String>,
}

#[derive(Debug, Deserialize)]
struct Bans {
    skip: Vec<Skip>,
}

/// An older version that is known to be there beside a newer one.
#[derive(Debug, Deserialize)]
struct Skip {
    /// `name@version`.
    #[serde(rename = "crate")]
    package: String,
    reason: String,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case")]
struct Sources {
    allow_registry: Vec<String>,
}

/// Checks every package against the rules.
///
/// # Errors
/// [`Fault::Supply`] with a line for each breach.
pub fn check() -> Result<(), Fault> {
    let path = paths::root().join(".cargo/deny.toml");
    let text = paths::read_text(&path)?;
    let rules: Rules = toml::from_str(&text).map_err(|error| Fault::Style {
        place: path.display().to_string(),
        reason: error.to_string(),
    })?;
    let targets: Vec<&str> = rules.graph.targets.iter().map(String::as_str).collect();
    let packages = Packages::read(&targets)?;
    let breaches = breaches(&rules, &packages);
    if !breaches.is_empty() {
        return Err(Fault::Supply { breaches });
    }
    note(&format!(
        "{} packages: licences, sources and duplicates are in order",
        packages.all.len()
    ));
    if Machine::here().find("cargo-deny").is_none() {
        note(
            "advisories: not looked up, as cargo-deny is not installed (`cargo install cargo-deny`)",
        );
        return Ok(());
    }
    let advisories = run(cargo().args(["deny", "--config", ".cargo/deny.toml", "fetch", "db"]));
    if advisories.is_err() {
        note("advisories: not looked up, as their list cannot be fetched from here");
        return Ok(());
    }
    run(cargo().args([
        "deny",
        "check",
        "--config",
        ".cargo/deny.toml",
        "advisories",
    ]))
}

fn breaches(rules: &Rules, packages: &Packages) -> Vec<String> {
    let mut found = Vec::new();
    for package in &packages.all {
        let name = package.label();
        let exception = rules
            .licenses
            .exceptions
            .iter()
            .find(|exception| exception.package == package.name);
        let may = |id: &str| {
            let holds = |list: &[String]| list.iter().any(|allowed| allowed == id);
            holds(&rules.licenses.allow) || exception.is_some_and(|e| holds(&e.allow))
        };
        match &package.license {
            Some(text) if licence::is_met(text, &may) => {}
            Some(text) => found.push(format!("{name}: its licence is not among ours: {text}")),
            None => found.push(format!("{name}: names no licence")),
        }
        let registry = package.source.strip_prefix("registry+");
        let is_known = registry.is_some_and(|registry| {
            let allowed = &rules.sources.allow_registry;
            allowed.iter().any(|allowed| allowed == registry)
        });
        if !is_known {
            found.push(format!("{name}: comes from {}", package.source));
        }
    }
    found.extend(duplicates(rules, packages));
    let names: BTreeSet<&str> = packages.all.iter().map(|p| p.name.as_str()).collect();
    for exception in &rules.licenses.exceptions {
        if !names.contains(exception.package.as_str()) {
            found.push(format!(
                "{}: its exception serves nothing",
                exception.package
            ));
        }
    }
    found
}

/// Names every package of which there is more than one version, but for the older ones that have a reason.
fn duplicates(rules: &Rules, packages: &Packages) -> Vec<String> {
    let mut found = Vec::new();
    let mut versions: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    for package in &packages.all {
        versions
            .entry(&package.name)
            .or_default()
            .push(package.label());
    }
    let skips = &rules.bans.skip;
    for labels in versions.values() {
        let unexplained: Vec<&str> = labels
            .iter()
            .filter(|label| !skips.iter().any(|skip| skip.package == **label))
            .map(String::as_str)
            .collect();
        if unexplained.len() > 1 {
            found.push(format!("there twice: {}", unexplained.join(", ")));
        }
    }
    for skip in skips {
        let (name, _) = skip.package.split_once('@').unwrap_or((&skip.package, ""));
        let labels = versions.get(name).map_or(&[][..], Vec::as_slice);
        if labels.len() < 2 || !labels.contains(&skip.package) {
            found.push(format!("{}: is not there twice any more", skip.package));
        }
        if skip.reason.is_empty() {
            found.push(format!(
                "{}: stands there twice without a reason",
                skip.package
            ));
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use packages::Package;

    const HERE: &str = "https://example.org/index";

    fn rules(skip: &str) -> Rules {
        let text = format!(
            "graph.targets = []\nlicenses.allow = ['MIT']\nsources.allow-registry = ['{HERE}']\n\
             bans.skip = [{skip}]\n"
        );
        toml::from_str(&text).expect("rules")
    }

    fn package(name: &str, version: &str, license: Option<&str>) -> Package {
        Package {
            name: name.to_owned(),
            version: version.to_owned(),
            license: license.map(str::to_owned),
            source: format!("registry+{HERE}"),
            authors: Vec::new(),
            folder: std::path::PathBuf::new(),
        }
    }

    fn found(skip: &str, all: Vec<Package>) -> String {
        breaches(&rules(skip), &Packages { all }).join("\n")
    }

    #[test]
    fn what_we_build_on_keeps_to_the_rules() {
        check().expect("in order");
    }

    #[test]
    fn a_licence_that_is_not_ours_is_named() {
        assert_eq!(found("", vec![package("a", "1.0.0", Some("MIT"))]), "");
        let told = found("", vec![package("a", "1.0.0", Some("GPL-3.0-only"))]);
        assert!(
            told.contains("a@1.0.0") && told.contains("GPL-3.0-only"),
            "{told}"
        );
        assert!(found("", vec![package("a", "1.0.0", None)]).contains("no licence"));
    }

    #[test]
    fn two_versions_want_a_reason_and_a_reason_wants_two_versions() {
        let two = || {
            vec![
                package("a", "1.0.0", Some("MIT")),
                package("a", "2.0.0", Some("MIT")),
            ]
        };
        assert!(found("", two()).contains("a@1.0.0, a@2.0.0"));
        let skip = "{ crate = 'a@1.0.0', reason = 'b wants it' }";
        assert_eq!(found(skip, two()), "");
        let told = found(skip, vec![package("a", "2.0.0", Some("MIT"))]);
        assert!(told.contains("not there twice any more"), "{told}");
    }

    #[test]
    fn a_package_from_elsewhere_is_named() {
        let mut one = package("a", "1.0.0", Some("MIT"));
        one.source = "git+https://example.org/a".to_owned();
        assert!(found("", vec![one]).contains("comes from git+"));
    }
}

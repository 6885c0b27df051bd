//! The packages that a build uses, as cargo tells of them.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

use serde_json::Value;

use crate::fault::Fault;
use crate::machine::output;
use crate::run::cargo;

/// A package that is not ours.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Package {
    pub name: String,
    pub version: String,
    pub license: Option<String>,
    /// Such as `registry+` and the index's address.
    pub source: String,
    pub authors: Vec<String>,
    pub folder: PathBuf,
}

impl Package {
    pub fn label(&self) -> String {
        format!("{}@{}", self.name, self.version)
    }
}

/// Packages in order of their names.
#[derive(Debug)]
pub struct Packages {
    pub all: Vec<Package>,
}

impl Packages {
    /// Returns all that is used to build for any of the targets.
    pub fn read(targets: &[&str]) -> Result<Self, Fault> {
        let mut found = BTreeSet::new();
        for target in targets {
            let told = metadata(target)?;
            let named = by_id(&told);
            for node in list(&told["resolve"]["nodes"]) {
                found.extend(named.get(text(&node["id"])).cloned());
            }
        }
        Ok(Self {
            all: found.into_iter().collect(),
        })
    }

    /// Returns what becomes part of `ours` when it is built for the target: no build scripts, no checks, nothing
    /// that only writes code.
    pub fn inside(ours: &str, target: &str) -> Result<Self, Fault> {
        let told = metadata(target)?;
        let named = by_id(&told);
        let nodes: BTreeMap<&str, &Value> = list(&told["resolve"]["nodes"])
            .iter()
            .map(|node| (text(&node["id"]), node))
            .collect();
        let mut writes_code = BTreeSet::new();
        let mut waiting = Vec::new();
        for package in list(&told["packages"]) {
            let kinds = list(&package["targets"])
                .iter()
                .flat_map(|target| list(&target["kind"]));
            if kinds.clone().any(|kind| kind == "proc-macro") {
                writes_code.insert(text(&package["id"]));
            }
            if package["name"] == ours {
                waiting.push(text(&package["id"]));
            }
        }
        let mut seen = BTreeSet::new();
        while let Some(id) = waiting.pop() {
            if writes_code.contains(id) || !seen.insert(id) {
                continue;
            }
            for dependency in list(&nodes[id]["deps"]) {
                let mut kinds = list(&dependency["dep_kinds"]).iter();
                if kinds.any(|kind| kind["kind"].is_null()) {
                    waiting.push(text(&dependency["pkg"]));
                }
            }
        }
        let found: BTreeSet<Package> = seen
            .into_iter()
            .filter_map(|id| named.get(id).cloned())
            .collect();
        Ok(Self {
            all: found.into_iter().collect(),
        })
    }
}

/// The packages that come from somewhere else, by their identity.
fn by_id(told: &Value) -> BTreeMap<&str, Package> {
    list(&told["packages"])
        .iter()
        .filter_map(|package| {
            let manifest = PathBuf::from(text(&package["manifest_path"]));
            let authors = list(&package["authors"]).iter().map(text);
            let known = Package {
                name: text(&package["name"]).to_owned(),
                version: text(&package["version"]).to_owned(),
                license: package["license"].as_str().map(str::to_owned),
                source: package["source"].as_str()?.to_owned(),
                authors: authors.map(str::to_owned).collect(),
                folder: manifest.parent()?.to_owned(),
            };
            Some((text(&package["id"]), known))
        })
        .collect()
}

fn list(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap_or_default()
}

fn metadata(target: &str) -> Result<Value, Fault> {
    let mut command = cargo();
    command.args(["metadata", "--format-version", "1", "--locked"]);
    command.args(["--filter-platform", target]);
    let told = output(&mut command).ok_or(Fault::NoMetadata)?;
    serde_json::from_str(&told).map_err(|source| Fault::Json {
        path: "cargo metadata".into(),
        source,
    })
}

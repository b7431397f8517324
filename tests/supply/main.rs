//! Licences and duplicate versions of everything the workspace builds with, against `deny.toml`.
//!
//! The same file serves `cargo deny check licenses bans`; this test needs no extra tool to be compiled.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::Command;

use serde::Deserialize;

#[derive(Deserialize)]
struct Rules {
    licenses: LicenceRules,
    bans: BanRules,
}

#[derive(Deserialize)]
struct LicenceRules {
    allow: Vec<String>,
}

#[derive(Deserialize)]
struct BanRules {
    skip: Vec<Skip>,
}

#[derive(Deserialize)]
struct Skip {
    #[serde(rename = "crate")]
    package: String,
    reason: String,
}

#[derive(Deserialize)]
struct Metadata {
    packages: Vec<Package>,
    resolve: Resolve,
}

#[derive(Deserialize)]
struct Package {
    id: String,
    name: String,
    version: String,
    license: Option<String>,
    source: Option<String>,
}

#[derive(Deserialize)]
struct Resolve {
    nodes: Vec<Node>,
}

#[derive(Deserialize)]
struct Node {
    id: String,
}

fn workspace_root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the tests live in the workspace")
}

fn rules() -> Rules {
    let text = std::fs::read_to_string(workspace_root().join("deny.toml")).expect("deny.toml");
    toml::from_str(&text).expect("deny.toml is valid")
}

fn host() -> String {
    let output = Command::new("rustc").arg("-vV").output().expect("rustc runs");
    let text = String::from_utf8(output.stdout).expect("rustc prints text");
    text.lines().find_map(|line| line.strip_prefix("host: ")).expect("rustc names its host").to_owned()
}

/// Packages that are built on this platform, the workspace's own left out.
fn packages() -> Vec<Package> {
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version", "1", "--locked", "--offline", "--filter-platform", &host()])
        .current_dir(workspace_root())
        .output()
        .expect("cargo runs");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let metadata: Metadata = serde_json::from_slice(&output.stdout).expect("cargo metadata prints JSON");
    let built: BTreeSet<String> = metadata.resolve.nodes.into_iter().map(|node| node.id).collect();
    metadata
        .packages
        .into_iter()
        .filter(|package| package.source.is_some() && built.contains(&package.id))
        .collect()
}

#[test]
fn every_licence_is_allowed() {
    let allowed = rules().licenses.allow;
    let refused: Vec<String> = packages()
        .iter()
        .filter(|package| {
            let text = package.license.clone().unwrap_or_default().replace('/', " OR ");
            !spdx::Expression::parse(&text).is_ok_and(|expression| {
                expression.evaluate(|requirement| {
                    requirement.license.id().is_some_and(|id| allowed.iter().any(|name| name == id.name))
                })
            })
        })
        .map(|package| format!("{} {}: {:?}", package.name, package.version, package.license))
        .collect();
    assert!(refused.is_empty(), "licences that deny.toml doesn't allow:\n{}", refused.join("\n"));
}

#[test]
fn two_versions_of_a_crate_have_a_written_reason() {
    let mut versions: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for package in packages() {
        versions.entry(package.name).or_default().insert(package.version);
    }
    versions.retain(|_, versions| versions.len() > 1);
    let skipped = rules().bans.skip;
    assert!(skipped.iter().all(|skip| !skip.reason.is_empty()), "each skip has a reason");
    let name_of = |skip: &Skip| skip.package.split('@').next().unwrap_or_default().to_owned();
    let excused: BTreeSet<String> = skipped.iter().map(name_of).collect();
    let unexcused: Vec<_> = versions.iter().filter(|(name, _)| !excused.contains(*name)).collect();
    assert!(unexcused.is_empty(), "crates in several versions, not in deny.toml: {unexcused:?}");
    let stale: Vec<_> = excused.iter().filter(|name| !versions.contains_key(*name)).collect();
    assert!(stale.is_empty(), "deny.toml excuses crates that have one version only: {stale:?}");
}

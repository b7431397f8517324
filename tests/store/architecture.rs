//! Layers that two crates can't make the compiler police.

use std::fs;
use std::path::{Path, PathBuf};

fn files(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display())) {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(files(&path));
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            found.push(path);
        }
    }
    found
}

fn workspace() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// Text without comments: prose may speak of what code may not use.
fn code(text: &str) -> String {
    text.lines().map(|line| line.split("//").next().unwrap_or_default()).collect::<Vec<_>>().join("\n")
}

fn assert_never_mentions(folder: &str, words: &[&str]) {
    let folder = workspace().join(folder);
    let files = files(&folder);
    assert!(!files.is_empty(), "{} is empty", folder.display());
    for file in files {
        let code = code(&fs::read_to_string(&file).unwrap());
        for word in words {
            assert!(!code.contains(word), "{} mentions {word}", file.display());
        }
    }
}

#[test]
fn the_domain_knows_the_core_alone() {
    let others = ["sqlx", "actix", "utoipa", "askama", "crate::store", "crate::service", "crate::web"];
    assert_never_mentions("wear-api/src/domain", &others);
}

#[test]
fn the_store_knows_nothing_of_http() {
    let others = ["actix", "utoipa", "askama", "crate::service", "crate::web"];
    assert_never_mentions("wear-api/src/store", &others);
}

#[test]
fn the_web_and_the_use_cases_speak_no_sql() {
    for folder in ["wear-api/src/web", "wear-api/src/service"] {
        if workspace().join(folder).exists() {
            assert_never_mentions(folder, &["sqlx"]);
        }
    }
}

#[test]
fn the_web_reaches_the_store_through_the_use_cases_alone() {
    assert_never_mentions("wear-api/src/web", &["crate::store", "services.store", "Tx"]);
}

#[test]
fn the_core_is_mathematics_only() {
    let others = ["sqlx", "actix", "tokio", "std::fs", "std::net", "std::env", "SystemTime", "Instant::now"];
    assert_never_mentions("wear-core/src", &others);
    let manifest = fs::read_to_string(workspace().join("wear-core/Cargo.toml")).unwrap();
    let dependencies = manifest.split("[dependencies]").nth(1).unwrap().split("\n[").next().unwrap();
    for word in ["sqlx", "actix", "tokio", "chrono", "utoipa", "reqwest", "rand."] {
        assert!(!dependencies.contains(word), "wear-core depends on {word}");
    }
}

/// Whoever acts for a sender begins with the sender, whose reach the transaction then has, and not with the workshop alone.
#[test]
fn no_use_case_forgets_the_reach_of_who_asks() {
    let forgetful = ["begin_read(", "begin_read_by_key(", "begin_write("].map(|begin| {
        ["actor.workshop_id", "actor().workshop_id", "self.actor.workshop_id"]
            .map(|asker| format!("{begin}{asker}"))
    });
    let forgetful: Vec<&str> = forgetful.iter().flatten().map(String::as_str).collect();
    for folder in ["wear-api/src/service", "wear-api/src/web", "wear-api/src/demo"] {
        assert_never_mentions(folder, &forgetful);
    }
}

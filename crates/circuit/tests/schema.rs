//! The JSON Schema: current, and of the same mind as the parser.

#![expect(clippy::unwrap_used, reason = "a test helper fails by panicking")]

use std::fs;
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn toml_files(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    entries
        .filter(|path| path.extension().is_some_and(|extension| extension == "toml"))
        .collect()
}

fn accepts(validator: &jsonschema::Validator, path: &Path) -> Result<(), String> {
    let value: serde_json::Value = toml::from_str(&fs::read_to_string(path).unwrap()).unwrap();
    validator
        .validate(&value)
        .map_err(|error| format!("{}: {} at {}", path.display(), error, error.instance_path()))
}

#[test]
fn the_stored_schema_is_current() {
    let path = root().join("docs/circuit.schema.json");
    if std::env::var_os("UPDATE_EXPECTED").is_some() {
        fs::write(&path, circuit::schema()).unwrap();
    }
    let stored = fs::read_to_string(&path).unwrap();
    assert!(
        stored == circuit::schema(),
        "docs/circuit.schema.json is old: run this test with UPDATE_EXPECTED=1"
    );
}

#[test]
fn the_schema_accepts_good_files_and_refuses_a_wrong_key() {
    let schema: serde_json::Value = serde_json::from_str(&circuit::schema()).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    let mut files = toml_files(&root().join("circuits"));
    files.extend(toml_files(&root().join("crates/circuit/tests/circuits")));
    files.extend(toml_files(&root().join("crates/circuit/archetypes")));
    assert!(files.len() >= 4);
    for path in files {
        accepts(&validator, &path).unwrap();
    }
    for (text, is_good) in [
        ("title = \"t\"", true),
        ("titel = \"t\"", false),
        ("title = \"t\"\nwire.W = 3", false),
    ] {
        let value: serde_json::Value = toml::from_str(text).unwrap();
        assert_eq!(validator.is_valid(&value), is_good, "{text}");
    }
}

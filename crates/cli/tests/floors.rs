//! The floors of the house hold: a crate depends on floors below its own and on earlier rooms of its own floor.

use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;

use serde_json::Value;

/// From the ground up; within a floor, from the first room to the last.
const FLOORS: &[&[&str]] = &[
    &["quantity", "markup"],
    &["network", "codes", "circuit"],
    &["bench"],
    &["diagnosis"],
    &["trials"],
    &["job", "picture", "report"],
    &["web"],
    &["cli"],
];

/// Direct dependencies that the floors would allow and the design does not.
const NEVER: &[(&str, &[&str])] = &[
    ("network", &["quantity", "circuit", "serde", "serde_json"]),
    ("codes", &["quantity", "network", "serde", "serde_json"]),
    ("circuit", &["network", "codes"]),
    ("diagnosis", &["network", "serde", "serde_json"]),
    ("bench", &["serde", "serde_json"]),
    ("trials", &["network", "serde", "serde_json"]),
    ("job", &["network", "diagnosis", "trials"]),
    ("picture", &["network", "bench", "diagnosis", "trials"]),
    // What is written comes as plain blocks: nothing of circuits, jobs or clocks.
    (
        "report",
        &[
            "quantity",
            "network",
            "codes",
            "circuit",
            "bench",
            "diagnosis",
            "trials",
            "job",
            "picture",
            "serde",
            "serde_json",
        ],
    ),
    ("web", &["trials"]),
];

/// Workspace crates and their ordinary direct dependencies.
fn dependencies() -> BTreeMap<String, Vec<String>> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version=1", "--no-deps", "--offline"])
        .current_dir(root)
        .output()
        .expect("cargo runs");
    let metadata: Value = serde_json::from_slice(&output.stdout).expect("cargo prints JSON");
    let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    metadata["packages"]
        .as_array()
        .expect("packages")
        .iter()
        .map(|package| {
            let ordinary = package["dependencies"]
                .as_array()
                .into_iter()
                .flatten()
                .filter(|dep| dep["kind"].is_null());
            (text(&package["name"]), ordinary.map(|dep| text(&dep["name"])).collect())
        })
        .collect()
}

#[test]
fn every_crate_has_its_floor_and_depends_only_downwards() {
    let rooms: Vec<&str> = FLOORS.concat();
    let dependencies = dependencies();
    let mut names: Vec<&str> = dependencies.keys().map(String::as_str).collect();
    let mut expected = rooms.clone();
    names.sort_unstable();
    expected.sort_unstable();
    assert_eq!(names, expected, "the list of floors and the workspace differ");
    for (name, deps) in &dependencies {
        let own = rooms.iter().position(|room| room == name).expect("checked above");
        for dep in deps {
            if let Some(below) = rooms.iter().position(|room| room == dep) {
                assert!(
                    below < own,
                    "`{name}` must not depend on `{dep}`, which is not below it"
                );
            }
        }
    }
}

#[test]
fn forbidden_dependencies_are_absent() {
    let dependencies = dependencies();
    for (name, never) in NEVER {
        for dep in *never {
            assert!(
                !dependencies[*name].iter().any(|have| have == dep),
                "`{name}` must not depend on `{dep}`"
            );
        }
    }
}

#[test]
fn the_architecture_page_names_every_crate_and_no_other() {
    let page = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("../../ARCHITECTURE.md"))
        .expect("ARCHITECTURE.md");
    let named: Vec<&str> = page
        .lines()
        .filter_map(|line| line.strip_prefix("### `")?.strip_suffix('`'))
        .collect();
    let mut named_sorted = named.clone();
    named_sorted.sort_unstable();
    let dependencies = dependencies();
    let names: Vec<&str> = dependencies.keys().map(String::as_str).collect();
    assert_eq!(named_sorted, names, "each crate has one heading \"### `name`\"");
}

#[test]
fn no_source_file_is_over_600_lines() {
    fn visit(folder: &Path, long: &mut Vec<String>) {
        for entry in std::fs::read_dir(folder).expect("a folder").flatten() {
            let path = entry.path();
            let skip = ["target", "node_modules", ".git", "vendor"];
            if path.is_dir() {
                if !skip.iter().any(|name| path.ends_with(name)) {
                    visit(&path, long);
                }
            } else if path
                .extension()
                .is_some_and(|ext| ext == "rs" || ext == "js" || ext == "css")
            {
                let lines = std::fs::read_to_string(&path).unwrap_or_default().lines().count();
                if lines > 600 {
                    long.push(format!("{}: {lines}", path.display()));
                }
            }
        }
    }
    let mut long = Vec::new();
    visit(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../../crates"), &mut long);
    assert!(long.is_empty(), "{long:#?}");
}

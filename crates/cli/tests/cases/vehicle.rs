//! A vehicle of the folder `cases/`, read.
#![allow(dead_code, reason = "each test file uses its part")]

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use bench::Test;
use circuit::Circuit;
use serde_json::Value;

pub(crate) const VEHICLES: [&str; 4] = ["position-sensor", "injectors", "outside-temperature", "fuel-pump"];

/// A vehicle with its circuit as this product reads it.
pub(crate) struct Vehicle {
    pub(crate) name: &'static str,
    pub(crate) circuit: Arc<Circuit>,
    pub(crate) tests: Vec<(String, Test)>,
    pub(crate) cautions: Vec<(String, Test)>,
    pub(crate) told: Value,
}

pub(crate) fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases").join(name)
}

pub(crate) fn read(name: &str, file: &str) -> String {
    fs::read_to_string(folder(name).join(file)).unwrap_or_else(|error| panic!("{name}/{file}: {error}"))
}

/// Lines of `a | b | …`, without comments.
pub(crate) fn rows(name: &str, file: &str) -> Vec<Vec<String>> {
    let text = read(name, file);
    let lines = text
        .lines()
        .map(str::trim)
        .filter(|line| !line.is_empty() && !line.starts_with('#'));
    lines
        .map(|line| line.split('|').map(|field| field.trim().to_owned()).collect())
        .collect()
}

fn tests(circuit: &Circuit, name: &str, file: &str) -> Vec<(String, Test)> {
    let test = |row: Vec<String>| {
        let [id, set_up, placement] = &row[..] else {
            panic!("{name}/{file}: {row:?}")
        };
        let set_up = circuit::parse_set_up(circuit, set_up).unwrap_or_else(|error| panic!("{name} {id}: {error}"));
        let placement =
            bench::parse_placement(circuit, placement).unwrap_or_else(|error| panic!("{name} {id}: {error}"));
        (id.clone(), Test { placement, set_up })
    };
    rows(name, file).into_iter().map(test).collect()
}

impl Vehicle {
    pub(crate) fn load(name: &'static str) -> Self {
        let circuit =
            circuit::parse(&read(name, "circuit.toml")).unwrap_or_else(|mistakes| panic!("{name}: {mistakes:#?}"));
        let told: Value = serde_json::from_str(&read(name, "vehicle.json")).expect("JSON");
        let tests = tests(&circuit, name, "tests.txt");
        let cautions = self::tests(&circuit, name, "cautions.txt");
        Self {
            name,
            circuit: Arc::new(circuit),
            tests,
            cautions,
            told,
        }
    }

    pub(crate) fn told(&self, list: &str, id: &str) -> &Value {
        let entries = self.told[list].as_array().expect("a list");
        entries
            .iter()
            .find(|entry| entry["id"] == id)
            .unwrap_or_else(|| panic!("{}: no {id} in {list}", self.name))
    }

    pub(crate) fn test(&self, id: &str) -> &Test {
        let found = self.tests.iter().find(|(known, _)| known == id);
        found.map_or_else(|| panic!("{}: no test {id}", self.name), |(_, test)| test)
    }

    /// What a test shows on the broken vehicle.
    pub(crate) fn faulty(&self, id: &str) -> &str {
        self.told("readings", id)["faulty"]["shown"].as_str().expect("a text")
    }

    pub(crate) fn harmful(&self) -> impl Iterator<Item = &(String, Test)> {
        self.cautions
            .iter()
            .filter(|(id, _)| self.told("cautions", id)["harmful"] == true)
    }

    pub(crate) fn replaced(&self) -> Vec<&str> {
        self.told["replaced"]
            .as_array()
            .expect("a list")
            .iter()
            .filter_map(Value::as_str)
            .collect()
    }
}

//! The shop's library as the real binary keeps it: kept, listed, exchanged, and taken as a circuit.

mod common;

use std::path::Path;
use std::process::{Command, Output, Stdio};

use common::{check_shape, text};
use serde_json::Value;

/// Runs with the jobs, and so the library, of a shop in `home`.
fn run(home: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_probewise"))
        .args(args)
        .env("XDG_DATA_HOME", home)
        .output()
        .expect("the binary runs")
}

#[track_caller]
fn json(home: &Path, shape: &str, args: &[&str]) -> Value {
    let output = run(home, &[args, &["--json"]].concat());
    assert!(output.status.success(), "{}", text(&output.stderr));
    check_shape(shape, &text(&output.stdout))
}

const ADD: [&str; 7] = [
    "library",
    "add",
    "demo",
    "--group",
    "delivery van",
    "--name",
    "pressure",
];

#[test]
fn a_circuit_is_kept_once_and_every_command_takes_it() {
    let home = tempfile::tempdir().expect("a folder");
    let add = [&ADD[..], &["--date", "2026-11-26"]].concat();
    let kept = json(home.path(), "library_add", &add);
    assert_eq!((&kept["new"], &kept["kept"]["number"]), (&true.into(), &1.into()));
    assert_eq!(json(home.path(), "library_add", &add)["new"], false);
    let listed = json(home.path(), "library_list", &["library", "list"]);
    assert_eq!(listed["circuits"].as_array().map(Vec::len), Some(1));
    assert_eq!(listed["circuits"][0], kept["kept"]);

    let said = run(home.path(), &["faults", "library:delivery van/pressure"]);
    let demo = run(home.path(), &["faults", "demo"]);
    assert!(
        said.status.success() && said.stdout == demo.stdout,
        "{}",
        text(&said.stderr)
    );
    // From another shop's folder: that is named, and every command takes it.
    let other = tempfile::tempdir().expect("a folder");
    let library = home.path().join("probewise").join("library");
    let named = [
        "predict",
        "library:delivery van/pressure",
        "--set-up",
        "key off",
        "--library",
    ];
    let named = [&named[..], &[library.to_str().expect("plain letters")]].concat();
    let there = run(other.path(), &named);
    let here = run(home.path(), &named[..4]);
    assert!(
        there.status.success() && !there.stdout.is_empty(),
        "{}",
        text(&there.stderr)
    );
    assert_eq!(text(&there.stdout), text(&here.stdout));
    assert!(
        !run(other.path(), &named[..4]).status.success(),
        "it has no such circuit of its own"
    );
    let refused = run(home.path(), &["check", "library:delivery van/fan"]);
    assert_eq!(refused.status.code(), Some(3));
    assert!(
        text(&refused.stderr).contains("it has delivery van/pressure"),
        "{}",
        text(&refused.stderr)
    );
}

#[test]
fn a_version_without_a_date_is_of_today() {
    let home = tempfile::tempdir().expect("a folder");
    let today = |out: Output| text(&out.stdout).trim().to_owned();
    let date = || {
        today(
            Command::new("date")
                .args(["-u", "+%F"])
                .output()
                .expect("there is a clock"),
        )
    };
    let before = date();
    let kept = json(home.path(), "library_add", &ADD);
    assert!(
        [before, date()].iter().any(|day| kept["kept"]["date"] == day.as_str()),
        "{kept}"
    );
}

#[test]
fn another_shop_takes_it_over() {
    let (home, other, between) = (tempfile::tempdir(), tempfile::tempdir(), tempfile::tempdir());
    let (home, other, between) = (
        home.expect("a folder"),
        other.expect("a folder"),
        between.expect("a folder"),
    );
    json(
        home.path(),
        "library_add",
        &[&ADD[..], &["--date", "2026-11-26"]].concat(),
    );
    let folder = between.path().join("for a friend");
    let folder = folder.to_str().expect("plain letters");
    let out = json(home.path(), "library_taken", &["library", "export", folder]);
    let there = json(other.path(), "library_taken", &["library", "import", folder]);
    assert_eq!(out["new"], there["new"]);
    assert_eq!(there["new"][0]["date"], "2026-11-26");
    let again = json(
        other.path(),
        "library_taken",
        &["library", "import", folder, "delivery van/pressure"],
    );
    assert_eq!(
        (&again["had"], again["new"].as_array().map(Vec::len)),
        (&1.into(), Some(0))
    );
    let nowhere = run(other.path(), &["library", "import", "nowhere at all"]);
    assert_eq!(nowhere.status.code(), Some(3));
    // A file edited since it was kept is told, and a script notices.
    let file = std::fs::read_dir(Path::new(folder).join("delivery van/pressure"))
        .expect("it was exported")
        .next()
        .expect("one file")
        .expect("it can be read")
        .path();
    let text = std::fs::read_to_string(&file).expect("it can be read");
    std::fs::write(&file, text.replacen("title", "# edited\ntitle", 1)).expect("it can be written");
    let third = tempfile::tempdir().expect("a folder");
    let edited = run(third.path(), &["library", "import", folder]);
    assert_eq!(
        edited.status.code(),
        Some(1),
        "{}",
        String::from_utf8_lossy(&edited.stdout)
    );
    assert!(String::from_utf8_lossy(&edited.stdout).contains("Left out: "));
}

/// Serves until it says where, and gives the job's first event.
fn served(home: &Path, args: &[&str]) -> String {
    let mut child = Command::new(env!("CARGO_BIN_EXE_probewise"))
        .args(args)
        .env("XDG_DATA_HOME", home)
        .stdout(Stdio::piped())
        .spawn()
        .expect("the binary runs");
    let mut said = std::io::BufReader::new(child.stdout.take().expect("piped"));
    let mut lines = [String::new(), String::new()];
    for line in &mut lines {
        std::io::BufRead::read_line(&mut said, line).expect("it says where it is");
    }
    child.kill().expect("it ends");
    child.wait().expect("it ends");
    lines.concat()
}

#[test]
fn each_vehicle_of_a_kind_is_a_job_of_its_own_with_the_newest_circuit() {
    let home = tempfile::tempdir().expect("a folder");
    json(
        home.path(),
        "library_add",
        &[&ADD[..], &["--date", "2026-11-26"]].concat(),
    );
    let changed = home.path().join("changed.toml");
    std::fs::write(&changed, format!("# changed\n{}", circuit::DEMO)).expect("written");
    let mut add = ADD.to_vec();
    let changed = changed.to_string_lossy();
    add[2] = &changed;
    json(
        home.path(),
        "library_add",
        &[&add[..], &["--date", "2026-11-27"]].concat(),
    );
    let jobs = home.path().join("probewise");
    for (asked, file, is_changed) in [
        ("library:delivery van/pressure", "delivery van pressure.job", true),
        ("library:delivery van/pressure", "delivery van pressure 2.job", true),
        ("library:delivery van/pressure@1", "delivery van pressure 3.job", false),
    ] {
        let said = served(home.path(), &["serve", asked, "--port", "0"]);
        assert!(said.contains(file), "{said}");
        let store = job::Store::open(&jobs.join(file)).expect("a job");
        let job::What::Opened { circuit, .. } = &store.events()[0].what else {
            panic!("{:?}", store.events())
        };
        assert_eq!(circuit.starts_with("# changed"), is_changed, "{asked}");
    }
}

//! The page in a real browser, at the size of a phone and of a desk. Needs node, npm and Chromium; what is missing is said
//! and the test ends there.

mod common;

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;

use common::Server;

fn works(program: &str) -> bool {
    Command::new(program)
        .arg("--version")
        .output()
        .is_ok_and(|output| output.status.success())
}

fn chromium() -> Option<String> {
    let named = std::env::var("CHROMIUM").ok();
    let usual = ["chromium", "chromium-browser", "google-chrome-stable", "google-chrome"].map(str::to_owned);
    named
        .into_iter()
        .chain(usual)
        .find(|program| works(program))
        .and_then(|program| {
            let found = Command::new("sh")
                .args(["-c", &format!("command -v {program}")])
                .output()
                .ok()?;
            let path = String::from_utf8(found.stdout).ok()?.trim().to_owned();
            (!path.is_empty()).then_some(path)
        })
}

/// The folder with the browser scripts, packages installed, and the browser; or what is missing.
fn ready() -> Result<(PathBuf, String), &'static str> {
    let scripts = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/browser");
    if !works("node") || !works("npm") {
        return Err("node and npm are not here (Debian: apt-get install nodejs npm)");
    }
    let browser = chromium().ok_or("no Chromium is here (Debian: apt-get install chromium)")?;
    let there = |name: &str| scripts.join("node_modules").join(name).join("package.json").exists();
    if !there("playwright-core") || !there("axe-core") {
        let install = ["ci", "--ignore-scripts", "--no-audit", "--no-fund"];
        let installed = Command::new("npm").args(install).current_dir(&scripts).output();
        if !installed.is_ok_and(|output| output.status.success()) {
            return Err("the npm packages could not be installed (npm ci in crates/web/tests/browser)");
        }
    }
    Ok((scripts, browser))
}

fn drive(scripts: &Path, browser: &str, script: &str, server: &Server, size: &str) -> String {
    let run = Command::new("node")
        .arg(scripts.join(script))
        .args([format!("http://{}/", server.address), size.to_owned()])
        .env("CHROMIUM", browser)
        .output()
        .expect("node runs");
    let (out, err) = (
        String::from_utf8_lossy(&run.stdout).into_owned(),
        String::from_utf8_lossy(&run.stderr),
    );
    assert!(run.status.success(), "{script} at {size}:\n{out}\n{err}");
    out
}

/// A script on a new demo job, at both sizes.
#[expect(
    clippy::print_stdout,
    reason = "what the script says of its times, shown where the test fails"
)]
fn at_both_sizes(script: &str) {
    let (scripts, browser) = match ready() {
        Ok(ready) => ready,
        Err(missing) => {
            writeln!(std::io::stderr(), "skipped: {missing}").ok();
            return;
        }
    };
    for size in ["phone", "desk"] {
        let folder = tempfile::tempdir().expect("a folder");
        let server = Server::start(&folder.path().join("van.job"));
        server.settled(1);
        println!("{}", drive(&scripts, &browser, script, &server, size));
    }
}

#[test]
fn the_bench_works_under_a_thumb_and_at_a_desk() {
    let (scripts, browser) = match ready() {
        Ok(ready) => ready,
        Err(missing) => {
            writeln!(std::io::stderr(), "skipped: {missing}").ok();
            return;
        }
    };
    for size in ["phone", "desk"] {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("van.job");
        let server = Server::start(&path);
        server.settled(1);
        println!("{}", drive(&scripts, &browser, "bench.mjs", &server, size));
        let before = server.json("/api/v1/answer");
        drop(server);
        let again = Server::start(&path);
        let after = again.settled(before["version"].as_u64().unwrap());
        assert_eq!(after["readings"], before["readings"], "readings survive a restart");
        println!("{}", drive(&scripts, &browser, "reopened.mjs", &again, size));
    }
}

#[test]
fn what_was_done_and_seen_is_told_under_a_thumb_and_at_a_desk() {
    at_both_sizes("deeds.mjs");
}

#[test]
fn what_is_said_at_intake_moves_suspicion_and_is_kept() {
    at_both_sizes("intake.mjs");
}

#[test]
fn scan_data_is_pasted_and_noted() {
    at_both_sizes("table.mjs");
}

#[test]
fn a_plan_is_made_beside_the_rest_and_printed_alone() {
    at_both_sizes("plan.mjs");
}

#[test]
fn a_suspect_is_explained_and_its_repair_proved() {
    at_both_sizes("proof.mjs");
}

/// A script on the page before there is a job, at both sizes, with these circuits in the library: group and name each.
#[expect(
    clippy::print_stdout,
    reason = "what the script says of its times, shown where the test fails"
)]
fn before_a_job(script: &str, kept: &[(&str, &str)]) {
    let (scripts, browser) = match ready() {
        Ok(ready) => ready,
        Err(missing) => {
            writeln!(std::io::stderr(), "skipped: {missing}").ok();
            return;
        }
    };
    for size in ["phone", "desk"] {
        let folder = tempfile::tempdir().expect("a folder");
        let library = job::library::Library::at(&folder.path().join("library"));
        for (group, name) in kept {
            library.add(group, name, "2026-11-26", circuit::DEMO).expect("kept");
        }
        let server = Server::choosing(web::start::Beginning {
            jobs: folder.path().to_owned(),
            library: folder.path().join("library"),
            learning: true,
            now_ms: || 1_700_000_000_000,
        });
        println!("{}", drive(&scripts, &browser, script, &server, size));
    }
}

#[test]
fn the_second_vehicle_of_a_kind_takes_one_tap() {
    let kept = [
        ("delivery van", "pressure"),
        ("delivery van", "wiper"),
        ("city car", "pressure"),
    ];
    before_a_job("start.mjs", &kept);
}

#[test]
fn two_codes_and_four_pins_become_a_circuit_and_a_job() {
    before_a_job("codes.mjs", &[]);
}

/// A demo job under another title.
fn kept(folder: &Path, name: &str, title: &str, more: Option<job::What>) {
    let mut store = job::Store::open(&folder.join(name)).expect("a store");
    let mut events = web::demo::events(1_700_000_000_000);
    if let Some(what) = more {
        let id = "more".to_owned();
        events.push(job::Event {
            id,
            what,
            ..events[0].clone()
        });
    }
    for mut event in events {
        if let job::What::Opened { title: old, .. } = &mut event.what {
            title.clone_into(old);
        }
        store.append(event).expect("appended");
    }
}

#[test]
fn the_jobs_of_a_shop_are_listed_begun_and_found_again() {
    let (scripts, browser) = match ready() {
        Ok(ready) => ready,
        Err(missing) => {
            writeln!(std::io::stderr(), "skipped: {missing}").ok();
            return;
        }
    };
    for size in ["phone", "desk"] {
        let folder = tempfile::tempdir().expect("a folder");
        let code = job::What::Code {
            set_up: "key on".into(),
            code: "P0533".into(),
            state: "present".into(),
            seen: String::new(),
        };
        let parts = Some(job::Awaited::Parts);
        kept(folder.path(), "a.job", "HH-PW 31, delivery van", Some(code));
        kept(
            folder.path(),
            "b.job",
            "B-XY 77, city car",
            Some(job::What::Waiting { on: parts }),
        );
        kept(
            folder.path(),
            "c.job",
            "M-AB 5, lorry",
            Some(job::What::Waiting {
                on: Some(job::Awaited::Customer),
            }),
        );
        std::fs::write(folder.path().join("broken.job"), "{\"probewise_job\":1}\nno event\n").expect("written");
        let server = Server::jobs(folder.path());
        println!("{}", drive(&scripts, &browser, "jobs.mjs", &server, size));
    }
}

#[test]
fn a_phone_is_let_in_by_the_code_on_the_benchs_screen() {
    let (scripts, browser) = match ready() {
        Ok(ready) => ready,
        Err(missing) => {
            writeln!(std::io::stderr(), "skipped: {missing}").ok();
            return;
        }
    };
    for size in ["phone", "desk"] {
        let folder = tempfile::tempdir().expect("a folder");
        // Another address of this machine, for one of the shop's network.
        let network = web::Network {
            addresses: vec!["127.0.0.2".parse().expect("an address")],
            ..web::Network::default()
        };
        let server = Server::jobs_in_network(folder.path(), network);
        println!("{}", drive(&scripts, &browser, "nearby.mjs", &server, size));
    }
}

//! The real binary on a job's file: what it writes, and what it refuses.

mod common;

use std::fs;

use common::{run, text};

#[test]
fn the_demo_job_is_written_as_its_name_asks_and_nothing_else_is() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| folder.path().join(name).to_str().expect("plain").to_owned();
    for reader in ["customer", "technician"] {
        let page = path("demo.HTML");
        let done = run(&[
            "write-up",
            "demo",
            "--for",
            reader,
            "--out",
            &page,
            "--utc-offset",
            "-03:30",
        ]);
        assert_eq!(done.status.code(), Some(0), "{}", text(&done.stderr));
        assert!(text(&done.stdout).contains("Van 31"), "{}", text(&done.stdout));
        let told = fs::read_to_string(&page).expect("written");
        assert!(
            told.contains("This job is not finished") && told.contains("11.11 V"),
            "{told}"
        );
        assert_eq!(told.contains("UTC-03:30"), reader == "technician");
        let pages = path("demo.pdf");
        assert_eq!(
            run(&["write-up", "demo", "--for", reader, "--out", &pages])
                .status
                .code(),
            Some(0)
        );
        assert!(fs::read(&pages).expect("written").starts_with(b"%PDF-"));
    }
    for (args, why) in [
        (vec!["demo", "--for", "customer", "--out", "demo.doc"], ".pdf or .html"),
        (
            vec!["demo", "--for", "customer", "--out", "demo.pdf", "--utc-offset", "one"],
            "+01:00",
        ),
        (vec!["demo", "--for", "nobody", "--out", "demo.pdf"], "customer"),
    ] {
        let refused = run(&[&["write-up"][..], &args[..]].concat());
        assert_eq!(refused.status.code(), Some(2), "{args:?}");
        assert!(text(&refused.stderr).contains(why), "{}", text(&refused.stderr));
    }
    let out = path("none.pdf");
    let missing = run(&["write-up", &path("none.job"), "--for", "customer", "--out", &out]);
    assert_eq!(missing.status.code(), Some(3));
    assert!(text(&missing.stderr).contains("none.job") && !fs::exists(&out).expect("asked"));
    let empty = path("empty.job");
    fs::write(&empty, "{\"probewise_job\":1}\n").expect("written");
    let empty = run(&["write-up", &empty, "--for", "customer", "--out", &out]);
    assert!(text(&empty.stderr).contains("no circuit"), "{}", text(&empty.stderr));
}

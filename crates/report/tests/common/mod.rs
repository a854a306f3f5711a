//! A PDF read back, for the tests of whoever makes one.
#![allow(dead_code, reason = "each test file uses a part of it")]
#![allow(
    clippy::allow_attributes,
    reason = "expect would fail in a test file that uses everything"
)]

use std::io::Write as _;
use std::process::{Command, Stdio};

/// Text of each page as it is laid out. `None` where the tool is not on this machine, which is no reason to pass where `CI`
/// is set.
pub(crate) fn pages(bytes: &[u8]) -> Option<Vec<String>> {
    read(bytes, "-layout")
}

#[expect(clippy::print_stdout, reason = "a check that is skipped says so")]
fn read(bytes: &[u8], how: &str) -> Option<Vec<String>> {
    let reader = Command::new("pdftotext")
        .args([how, "-", "-"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn();
    let Ok(mut reader) = reader else {
        let missing = "pdftotext (Debian's poppler-utils) is not on this machine";
        assert!(
            std::env::var_os("CI").is_none(),
            "{missing}, and these checks are not to be skipped here"
        );
        println!("skipped: {missing}");
        return None;
    };
    let mut into = reader.stdin.take().expect("asked for");
    let bytes = bytes.to_vec();
    let writing = std::thread::spawn(move || into.write_all(&bytes));
    let told = reader.wait_with_output().expect("it ends");
    writing.join().expect("no panic").expect("it reads all");
    assert!(told.status.success());
    let text = String::from_utf8(told.stdout).expect("UTF-8");
    Some(text.split_terminator('\u{c}').map(str::to_owned).collect())
}

/// All text in the order in which it was written, without blanks: what was broken into lines is found again.
#[allow(dead_code, reason = "each test file uses a part of it")]
#[allow(
    clippy::allow_attributes,
    reason = "expect would fail in the test files that use everything"
)]
pub(crate) fn run_together(bytes: &[u8]) -> Option<String> {
    let pages = read(bytes, "-raw")?;
    Some(pages.concat().split_whitespace().collect())
}

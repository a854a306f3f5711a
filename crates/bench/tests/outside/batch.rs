//! Many decks solved by one ngspice.

use std::fmt::Write as _;
use std::process::Command;

use super::deck::Raw;

/// Operating points of decks, in their order; `None` in place of one that ngspice did not find. `None` at all where it is
/// not installed. What no stepping solves is not tried by a transient (`optran`): it takes a second and finds nothing.
/// The deck's own commands are left out; `name` makes the folder of the files unlike any other.
pub(crate) fn solve(name: &str, decks: &[String]) -> Option<Vec<Option<Raw>>> {
    if let Err(error) = Command::new("ngspice").arg("--version").output() {
        println!("SKIPPED: ngspice cannot be started ({error}); install it with apt-get install ngspice");
        return None;
    }
    let folder = std::env::temp_dir().join(format!("bench-{name}-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder for decks");
    let mut script = String::from("all decks\n.control\nset filetype=ascii\nset noaskquit\noptran 1 1 1 0 0 0\n");
    for (at, deck) in decks.iter().enumerate() {
        let text = deck.split(".control\n").next().unwrap_or_default();
        std::fs::write(folder.join(format!("{at}.cir")), format!("{text}.end\n")).expect("a deck is written");
        let _ = writeln!(script, "source {at}.cir\nop\nwrite {at}.raw\nremcirc\ndestroy all");
    }
    script.push_str("quit\n.endc\n.end\n");
    std::fs::write(folder.join("all.cir"), script).expect("a deck is written");
    let output = Command::new("ngspice")
        .args(["-b", "all.cir"])
        .current_dir(&folder)
        .output();
    output.expect("ngspice answers");
    let raw = |at: usize| read(&std::fs::read_to_string(folder.join(format!("{at}.raw"))).ok()?);
    let found = (0..decks.len()).map(raw).collect();
    std::fs::remove_dir_all(&folder).expect("the folder can go");
    Some(found)
}

/// The operating point of an ASCII raw file.
fn read(text: &str) -> Option<Raw> {
    let (head, values) = text.split_once("Values:")?;
    if !head.contains("Plotname: Operating Point") {
        return None;
    }
    let variables = head.split_once("\nVariables:")?.1.lines();
    let names = variables.filter_map(|line| line.split_whitespace().nth(1));
    let numbers = values.split_whitespace().skip(1).filter_map(|word| word.parse().ok());
    Some(names.map(str::to_owned).zip(numbers).collect())
}

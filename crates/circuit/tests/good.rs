//! Circuit files that are right: what they become.

use circuit::{Circuit, parse};

#[track_caller]
fn read(text: &str) -> Circuit {
    parse(text).unwrap_or_else(|mistakes| {
        panic!("{}", mistakes.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))
    })
}

#[test]
fn the_demo_is_read() {
    let circuit = read(circuit::DEMO);
    for b in &circuit.branches { println!("{} {:?} {:?}", b.path, b.role, b.kind); }
    for p in &circuit.points { println!("{} | {} | {:?}", p.path, p.words, p.access); }
    for p in &circuit.params { println!("{:?}", p); }
}

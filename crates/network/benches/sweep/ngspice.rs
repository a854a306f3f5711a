//! The same variants in ngspice.

use std::fmt::Write as _;
use std::process::{Command, Stdio};
use std::time::Instant;

use network::Element;
use network::sweep::{Port, Probe, Readings, Scratch, Strengths, Sweep};

use super::Variants;
use super::spice::deck;

/// Variants of the shorter run, and of the longer one.
const SHORT: usize = 1000;
const LONG: usize = 3000;
/// Agreement asked of both, volts and relative.
const VOLTS: f64 = 1e-5;
const RELATIVE: f64 = 1e-5;
/// Stands before what a variant reads.
const MARK: &str = "variant";

/// One port after the other, at one strength after the other: port, strength's place, element and strength.
fn variant(variants: &Variants, k: usize) -> (usize, usize, u32, f64) {
    let (port, at) = (
        k / variants.strengths.len() % variants.ports.len(),
        k % variants.strengths.len(),
    );
    let Port::Series { element } = variants.ports[port] else {
        panic!("ngspice is asked of contacts only");
    };
    (port, at, element.0, variants.strengths[at])
}

fn run(variants: &Variants, n: usize, told: bool) -> Option<(f64, String)> {
    let mut text = deck(&variants.netlist).replace(".end\n", ".control\n");
    let mut before: Option<u32> = None;
    for k in 0..n {
        let (_, _, element, strength) = variant(variants, k);
        let ohms = |element: u32| match variants.netlist.elements[element as usize] {
            Element::Resistor { ohms, .. } => Some(ohms),
            _ => None,
        };
        if let Some(before) = before.filter(|before| *before != element) {
            writeln!(text, "alter R{before} = {:e}", ohms(before)?).ok()?;
        }
        before = Some(element);
        writeln!(text, "alter R{element} = {:e}\nop", ohms(element)? + strength).ok()?;
        for (at, probe) in variants.probes.iter().enumerate() {
            if let Probe::Volts(node, _) = probe {
                writeln!(text, "let p{at} = v({})", node.0).ok()?;
            }
        }
        if told {
            writeln!(text, "echo {MARK} {k}\nprint p0 p1 p2 p3 p4 p5 p6 p7").ok()?;
        }
        text.push_str("destroy all\n");
    }
    text.push_str("quit\n.endc\n.end\n");
    let folder = tempfile::tempdir().ok()?;
    let path = folder.path().join("variants.cir");
    std::fs::write(&path, text.replace(".options", ".options numdgt=12")).ok()?;
    let began = Instant::now();
    let mut ngspice = Command::new("ngspice");
    ngspice.arg("-b").arg(&path);
    if !told {
        ngspice.stdout(Stdio::null());
    }
    let output = ngspice.stderr(Stdio::null()).output().ok()?;
    Some((
        began.elapsed().as_secs_f64(),
        String::from_utf8_lossy(&output.stdout).into_owned(),
    ))
}

/// Seconds of a variant, after both have been found to agree. `None` without ngspice.
pub(crate) fn measure(variants: &Variants, sweep: &Sweep) -> Option<f64> {
    let (_, told) = run(variants, SHORT, true)?;
    let strengths = Strengths::single(&variants.strengths);
    let (mut readings, mut scratch) = <(Readings, Scratch)>::default();
    let mut answered = 0;
    for section in told.split(MARK).skip(1) {
        let mut lines = section.lines();
        let k: usize = lines.next()?.trim().parse().ok()?;
        let theirs: Vec<f64> = lines
            .filter(|line| line.starts_with('p'))
            .filter_map(|line| line.split_once(" = ")?.1.trim().parse().ok())
            .collect();
        if theirs.len() != 8 {
            continue; // It found no operating point.
        }
        let (port, at, ..) = variant(variants, k);
        answered += 1;
        sweep.read(&[port], &strengths, &mut readings, &mut scratch);
        assert!(
            !readings.beyond()[at],
            "{}: port {port} is beyond the sweep",
            variants.name
        );
        for (probe, theirs) in theirs.iter().enumerate() {
            let ours = readings.of(probe)[at];
            let off = (ours - theirs).abs();
            let name = &variants.name;
            assert!(
                off <= VOLTS + RELATIVE * ours.abs(),
                "{name}: port {port}, strength {at}, probe {probe}: {ours} for {theirs}"
            );
        }
    }
    assert!(
        answered * 100 >= SHORT * 98,
        "ngspice answers {answered} variants of {SHORT}"
    );
    let best = |n| {
        (0..3)
            .filter_map(|_| run(variants, n, false))
            .map(|run| run.0)
            .fold(f64::INFINITY, f64::min)
    };
    Some((best(LONG) - best(SHORT)) / (LONG - SHORT) as f64)
}

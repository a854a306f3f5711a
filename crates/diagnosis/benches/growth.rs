//! How the cost of reasoning grows with the circuit: `cargo bench -p diagnosis --bench growth`.
//!
//! Harnesses of 2 to 40 sensors on one reference and one sensor ground, each by way of a joint of its own: 20 to 400
//! terminals. The vehicle has water in the first joint; the readings are scan data and three voltages at that joint. With
//! `-- --plot FILE` an SVG of it.
#![expect(clippy::print_stdout, reason = "a table of times is what it is for")]

use std::error::Error;
use std::fmt::Write as _;
use std::sync::Arc;
use std::time::Instant;

use bench::{Bench, Hypothesis, Placement, Predict, Question, Reading, Shown};
use circuit::{Circuit, SetUp};
use diagnosis::{Case, Intake, Options, Predictions, Scene, propose, weigh};

const SENSORS: [usize; 7] = [2, 4, 7, 12, 20, 30, 40];
/// What lies in the first joint, ohms.
const WATER_OHMS: f64 = 1500.0;
/// Each time is the least of so many, unless it is as long as this (ms): then it is told as it was.
const TIMES: usize = 3;
const LONG: f64 = 2000.0;

/// A figure of a circuit.
type Of = fn(&Cost) -> f64;

/// What one circuit costs, milliseconds.
struct Cost {
    terminals: usize,
    faults: usize,
    /// Suspects after the first reading, nothing known; after the fourth; the next test after it, nothing known there.
    first: f64,
    fourth: f64,
    next: f64,
}

fn main() -> Result<(), Box<dyn Error>> {
    println!("terminals faults | suspects after 1 reading, after 1 more, next test (ms) | most memory so far (MB)");
    let mut costs = Vec::new();
    for sensors in SENSORS {
        let cost = cost(sensors)?;
        println!(
            "{:9} {:6} | {:8.1} {:8.1} {:8.1} | {:.0}",
            cost.terminals,
            cost.faults,
            cost.first,
            cost.fourth,
            cost.next,
            most_memory_mb()
        );
        costs.push(cost);
    }
    let mut words = std::env::args().skip_while(|word| word != "--plot").skip(1);
    if let Some(file) = words.next() {
        std::fs::write(&file, plot(&costs))?;
    }
    Ok(())
}

fn cost(sensors: usize) -> Result<Cost, Box<dyn Error>> {
    let circuit = Arc::new(circuit::parse(&text(sensors)).map_err(|mistakes| format!("{mistakes:?}"))?);
    let faults = circuit::possible_faults(&circuit);
    let water = faults
        .iter()
        .find(|fault| fault.path.starts_with("J0.") && fault.path.ends_with("/leak"))
        .ok_or("the first joint can be wet")?;
    let truth = Hypothesis {
        faults: vec![(water, WATER_OHMS)],
    };
    let mut cost = Cost {
        // Of the module, of both halves of each joint, of each sensor.
        terminals: 4 + 10 * sensors,
        faults: faults.len(),
        first: f64::INFINITY,
        fourth: f64::INFINITY,
        next: f64::INFINITY,
    };
    for _ in 0..TIMES {
        if cost.next > LONG && cost.next.is_finite() {
            break;
        }
        let bench = Bench::new(Arc::clone(&circuit))?;
        let mut predictions = Predictions::default();
        let mut readings = Vec::new();
        let intake = Intake::default();
        for at in [
            "scan value0",
            "voltmeter S0.3 battery-",
            "voltmeter S0.1 battery-",
            "voltmeter S0.2 battery-",
        ] {
            let test = bench::parse_test(&circuit, &format!("{at}; key on"))?;
            let answer = bench.predict(Question::of(std::slice::from_ref(&truth), &test))?;
            let value = answer.predictions.first().ok_or("one answer")?.value;
            readings.push(Reading {
                shown: match test.placement {
                    Placement::Scan { .. } => Shown::Number {
                        value,
                        resolution: 0.01,
                    },
                    _ => Shown::Number {
                        value,
                        resolution: 0.001,
                    },
                },
                test,
            });
            let started = Instant::now();
            let belief = weigh(
                &bench,
                &circuit,
                &faults,
                &Case::new(&intake, &readings),
                &mut predictions,
            )?;
            let weighed = milliseconds(started);
            match readings.len() {
                1 => cost.first = cost.first.min(weighed),
                4 => {
                    cost.fourth = cost.fourth.min(weighed);
                    cost.next = cost
                        .next
                        .min(next(&bench, &circuit, &faults, &belief, &readings, &mut predictions)?);
                }
                _ => {}
            }
        }
    }
    Ok(cost)
}

fn next(
    bench: &Bench,
    circuit: &Circuit,
    faults: &[circuit::Fault],
    belief: &diagnosis::Belief<'_>,
    readings: &[Reading],
    predictions: &mut Predictions,
) -> Result<f64, Box<dyn Error>> {
    let now = SetUp::normal();
    let scene = Scene {
        bench,
        circuit,
        faults,
        belief,
        readings,
        now: &now,
    };
    let started = Instant::now();
    propose(
        &scene,
        predictions,
        &Options {
            n: 3,
            ..Options::default()
        },
    )?;
    Ok(milliseconds(started))
}

fn milliseconds(started: Instant) -> f64 {
    1e3 * started.elapsed().as_secs_f64()
}

/// Sensors on one reference and one ground, each behind a joint of three.
fn text(sensors: usize) -> String {
    let mut text = String::from(
        "title = \"Many sensors on one reference\"\n[feed.ignition]\nfrom = \"battery+\"\nlive = [\"on\", \"running\"]\n\
         [fuse.F1]\nfrom = \"ignition\"\nrating = \"10 A\"\n[ground.G1]\n",
    );
    let last = sensors + 4;
    let _ = writeln!(
        text,
        "[module.engine.pin]\nA1.1 = {{ kind = \"feed\" }}\nA1.2 = {{ kind = \"ground\" }}\n\
         A1.3 = {{ kind = \"reference\", limit = \"300 mA\", ohms = \"0.8 Ω\" }}\nA1.4 = {{ kind = \"sensor ground\" }}"
    );
    for at in 0..sensors {
        let _ = writeln!(
            text,
            "A1.{} = {{ kind = \"input\", pull_up = \"220k\", pull_down = \"none\", series = \"10k\" }}",
            at + 5
        );
    }
    let mut wires =
        String::from("[wire]\nW1 = { from = \"F1/out\", to = \"A1.1\" }\nW2 = { from = \"A1.2\", to = \"G1\" }\n");
    let _ = writeln!(
        wires,
        "R = {{ from = \"A1.3\", to = \"SP1\" }}\nG = {{ from = \"A1.4\", to = \"SP2\" }}"
    );
    let (mut sensed, mut channels, mut devices) = (String::new(), String::new(), String::new());
    let mut connectors = format!("[connector]\nA1 = {{ rows = [\"1-{last}\"] }}\n");
    for at in 0..sensors {
        let _ = writeln!(sensed, "value{at} = {{ unit = \"bar\", range = [0, 4], usual = 1 }}");
        let _ = writeln!(
            channels,
            "[module.engine.channel.value{at}]\npin = \"A1.{}\"\nscaling = [[\"0.5 V\", 0], [\"4.5 V\", 4]]\nunit = \"bar\"",
            at + 5
        );
        let _ = writeln!(
            devices,
            "[device.sensor{at}]\nkind = \"three-wire sensor\"\nsenses = \"value{at}\"\n\
             pins = {{ reference = \"S{at}.1\", ground = \"S{at}.2\", signal = \"S{at}.3\" }}"
        );
        let _ = writeln!(
            connectors,
            "S{at} = {{ rows = [\"1-3\"] }}\nJ{at} = {{ rows = [\"1-3\"], sides = [\"module side\", \"sensor side\"], wet = true }}"
        );
        for (pin, from) in ["SP1", "SP2", &format!("A1.{}", at + 5)].into_iter().enumerate() {
            let pin = pin + 1;
            let _ = writeln!(
                wires,
                "W{at}{pin}a = {{ from = \"{from}\", to = \"J{at}.{pin}/a\" }}\nW{at}{pin}b = {{ from = \"J{at}.{pin}/b\", to = \"S{at}.{pin}\" }}"
            );
        }
    }
    format!("{text}[sensed]\n{sensed}{channels}{devices}{connectors}[splice]\nSP1 = {{}}\nSP2 = {{}}\n{wires}")
}

/// The most memory that this process ever held, where the system tells.
fn most_memory_mb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let kilobytes = line.and_then(|line| line.trim().trim_end_matches(" kB").trim().parse::<f64>().ok());
    kilobytes.map_or(f64::NAN, |kilobytes| kilobytes / 1024.0)
}

/// Both axes by their logarithms.
fn plot(costs: &[Cost]) -> String {
    let x = |terminals: usize| 70.0 + 540.0 * ((terminals as f64 / 10.0).log10() / 50_f64.log10());
    let y = |ms: f64| 390.0 - 330.0 * (ms.max(1.0).log10() / 4.0);
    let mut svg = String::from(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 680 450\" font-family=\"sans-serif\" font-size=\"13\">\n\
         <rect width=\"680\" height=\"450\" fill=\"#fff\"/>\n\
         <text x=\"70\" y=\"30\" font-size=\"16\">Time for a step by terminals of the circuit, ms (both axes logarithmic)</text>\n",
    );
    for terminals in [10, 20, 50, 100, 200, 500] {
        let at = x(terminals);
        let _ = writeln!(
            svg,
            "<path d=\"M{at:.1} 60V390\" stroke=\"#ddd\"/><text x=\"{at:.1}\" y=\"408\" text-anchor=\"middle\">{terminals}</text>"
        );
    }
    for ms in [1.0, 10.0, 100.0, 1000.0, 10000.0] {
        let at = y(ms);
        let _ = writeln!(
            svg,
            "<path d=\"M70 {at:.1}H610\" stroke=\"#ddd\"/><text x=\"64\" y=\"{:.1}\" text-anchor=\"end\">{ms}</text>",
            at + 4.0
        );
    }
    let _ = writeln!(svg, "<text x=\"340\" y=\"432\" text-anchor=\"middle\">terminals</text>");
    let curves: [(&str, &str, Of); 3] = [
        ("suspects after the first reading", "#1f6fb2", |cost| cost.first),
        ("suspects after one more", "#2b8a3e", |cost| cost.fourth),
        ("next test", "#c2410c", |cost| cost.next),
    ];
    for (at, (name, colour, of)) in curves.into_iter().enumerate() {
        let points: Vec<String> = costs
            .iter()
            .map(|cost| format!("{:.1} {:.1}", x(cost.terminals), y(of(cost))))
            .collect();
        let down = 80 + 18 * at;
        let _ = writeln!(
            svg,
            "<path d=\"M{}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"2\"/>\n\
             <text x=\"84\" y=\"{down}\" fill=\"{colour}\">{name}</text>",
            points.join("L")
        );
    }
    svg.push_str("</svg>\n");
    svg
}

//! What a swept hypothesis costs, beside ngspice. Run with `cargo bench -p network --bench sweep`; a table of a minute or two.
//!
//! ngspice runs in one process: a netlist loaded once, then `alter`, `op` and eight node voltages for each variant, in the
//! script that this writes. Its time is that of 3,000 variants less that of 1,000, so that starting up does not count; its
//! tolerances are those of `tests/ngspice.rs`. The readings of both are compared before anything is timed.

#![expect(clippy::print_stdout, reason = "a benchmark prints its table")]
#![expect(clippy::unwrap_used, reason = "a benchmark fails by panicking")]

mod circuits;
mod limit;
mod ngspice;

#[path = "../../tests/common/spice.rs"]
mod spice;

use std::hint::black_box;
use std::time::Instant;

use circuits::{Variants, harness, sensor};
use network::States;
use network::sweep::{Readings, Scratch, Strengths, Sweep};

/// Seconds that `work` takes, the least of a few runs.
fn seconds(mut work: impl FnMut()) -> f64 {
    let mut least = f64::INFINITY;
    for _ in 0..5 {
        let began = Instant::now();
        work();
        least = least.min(began.elapsed().as_secs_f64());
    }
    least
}

fn prepared(variants: &Variants) -> Sweep {
    let start = States::initial(&variants.netlist);
    Sweep::new(&variants.netlist, &start, &variants.ports, &variants.probes)
        .unwrap()
        .unwrap()
}

/// Nanoseconds of a hypothesis, all strengths of a port in one call; and of one alone in a call.
fn per_single(sweep: &Sweep, strengths: &[f64]) -> (f64, f64) {
    let (mut readings, mut scratch) = <(Readings, Scratch)>::default();
    let together = Strengths::single(strengths);
    let each: Vec<Strengths> = strengths.iter().map(|one| Strengths::single(&[*one])).collect();
    let rounds = 1 + 200_000 / (sweep.n_ports() * strengths.len());
    let n = (rounds * sweep.n_ports() * strengths.len()) as f64;
    let mut read = |of: &[Strengths]| {
        seconds(|| {
            for _ in 0..rounds {
                for port in 0..sweep.n_ports() {
                    for strengths in of {
                        sweep.read(&[port], strengths, &mut readings, &mut scratch);
                        black_box(&readings);
                    }
                }
            }
        })
    };
    (1e9 * read(std::slice::from_ref(&together)) / n, 1e9 * read(&each) / n)
}

fn against_ngspice() {
    println!("| circuit | ngspice, a variant | preparation | sweep, a variant | one alone | ratio | paid after |");
    println!("| --- | --- | --- | --- | --- | --- | --- |");
    for variants in [harness(20, 18), harness(200, 60), sensor()] {
        let began = seconds(|| drop(black_box(prepared(&variants))));
        let sweep = prepared(&variants);
        let (many, alone) = per_single(&sweep, &variants.strengths);
        let Some(spice) = ngspice::measure(&variants, &sweep) else {
            println!(
                "| {} | not installed | {:.2} ms | {many:.1} ns | {alone:.1} ns | | |",
                variants.name,
                1e3 * began
            );
            continue;
        };
        println!(
            "| {} | {:.0} µs | {:.2} ms | {many:.1} ns | {alone:.1} ns | {:.0} | {:.0} variants |",
            variants.name,
            1e6 * spice,
            1e3 * began,
            spice / (1e-9 * many),
            began / (spice - 1e-9 * many)
        );
    }
}

/// All double faults of 300 ports, each at nine severities, eight probes.
fn all_doubles() {
    let variants = harness(200, 300);
    let sweep = prepared(&variants);
    let strengths = Strengths::pairs(&variants.strengths, &variants.strengths);
    let n = (300 * 299 / 2 * strengths.len()) as f64;
    let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    let sum = |_: [usize; 2], readings: &Readings| readings.of(7).iter().sum::<f64>();
    let whole =
        |pool: &rayon::ThreadPool| seconds(|| drop(black_box(pool.install(|| sweep.all_pairs(&strengths, sum)))));
    let all = rayon::ThreadPoolBuilder::new().build().unwrap();
    let (alone, together) = (whole(&one), whole(&all));
    // det: 3 products, 3 sums; one quotient; two numerators of 2 and a product each; 8 probes of 2 products and 2 sums.
    let flops = 6.0 + 1.0 + 6.0 + 8.0 * 4.0;
    let peak = limit::flops_per_second();
    println!(
        "\nAll doubles of 300 faults, {} pairs of severities each: {n:.2e} hypotheses, 8 probes.",
        strengths.len()
    );
    println!(
        "One core {:.0} ms, {:.2} ns each, {:.2} GFLOP/s of {:.2} that a loop of the same operations reaches: {:.0} %. All cores {:.0} ms.",
        1e3 * alone,
        1e9 * alone / n,
        flops * n / alone / 1e9,
        peak / 1e9,
        100.0 * flops * n / alone / peak,
        1e3 * together
    );
    println!("The table holds {:.1} MB.", sweep.bytes() as f64 / 1e6);
}

fn scaling() {
    println!("\n| nodes | preparation, 32 ports | sweep, a single | a double | table |");
    println!("| --- | --- | --- | --- | --- |");
    let mut points = Vec::new();
    for n_nodes in [20, 50, 100, 200, 500, 1000, 2000] {
        let variants = harness(n_nodes, 32);
        let preparation = seconds(|| drop(black_box(prepared(&variants))));
        let sweep = prepared(&variants);
        let (single, _) = per_single(&sweep, &variants.strengths);
        let strengths = Strengths::pairs(&variants.strengths, &variants.strengths);
        let n = (32 * 31 / 2 * strengths.len()) as f64;
        let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
        let sum = |_: [usize; 2], readings: &Readings| readings.of(7).iter().sum::<f64>();
        let double = 1e9 / n * seconds(|| drop(black_box(one.install(|| sweep.all_pairs(&strengths, sum)))));
        println!(
            "| {n_nodes} | {:.2} ms | {single:.1} ns | {double:.2} ns | {:.2} MB |",
            1e3 * preparation,
            sweep.bytes() as f64 / 1e6
        );
        points.push(((n_nodes as f64).ln(), preparation.ln(), single.ln()));
    }
    let exponent = |of: &dyn Fn(&(f64, f64, f64)) -> f64| {
        let n = points.len() as f64;
        let (mx, my) = (
            points.iter().map(|p| p.0).sum::<f64>() / n,
            points.iter().map(of).sum::<f64>() / n,
        );
        let (xy, xx) = points.iter().fold((0.0, 0.0), |(xy, xx), p| {
            (xy + (p.0 - mx) * (of(p) - my), xx + (p.0 - mx).powi(2))
        });
        xy / xx
    };
    println!(
        "Fitted exponents: preparation {:.2}, a hypothesis {:.2}.",
        exponent(&|p| p.1),
        exponent(&|p| p.2)
    );
}

fn main() {
    against_ngspice();
    all_doubles();
    scaling();
}

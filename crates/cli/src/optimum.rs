//! `trials --optimum`: circuits as small tables, on which the cheapest search is known exactly.

use std::fmt::Write as _;

use serde_json::{Value, json};
use trials::{Optimum, Yard, optimum};

use crate::args::TrialsArgs;
use crate::source::Failure;
use crate::{out, trials::Progress};

/// Solves a table a circuit and prints what each way of searching costs on it.
pub(crate) fn print(args: &TrialsArgs, yards: &[Yard]) -> Result<(), Failure> {
    let progress = Progress::new(yards.len() as u64, "circuits solved");
    let vehicles = usize::try_from(args.jobs).unwrap_or(usize::MAX);
    let each = yards.iter().map(|yard| {
        let found = optimum(yard, args.seed, vehicles, args.tests)?;
        progress.step();
        Ok(found)
    });
    let found: Vec<Optimum> = each.collect::<Result<_, Failure>>()?;
    if args.json {
        let all: Vec<Value> = found.iter().map(to_json).collect();
        out::line(format_args!("{:#}", json!({ "seed": args.seed, "tables": all })))
    } else {
        out::print(text(&found))
    }
}

fn text(found: &[Optimum]) -> String {
    let mut text = format!(
        "{:<18} {:>8} {:>5} {:>7} {:>7} | cost over the optimum: {:>7} {:>8} {:>8}\n",
        "circuit", "vehicles", "tests", "least", "optimum", "product", "one-step", "in order"
    );
    for of in found {
        let over = |cost: f64| cost / of.optimum;
        let _ = writeln!(
            text,
            "{:<18} {:>8} {:>5} {:>7.1} {:>7.1} | {:>30.3} {:>8.3} {:>8.3}",
            of.circuit,
            of.size.0,
            of.size.1,
            of.least,
            of.optimum,
            over(of.product),
            over(of.one_step),
            over(of.in_order)
        );
    }
    let mean = |cost: fn(&Optimum) -> f64| {
        found.iter().map(|of| cost(of) / of.optimum).sum::<f64>() / found.len().max(1) as f64
    };
    let _ = writeln!(
        text,
        "{:<49} | {:>30.3} {:>8.3} {:>8.3}",
        "mean",
        mean(|of| of.product),
        mean(|of| of.one_step),
        mean(|of| of.in_order)
    );
    text
}

fn to_json(of: &Optimum) -> Value {
    json!({
        "circuit": of.circuit, "vehicles": of.size.0, "tests": of.size.1, "least": of.least, "optimum": of.optimum,
        "product": of.product, "one_step": of.one_step, "in_order": of.in_order,
    })
}

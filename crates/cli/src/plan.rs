//! `plan`: the next steps as a short tree, to be printed.

use std::fmt::Write as _;

use circuit::SetUp;
use diagnosis::{Options, Plan, Predictions, Proposal, Scene, Step, plan as made, weigh};
use serde_json::{Value, json};
use web::words;

use crate::args::PlanArgs;
use crate::commands::{Answer, print_json};
use crate::out;
use crate::show;
use crate::source::{Failure, Source};

pub(crate) fn plan(args: &PlanArgs) -> Result<Answer, Failure> {
    let source = Source::told(&args.readings)?;
    let facts = source.facts(&args.readings)?;
    let case = facts.case();
    let now = match (&args.now, facts.readings.last()) {
        (Some(text), _) => source.set_up("--now", text)?,
        (None, Some(last)) => last.test.set_up.clone(),
        (None, None) => SetUp::default(),
    };
    let (bench, circuit, faults) = (&source.bench, &source.circuit, &source.faults);
    let mut predictions = Predictions::default();
    let belief = weigh(bench, circuit, faults, &case, &mut predictions)?;
    let scene = Scene {
        bench,
        circuit,
        faults,
        belief: &belief,
        readings: case.current_readings(),
        now: &now,
    };
    let options = Options {
        costs: args.money.costs(),
        ..Options::default()
    };
    let plan = made(&scene, &case, &options, args.steps, &mut predictions, &|_| ())?;
    if args.readings.circuit.json {
        print_json(&to_json(&source, &plan))?;
    } else {
        let mut text = String::new();
        write(&source, &plan, "", &mut text);
        out::print(text)?;
    }
    Ok(if matches!(plan, Plan::Stop(_)) {
        Answer::No
    } else {
        Answer::Done
    })
}

fn write(source: &Source, plan: &Plan, indent: &str, out: &mut String) {
    let circuit = &source.circuit;
    match plan {
        Plan::Stop(findings) => {
            let (_, conclusion) = words::conclusion(circuit, &source.faults, findings);
            let _ = writeln!(out, "{indent}{conclusion}");
        }
        Plan::Later => {}
        Plan::Measure(step) => {
            let Step { proposal, branches } = &**step;
            let (title, minutes) = (words::title(circuit, &proposal.tests), words::minutes(proposal.minutes));
            let _ = writeln!(out, "{indent}{title}, {minutes}");
            if let Some(first) = proposal.tests.first() {
                let _ = writeln!(out, "{indent}  set-up: {}", first.set_up.to_text(circuit));
            }
            for test in &proposal.tests {
                let _ = writeln!(out, "{indent}  {}", words::placement(circuit, &test.placement));
            }
            for (outcome, then) in branches {
                let alone = Proposal {
                    outcomes: vec![outcome.clone()],
                    ..proposal.clone()
                };
                let Some(words_of) = web::outcomes::of(circuit, &source.faults, &alone).pop() else {
                    continue;
                };
                let chance = words::percent(outcome.chance);
                let _ = writeln!(out, "{indent}  if {} ({chance}): {}", words_of.shows, words_of.means);
                write(source, then, &format!("{indent}    "), out);
            }
        }
    }
}

fn to_json(source: &Source, plan: &Plan) -> Value {
    match plan {
        Plan::Stop(findings) => json!({ "kind": "stop", "conclusion": show::conclusion(source, findings) }),
        Plan::Later => json!({ "kind": "later" }),
        Plan::Measure(step) => {
            let proposal = &step.proposal;
            let branches: Vec<Value> = step
                .branches
                .iter()
                .map(|(outcome, then)| {
                    json!({ "if": show::outcome(source, &proposal.tests, outcome), "then": to_json(source, then) })
                })
                .collect();
            json!({ "kind": "measure", "step": show::proposal(source, proposal), "branches": branches })
        }
    }
}

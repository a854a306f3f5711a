//! `why`: what speaks for and against a suspect, and what it leans on.

use std::fmt::Write as _;

use bench::Reading;
use circuit::FaultId;
use diagnosis::{Assumption, Predictions, Why, weigh, why as reasons};
use serde_json::{Value, json};
use web::words;
use web::words::why as said;

use crate::args::WhyArgs;
use crate::commands::{Answer, print_json};
use crate::out;
use crate::show::{self, number};
use crate::source::{Failure, Source};

pub(crate) fn why(args: &WhyArgs) -> Result<Answer, Failure> {
    let source = Source::told(&args.readings)?;
    let facts = source.facts(&args.readings)?;
    let (case, readings) = (facts.case(), &facts.readings);
    let (bench, circuit, faults) = (&source.bench, &source.circuit, &source.faults);
    let mut predictions = Predictions::default();
    let belief = weigh(bench, circuit, faults, &case, &mut predictions)?;
    let findings = belief.findings(bench, &mut predictions, None)?;
    let asked = args
        .suspect
        .as_ref()
        .map(|path| source.fault_id("the suspect", path))
        .transpose()?;
    let suspect = findings.suspects.iter().find(|suspect| {
        asked.is_none_or(|asked| suspect.fault == asked || suspect.look_alikes.iter().any(|like| like.0 == asked))
    });
    let group: Vec<FaultId> = match (suspect, asked) {
        (Some(suspect), _) => suspect.look_alikes.iter().map(|like| like.0).collect(),
        (None, asked) => asked.into_iter().collect(),
    };
    let why = reasons(bench, circuit, faults, &case, &group, &mut predictions)?;
    if args.readings.circuit.json {
        print_json(&to_json(&source, readings, &group, &why))?;
    } else {
        out::print(to_text(&source, readings, &group, &why))?;
    }
    Ok(Answer::Done)
}

fn to_text(source: &Source, readings: &[Reading], group: &[FaultId], why: &Why) -> String {
    let circuit = &source.circuit;
    let mut out = String::new();
    for (at, fault) in group.iter().enumerate() {
        let fault = &source.faults[fault.idx()];
        let or = if at == 0 { "" } else { "  or " };
        let _ = writeln!(out, "{or}{}", words::proof::left(fault));
    }
    let (chance, before) = (words::percent(why.chance), words::percent(why.chance_before));
    let _ = writeln!(out, "{chance}; before any reading {before}.");
    let learnt = group.first().map(|fault| &source.faults[fault.idx()]);
    let learnt = learnt.map_or_else(String::new, |fault| {
        web::learning::words(&source.experience, circuit, fault)
    });
    if !learnt.is_empty() {
        let _ = writeln!(out, "{}.", words::capital(&learnt));
    }
    for (reading, (bits, expects)) in readings.iter().zip(&why.readings) {
        let _ = writeln!(
            out,
            "  {:>+5.1}  {} ({})",
            bits,
            words::why(circuit, reading, *bits, *expects),
            words::set_up_short(circuit, &reading.test.set_up)
        );
    }
    let _ = writeln!(out, "{}", said::leans_on(circuit, readings, why));
    out += "Taken to be so, and what it would be otherwise:\n";
    for &(assumption, then) in &why.leans_on {
        let _ = writeln!(
            out,
            "  {}: {}, {}",
            words::capital(&said::assumed(circuit, readings, assumption)),
            said::relaxed(assumption),
            words::percent(then)
        );
    }
    out
}

fn to_json(source: &Source, readings: &[Reading], group: &[FaultId], why: &Why) -> Value {
    let circuit = &source.circuit;
    let of_reading = readings.iter().zip(&why.readings).map(|(reading, (bits, expects))| {
        let mut value = show::test(circuit, &reading.test);
        value["shown"] = json!(reading.shown.to_text(&reading.test.placement, circuit));
        value["bits"] = number(*bits);
        value["expects"] = expects.map_or(
            Value::Null,
            |(middle, deviation)| json!({ "value": number(middle), "deviation": number(deviation) }),
        );
        value
    });
    let leans: Vec<Value> = why
        .leans_on
        .iter()
        .map(|&(assumption, then)| {
            let about = match assumption {
                Assumption::Reading(at) => json!(at),
                Assumption::Tolerance(id) => json!(circuit.params[id.idx()].path),
                Assumption::Replaced(id) | Assumption::Disturbed(id) | Assumption::Accessory(id) => {
                    json!(circuit.parts[id.idx()].id)
                }
                _ => Value::Null,
            };
            json!({
                "assumption": kind(assumption), "about": about, "chance": number(then),
                "what": said::assumed(circuit, readings, assumption),
            })
        })
        .collect();
    let paths: Vec<&str> = group
        .iter()
        .map(|fault| source.faults[fault.idx()].path.as_str())
        .collect();
    json!({
        "look_alikes": paths, "chance": number(why.chance), "chance_before": number(why.chance_before),
        "readings": of_reading.collect::<Vec<_>>(), "leans_on": leans,
    })
}

fn kind(assumption: Assumption) -> &'static str {
    match assumption {
        Assumption::Reading(_) => "reading",
        Assumption::Battery => "battery",
        Assumption::Tolerance(_) => "tolerance",
        Assumption::InCircuit => "in circuit",
        Assumption::ComesAndGoes(false) => "stays",
        Assumption::ComesAndGoes(true) => "comes and goes",
        Assumption::Water => "water",
        Assumption::Accident => "accident",
        Assumption::Replaced(_) => "replaced",
        Assumption::Disturbed(_) => "disturbed",
        Assumption::Accessory(_) => "accessory",
        Assumption::Rate => "rate",
    }
}

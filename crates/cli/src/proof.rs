//! `proof`: a repair on trial.

use std::fmt::Write as _;

use bench::Reading;
use clap::Args as ClapArgs;
use diagnosis::{Deed, Done, Predictions, Proof, ProofStanding, Sweep, Twice, proof as on_trial, sweeps, weigh};
use serde_json::{Value, json};
use web::words;
use web::words::proof as said;

use crate::args::ReadingsArgs;
use crate::commands::{Answer, print_json};
use crate::out;
use crate::show::{self, number};
use crate::source::{Failure, Source};

/// Suspects less likely than this are not printed.
const LISTED: f64 = 0.005;

/// A repair on trial.
#[derive(Debug, ClapArgs)]
pub(crate) struct ProofArgs {
    #[command(flatten)]
    pub(crate) readings: ReadingsArgs,
    /// The fault that was repaired, as `faults` names it; the likeliest suspect if left out.
    #[arg(long, value_name = "FAULT")]
    pub(crate) repaired: Option<String>,
    /// A reading since the repair, as "set-up | test | value". May be repeated.
    #[arg(long = "since", value_name = "READING")]
    pub(crate) since: Vec<String>,
    /// How the vehicle stands, where nothing was read before the repair.
    #[arg(long)]
    pub(crate) now: Option<String>,
}

pub(crate) fn proof(args: &ProofArgs) -> Result<Answer, Failure> {
    let source = Source::told(&args.readings)?;
    let mut facts = source.facts(&args.readings)?;
    let since: Result<Vec<Reading>, _> = args.since.iter().map(|text| source.reading("--since", text)).collect();
    let mut predictions = Predictions::default();
    let case = facts.case();
    let fault = if let Some(path) = &args.repaired {
        source.fault_id("--repaired", path)?
    } else {
        let belief = weigh(&source.bench, &source.circuit, &source.faults, &case, &mut predictions)?;
        let findings = belief.findings(&source.bench, &mut predictions, None)?;
        let first = findings.suspects.first();
        first.map(|suspect| suspect.fault).ok_or_else(|| Failure::Text {
            place: "--repaired".into(),
            why: "nothing can break in this circuit, so nothing can be repaired".into(),
        })?
    };
    let repair = &source.faults[fault.idx()].repair;
    facts.deeds.push(Deed {
        after: facts.readings.len(),
        what: Done::Repaired(repair.key.clone()),
    });
    facts.readings.extend(since?);
    let case = facts.case();
    let now = match (&args.now, facts.readings.last()) {
        (Some(text), _) => source.set_up("--now", text)?,
        (None, Some(last)) => last.test.set_up.clone(),
        (None, None) => circuit::SetUp::normal(),
    };
    let (bench, circuit) = (&source.bench, &source.circuit);
    let proof = on_trial(bench, circuit, &source.faults, &case, &now, &mut predictions)?;
    // There is one: a repair is what the case ends with.
    let Some(proof) = proof else { return Ok(Answer::Done) };
    let sweeps = sweeps(bench, circuit, &circuit::SetUp::normal())?;
    if args.readings.circuit.json {
        print_json(&to_json(&source, &repair.words, &proof, &sweeps))?;
    } else {
        out::print(to_text(&source, &repair.words, &proof, &sweeps))?;
    }
    Ok(if proof.standing == ProofStanding::Refuted {
        Answer::No
    } else {
        Answer::Done
    })
}

fn to_text(source: &Source, repair: &str, proof: &Proof, sweeps: &[Sweep]) -> String {
    let circuit = &source.circuit;
    let mut out = format!("{}.\n{}\n", words::capital(repair), said::headline(proof));
    if !proof.readings.is_empty() {
        out += "Readings that prove it:\n";
    }
    for reading in &proof.readings {
        let read = match reading.read {
            Some(true) => "  (read: within)",
            Some(false) => "  (read: OUTSIDE)",
            None => "",
        };
        let _ = writeln!(
            out,
            "  {}, {} ({}){read}\n      {}; {}",
            words::capital(&said::what(circuit, reading)),
            said::band(circuit, reading),
            words::set_up(circuit, &reading.test.set_up),
            said::telling(circuit, reading),
            words::minutes(reading.minutes),
        );
    }
    out += "What may still be wrong, now and once all of these are within their bands:\n";
    for (fault, chance) in proof.left.iter().filter(|one| one.1.now >= LISTED) {
        let _ = writeln!(
            out,
            "  {:>10} {:>10}  {}",
            words::percent(chance.now),
            words::percent(chance.then),
            said::left(&source.faults[fault.idx()])
        );
    }
    let _ = writeln!(
        out,
        "  {:>10} {:>10}  Something not in this circuit",
        words::percent(proof.outside.now),
        words::percent(proof.outside.then)
    );
    for sweep in sweeps {
        let _ = writeln!(out, "Sweep {}", said::swept(circuit, sweep));
        for step in &sweep.steps {
            let ratio = said::ratio(step).map(|ratio| format!("; {ratio} of the reference"));
            let scan = said::scan(circuit, sweep, step).map(|scan| format!("; scan data {scan}"));
            let _ = writeln!(
                out,
                "  {:>8}  {}{}{}",
                said::step(circuit, sweep, step),
                said::volts(step),
                ratio.unwrap_or_default(),
                scan.unwrap_or_default()
            );
        }
    }
    out
}

fn twice(chance: Twice) -> Value {
    json!({ "now": number(chance.now), "then": number(chance.then) })
}

fn to_json(source: &Source, repair: &str, proof: &Proof, sweeps: &[Sweep]) -> Value {
    let circuit = &source.circuit;
    let readings: Vec<Value> = proof
        .readings
        .iter()
        .map(|reading| {
            let placement = &reading.test.placement;
            let mut value = show::test(circuit, &reading.test);
            value["band"] = show::expected(circuit, placement, &reading.band);
            value["unrepaired"] = reading
                .unrepaired
                .as_ref()
                .map_or(Value::Null, |one| show::expected(circuit, placement, one));
            value["missed"] = number(reading.missed);
            value["tells"] = json!(reading.tells());
            value["minutes"] = number(reading.minutes);
            value["within"] = json!(reading.read);
            value
        })
        .collect();
    let left: Vec<Value> = proof
        .left
        .iter()
        .map(|(fault, chance)| json!({ "fault": source.faults[fault.idx()].path, "chance": twice(*chance) }))
        .collect();
    let standing = match proof.standing {
        ProofStanding::Open => "open",
        ProofStanding::Proved => "proved",
        ProofStanding::Refuted => "refuted",
    };
    json!({
        "repair": repair, "standing": standing, "mended": twice(proof.mended), "outside": twice(proof.outside),
        "comes_and_goes": number(proof.hides), "readings": readings, "left": left,
        "sweeps": sweeps.iter().map(|sweep| sweep_json(source, sweep)).collect::<Vec<_>>(),
    })
}

fn sweep_json(source: &Source, sweep: &Sweep) -> Value {
    let circuit = &source.circuit;
    let point = |id: circuit::PointId| circuit.points[id.idx()].path.clone();
    let range = |(low, high): (f64, f64)| json!({ "low": number(low), "high": number(high) });
    let steps: Vec<Value> = sweep
        .steps
        .iter()
        .map(|step| {
            json!({
                "at": number(step.at), "set_up": step.set_up.to_text(circuit), "volts": range(step.volts),
                "ratio": step.ratio.map(range), "scan": step.scan.map(range), "apart": step.apart.map(number),
            })
        })
        .collect();
    let channel = sweep.channel.map(|channel| &circuit.channels[channel.idx()]);
    json!({
        "sensed": circuit.sensed[sweep.sensed.idx()].id, "unit": circuit.sensed[sweep.sensed.idx()].unit,
        "at_will": sweep.at_will, "signal": point(sweep.signal), "reference": sweep.reference.map(point),
        "scan": channel.map(|channel| &channel.id), "scan_unit": channel.map(|channel| &channel.unit), "steps": steps,
    })
}

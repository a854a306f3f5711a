//! The commands, each a few steps over the crates below.

use std::fmt::Write as _;
use std::io::IsTerminal as _;
use std::path::{Path, PathBuf};

use bench::{Placement, Predict as _, Question, Test};
use circuit::SetUp;
use clap::CommandFactory as _;
use diagnosis::{Belief, Conclusion, Findings, Options, Predictions, Scene, Verdict, Worth, judge, propose, weigh};
use serde_json::{Value, json};
use web::facts::Facts;
use web::words;

use crate::args::{
    Args, CheckArgs, CircuitArgs, Command, DemoArgs, DrawArgs, JudgeArgs, NextArgs, PredictArgs, ReadingsArgs,
    ServeArgs, SolveArgs, SpiceArgs,
};
use crate::source::{Failure, Source, beside, circuit_text, read_or_stdin};
use crate::{
    bare, code, data, learn, library, log, out, plan, play, proof, ready, serve, show, text, trials, vin, why, write_up,
};

/// How a command ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Answer {
    /// Done.
    Done,
    /// Done, and the answer is no.
    No,
}

/// Runs a command.
pub(crate) fn run(args: Args) -> Result<Answer, Failure> {
    let Some(command) = args.command else {
        let desktop = std::io::stdout().is_terminal();
        return serve::serve(ServeArgs {
            circuit: Some("demo".into()),
            open: desktop,
            ..ServeArgs::default()
        });
    };
    match command {
        Command::Check(args) => check(&args),
        Command::Predict(args) => predict(&args),
        Command::Faults(args) => faults(&args),
        Command::Suspects(args) => suspects(&args),
        Command::Next(args) => next(&args),
        Command::Judge(args) => judge_test(&args),
        Command::Learn(args) => learn::learn(&args),
        Command::Plan(args) => plan::plan(&args),
        Command::Why(args) => why::why(&args),
        Command::Proof(args) => proof::proof(&args),
        Command::WriteUp(args) => write_up::write_up(&args),
        Command::Code(args) => code::code(&args),
        Command::Data(args) => data::data(&args),
        Command::Archetypes(args) => ready::archetypes(&args),
        Command::Questions(args) => ready::questions(&args),
        Command::Fill(args) => ready::fill(&args),
        Command::Vin(args) => vin::vin(&args),
        Command::Log(args) => log::log(&args),
        Command::Spice(args) => spice(&args),
        Command::Draw(args) => draw(&args),
        Command::Solve(args) => solve(&args),
        Command::Play(args) => play::play(&args).map(|()| Answer::Done),
        Command::Library(args) => library::library(&args),
        Command::Serve(args) => serve::serve(args),
        Command::Demo(args) => demo(&args),
        Command::Trials(args) => trials::trials(&args).map(|()| Answer::Done),
        Command::Completions { shell } => {
            let mut script = Vec::new();
            clap_complete::generate(shell, &mut Args::command(), "probewise", &mut script);
            out::print(String::from_utf8_lossy(&script))?;
            Ok(Answer::Done)
        }
    }
}

pub(crate) fn print_json(value: &Value) -> Result<(), Failure> {
    out::line(format_args!("{value:#}"))
}

fn check(args: &CheckArgs) -> Result<Answer, Failure> {
    let name = args.circuit.circuit.as_str();
    let text = circuit_text(name)?;
    let (remarks, mistakes) = match circuit::parse_with(&text, &mut beside(name)) {
        Ok(circuit) => (circuit.remarks(), Vec::new()),
        Err(mistakes) => (Vec::new(), mistakes),
    };
    if args.circuit.json {
        let mistakes: Vec<Value> = mistakes
            .iter()
            .map(|one| {
                json!({ "included": one.file, "line": one.line, "column": one.column, "offset": one.offset,
                        "length": one.length, "code": one.code, "message": one.message, "help": one.help })
            })
            .collect();
        print_json(&json!({ "file": name, "mistakes": mistakes, "remarks": remarks }))?;
    } else {
        let mut report = String::new();
        for mistake in &mistakes {
            let blamed = mistake.file.as_ref().map(|included| {
                let path = Path::new(name).with_file_name(included).display().to_string();
                (path, beside(name)(included).unwrap_or_default())
            });
            let (file, text) = blamed
                .as_ref()
                .map_or((name, &text), |(file, text)| (file.as_str(), text));
            report += &text::mistake(file, text, mistake);
        }
        for remark in &remarks {
            let _ = writeln!(report, "{name}: mind: {remark}");
        }
        out::line(format_args!(
            "{report}{name}: {}",
            text::count(mistakes.len(), "mistake")
        ))?;
    }
    Ok(if mistakes.is_empty() { Answer::Done } else { Answer::No })
}

/// A voltmeter from battery negative at every point in reach, and every scan value.
fn everything(source: &Source, set_up: &SetUp) -> Vec<Placement> {
    let circuit = &source.circuit;
    let black = circuit.battery_minus;
    let probes = bench::reachable(circuit, set_up);
    let points = probes.iter().filter(|probe| probe.point != black);
    let volts = points.map(|probe| Placement::Voltmeter {
        red: probe.point,
        black,
    });
    let scans = (0..circuit.channels.len()).map(|idx| Placement::Scan { channel: idx.into() });
    volts.chain(scans).collect()
}

fn predict(args: &PredictArgs) -> Result<Answer, Failure> {
    let source = Source::load(&args.circuit.circuit)?;
    let set_up = source.set_up("--set-up", &args.broken.set_up)?;
    let hypothesis = source.broken(&args.broken)?;
    let placements = if args.tests.is_empty() {
        everything(&source, &set_up)
    } else {
        args.tests
            .iter()
            .map(|text| source.placement("--test", text))
            .collect::<Result<_, _>>()?
    };
    let standing = source.bench.standing(&hypothesis, &set_up, &[], &placements)?;
    let question = Question {
        hypotheses: &[hypothesis],
        set_up: &set_up,
        placements: &placements,
        theta: &[],
        with_flows: args.circuit.json,
    };
    let batch = source.bench.predict(question)?;
    if args.circuit.json {
        let rows = placements
            .iter()
            .zip(&batch.predictions)
            .enumerate()
            .map(|(idx, (placement, prediction))| {
                let mut row = show::prediction(&source.circuit, placement, prediction);
                if let Some(flows) = batch.flows.get(idx) {
                    row["tool_amps"] = json!(flows.tool_amps);
                    row["branch_amps"] = source
                        .circuit
                        .branches
                        .iter()
                        .zip(&flows.branch_amps)
                        .map(|(branch, amps)| (branch.path.clone(), json!(amps)))
                        .collect::<serde_json::Map<_, _>>()
                        .into();
                }
                row
            });
        print_json(&json!({
            "set_up": set_up.to_text(&source.circuit), "faults": args.broken.faults, "remarks": set_up.remarks(&source.circuit),
            "predictions": rows.collect::<Vec<_>>(),
            "kcl_residual_amps": standing.as_ref().map(|standing| standing.kcl_residual_amps),
            "also_stable": show::also_stable(&source.circuit, standing.as_ref()),
        }))?;
    } else {
        let mut answer = text::remarks(&source.circuit, &set_up);
        for (placement, prediction) in placements.iter().zip(&batch.predictions) {
            answer += &text::prediction(&source.circuit, placement, prediction);
            answer.push('\n');
        }
        answer += &text::standing(&source.circuit, standing.as_ref());
        out::print(answer)?;
    }
    Ok(Answer::Done)
}

fn faults(args: &CircuitArgs) -> Result<Answer, Failure> {
    let source = Source::load(&args.circuit)?;
    if args.json {
        let list: Value = source
            .faults
            .iter()
            .map(|fault| show::fault(&source.circuit, fault))
            .collect();
        print_json(&list)?;
    } else {
        let lines: Vec<String> = source.faults.iter().map(text::fault).collect();
        let n = text::count(source.faults.len(), "possible fault");
        out::line(format_args!("{}\n{n}", lines.join("\n")))?;
    }
    Ok(Answer::Done)
}

/// Readings weighed.
struct Weighed<'s> {
    predictions: Predictions,
    belief: Belief<'s>,
    facts: Facts,
}

fn weighed<'s>(source: &'s Source, args: &ReadingsArgs) -> Result<Weighed<'s>, Failure> {
    let facts = source.facts(args)?;
    let mut predictions = Predictions::default();
    let belief = weigh(
        &source.bench,
        &source.circuit,
        &source.faults,
        &facts.case(),
        &mut predictions,
    )?;
    Ok(Weighed {
        predictions,
        belief,
        facts,
    })
}

impl Weighed<'_> {
    fn scene<'a>(&'a self, source: &'a Source, now: &'a SetUp) -> Scene<'a, 'a> {
        Scene {
            bench: &source.bench,
            circuit: &source.circuit,
            faults: &source.faults,
            belief: &self.belief,
            readings: self.facts.case().current_readings(),
            now,
        }
    }
}

fn suspects(args: &ReadingsArgs) -> Result<Answer, Failure> {
    let source = Source::told(args)?;
    let mut weighed = weighed(&source, args)?;
    let findings = weighed.belief.findings(&source.bench, &mut weighed.predictions, None)?;
    print_findings(&source, &weighed.facts.readings, &findings, args.circuit.json)?;
    Ok(Answer::Done)
}

fn print_findings(
    source: &Source,
    readings: &[bench::Reading],
    findings: &Findings,
    json: bool,
) -> Result<(), Failure> {
    if json {
        let mut value = show::findings(source, findings);
        value["codes_share"] = words::codes_share(&source.circuit, readings).into();
        print_json(&value)
    } else {
        out::print(text::findings(source, readings, findings))
    }
}

fn next(args: &NextArgs) -> Result<Answer, Failure> {
    let source = Source::told(&args.readings)?;
    let mut weighed = weighed(&source, &args.readings)?;
    let offer = source.offer(args.offer.as_deref())?;
    let now = match (&args.now, weighed.facts.readings.last()) {
        (Some(text), _) => source.set_up("--now", text)?,
        (None, Some(last)) => last.test.set_up.clone(),
        (None, None) => SetUp::default(),
    };
    let options = Options {
        n: args.count,
        allowed: offer.as_deref(),
        costs: args.money.costs(),
        ..Options::default()
    };
    let mut predictions = std::mem::take(&mut weighed.predictions);
    let proposed = propose(&weighed.scene(&source, &now), &mut predictions, &options)?;
    let at_once = options.costs.at_once(&weighed.belief);
    let findings = weighed.belief.findings(&source.bench, &mut predictions, None)?;
    let findings = findings.settled(&proposed, at_once);
    let bill = at_once.map(|at_once| {
        let case = weighed.facts.case();
        let bill = options
            .costs
            .bill(&source.circuit, &source.faults, &case, &proposed, &at_once);
        (at_once, bill)
    });
    if args.readings.circuit.json {
        print_json(&json!({
            "next": proposed.proposals.iter().map(|one| show::proposal(&source, one)).collect::<Value>(),
            "chosen_from": show::counted(&proposed.counted),
            "conclusion": show::conclusion(&source, &findings),
            "money": bill.map(|(at_once, bill)| show::money(&source, &proposed, &at_once, &bill)),
        }))?;
    } else {
        let (_, conclusion) = words::conclusion(&source.circuit, &source.faults, &findings);
        let tests = text::proposals(&source, &now, &proposed.proposals);
        let conclusion = Some(conclusion).filter(|_| findings.conclusion != Conclusion::Open);
        let asks_first = bill.as_ref().is_some_and(|(_, bill)| bill.asks_first());
        let bill = bill.map(|(at_once, bill)| words::bill(&source.faults, &at_once, &bill));
        let counted = words::chosen_from(&proposed.counted);
        // Who pays is asked before anything is done.
        let (first, last) = if asks_first { (bill, None) } else { (None, bill) };
        let first = first.map_or_else(String::new, |bill| bill + "\n");
        let said: Vec<String> = conclusion.into_iter().chain([counted]).chain(last).collect();
        out::line(format_args!("{first}{tests}{}", said.join("\n")))?;
    }
    Ok(if proposed.proposals.is_empty() {
        Answer::No
    } else {
        Answer::Done
    })
}

fn judge_test(args: &JudgeArgs) -> Result<Answer, Failure> {
    let source = Source::told(&args.readings)?;
    let mut weighed = weighed(&source, &args.readings)?;
    let set_up = source.set_up("--set-up", &args.set_up)?;
    let test = Test {
        placement: source.placement("--test", &args.test)?,
        set_up,
    };
    let now = weighed
        .facts
        .readings
        .last()
        .map(|last| last.test.set_up.clone())
        .unwrap_or_default();
    let mut predictions = std::mem::take(&mut weighed.predictions);
    let judgement = judge(&weighed.scene(&source, &now), &mut predictions, &test)?;
    let tests = std::slice::from_ref(&test);
    let allowed = judgement.verdict != Verdict::Refused;
    let outcomes = if allowed && matches!(judgement.worth, Worth::Tells { .. }) {
        let placements = std::slice::from_ref(&test.placement);
        let (belief, bench) = (&weighed.belief, &source.bench);
        let told = diagnosis::information(belief, bench, &mut predictions, &test.set_up, placements)?;
        told.into_iter().next().map(|told| told.outcomes).unwrap_or_default()
    } else {
        Vec::new()
    };
    if args.readings.circuit.json {
        let mut value = show::judgement(&source, tests, &judgement);
        value["outcomes"] = outcomes.iter().map(|one| show::outcome(&source, tests, one)).collect();
        value["test"] = show::test(&source.circuit, &test);
        value["remarks"] = test.set_up.remarks(&source.circuit).into();
        print_json(&value)?;
    } else {
        let remarks = text::remarks(&source.circuit, &test.set_up);
        out::print(
            remarks + &text::judgement(&source, &test, &judgement) + &text::outcomes(&source, tests, &outcomes),
        )?;
    }
    let possible = !matches!(judgement.worth, Worth::Unreachable(_));
    Ok(if judgement.verdict == Verdict::Safe && possible {
        Answer::Done
    } else {
        Answer::No
    })
}

fn spice(args: &SpiceArgs) -> Result<Answer, Failure> {
    let source = Source::load(&args.circuit.circuit)?;
    let set_up = source.set_up("--set-up", &args.broken.set_up)?;
    let hypothesis = source.broken(&args.broken)?;
    let title = format!("{}; {}", source.circuit.title, set_up.to_text(&source.circuit));
    let deck = bench::spice::deck(&source.bench, &hypothesis, &set_up, &[], None, &title)?;
    if args.circuit.json {
        let nodes = source
            .circuit
            .points
            .iter()
            .map(|point| point.path.clone())
            .zip(deck.nodes.into_iter().map(Value::from));
        print_json(&json!({ "netlist": deck.text, "nodes": nodes.collect::<serde_json::Map<_, _>>() }))?;
    } else {
        out::print(deck.text)?;
    }
    Ok(Answer::Done)
}

fn draw(args: &DrawArgs) -> Result<Answer, Failure> {
    let source = Source::load(&args.circuit.circuit)?;
    let set_up = source.set_up("--set-up", &args.set_up)?;
    let picture = picture::wiring(
        &source.circuit,
        &set_up,
        &picture::Marks::default(),
        &picture::Look::default(),
    );
    if args.circuit.json {
        let spots: Vec<Value> = picture
            .spots
            .iter()
            .map(|spot| json!({ "point": source.circuit.points[spot.point.idx()].path, "x": spot.x, "y": spot.y }))
            .collect();
        print_json(&json!({ "svg": picture.svg, "width": picture.width, "height": picture.height, "spots": spots }))?;
    } else {
        out::line(picture.svg)?;
    }
    Ok(Answer::Done)
}

fn solve(args: &SolveArgs) -> Result<Answer, Failure> {
    let text = read_or_stdin(&args.file)?;
    let failure = |source| Failure::Bare {
        name: args.file.clone(),
        source,
    };
    let named = bare::parse(&text).map_err(failure)?;
    let answer = bare::solve(&named).map_err(failure)?;
    if args.json {
        print_json(&answer.to_json(&named))?;
    } else {
        out::print(answer.to_text(&named))?;
    }
    Ok(if answer.settled() { Answer::Done } else { Answer::No })
}

/// Milliseconds since 1970.
pub(crate) fn now_ms() -> u64 {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
    since.map_or(0, |since| u64::try_from(since.as_millis()).unwrap_or(u64::MAX))
}

/// Where jobs are kept if the command does not say.
pub(crate) fn jobs_folder() -> PathBuf {
    let var = |name: &str| {
        std::env::var_os(name)
            .filter(|value| !value.is_empty())
            .map(PathBuf::from)
    };
    let data = var("XDG_DATA_HOME")
        .or_else(|| var("LOCALAPPDATA"))
        .or_else(|| var("HOME").map(|home| home.join(".local").join("share")));
    data.unwrap_or_else(std::env::temp_dir).join("probewise")
}

fn demo(args: &DemoArgs) -> Result<Answer, Failure> {
    let source = Source::load("demo")?;
    let state = job::derive(&source.circuit, &web::demo::events(now_ms()));
    let facts = Facts::of(&state, &source.faults);
    let mut predictions = Predictions::default();
    let belief = weigh(
        &source.bench,
        &source.circuit,
        &source.faults,
        &facts.case(),
        &mut predictions,
    )?;
    let readings = facts.case().current_readings();
    let now = readings.last().map(|last| last.test.set_up.clone()).unwrap_or_default();
    let scene = Scene {
        bench: &source.bench,
        circuit: &source.circuit,
        faults: &source.faults,
        belief: &belief,
        readings,
        now: &now,
    };
    let findings = belief.findings(&source.bench, &mut predictions, None)?;
    let options = Options {
        n: 3,
        ..Options::default()
    };
    let proposals = propose(&scene, &mut predictions, &options)?.proposals;
    if args.json {
        let mut value = show::findings(&source, &findings);
        value["title"] = json!(state.title);
        value["complaint"] = json!(state.complaint);
        value["next"] = proposals.iter().map(|one| show::proposal(&source, one)).collect();
        print_json(&value)?;
    } else {
        out::line(format_args!("{}\n{}\n", state.title, state.complaint))?;
        print_findings(&source, &facts.readings, &findings, false)?;
        out::line("\nMeasure next:")?;
        out::print(text::proposals(&source, &now, &proposals))?;
    }
    Ok(Answer::Done)
}

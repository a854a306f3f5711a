//! The `trials` command: what is tried, how far it is, and what came out as a table, JSON and plots.

use std::fmt::Write as _;
use std::fs;
use std::io::{IsTerminal as _, Write as _};
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Instant;

use serde_json::{Value, json};
use trials::{BUILT_IN, Calibration, Figures, Plan, Record, Strategy, Yard, plot, run, wilson};

use crate::args::TrialsArgs;
use crate::source::{Failure, beside, circuit_text, mistaken};
use crate::{optimum, out};

/// The complaint shows in this set-up unless the circuit is built in.
const COMPLAINT: &str = "key on";

/// Tries and prints what came out.
pub(crate) fn trials(args: &TrialsArgs) -> Result<(), Failure> {
    let yards = yards(&args.circuits)?;
    if args.optimum {
        return optimum::print(args, &yards);
    }
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let strategies = if args.strategies.is_empty() {
        vec![Strategy::Product]
    } else {
        args.strategies.clone()
    };
    let plan = Plan {
        yards: &yards,
        jobs: args.jobs,
        seed: args.seed,
        strategies,
        differs: args.differs,
        threads: args.threads.unwrap_or(cores),
    };
    let progress = Progress::new(args.jobs, "vehicles searched");
    let records = run(&plan, &|| progress.step())?;
    let outcome = Outcome {
        plan: &plan,
        records: &records,
    };
    if let Some(folder) = &args.plots {
        outcome.draw(folder)?;
    }
    if args.json {
        out::line(format_args!("{:#}", outcome.json()))
    } else {
        out::print(outcome.text())
    }
}

fn yards(names: &[String]) -> Result<Vec<Yard>, Failure> {
    if names.is_empty() {
        let built_in = BUILT_IN.iter().map(Yard::built_in);
        return built_in
            .map(|yard| yard.map_err(|error| Failure::from(Box::new(error))))
            .collect();
    }
    names
        .iter()
        .map(|name| {
            let text = circuit_text(name)?;
            let circuit = circuit::parse_with(&text, &mut beside(name)).map_err(mistaken(name))?;
            let short = Path::new(name)
                .file_stem()
                .map_or(name.as_str().into(), |stem| stem.to_string_lossy());
            // A file of the product keeps its complaint.
            let known = BUILT_IN.iter().find(|known| known.text == text);
            let complaint = known.map_or(COMPLAINT, |known| known.complaint);
            let cranking = known.is_some_and(|known| known.cranking);
            Yard::new(&short, circuit, complaint, cranking).map_err(|error| Box::new(error).into())
        })
        .collect()
}

/// How far it is, on standard error.
pub(crate) struct Progress {
    jobs: u64,
    what: &'static str,
    done: AtomicU64,
    begun: Instant,
    on_one_line: bool,
}

impl Progress {
    pub(crate) fn new(jobs: u64, what: &'static str) -> Self {
        Self {
            jobs,
            what,
            done: AtomicU64::new(0),
            begun: Instant::now(),
            on_one_line: std::io::stderr().is_terminal(),
        }
    }

    pub(crate) fn step(&self) {
        let done = self.done.fetch_add(1, Ordering::Relaxed) + 1;
        // In a log a line for each twentieth is enough.
        let tells = self.on_one_line || done == self.jobs || done * 20 / self.jobs > (done - 1) * 20 / self.jobs;
        if !tells {
            return;
        }
        let left = self.begun.elapsed().as_secs_f64() / done as f64 * (self.jobs - done) as f64;
        let end = if self.on_one_line && done < self.jobs {
            '\r'
        } else {
            '\n'
        };
        let time = if left < 90.0 {
            format!("{left:.0} s")
        } else {
            format!("{:.0} min", left / 60.0)
        };
        // Nobody has to watch.
        let _ = write!(
            std::io::stderr(),
            "{done} of {} {}, about {time} left   {end}",
            self.jobs,
            self.what
        );
    }
}

/// What came out, with what was tried.
struct Outcome<'o> {
    plan: &'o Plan<'o>,
    records: &'o [Record],
}

impl<'o> Outcome<'o> {
    fn of(&self, strategy: Strategy) -> impl Iterator<Item = &'o Record> + Clone {
        self.records.iter().filter(move |record| record.strategy == strategy)
    }

    fn calibration(&self, strategy: Strategy) -> Calibration {
        Calibration::of(self.of(strategy))
    }

    fn by_circuit(&self, strategy: Strategy) -> Vec<(&'o str, Figures)> {
        let of = |yard: &'o Yard| Figures::of(self.of(strategy).filter(|record| record.circuit == yard.name));
        self.plan
            .yards
            .iter()
            .map(|yard| (yard.name.as_str(), of(yard)))
            .collect()
    }

    fn text(&self) -> String {
        let mut text = String::new();
        let first = self.plan.strategies.first().copied().unwrap_or(Strategy::Product);
        let all = Figures::of(self.of(first));
        text += &heading("circuit");
        for (name, figures) in self.by_circuit(first) {
            text += &row(name, &figures);
        }
        text += &row("all", &all);
        text.push('\n');
        if self.plan.strategies.len() > 1 {
            text += &heading("strategy");
            for &strategy in &self.plan.strategies {
                text += &row(strategy.name(), &Figures::of(self.of(strategy)));
            }
            text.push('\n');
        }
        text += &calibration_text(&self.calibration(first));
        let wrong = wilson(all.certain_wrong, all.certain);
        let _ = writeln!(
            text,
            "Named with more than 95 %: {}; of these wrong: {} ({:.1} to {:.1} %).",
            all.certain,
            all.certain_wrong,
            100.0 * wrong.0,
            100.0 * wrong.1
        );
        if let Some(readings) = all.readings_until_outside {
            let _ = writeln!(text, "\"Not in this circuit\" after {readings:.1} readings on average.");
        }
        for record in self.of(first).filter(|record| !record.harms.is_empty()) {
            for harm in &record.harms {
                let _ = writeln!(
                    text,
                    "HARM, {} job {}: {}: {}",
                    record.circuit, record.job, harm.test, harm.what
                );
            }
        }
        text
    }

    fn json(&self) -> Value {
        let strategies: Vec<Value> = self
            .plan
            .strategies
            .iter()
            .map(|&strategy| {
                let by_circuit = self.by_circuit(strategy);
                json!({
                    "strategy": strategy.name(),
                    "figures": figures(&Figures::of(self.of(strategy))),
                    "by_circuit": by_circuit.iter().map(|(name, of)| json!({ "circuit": name, "figures": figures(of) })).collect::<Vec<_>>(),
                    "calibration": calibration(&self.calibration(strategy)),
                })
            })
            .collect();
        json!({
            "seed": self.plan.seed, "jobs": self.plan.jobs, "differs": self.plan.differs.map(trials::Differs::name),
            "circuits": self.plan.yards.iter().map(|yard| yard.name.as_str()).collect::<Vec<_>>(),
            "strategies": strategies,
            "searches": self.records.iter().map(search).collect::<Vec<_>>(),
        })
    }

    fn draw(&self, folder: &Path) -> Result<(), Failure> {
        let failed = |path: &Path| {
            let path = path.to_owned();
            move |source| Failure::Io { path, source }
        };
        fs::create_dir_all(folder).map_err(failed(folder))?;
        let first = self.plan.strategies.first().copied().unwrap_or(Strategy::Product);
        let calibration = self.calibration(first);
        let costs: Vec<(&str, Figures)> = self
            .plan
            .strategies
            .iter()
            .map(|&strategy| (strategy.name(), Figures::of(self.of(strategy))))
            .collect();
        for (name, svg) in [
            ("reliability.svg", plot::reliability(&calibration)),
            ("ranks.svg", plot::ranks(&calibration)),
            ("cause-ranks.svg", plot::cause_ranks(&calibration)),
            ("costs.svg", plot::costs(&costs)),
        ] {
            let path = folder.join(name);
            fs::write(&path, svg).map_err(failed(&path))?;
        }
        Ok(())
    }
}

fn heading(what: &str) -> String {
    format!(
        "{what:<18} {:>5} {:>6} {:>6} {:>6} {:>6} {:>7} {:>7} {:>6} {:>5} {:>7} {:>8} {:>7} {:>7} {:>7}\n",
        "jobs",
        "right",
        "alike",
        "named",
        "wrong",
        "outside",
        "repair",
        "no way",
        "long",
        "minutes",
        "readings",
        "cost",
        "x least",
        "harmful"
    )
}

fn row(name: &str, of: &Figures) -> String {
    let share = |n: usize| format!("{:.0} %", 100.0 * n as f64 / of.jobs.max(1) as f64);
    format!(
        "{name:<18} {:>5} {:>6} {:>6} {:>6} {:>6} {:>7} {:>7} {:>6} {:>5} {:>7.1} {:>8.1} {:>7.0} {:>7.2} {:>7}\n",
        of.jobs,
        share(of.right),
        share(of.group_right),
        of.named,
        of.certain_wrong,
        of.outside,
        of.repair_first,
        of.cannot_tell,
        of.too_long,
        of.minutes,
        of.readings,
        of.cost,
        of.cost / of.least.max(f64::MIN_POSITIVE),
        of.harmful,
    )
}

fn calibration_text(of: &Calibration) -> String {
    let mut text = "stated  right  interval      searches\n".to_owned();
    for bin in &of.bins {
        let (low, high) = bin.interval;
        let _ = writeln!(
            text,
            "{:>6.3} {:>6.3}  {low:.3}..{high:.3} {:>9}",
            bin.stated, bin.right, bin.n
        );
    }
    let _ = writeln!(
        text,
        "Expected calibration error {:.3}; right chances would give about {:.3} by luck alone.",
        of.expected_error, of.error_by_chance
    );
    let even = |chance: Option<f64>| {
        chance.map_or("too few to say".to_owned(), |chance| {
            format!("chance of that if even: {chance:.2}")
        })
    };
    let _ = writeln!(
        text,
        "True cause by tenth of the belief, in the order of the list: {:?} ({}).",
        of.cause_cells,
        even(of.cause_even)
    );
    let _ = writeln!(
        text,
        "True severity below a tenth, a half, nine tenths of what was thought, above: {:?} ({}).",
        of.severity_cells,
        even(of.severity_even)
    );
    let _ = writeln!(
        text,
        "True values by tenth of what was learnt: {:?} ({}).",
        of.value_cells,
        even(of.value_even)
    );
    text
}

fn figures(of: &Figures) -> Value {
    let (low, high) = wilson(of.certain_wrong, of.certain);
    json!({
        "jobs": of.jobs, "right": of.right, "look_alikes_right": of.group_right,
        "named": of.named, "outside": of.outside, "repair_first": of.repair_first, "cannot_tell": of.cannot_tell, "too_long": of.too_long,
        "certain": of.certain, "certain_wrong": of.certain_wrong, "certain_wrong_interval": [low, high],
        "harmful": of.harmful, "minutes": of.minutes, "readings": of.readings, "cost": of.cost, "least_cost": of.least,
        "readings_until_outside": of.readings_until_outside,
    })
}

fn calibration(of: &Calibration) -> Value {
    let bins = of.bins.iter().map(|bin| {
        json!({ "searches": bin.n, "stated": bin.stated, "right": bin.right, "interval": [bin.interval.0, bin.interval.1] })
    });
    json!({
        "bins": bins.collect::<Vec<_>>(), "expected_error": of.expected_error, "error_by_chance": of.error_by_chance,
        "cause_cells": of.cause_cells, "cause_even": of.cause_even,
        "severity_cells": of.severity_cells, "severity_even": of.severity_even,
        "value_cells": of.value_cells, "value_even": of.value_even,
    })
}

fn search(of: &Record) -> Value {
    let ended = match of.ended {
        trials::Ended::Named => "named",
        trials::Ended::Outside => "outside",
        trials::Ended::RepairFirst => "repair first",
        trials::Ended::CannotTell => "cannot tell",
        trials::Ended::TooLong => "too long",
    };
    let harms = of
        .harms
        .iter()
        .map(|harm| json!({ "test": harm.test, "what": harm.what, "done": harm.done }));
    json!({
        "circuit": of.circuit, "job": of.job, "strategy": of.strategy.name(),
        "fault": of.fault, "severity": of.severity,
        "ended": ended, "leading": of.leading, "chance": of.chance, "right": of.right, "look_alikes_right": of.group_right,
        "readings": of.readings, "minutes": of.minutes, "cost": of.cost, "least_cost": of.least, "harms": harms.collect::<Vec<_>>(),
        "look": { "chance": of.look.0, "right": of.look.1 },
    })
}

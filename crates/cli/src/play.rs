//! Another program plays the vehicle: one JSON object a line, in and out, until the conclusion.
//!
//! In: `{"start":{…}}` at most once and first, then `{"reading":{…}}` and `{"did":"…"}` as often as wanted, `{"stop":true}`
//! or the end of the input. Out, after each: suspects, proposals, conclusion; or `{"error":…}`, after which nothing has changed.

use std::io::BufRead as _;

use bench::Test;
use circuit::{PartId, SetUp};
use diagnosis::{Intake, Options, Predictions, Scene, propose, weigh};
use serde::Deserialize;
use serde_json::{Value, json};
use web::facts::Facts;

use crate::args::PlayArgs;
use crate::source::{Failure, Source};
use crate::{out, show};

/// Proposals in each answer.
const N_PROPOSALS: usize = 3;

#[derive(Debug, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
enum Line {
    Start(Start),
    Reading(Told),
    /// What was done, in its text form.
    Did(String),
    Stop(#[expect(dead_code, reason = "only its presence counts")] bool),
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Start {
    /// How the vehicle stands at first.
    set_up: Option<String>,
    /// The only tests on offer.
    tests: Option<Vec<Offered>>,
    /// Ids of parts replaced in vain.
    #[serde(default)]
    replaced: Vec<String>,
    /// Ids of parts lately disturbed.
    #[serde(default)]
    disturbed: Vec<String>,
    /// Ids of accessories fitted later, or of parts at which one was.
    #[serde(default)]
    accessories: Vec<String>,
    /// Water came in.
    #[serde(default)]
    water: bool,
    /// There was an accident.
    #[serde(default)]
    accident: bool,
    /// Whether the complaint comes and goes.
    comes_and_goes: Option<bool>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Offered {
    set_up: String,
    test: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Told {
    set_up: String,
    test: String,
    shown: String,
    /// Taken on a sound vehicle of the same kind.
    #[serde(default)]
    twin: bool,
}

struct Game<'s> {
    source: &'s Source,
    predictions: Predictions,
    facts: Facts,
    now: SetUp,
    offer: Option<Vec<Test>>,
}

/// Plays until the conclusion or the end of the input.
pub(crate) fn play(args: &PlayArgs) -> Result<(), Failure> {
    let source = Source::load(&args.circuit)?;
    let mut game = Game {
        source: &source,
        predictions: Predictions::default(),
        facts: Facts::default(),
        now: SetUp::default(),
        offer: source.offer(args.offer.as_deref())?,
    };
    for line in std::io::stdin().lock().lines() {
        let line = line.map_err(|source| Failure::Io {
            path: "standard input".into(),
            source,
        })?;
        if line.trim().is_empty() {
            continue;
        }
        let parsed = serde_json::from_str::<Line>(&line).map_err(|error| error.to_string());
        if matches!(parsed, Ok(Line::Stop(_))) {
            break;
        }
        let answer = match parsed.and_then(|line| game.take(line)) {
            Ok(()) => game.answer()?,
            Err(error) => json!({ "error": error }),
        };
        out::line(&answer)?;
        if answer["conclusion"]["kind"].as_str().is_some_and(|kind| kind != "open") {
            break;
        }
    }
    Ok(())
}

impl Game<'_> {
    fn take(&mut self, line: Line) -> Result<(), String> {
        match line {
            Line::Start(start) => self.start(start),
            Line::Reading(told) => {
                let reading = job::state::reading(&self.source.circuit, &told.set_up, &told.test, &told.shown)?;
                if told.twin {
                    self.facts.twin.push(reading);
                } else {
                    self.now = reading.test.set_up.clone();
                    self.facts.readings.push(reading);
                }
                Ok(())
            }
            Line::Did(text) => {
                let after = self.facts.readings.len();
                let deed = self
                    .source
                    .deed("did", &text, after)
                    .map_err(|error| error.to_string())?;
                self.facts.deeds.push(deed);
                Ok(())
            }
            Line::Stop(_) => Ok(()),
        }
    }

    fn start(&mut self, start: Start) -> Result<(), String> {
        let source = self.source;
        if let Some(text) = start.set_up {
            self.now = source.set_up("set_up", &text).map_err(|error| error.to_string())?;
        }
        if let Some(tests) = start.tests {
            let tests: Result<Vec<Test>, Failure> = tests
                .iter()
                .map(|one| {
                    let placement = source.placement("test", &one.test)?;
                    Ok(Test {
                        placement,
                        set_up: source.set_up("set_up", &one.set_up)?,
                    })
                })
                .collect();
            self.offer = Some(tests.map_err(|error| error.to_string())?);
        }
        let parts = |field: &str, ids: &[String]| -> Result<Vec<PartId>, String> {
            let each = ids.iter().map(|id| source.part(field, id));
            each.map(|part| part.map_err(|error| error.to_string())).collect()
        };
        self.facts.intake = Intake {
            replaced: parts("replaced", &start.replaced)?,
            disturbed: parts("disturbed", &start.disturbed)?,
            accessories: parts("accessories", &start.accessories)?,
            water: start.water,
            accident: start.accident,
            comes_and_goes: start.comes_and_goes,
        };
        Ok(())
    }

    fn answer(&mut self) -> Result<Value, Failure> {
        let source = self.source;
        let belief = weigh(
            &source.bench,
            &source.circuit,
            &source.faults,
            &self.facts.case(),
            &mut self.predictions,
        )?;
        let scene = Scene {
            bench: &source.bench,
            circuit: &source.circuit,
            faults: &source.faults,
            belief: &belief,
            readings: self.facts.case().current_readings(),
            now: &self.now,
        };
        let options = Options {
            n: N_PROPOSALS,
            allowed: self.offer.as_deref(),
            ..Options::default()
        };
        let proposed = propose(&scene, &mut self.predictions, &options)?;
        let findings = belief.findings(&source.bench, &mut self.predictions, self.offer.as_deref())?;
        let findings = findings.settled(&proposed, options.costs.at_once(&belief));
        let mut answer = show::findings(source, &findings);
        answer["next"] = proposed
            .proposals
            .iter()
            .map(|one| show::proposal(source, one))
            .collect();
        answer["chosen_from"] = show::counted(&proposed.counted);
        Ok(answer)
    }
}

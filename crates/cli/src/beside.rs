//! A log beside a circuit: which column is which value of its modules, what contradicts what, and the readings it makes.

use std::fmt::Write as _;

use circuit::{ChannelId, Circuit, SetUp};
use codes::log::Log;
use diagnosis::{Contradiction, contradictions};
use job::logged::{Matched, Odd, comparable, matched, of_other_unit};
use serde_json::{Value, json};
use web::words::contradiction;

use crate::args::LogArgs;
use crate::show::number;
use crate::source::{Failure, Source};

/// See the module.
pub(crate) struct Beside {
    source: Source,
    set_up: SetUp,
    matched: Vec<Matched>,
    of_other_unit: Vec<String>,
    contradictions: Vec<Contradiction>,
}

impl Beside {
    pub(crate) fn of(circuit: &str, args: &LogArgs, log: &Log) -> Result<Self, Failure> {
        let source = Source::load(circuit)?;
        let set_up = source.set_up("--set-up", &args.set_up)?;
        let told = args.column.iter().map(|text| told(&source.circuit, log, text));
        let told = told.collect::<Result<Vec<_>, _>>()?;
        if let Some((name, _)) = told
            .iter()
            .enumerate()
            .find_map(|(at, one)| told[..at].iter().any(|other| other.1 == one.1).then_some(one))
        {
            return Err(Failure::Text {
                place: format!("--column \"{name}=…\""),
                why: "another column is that value already".into(),
            });
        }
        let matched = matched(&source.circuit, log, &told);
        let of_other_unit = of_other_unit(&source.circuit, log, &told, &matched);
        let shown = comparable(&source.circuit, &matched);
        let contradictions = contradictions(&source.bench, &source.circuit, &set_up, &shown)?;
        Ok(Self {
            source,
            set_up,
            matched,
            of_other_unit,
            contradictions,
        })
    }

    /// The readings that it makes, in their text form.
    pub(crate) fn readings(&self) -> impl Iterator<Item = String> + '_ {
        let circuit = &self.source.circuit;
        let set_up = self.set_up.to_text(circuit);
        let each = self.matched.iter().filter_map(|one| one.to_text(circuit));
        each.map(move |reading| format!("{set_up} | {reading}"))
    }

    /// What of the table makes no reading, and why: a sentence each.
    pub(crate) fn left_out(&self) -> impl Iterator<Item = String> + '_ {
        let beyond = self.matched.iter().flat_map(|one| {
            let odd = one.odd.iter().filter(|odd| matches!(odd, Odd::Beyond { .. }));
            odd.map(|odd| one.words(&self.source.circuit, odd))
        });
        beyond.chain(self.of_other_unit.iter().cloned())
    }

    pub(crate) fn to_text(&self, log: &Log) -> String {
        let circuit = &self.source.circuit;
        let mut out = format!("Beside {}:\n", circuit.title);
        for one in &self.matched {
            let channel = &circuit.channels[one.channel.idx()];
            let _ = writeln!(out, "  {} is {}", log.series[one.series].name, channel.words);
            for odd in &one.odd {
                let _ = writeln!(out, "  - {}", one.words(circuit, odd));
            }
        }
        for said in &self.of_other_unit {
            let _ = writeln!(out, "  - {said}");
        }
        for one in &self.contradictions {
            let _ = writeln!(out, "  - {}", contradiction(circuit, one));
        }
        if self.matched.is_empty() {
            out.push_str("  No column is named like a value that its modules show.\n");
        } else {
            let mut readings = self.readings().peekable();
            if readings.peek().is_some() {
                out.push_str("As readings:\n");
            }
            for line in readings {
                let _ = writeln!(out, "  {line}");
            }
        }
        out
    }

    pub(crate) fn to_json(&self, log: &Log) -> Value {
        let circuit = &self.source.circuit;
        let columns = self.matched.iter().map(|one| {
            json!({
                "series": log.series[one.series].name, "channel": circuit.channels[one.channel.idx()].id,
                "shown": one.shown.map(|shown| shown.map(number)),
                "odd": one.odd.iter().map(|odd| one.words(circuit, odd)).collect::<Value>(),
            })
        });
        let contradictions = self.contradictions.iter().map(|one| {
            json!({
                "channels": one.channels.map(|id| circuit.channels[id.idx()].id.clone()),
                "sensed": circuit.sensed[one.sensed.idx()].id, "puts_it": one.puts_it,
                "deviations": number(one.deviations), "words": contradiction(circuit, one),
            })
        });
        json!({
            "columns": columns.collect::<Value>(), "contradictions": contradictions.collect::<Value>(),
            "readings": self.readings().collect::<Vec<_>>(), "of_other_unit": self.of_other_unit,
        })
    }
}

/// `NAME=VALUE`.
fn told(circuit: &Circuit, log: &Log, text: &str) -> Result<(String, ChannelId), Failure> {
    let wrong = |why: String| Failure::Text {
        place: format!("--column \"{text}\""),
        why,
    };
    let (name, value) = text
        .rsplit_once('=')
        .ok_or_else(|| wrong("write the column's name, =, and the circuit's value".into()))?;
    let (name, value) = (name.trim(), value.trim());
    if !log.series.iter().any(|series| series.name == name) {
        let names: Vec<&str> = log.series.iter().map(|series| series.name.as_str()).collect();
        return Err(wrong(format!(
            "there is no column `{name}`; there are {}",
            names.join(", ")
        )));
    }
    let channel = circuit.channels.iter().position(|channel| channel.id == value);
    let channel = channel.ok_or_else(|| {
        let ids: Vec<&str> = circuit.channels.iter().map(|channel| channel.id.as_str()).collect();
        wrong(format!(
            "the circuit shows no value `{value}`; it shows {}",
            ids.join(", ")
        ))
    })?;
    Ok((name.to_owned(), channel.into()))
}

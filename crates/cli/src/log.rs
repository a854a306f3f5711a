//! `log`: a table of readings from any tool: what its columns are, and what is odd in it.

use std::fmt::Write as _;

use codes::log::{Finding, Known, Log, Recognised, Series, What, findings, known_pids, read, recognise};
use serde_json::{Value, json};

use crate::args::LogArgs;
use crate::beside::Beside;
use crate::commands::{Answer, print_json};
use crate::out;
use crate::show::number;
use crate::source::{Failure, bytes_or_stdin};

pub(crate) fn log(args: &LogArgs) -> Result<Answer, Failure> {
    let name = args.file.as_str();
    let log = read(&bytes_or_stdin(name)?).map_err(|source| Failure::Log {
        name: name.to_owned(),
        source,
    })?;
    let known = known_pids();
    let recognised = recognise(&log.series, &known);
    let found = findings(&log, &known, &recognised);
    let beside = match &args.circuit {
        Some(circuit) => Some(Beside::of(circuit, args, &log)?),
        None => None,
    };
    if let (Some(beside), true) = (&beside, args.as_readings) {
        beside.left_out().for_each(out::beside);
        out::print(beside.readings().map(|line| line + "\n").collect::<String>())?;
        return Ok(Answer::Done);
    }
    if args.json {
        let series = log.series.iter().zip(&recognised);
        print_json(&json!({
            "file": name, "rows": log.rows_s.len(), "seconds": log.seconds(), "time": log.time,
            "delimiter": log.delimiter, "decimal": log.decimal.mark(), "left_out": log.left_out, "bad_lines": log.bad_lines,
            "dropped": log.dropped.iter().map(|one| json!({
                "series": log.series[one.series].name, "line": (one.line > 0).then_some(one.line), "cell": one.cell,
            })).collect::<Value>(),
            "series": series.map(|(series, is)| series_json(series, is.as_ref(), &known)).collect::<Value>(),
            "findings": found.iter().map(|one| finding_json(one, &log)).collect::<Value>(),
            "beside": beside.as_ref().map(|beside| beside.to_json(&log)),
        }))?;
    } else {
        let beside = beside.map_or_else(String::new, |beside| beside.to_text(&log));
        out::print(to_text(&log, &recognised, &known, &found) + &beside)?;
    }
    Ok(Answer::Done)
}

/// Lowest and highest value.
fn range(series: &Series) -> [f64; 2] {
    let values = || series.samples.iter().map(|sample| sample.value);
    [
        values().fold(f64::INFINITY, f64::min),
        values().fold(f64::NEG_INFINITY, f64::max),
    ]
}

/// The name of a known value, with its PID.
fn called(known: &Known) -> String {
    let name = known.names.first().map_or("", String::as_str);
    match known.formula {
        Some(formula) => format!("{name} (PID {:02X})", formula.pid),
        None => name.to_owned(),
    }
}

fn to_text(log: &Log, recognised: &[Option<Recognised>], known: &[Known], found: &[Finding]) -> String {
    let time = log.seconds().map_or_else(
        || ", no column of times".to_owned(),
        |seconds| format!(" over {seconds:.1} s"),
    );
    let mut out = format!("{}{time}\n", crate::text::count(log.rows_s.len(), "row"));
    for (series, is) in log.series.iter().zip(recognised) {
        let [low, high] = range(series);
        let is = match is {
            Some(is) if is.unit_assumed && !known[is.known_idx].unit.is_empty() => {
                format!(
                    "{}, taken to be in {}",
                    called(&known[is.known_idx]),
                    known[is.known_idx].unit
                )
            }
            Some(is) => called(&known[is.known_idx]),
            None => "not recognised".to_owned(),
        };
        let unit = if series.unit.is_empty() {
            String::new()
        } else {
            format!(" {}", series.unit)
        };
        let _ = writeln!(out, "  {}: {low} to {high}{unit}; {is}", series.name);
    }
    for said in log.passed_over() {
        let _ = writeln!(out, "{said}");
    }
    for one in found {
        let _ = writeln!(out, "- {}", one.words(log));
    }
    if found.is_empty() {
        out.push_str("Nothing odd was found in the columns recognised.\n");
    }
    out
}

fn series_json(series: &Series, is: Option<&Recognised>, known: &[Known]) -> Value {
    let [low, high] = range(series);
    let is = is.map(|is| {
        let known = &known[is.known_idx];
        json!({
            "name": known.names.first(), "pid": known.formula.map(|formula| format!("{:02X}", formula.pid)),
            "unit": known.unit, "likeness": is.likeness, "unit_assumed": is.unit_assumed,
        })
    });
    json!({
        "name": series.name, "unit": series.unit, "samples": series.samples.len(),
        "lowest": number(low), "highest": number(high), "is": is,
    })
}

fn finding_json(finding: &Finding, log: &Log) -> Value {
    let (from_s, to_s, figures) = match &finding.what {
        What::AtEnd {
            high,
            value,
            samples,
            of,
            from_s,
            to_s,
        } => (
            from_s,
            to_s,
            json!({ "high": high, "value": value, "samples": samples, "of": of }),
        ),
        What::Beyond {
            ends,
            value,
            samples,
            of,
            from_s,
            to_s,
        } => (
            from_s,
            to_s,
            json!({ "least": ends.0, "most": ends.1, "value": value, "samples": samples, "of": of }),
        ),
        What::Frozen {
            value,
            samples,
            from_s,
            to_s,
            while_moved,
        } => (
            from_s,
            to_s,
            json!({ "value": value, "samples": samples, "while_moved": while_moved }),
        ),
        What::Missing {
            samples,
            every_s,
            from_s,
            to_s,
        } => (from_s, to_s, json!({ "samples": samples, "every_s": every_s })),
        What::Jump {
            from,
            to,
            from_s,
            to_s,
            per_second,
            jumps,
        } => (
            from_s,
            to_s,
            json!({ "from": from, "to": to, "per_second": per_second, "jumps": jumps }),
        ),
    };
    json!({
        "series": finding.series, "kind": finding.what.word(), "words": finding.words(log),
        "from_s": from_s, "to_s": to_s, "figures": figures,
    })
}

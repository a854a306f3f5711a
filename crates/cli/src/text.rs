//! Answers as text for people at a terminal.

use std::fmt::Write as _;

use bench::{Kind, Placement, Prediction, Reading, Standing, Test};
use circuit::{Circuit, Fault, Mistake, Monitor, SetUp, Watches};
use diagnosis::{Findings, Judgement, Outcome, Proposal, Verdict, Worth};
use quantity::Unit;
use web::words;

use crate::source::Source;

/// "1 mistake", "3 mistakes", "no mistakes".
pub(crate) fn count(n: usize, thing: &str) -> String {
    match n {
        0 => format!("no {thing}s"),
        1 => format!("1 {thing}"),
        n => format!("{n} {thing}s"),
    }
}

/// A mistake with the line it is in and a mark beneath.
pub(crate) fn mistake(file: &str, text: &str, mistake: &Mistake) -> String {
    let mut out = format!("{file}:{}:{}: {}\n", mistake.line, mistake.column, mistake.message);
    if let Some(line) = text.lines().nth(mistake.line.saturating_sub(1)) {
        let n_blamed = text
            .get(mistake.offset..mistake.offset + mistake.length)
            .map_or(1, |part| part.chars().count());
        let room = line.chars().count().saturating_sub(mistake.column - 1).max(1);
        let mark = "^".repeat(n_blamed.clamp(1, room));
        let _ = writeln!(
            out,
            "  | {line}\n  | {}{mark}",
            " ".repeat(mistake.column.saturating_sub(1))
        );
    }
    if let Some(help) = &mistake.help {
        let _ = writeln!(out, "  = {help}");
    }
    out
}

/// What of the set-up has no effect, one a line.
pub(crate) fn remarks(circuit: &Circuit, set_up: &SetUp) -> String {
    let mut out = String::new();
    for remark in set_up.remarks(circuit) {
        let _ = writeln!(out, "mind: {remark}");
    }
    out
}

/// What an instrument would show.
pub(crate) fn prediction(circuit: &Circuit, placement: &Placement, prediction: &Prediction) -> String {
    let volts = || quantity::format(prediction.value, Unit::Volt);
    let word = crate::show::shows(circuit, placement, prediction).unwrap_or_default();
    let shows = match (prediction.kind, placement) {
        (Kind::Live, _) => format!("worthless: live circuit, {}", volts()),
        (Kind::Unknown, _) => words::unsaid(prediction),
        (Kind::Number, Placement::TestLight { .. }) => format!("{word}  ({} across the bulb)", volts()),
        (Kind::Number, Placement::Code { monitor }) => {
            let (unit, at) = watched(circuit, &circuit.monitors[monitor.idx()]);
            format!("{word}  ({} {at})", quantity::format(prediction.value, unit))
        }
        (Kind::Number, Placement::Continuity { .. }) => {
            let ohms = quantity::format(prediction.value, Unit::Ohm);
            format!("{word}  ({}: {ohms})", if word == "yes" { "beeps" } else { "no beep" })
        }
        (Kind::OverRange, Placement::Continuity { .. }) => format!("{word}  (no beep: OL)"),
        _ => word,
    };
    let ghost = if prediction.source_ohms >= 1e7 && matches!(placement, Placement::Voltmeter { .. }) {
        "  (nothing drives this point)"
    } else {
        ""
    };
    format!("{:<44} {shows}{ghost}", placement.to_text(circuit))
}

/// The unit of what a check watches, and where.
fn watched(circuit: &Circuit, monitor: &Monitor) -> (Unit, &'static str) {
    match monitor.watches {
        Watches::Channel(channel) if circuit.channels[channel.idx()].counts.is_some() => (Unit::Hertz, "counted"),
        Watches::Channel(_) => (Unit::Volt, "at the converter"),
        Watches::Volts(..) => (Unit::Volt, "at its pin"),
        Watches::Amps(..) => (Unit::Ampere, "in its driver"),
    }
}

/// How the predicted circuit stands.
pub(crate) fn standing(circuit: &Circuit, standing: Option<&Standing>) -> String {
    let Some(standing) = standing else { return String::new() };
    let mut out = String::new();
    for other in &standing.others {
        let _ = writeln!(
            out,
            "Predicted is the state reached from rest. Stable as well: {}",
            other.words(circuit)
        );
    }
    let _ = writeln!(out, "largest Kirchhoff residual {:.1e} A", standing.kcl_residual_amps);
    out
}

/// A possible fault on one line.
pub(crate) fn fault(fault: &Fault) -> String {
    let severity = fault.severity.map_or_else(String::new, |range| {
        format!(
            "={}..{}",
            quantity::format(range.low, range.unit),
            quantity::format(range.high, range.unit)
        )
    });
    format!(
        "{}{severity}\n    {}, {}; repair: {}, {}",
        fault.path,
        fault.what,
        fault.place,
        fault.repair.words,
        words::cost(fault)
    )
}

/// Readings and what they leave.
pub(crate) fn findings(source: &Source, readings: &[Reading], findings: &Findings) -> String {
    let circuit = &source.circuit;
    let mut out = String::new();
    if !readings.is_empty() {
        out += "Readings:\n";
    }
    for (reading, standing) in readings.iter().zip(&findings.readings) {
        let placement = &reading.test.placement;
        let (verdict, _) = words::verdict(circuit, reading, standing);
        let _ = writeln!(
            out,
            "  {:<10} {} ({}): {verdict}",
            words::shown(circuit, placement, &reading.shown),
            words::placement(circuit, placement),
            words::set_up(circuit, &reading.test.set_up),
        );
    }
    if let Some(shared) = words::codes_share(circuit, readings) {
        let _ = writeln!(out, "{shared}");
    }
    out += "What is left:\n";
    for suspect in findings.suspects.iter().filter(|suspect| suspect.chance >= 0.005) {
        let about = &source.faults[suspect.fault.idx()];
        let _ = writeln!(
            out,
            "  {:>10}  {}, {}; {}, {}",
            words::percent(suspect.chance),
            words::capital(&about.what),
            about.place,
            about.repair.words,
            words::cost(about)
        );
        if let Some(also) = words::also(&source.faults, suspect) {
            let _ = writeln!(out, "              and at the same time: {also}");
        }
        if words::comes_and_goes(suspect) {
            out += "              comes and goes\n";
        }
        for (id, chance) in suspect
            .look_alikes
            .iter()
            .filter(|(id, chance)| *id != suspect.fault && *chance >= 0.005)
        {
            let like = &source.faults[id.idx()];
            let _ = writeln!(
                out,
                "              looks the same: {}, {} ({})",
                like.what,
                like.place,
                words::percent(*chance)
            );
        }
    }
    let _ = writeln!(
        out,
        "  {:>10}  Something not in this circuit",
        words::percent(findings.outside)
    );
    let (_, conclusion) = words::conclusion(circuit, &source.faults, findings);
    let _ = writeln!(out, "{conclusion}");
    for note in words::notes(circuit, findings) {
        let _ = writeln!(out, "{note}");
    }
    out
}

/// The proposed steps.
pub(crate) fn proposals(source: &Source, now: &SetUp, proposals: &[Proposal]) -> String {
    proposals.iter().map(|one| proposal(source, now, one)).collect()
}

/// A proposed step.
pub(crate) fn proposal(source: &Source, now: &SetUp, proposal: &Proposal) -> String {
    let circuit = &source.circuit;
    let mut out = format!(
        "- {}, {}\n",
        words::title(circuit, &proposal.tests),
        words::minutes(proposal.minutes)
    );
    if let Some(first) = proposal.tests.first() {
        for step in words::changes(circuit, now, &first.set_up) {
            let _ = writeln!(out, "    first: {step}");
        }
        let _ = writeln!(out, "    set-up: {}", first.set_up.to_text(circuit));
    }
    for test in &proposal.tests {
        let _ = writeln!(
            out,
            "    {} [{}]",
            words::placement(circuit, &test.placement),
            test.placement.to_text(circuit)
        );
    }
    if let Verdict::First(tests) = &proposal.judgement.verdict {
        for test in tests {
            let _ = writeln!(out, "    read first: {}", words::placement(circuit, &test.placement));
        }
    }
    for caution in diagnosis::cautions_of(circuit, &proposal.tests) {
        let _ = writeln!(out, "    mind: {caution}");
    }
    out + &outcomes(source, &proposal.tests, &proposal.outcomes)
}

/// What tests may show, and what it would mean.
pub(crate) fn outcomes(source: &Source, tests: &[Test], outcomes: &[Outcome]) -> String {
    let mut out = String::new();
    for one in web::outcomes::of_tests(&source.circuit, &source.faults, tests, outcomes) {
        let _ = writeln!(
            out,
            "    {:>10}  {}: {}",
            words::percent(one.chance),
            one.shows,
            one.means
        );
    }
    out
}

/// A judgement.
pub(crate) fn judgement(source: &Source, test: &Test, judgement: &Judgement) -> String {
    let circuit = &source.circuit;
    let headline = words::headline(&judgement.verdict, &judgement.dangers);
    let mut out = if headline.is_empty() {
        "Nothing still possible makes this harmful.\n".to_owned()
    } else {
        format!("{headline}\n")
    };
    for danger in &judgement.dangers {
        let _ = writeln!(out, "  {}", words::danger(circuit, &source.faults, danger));
    }
    if let Verdict::First(tests) = &judgement.verdict {
        for first in tests {
            let _ = writeln!(
                out,
                "  first: {} ({})",
                words::placement(circuit, &first.placement),
                words::set_up(circuit, &first.set_up)
            );
        }
    }
    for caution in diagnosis::cautions(circuit, test) {
        let _ = writeln!(out, "  mind: {caution}");
    }
    // What must not be done is not praised for what it would tell.
    if judgement.verdict != Verdict::Refused || !matches!(judgement.worth, Worth::Tells { .. }) {
        let worth = words::worth(circuit, &source.faults, &test.placement, &judgement.worth);
        let _ = writeln!(out, "{worth}");
    }
    out
}

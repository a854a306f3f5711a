//! Answers as JSON for scripts and as text for people. The JSON shapes are documented in docs/command-line.md.

use bench::{Kind, OtherState, Placement, Prediction, Standing, Test};
use circuit::{Circuit, Fault, FaultId};
use diagnosis::{
    AtOnce, Bill, Conclusion, Counted, Danger, DangerKind, Expected, Findings, Judgement, Outcome, Proposal, Proposed,
    Under, Verdict, Worth,
};
use serde_json::{Value, json};

use crate::source::Source;

/// A number JSON can carry; infinities become null.
pub(crate) fn number(value: f64) -> Value {
    serde_json::Number::from_f64(value).map_or(Value::Null, Value::Number)
}

/// A test in its text forms.
pub(crate) fn test(circuit: &Circuit, test: &Test) -> Value {
    json!({ "set_up": test.set_up.to_text(circuit), "test": test.placement.to_text(circuit) })
}

/// A possible fault.
pub(crate) fn fault(circuit: &Circuit, fault: &Fault) -> Value {
    let severity = fault.severity.map(|range| {
        json!({ "unit": range.unit.symbol(), "low": number(range.low), "high": number(range.high), "logarithmic": range.logarithmic })
    });
    let parts: Vec<&str> = fault
        .parts
        .iter()
        .map(|part| circuit.parts[part.idx()].id.as_str())
        .collect();
    json!({
        "fault": fault.path, "what": fault.what, "place": fault.place, "parts": parts, "severity": severity,
        "weight": number(fault.weight),
        "repair": { "what": fault.repair.words, "same_work": fault.repair.key, "minutes": number(fault.repair.minutes), "parts_price": number(fault.repair.parts_price) },
    })
}

/// A prediction of one test.
pub(crate) fn prediction(circuit: &Circuit, placement: &Placement, prediction: &Prediction) -> Value {
    json!({
        "test": placement.to_text(circuit),
        "kind": kind(prediction.kind),
        "value": number(prediction.value),
        "unit": unit(circuit, placement),
        "shows": shows(circuit, placement, prediction),
        "unsaid": prediction.unsaid.map(bench::Unsaid::words),
        "source_ohms": number(prediction.source_ohms),
        "by_parameter": circuit.params.iter().zip(&prediction.by_param).filter(|(_, by)| **by != 0.0)
            .map(|(param, by)| (param.path.clone(), number(*by))).collect::<serde_json::Map<_, _>>(),
    })
}

/// What the instrument shows, as a reading is written.
pub(crate) fn shows(circuit: &Circuit, placement: &Placement, prediction: &Prediction) -> Option<String> {
    match prediction.kind {
        Kind::Live | Kind::Unknown => None,
        _ => Some(match prediction.shown(placement, circuit) {
            Some(word) => word.to_text(placement, circuit),
            None => web::words::foreseen(circuit, placement, prediction),
        }),
    }
}

/// Other stable states of a circuit.
pub(crate) fn also_stable(circuit: &Circuit, standing: Option<&Standing>) -> Value {
    let state = |other: &OtherState| {
        let relays: Vec<Value> = other
            .relays
            .iter()
            .map(|(relay, is_in)| {
                json!({ "relay": circuit.parts[circuit.relays[relay.idx()].part.idx()].id, "pulled_in": is_in })
            })
            .collect();
        let volts: Vec<Value> = other
            .volts
            .iter()
            .map(|(point, here, there)| {
                json!({ "point": circuit.points[point.idx()].path, "volts": number(*there), "predicted": number(*here) })
            })
            .collect();
        json!({ "what": other.words(circuit), "relays": relays, "volts": volts })
    };
    standing
        .into_iter()
        .flat_map(|standing| &standing.others)
        .map(state)
        .collect()
}

/// Stable name of a kind.
pub(crate) fn kind(kind: Kind) -> &'static str {
    match kind {
        Kind::Number => "number",
        Kind::OverRange => "over range",
        Kind::Live => "live circuit",
        Kind::NoCommunication => "no communication",
        Kind::NotRun => "not run",
        Kind::Unknown => "unknown",
    }
}

fn unit(circuit: &Circuit, placement: &Placement) -> String {
    match placement {
        Placement::Ohmmeter { .. } | Placement::Continuity { .. } => "Ω".into(),
        Placement::Ammeter { .. } | Placement::Clamp { .. } => "A".into(),
        Placement::Scan { channel } => circuit.channels[channel.idx()].unit.clone(),
        Placement::Alternating { shows, .. } => shows.unit().symbol().into(),
        _ => "V".into(),
    }
}

/// Suspects and all that goes with them.
pub(crate) fn findings(source: &Source, findings: &Findings) -> Value {
    let faults = &source.faults;
    let suspects: Vec<Value> = findings
        .suspects
        .iter()
        .map(|suspect| {
            let about = &faults[suspect.fault.idx()];
            let look_alikes: Vec<Value> = suspect
                .look_alikes
                .iter()
                .map(|(id, chance)| {
                    let like = &faults[id.idx()];
                    json!({ "fault": like.path, "what": like.what, "place": like.place, "chance": number(*chance), "same_work": like.repair.key })
                })
                .collect();
            let severity = suspect
                .severity
                .map(|(middle, low, high)| json!({ "plausible": number(middle), "low": number(low), "high": number(high), "unit": about.severity.map(|range| range.unit.symbol()) }));
            json!({
                "fault": about.path, "what": about.what, "place": about.place, "chance": number(suspect.chance),
                "also": suspect.also.map(|also| &faults[also.idx()].path), "comes_and_goes": number(suspect.comes_and_goes), "mended": number(suspect.mended),
                "chance_before": number(suspect.chance_before), "severity": severity, "look_alikes": look_alikes,
                "repair": { "what": about.repair.words, "same_work": about.repair.key, "minutes": number(about.repair.minutes), "parts_price": number(about.repair.parts_price) },
                "bits_per_reading": suspect.bits.iter().map(|bits| number(*bits)).collect::<Vec<_>>(),
            })
        })
        .collect();
    let readings: Vec<Value> = findings
        .readings
        .iter()
        .map(|standing| {
            json!({
                "healthy": standing.healthy.map(|(value, deviation)| json!({ "value": number(value), "deviation": number(deviation) })),
                "possible": standing.possible, "chance_wrong": number(standing.wrong), "told_bits": number(standing.told_bits),
            })
        })
        .collect();
    let learnt: Vec<Value> = findings
        .learnt
        .iter()
        .map(|(param, centre, deviation)| {
            let param = &source.circuit.params[param.idx()];
            json!({ "parameter": param.path, "what": param.words, "shift": number(*centre), "doubt": number(*deviation) })
        })
        .collect();
    let unknown: Vec<Value> = findings
        .unknown_to_file
        .iter()
        .map(|(fault, chance)| json!({ "what": fault.what, "place": fault.place, "chance": number(*chance) }))
        .collect();
    let insides = source
        .circuit
        .unknowns
        .iter()
        .zip(&findings.insides)
        .map(|(unknown, chances)| {
            let each = unknown.alternatives.iter().zip(chances);
            let alternatives = each.map(|(one, chance)| {
            json!({ "what": one.words(), "chance_before": number(one.chance), "chance": number(*chance) })
        });
            json!({ "at": unknown.path, "place": unknown.place, "alternatives": alternatives.collect::<Vec<_>>() })
        });
    json!({
        "insides": insides.collect::<Vec<_>>(), "unknown_to_file": unknown,
        "pairs": { "tried": findings.pairs, "left_out_at_most": number(findings.pairs_left_out) },
        "suspects": suspects, "outside": number(findings.outside), "readings": readings, "learnt": learnt,
        "conclusion": conclusion(source, findings),
    })
}

/// How many tests were looked at.
pub(crate) fn counted(counted: &Counted) -> Value {
    json!({
        "tests": counted.considered, "tell_nothing": counted.tell_nothing, "refused": counted.refused,
        "set_ups": counted.set_ups, "set_ups_left": counted.set_ups_left,
    })
}

/// What the job comes to.
pub(crate) fn money(source: &Source, proposed: &Proposed, at_once: &AtOnce, bill: &Bill) -> Value {
    json!({
        "spent": number(bill.spent), "step": bill.step.map(number), "expected": number(bill.expected),
        "authorised": bill.authorised.map(number), "ask_first": bill.asks_first(),
        "measuring_saves": proposed.saves.map(number), "repair": repair(source, at_once),
    })
}

/// What is tried first where one repairs now.
fn repair(source: &Source, at_once: &AtOnce) -> Value {
    let path = |fault: FaultId| source.faults[fault.idx()].path.as_str();
    json!({
        "fault": at_once.fault.map(path), "also": at_once.also.map(path), "chance": number(at_once.chance),
        "price": number(at_once.price), "expected": number(at_once.expected),
    })
}

pub(crate) fn conclusion(source: &Source, findings: &Findings) -> Value {
    match &findings.conclusion {
        Conclusion::Open => json!({ "kind": "open" }),
        Conclusion::Found { suspect, chance } => {
            let fault = findings
                .suspects
                .get(*suspect)
                .map(|suspect| &source.faults[suspect.fault.idx()]);
            json!({ "kind": "found", "fault": fault.map(|fault| &fault.path), "same_work": fault.map(|fault| &fault.repair.key), "chance": number(*chance) })
        }
        Conclusion::Outside => json!({ "kind": "outside" }),
        Conclusion::RepairFirst(at_once) => json!({ "kind": "repair first", "repair": repair(source, at_once) }),
        Conclusion::CannotTell => json!({ "kind": "cannot tell" }),
    }
}

/// A proposed step.
pub(crate) fn proposal(source: &Source, proposal: &Proposal) -> Value {
    json!({
        "tests": proposal.tests.iter().map(|one| test(&source.circuit, one)).collect::<Vec<_>>(),
        "minutes": number(proposal.minutes), "bits": number(proposal.bits),
        "outcomes": proposal.outcomes.iter().map(|one| outcome(source, &proposal.tests, one)).collect::<Vec<_>>(),
        "judgement": judgement(source, &proposal.tests, &proposal.judgement),
    })
}

/// What tests may show, and what it would mean.
pub(crate) fn outcome(source: &Source, tests: &[Test], outcome: &Outcome) -> Value {
    let then: Vec<Value> = outcome
        .then
        .iter()
        .map(|(id, chance)| json!({ "fault": source.faults[id.idx()].path, "chance": number(*chance) }))
        .collect();
    let shows: Vec<Value> = tests
        .iter()
        .zip(&outcome.shows)
        .map(|(test, shows)| expected(&source.circuit, &test.placement, shows))
        .collect();
    json!({ "shows": shows, "chance": number(outcome.chance), "then": then, "then_outside": number(outcome.then_outside) })
}

pub(crate) fn expected(circuit: &Circuit, placement: &Placement, expected: &Expected) -> Value {
    match expected {
        Expected::Range(low, high) => {
            json!({ "low": number(*low), "high": number(*high), "unit": unit(circuit, placement) })
        }
        Expected::Is(shown) => json!({ "is": shown.to_text(placement, circuit) }),
    }
}

/// A judgement of tests in one set-up.
pub(crate) fn judgement(source: &Source, tests: &[Test], judgement: &Judgement) -> Value {
    let circuit = &source.circuit;
    let (verdict, first) = match &judgement.verdict {
        Verdict::Safe => ("safe", Vec::new()),
        Verdict::First(tests) => ("first", tests.iter().map(|one| test(circuit, one)).collect()),
        Verdict::Refused => ("refused", Vec::new()),
    };
    let placement = tests.first().map(|test| &test.placement);
    let shows = |shows: &Expected| placement.map(|placement| expected(circuit, placement, shows));
    let worth = match &judgement.worth {
        Worth::Tells { bits, minutes } => json!({ "tells": true, "bits": number(*bits), "minutes": number(*minutes) }),
        Worth::Unreachable(points) => {
            let paths: Vec<&str> = points
                .iter()
                .map(|point| circuit.points[point.idx()].path.as_str())
                .collect();
            json!({ "tells": false, "out_of_reach": paths })
        }
        Worth::Nothing {
            because,
            shows: all,
            otherwise,
        } => {
            let otherwise: Vec<Value> = otherwise
                .iter()
                .map(|one| json!({ "fault": source.faults[one.fault.idx()].path, "chance": number(one.chance), "shows": shows(&one.shows) }))
                .collect();
            json!({ "tells": false, "because": format!("{because:?}"), "shows": shows(all), "otherwise": otherwise })
        }
    };
    let dangers: Vec<Value> = judgement.dangers.iter().map(|one| danger(source, one)).collect();
    let cautions = diagnosis::cautions_of(circuit, tests);
    json!({ "verdict": verdict, "first": first, "dangers": dangers, "cautions": cautions, "worth": worth })
}

fn danger(source: &Source, danger: &Danger) -> Value {
    let branch = |id: &circuit::BranchId| source.circuit.branches[id.idx()].path.clone();
    let what = match &danger.what {
        DangerKind::Overload {
            branch: id,
            amps,
            rating,
        } => {
            json!({ "kind": "overload", "branch": branch(id), "amps": number(*amps), "rating_amps": number(*rating) })
        }
        DangerKind::OverVoltage { point, volts, rating } => {
            let point = &source.circuit.points[point.idx()].path;
            json!({ "kind": "over-voltage", "point": point, "volts": number(*volts), "rating_volts": number(*rating) })
        }
        DangerKind::Tool {
            tool,
            watts,
            amps,
            rating,
        } => {
            json!({ "kind": "tool", "tool": tool, "watts": watts.map(number), "amps": number(*amps), "rating_amps": number(*rating) })
        }
        DangerKind::ToolFuse { tool, rating } => {
            json!({ "kind": "tool fuse", "tool": tool, "rating_amps": number(*rating) })
        }
        DangerKind::LiveOhms { volts, harms } => {
            json!({ "kind": "live ohms", "volts": number(*volts), "harms": harms })
        }
        DangerKind::Trips { branch: id } => json!({ "kind": "trips", "branch": branch(id) }),
        DangerKind::Acts { words } => json!({ "kind": "acts", "words": words }),
    };
    let under = match &danger.under {
        Under::Healthy => json!("healthy"),
        Under::Suspect(id) => json!({ "fault": source.faults[id.idx()].path }),
        Under::ShortToFeed(point) => json!({ "short_to_feed": source.circuit.points[point.idx()].path }),
    };
    json!({ "what": what, "under": under, "chance": number(danger.chance), "anyway": danger.anyway })
}

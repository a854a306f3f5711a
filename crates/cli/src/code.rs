//! `code`: what trouble codes mean, and what several have in common.

use std::fmt::Write as _;

use codes::code::{Explanation, Shared, TroubleCode, Typed, explain, read, shared};
use serde_json::{Value, json};

use crate::args::CodeArgs;
use crate::commands::{Answer, print_json};
use crate::out;
use crate::source::{Failure, Source, with_checks};

pub(crate) fn code(args: &CodeArgs) -> Result<Answer, Failure> {
    let mut typed: Vec<(&String, Typed)> = Vec::new();
    for text in &args.codes {
        let one = read(text).map_err(|why| Failure::Text {
            place: "code".into(),
            why: why.to_string(),
        })?;
        // A code that is given twice is told once.
        if !typed.iter().any(|(_, known)| known.says_as(&one)) {
            typed.push((text, one));
        }
    }
    let codes: Vec<TroubleCode> = typed.iter().map(|(_, one)| one.code).collect();
    let shared = shared(&codes);
    let in_circuit = args
        .circuit
        .as_deref()
        .map(|name| in_circuit(name, &codes))
        .transpose()?;
    if args.json {
        print_json(&json!({
            "codes": typed.iter().map(|(text, typed)| to_json(text, *typed)).collect::<Value>(),
            "shared": shared.iter().map(shared_json).collect::<Value>(),
            "in_circuit": in_circuit,
        }))?;
    } else {
        let codes = typed.iter().map(|(_, one)| to_text(*one));
        let shared = shared.iter().map(|one| one.words() + "\n");
        let told = in_circuit.into_iter().flatten().map(|line| line + ".\n");
        // What they share comes before any one of them.
        out::print(shared.chain(codes).chain(told).collect::<Vec<_>>().join("\n"))?;
    }
    Ok(Answer::Done)
}

/// Which check of a circuit sets each code, or that none does.
fn in_circuit(name: &str, codes: &[TroubleCode]) -> Result<Vec<String>, Failure> {
    let own = Source::load(name)?.circuit;
    let known = codes.iter().filter_map(|code| {
        let monitor = &own.monitors[own.monitor(&code.to_string())?.idx()];
        let pin = own.watched(monitor)?;
        let plug = &own.parts[own.connectors[pin.connector.idx()].part.idx()].id;
        let (words, cavity) = (&monitor.words, pin.cavity);
        Some(format!(
            "This circuit has a check that sets {code}, {words}: it watches {plug}.{cavity}, {}",
            pin.words
        ))
    });
    let known: Vec<String> = known.collect();
    Ok(known.into_iter().chain(with_checks(name, codes)?.1).collect())
}

fn to_text(typed: Typed) -> String {
    let told = explain(typed.code, typed.failure_type);
    let mut out = format!("{}  {}\n", typed.code, told.says);
    if typed.from_bytes {
        let _ = writeln!(out, "       Read as the bytes that a module sends.");
    }
    let Explanation {
        at_the_pin, failure, ..
    } = told;
    for line in at_the_pin.map(str::to_owned).into_iter().chain(failure) {
        let _ = writeln!(out, "       {line}");
    }
    let _ = writeln!(out, "       Numbered by: {}", told.numbered_by);
    out
}

fn to_json(text: &str, typed: Typed) -> Value {
    let told = explain(typed.code, typed.failure_type);
    let [high, low] = typed.code.to_bytes();
    json!({
        "typed": text, "code": typed.code.to_string(), "bytes": format!("{high:02X} {low:02X}"), "from_bytes": typed.from_bytes,
        "system": typed.code.system().words(), "numbered_by": typed.code.owner().word(), "area": typed.code.area(),
        "failure_type": typed.failure_type.map(|one| json!({ "byte": one.to_string(), "meaning": one.meaning() })),
        "known": told.entry.map(|entry| json!({
            "name": entry.name(), "item": entry.item, "instance": entry.instance, "bank": entry.bank, "sensor": entry.sensor,
            "says": entry.says.word(), "circuit": entry.circuit.word(), "source": entry.source, "status": entry.status,
        })),
        "words": told.says, "at_the_pin": told.at_the_pin,
    })
}

fn shared_json(shared: &Shared) -> Value {
    let texts = |codes: &[TroubleCode]| codes.iter().map(|one| json!(one.to_string())).collect::<Value>();
    let may_follow = match shared {
        Shared::Supply { may_follow, .. } => may_follow.as_slice(),
        _ => &[],
    };
    json!({ "words": shared.words(), "codes": texts(shared.codes()), "may_follow": texts(may_follow) })
}

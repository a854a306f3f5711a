//! The table that makes a circuit a ready-made one: its keys, and whether they fit the circuit around them.

use toml::de::DeTable;

use super::decode::{ByName, Named, record};
use super::keys::CircuitFile;
use super::mistake::{Slips, suggestion};
use super::value::Text;
use crate::model::{Circuit, PartKind};

record! {
    /// What makes a circuit a ready-made one.
    ArchetypeKeys {
        /// What it is, in a line, for choosing.
        about: Text,
        /// Words that codes and people have for it: `throttle position`.
        serves: Option<Vec<Text>>,
        /// What is never probed, what needs key off and waiting, what must not be jumped.
        cautions: Option<Vec<Text>>,
        /// Questions, by the name that an answer refers to. Unanswered, the circuit stays as it stands.
        #[schemars(default)]
        ask: ByName<AskKeys>,
    }
}

record! {
    /// A question: exactly one of `cavity`, `keys`, `name`, `choose` and `beside` says what its answer changes.
    AskKeys [at] {
        /// The question, in plain words.
        what: Text,
        /// Which of several combined circuits it is about. Left out: the whole.
        of: Option<Text>,
        /// A cavity, whose place the answer takes wherever it stands.
        cavity: Option<Text>,
        /// Keys that get the answer, e.g. `wire.W2.colour`; made if absent.
        keys: Option<Vec<Text>>,
        /// A part, whose name the answer becomes.
        name: Option<Text>,
        /// A module's cavity, beside which something else may sit: 12 V or ground, made where a place next to it is free.
        beside: Option<Text>,
        /// What the answer may be. The first is what the circuit is without an answer.
        choose: Option<Vec<ChoiceKeys>>,
    }
}

record! {
    /// One answer out of several.
    ChoiceKeys {
        /// The answer, in plain words.
        say: Text,
        /// Tables and keys that it takes out, e.g. `wire.W8`.
        drop: Option<Vec<Text>>,
        /// A piece of circuit file that it adds; its keys win.
        add: Option<Text>,
    }
}

/// Notes questions that do not fit the circuit. Counts only where nothing else is wrong.
pub(crate) fn check(file: &CircuitFile, circuit: &Circuit, slips: &mut Slips) {
    let Some(archetype) = &file.archetype else { return };
    for entry in archetype.ask.iter() {
        if let Some(ask) = &entry.is {
            let targets = [
                ask.cavity.is_some(),
                ask.keys.is_some(),
                ask.name.is_some(),
                ask.choose.is_some(),
                ask.beside.is_some(),
            ];
            if targets.iter().filter(|is_there| **is_there).count() != 1 {
                let message = format!(
                    "question `{}` needs exactly one of `cavity`, `keys`, `name`, `choose` and `beside`",
                    entry.name
                );
                slips.push("question", &ask.at, message);
            }
        }
        question(file, circuit, entry, slips);
    }
}

fn question(file: &CircuitFile, circuit: &Circuit, entry: &Named<AskKeys>, slips: &mut Slips) {
    let Some(ask) = &entry.is else { return };
    for cavity in [&ask.cavity, &ask.beside].into_iter().flatten() {
        if has_cavity(circuit, &cavity.text) {
            continue;
        }
        let message = format!("the circuit has no cavity `{}`", cavity.text);
        slips.push_help(
            "question",
            &cavity.at,
            message,
            "write connector and number of one in use, e.g. `C1.6`",
        );
    }
    if let Some(name) = &ask.name
        && !circuit.parts.iter().any(|part| part.id == name.text)
    {
        let known = circuit.parts.iter().map(|part| part.id.as_str());
        let message = format!("the circuit has no part `{}`", name.text);
        slips.unknown("question", &name.at, message, &name.text, known);
    }
    for path in ask.keys.iter().flatten() {
        check_path(file, path, slips);
    }
    let Some(choices) = &ask.choose else { return };
    if choices.len() < 2 {
        slips.push("question", &ask.at, "a choice needs two answers or more");
    }
    for (idx, choice) in choices.iter().enumerate() {
        if choices[..idx].iter().any(|other| other.say.text == choice.say.text) {
            slips.push("question", &choice.say.at, "this answer stands there already");
        }
        for path in choice.drop.iter().flatten() {
            check_path(file, path, slips);
        }
        if let Some(add) = &choice.add
            && let Err(why) = DeTable::parse(&add.text)
        {
            let message = format!("this is no piece of circuit file: {}", why.message());
            slips.push("question", &add.at, message);
        }
    }
}

fn has_cavity(circuit: &Circuit, path: &str) -> bool {
    let Some((id, number)) = path.split_once('.') else {
        return false;
    };
    let number: Option<u16> = number.parse().ok();
    circuit.parts.iter().any(|part| match part.kind {
        PartKind::Connector(connector) => {
            part.id == id
                && number.is_some_and(|number| circuit.connectors[connector.idx()].cavities.contains_key(&number))
        }
        _ => false,
    })
}

/// Notes a path to keys that begins with nothing of this file.
fn check_path(file: &CircuitFile, path: &Text, slips: &mut Slips) {
    let Ok(segments) = toml_edit::Key::parse(&path.text) else {
        slips.push_help(
            "question",
            &path.at,
            format!("`{}` is no key", path.text),
            "e.g. `wire.W2.colour`",
        );
        return;
    };
    let [table, rest @ ..] = segments.as_slice() else {
        return;
    };
    let names: Vec<&str> = match table.get() {
        "battery" | "charger" if !rest.is_empty() => return,
        "feed" => file.feed.names().collect(),
        "fuse" => file.fuse.names().collect(),
        "relay" => file.relay.names().collect(),
        "ground" => file.ground.names().collect(),
        "sensed" => file.sensed.names().collect(),
        "rhythm" => file.rhythm.names().collect(),
        "load" => file.load.names().collect(),
        "module" => file.module.names().collect(),
        "device" => file.device.names().collect(),
        "connector" => file.connector.names().collect(),
        "wire" => file.wire.names().collect(),
        "splice" => file.splice.names().collect(),
        "bundle" => file.bundle.names().collect(),
        "chafe" => file.chafe.names().collect(),
        "kind" => file.kind.names().collect(),
        _ => Vec::new(),
    };
    if !rest.first().is_some_and(|name| names.contains(&name.get())) {
        let name = rest.first().map_or("", toml_edit::Key::get);
        let message = format!("`{}` leads to nothing of this circuit", path.text);
        let help = suggestion(name, names).unwrap_or_else(|| "e.g. `wire.W2.colour`".to_owned());
        slips.push_help("question", &path.at, message, help);
    }
}

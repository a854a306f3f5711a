//! Ready-made circuits: the built-in ones stand, whatever is answered; answers go where they belong; wrong ones are refused.

#![expect(clippy::unwrap_used, reason = "a test helper fails by panicking")]

use circuit::archetype::{combine, find};
use circuit::{Archetype, ArchetypeError, Asks, Circuit, PinKind, Question, parse};

fn built_in() -> Vec<Archetype> {
    Archetype::built_in().unwrap_or_else(|why| panic!("{why}"))
}

fn track() -> Archetype {
    built_in().into_iter().find(|one| one.name == "position-track").unwrap()
}

fn answers(list: &[(&str, &str)]) -> Vec<(String, String)> {
    list.iter()
        .map(|(question, answer)| ((*question).to_owned(), (*answer).to_owned()))
        .collect()
}

#[track_caller]
fn filled(of: &Archetype, list: &[(&str, &str)]) -> (Circuit, Archetype, Vec<String>) {
    let changed = of.fill(&answers(list)).unwrap_or_else(|why| panic!("{why}"));
    let circuit = parse(&changed.archetype.text).unwrap();
    (circuit, changed.archetype, changed.told)
}

#[track_caller]
fn refused(of: &Archetype, list: &[(&str, &str)], why: &str) {
    assert_eq!(of.fill(&answers(list)).unwrap_err().to_string(), why);
}

#[test]
fn each_built_in_one_takes_every_choice_and_a_place_for_every_cavity() {
    for one in built_in() {
        for question in &one.questions {
            let tries: Vec<String> = match &question.asks {
                Asks::Choice(choices) => choices.iter().map(|choice| choice.say.clone()).collect(),
                // A cavity far out, and one that is taken.
                Asks::Cavity(_) => vec!["97".into(), "1".into()],
                Asks::Name(_) => vec!["Z9".into()],
                Asks::Keys(paths) if paths[0].ends_with("colour") => vec!["green/red".into()],
                Asks::Keys(paths) if paths[0].ends_with("length") => vec!["2.2 m".into()],
                Asks::Keys(_) => Vec::new(),
            };
            for answer in tries {
                let changed = one.fill(&[(question.id.clone(), answer.clone())]);
                let changed = changed.unwrap_or_else(|why| panic!("{}: {why}", one.name));
                let still_asks = changed.archetype.questions.iter().any(|other| other.id == question.id);
                assert!(!still_asks, "{}: {} is asked again", one.name, question.id);
                // A choice may take out what another question is about: that is asked no more either.
                // Nor is what sits beside a cavity that moved to where no place is free.
                let left = |all: &[Question]| all.iter().filter(|one| one.beside.is_none()).count();
                let is_own = usize::from(question.beside.is_none());
                let (left, before) = (left(&changed.archetype.questions) + is_own, left(&one.questions));
                let is_choice = matches!(question.asks, Asks::Choice(_));
                assert!(
                    left == before || (is_choice && left < before),
                    "{}: {}",
                    one.name,
                    question.id
                );
            }
        }
        assert!(one.about.len() > 20 && !one.serves.is_empty(), "{}", one.name);
    }
}

#[test]
fn nothing_is_to_be_remarked_about_a_built_in_one() {
    for one in built_in() {
        assert_eq!(parse(&one.text).unwrap().remarks(), [""; 0], "{}", one.name);
    }
}

#[test]
fn without_answers_the_text_stays_as_it_is() {
    for one in built_in() {
        assert_eq!(one.fill(&[]).unwrap().archetype, one);
    }
}

#[test]
fn an_answered_cavity_moves_with_all_that_refers_to_it() {
    let one = track();
    let (circuit, archetype, told) = filled(
        &one,
        &[("signal", "17"), ("signal-colour", "green/yellow"), ("length", "3 m")],
    );
    let pin = circuit.modules[0]
        .pins
        .iter()
        .find(|pin| pin.words == "position signal")
        .unwrap();
    assert_eq!(pin.cavity, 17);
    let wire = circuit
        .wires
        .iter()
        .find(|wire| circuit.parts[wire.part.idx()].id == "W5")
        .unwrap();
    assert_eq!(
        (wire.colour.as_str(), wire.tracer.as_deref(), wire.length),
        ("green", Some("yellow"), 3.0)
    );
    assert!(told.is_empty(), "{told:?}");
    // Comments and what was not asked stay as they stood.
    let is_new = |line: &&str| !one.text.lines().any(|old| old == *line);
    let new: Vec<&str> = archetype.text.lines().filter(is_new).collect();
    assert_eq!(
        new.len(),
        6,
        "pin, channel, three wires, and what is asked beside it: {new:#?}"
    );
    assert!(archetype.text.starts_with("# Three-wire"), "{}", archetype.text);
}

#[test]
fn cavities_change_places_and_rows_grow() {
    let (circuit, _, told) = filled(&track(), &[("signal", "3"), ("sensor-ground", "C1.40")]);
    let cavity = |kind| {
        circuit.modules[0]
            .pins
            .iter()
            .find(|pin| pin.kind == kind)
            .unwrap()
            .cavity
    };
    assert_eq!(cavity(circuit::PinKind::Input), 3);
    assert_eq!(cavity(circuit::PinKind::SensorGround), 40);
    assert!([4, 5].contains(&cavity(circuit::PinKind::Reference)));
    let was = "C1.3 was the place of the reference of module engine: that is at C1.";
    assert!(told[0].starts_with(was), "{told:?}");
    let (_, _, others) = filled(&track(), &[("signal", "1")]);
    assert!(
        others[0].starts_with("C1.1 was the place of the feed of module engine"),
        "{others:?}"
    );
    let plug = &circuit.connectors[0];
    assert_eq!(plug.rows.iter().map(Vec::len).collect::<Vec<_>>(), [20, 20]);
}

#[test]
fn a_second_plug_and_new_names_come_of_answers() {
    let (circuit, archetype, told) = filled(
        &track(),
        &[("signal", "C2.7"), ("C1", "X5"), ("engine", "dme"), ("sensor", "pedal")],
    );
    let ids: Vec<&str> = circuit.parts.iter().map(|part| part.id.as_str()).collect();
    assert!(
        ["C2", "X5", "dme", "pedal"].iter().all(|id| ids.contains(id)),
        "{ids:?}"
    );
    assert_eq!(told, ["C2 is a new connector, taken to be like C1"]);
    // What is still open is asked of the new name.
    let open = archetype
        .questions
        .iter()
        .find(|question| question.id == "reference")
        .unwrap();
    assert_eq!(open.asks, Asks::Cavity("X5.3".into()));
    let (circuit, ..) = filled(&archetype, &[("reference", "9"), ("beside", "a wire at 12 V")]);
    let pin = circuit.modules[0]
        .pins
        .iter()
        .find(|pin| pin.kind == circuit::PinKind::Reference)
        .unwrap();
    assert_eq!((pin.cavity, circuit.bundles[0].wires.len()), (9, 4));
}

#[test]
fn wrong_answers_are_refused_with_what_was_expected() {
    let one = track();
    refused(
        &one,
        &[("signl", "4")],
        "position-track has no question and no part `signl` (did you mean `signal`?)",
    );
    refused(
        &one,
        &[("signal", "upper left")],
        "signal: `upper left` is not an answer to \"Module cavity of the signal\": the number of a cavity of C1 is expected, \
         from 1 to 400, e.g. `12`, or plug and number at another plug, e.g. `C2.12`",
    );
    for slip in ["0", "C1.0", "7.5", "C1.C1.5", "401", "C 1.5", ".5"] {
        let why = one.fill(&answers(&[("signal", slip)])).unwrap_err().to_string();
        assert!(why.contains("from 1 to 400"), "{slip}: {why}");
    }
    let why = one.fill(&answers(&[("length", "1000 km")])).unwrap_err().to_string();
    assert!(why.contains("no wire of a vehicle is longer than 100 m"), "{why}");
    let why = one.fill(&answers(&[("length", "-2 m")])).unwrap_err().to_string();
    assert_eq!(why.matches("negative").count(), 1, "three wires, said once: {why}");
    refused(
        &one,
        &[("signal", "12"), ("reference", "012")],
        "signal and reference are both answered `C1.12`: each needs a place of its own",
    );
    refused(
        &one,
        &[("beside", "a wire at 12V")],
        "beside: `a wire at 12V` is not an answer to \"What else runs in the harness to the sensor?\": one of `nothing`, `a wire \
         at 12 V` is expected, or its number from 1 (did you mean `a wire at 12 V`?)",
    );
    refused(
        &one,
        &[("C1", "S1")],
        "C1: `S1` is not an answer to \"Name of C1\": another part has this name already",
    );
    let why = one
        .fill(&answers(&[("signal-colour", "grien")]))
        .unwrap_err()
        .to_string();
    assert!(
        why.contains("signal-colour: `grien`") && why.contains("did you mean `green`?"),
        "{why}"
    );
    let why = one.fill(&answers(&[("signal", "S1.2")])).unwrap_err().to_string();
    assert!(
        why.starts_with("with these answers position-track is no circuit"),
        "{why}"
    );
}

#[test]
fn a_file_that_asks_of_what_it_has_not_is_refused() {
    let text = track().text;
    for (good, bad, why) in [
        (
            "cavity = \"C1.5\"",
            "cavity = \"C1.6\"",
            "the circuit has no cavity `C1.6`",
        ),
        (
            "keys = [\"wire.W5.colour\"]",
            "keys = [\"wire.W55.colour\"]",
            "leads to nothing of this circuit",
        ),
        (
            "cavity = \"C1.3\"",
            "",
            "exactly one of `cavity`, `keys`, `name`, `choose` and `beside`",
        ),
        (
            "say = \"a wire at 12 V\"",
            "say = \"nothing\"",
            "this answer stands there already",
        ),
        (
            "wires = [\"W3\", \"W4\", \"W5\", \"W1\"]\n'''",
            "wires = [\n'''",
            "this is no piece of circuit file",
        ),
    ] {
        assert!(text.contains(good), "{good}");
        let mistakes = parse(&text.replacen(good, bad, 1)).unwrap_err();
        assert!(
            mistakes.iter().any(|mistake| mistake.message.contains(why)),
            "{why}: {mistakes:?}"
        );
    }
}

#[test]
fn circuits_are_found_by_what_they_serve() {
    let all = built_in();
    let first = |words: &str| find(&all, words).first().map(|one| one.name.clone());
    assert_eq!(
        first("throttle position sensor signal low").as_deref(),
        Some("position-track")
    );
    assert_eq!(first("Zylinderkopf"), None);
    // As the table of codes says them, then as people do.
    for (said, name) in [
        ("wide-band pump current line +, bank 1 sensor 1", "oxygen-wide-band"),
        ("wide-band reference voltage, bank 2 sensor 1", "oxygen-wide-band"),
        ("air flow meter A", "air-flow-voltage"),
        ("clutch switch A", "switch-redundant"),
        ("closed throttle switch", "switch-single"),
        ("brake switch A/B", "switch-redundant"),
        ("fuel pump secondary", "fuel-pump-relay"),
        ("cooling fan control 1", "fan-relay"),
        ("starter relay", "starter-cables"),
        ("sensor reference supply (5 V) B", "reference-shared"),
        ("module power relay sense", "module-feeds-and-grounds"),
        ("several injectors fail at once", "injectors-shared-feed"),
        ("tail lamps glow dim with the brake on", "lamps-shared-ground"),
        ("battery flat overnight", "drain-fuse-tree"),
        ("bad sensor ground, sensors read too cold", "sensor-ground-shared"),
        ("fault since an aftermarket box was fitted", "accessory-between"),
        ("glow plug cylinder 3", "glow-plugs"),
    ] {
        let found = find(&all, said);
        let offered: Vec<&str> = found.iter().take(3).map(|one| one.name.as_str()).collect();
        assert!(offered.contains(&name), "{said}: {offered:?}");
    }
}

/// A pressure sensor made of the position sensor's file: the same pins of the module, other names.
fn pressure() -> Archetype {
    let text = track()
        .text
        .replace("\"potentiometer\"\nsenses", "\"three-wire sensor\"\nsenses");
    let text = text
        .replace("position", "pressure")
        .replace("potentiometer", "transducer")
        .replace("Position", "Pressure");
    Archetype::read("pressure", &text).unwrap_or_else(|why| panic!("{why}"))
}

#[track_caller]
fn combined(all: &[&Archetype]) -> (Circuit, Archetype, Vec<String>) {
    let texts: Vec<(&str, &str)> = all.iter().map(|one| (one.name.as_str(), one.text.as_str())).collect();
    let changed = combine(&texts).unwrap_or_else(|why| panic!("{why}"));
    (parse(&changed.archetype.text).unwrap(), changed.archetype, changed.told)
}

fn count(circuit: &Circuit, kind: PinKind) -> usize {
    circuit.modules[0].pins.iter().filter(|pin| pin.kind == kind).count()
}

#[test]
fn two_sensors_on_one_module_share_reference_ground_and_fuse() {
    let (circuit, archetype, told) = combined(&[&track(), &pressure()]);
    let one = [
        PinKind::Feed,
        PinKind::Ground,
        PinKind::Reference,
        PinKind::SensorGround,
    ];
    assert!(one.iter().all(|kind| count(&circuit, *kind) == 1));
    assert_eq!(count(&circuit, PinKind::Input), 2);
    assert_eq!(
        (circuit.fuses.len(), circuit.grounds.len(), circuit.devices.len()),
        (1, 2, 2)
    );
    assert_eq!(
        (circuit.splices.len(), circuit.channels.len(), circuit.sensed.len()),
        (2, 2, 2)
    );
    for of in [track(), pressure()] {
        let header = of.text.lines().next().expect("it says what it is");
        assert!(header.starts_with('#') && archetype.text.contains(header), "{header}");
    }
    assert_eq!(told.len(), 3, "{told:?}");
    assert_eq!(
        told[0],
        "two circuits want C1.5: that of Pressure sensor with a track is at C1.6 now, as a guess"
    );
    assert!(archetype.text.contains("length = \"0.3 m\""));
    // The reference is asked once, and of nobody; the signal twice.
    let asked = |what: &str| -> Vec<Option<&str>> {
        let same = archetype.questions.iter().filter(|one| one.what == what);
        same.map(|one| one.of.as_deref()).collect()
    };
    assert_eq!(asked("Module cavity of the 5 V reference"), [None]);
    assert_eq!(
        asked("Module cavity of the signal"),
        [
            Some("Position sensor with a track"),
            Some("Pressure sensor with a track")
        ]
    );
    // Answers find what was renamed.
    let (circuit, ..) = filled(
        &archetype,
        &[
            ("signal", "9"),
            ("signal2", "10"),
            ("reference", "11"),
            ("signal-colour2", "blue"),
        ],
    );
    let mut inputs: Vec<u16> = circuit.modules[0]
        .pins
        .iter()
        .filter(|pin| pin.kind == PinKind::Input)
        .map(|pin| pin.cavity)
        .collect();
    inputs.sort_unstable();
    assert_eq!(inputs, [9, 10]);
    assert_eq!(circuit.wires.iter().filter(|wire| wire.colour == "blue").count(), 1);
}

#[test]
fn the_same_circuit_may_be_there_three_times() {
    let one = track();
    let (circuit, archetype, _) = combined(&[&one, &one, &one]);
    assert_eq!(
        (circuit.devices.len(), circuit.sensed.len(), circuit.splices.len()),
        (3, 3, 2)
    );
    assert_eq!(count(&circuit, PinKind::Input), 3);
    let (again, ..) = combined(&[&archetype, &pressure()]);
    assert_eq!(
        (again.devices.len(), again.splices.len(), count(&again, PinKind::Input)),
        (4, 2, 4)
    );
}

#[test]
fn every_two_built_in_ones_combine() {
    let all = built_in();
    for first in &all {
        for second in &all {
            combined(&[first, second]);
        }
    }
}

#[test]
fn contradictions_name_both_places() {
    let of = |one: &Archetype, other: &str| {
        combine(&[(&one.name, &one.text), ("pump", other)])
            .unwrap_err()
            .to_string()
    };
    let other = pressure().text.replace("rating = \"10 A\"", "rating = \"15 A\"");
    assert_eq!(
        of(&track(), &other),
        "fuse.F1.rating is \"10 A\" in position-track and \"15 A\" in pump: make them agree, or give one another name"
    );
    // Where both signals are said to sit at one cavity, neither gives way.
    let said = |one: &Archetype| one.fill(&answers(&[("signal", "8")])).unwrap().archetype;
    assert_eq!(
        of(&said(&track()), &said(&pressure()).text),
        "cavity C1.8 of engine is input in position-track and input in pump: make them agree, or give one another name"
    );
    // Where only one is said, the other gives way.
    let (circuit, ..) = combined(&[&said(&track()), &pressure()]);
    assert_eq!(count(&circuit, PinKind::Input), 2);
    let why = of(&track(), "title = \"no\"\n[wire]\nW1 = { from = \"A\" }\n");
    assert!(why.starts_with("pump has mistakes:\n  line 3"), "{why}");
}

#[test]
fn circuits_that_ask_nothing_combine_as_well() {
    let small = |name: &str| {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("../../circuits/small")
            .join(name);
        std::fs::read_to_string(path).unwrap()
    };
    let texts = [("pedal", small("potentiometer.toml")), ("lamps", small("lamps.toml"))];
    let texts: Vec<(&str, &str)> = texts.iter().map(|(name, text)| (*name, text.as_str())).collect();
    match combine(&texts) {
        Ok(changed) => assert!(parse(&changed.archetype.text).unwrap().devices.len() > 2),
        Err(why) => assert!(matches!(why, ArchetypeError::Contradiction { .. }), "{why}"),
    }
}

/// A cavity next to another in a plug is where a leak goes: every ready-made circuit with a free place there asks for it.
#[test]
fn what_sits_next_to_a_cavity_is_asked_and_is_a_neighbour_there_wherever_that_went() {
    // These plugs are full; the starter has a module only by an answer.
    let without = ["drain-fuse-tree", "glow-plugs", "starter-cables"];
    for archetype in built_in() {
        let asks = archetype.questions.iter().any(|one| one.beside.is_some());
        assert_eq!(asks, !without.contains(&archetype.name.as_str()), "{}", archetype.name);
    }
    let leaks = |circuit: &Circuit, a: u16, b: u16| {
        let path = format!("C1.{a}-{b}/a/leak");
        circuit::possible_faults(circuit).iter().any(|fault| fault.path == path)
    };
    assert!(!leaks(&parse(&track().text).unwrap(), 5, 6));
    // The answers come in any order: what is beside it is put there once the signal has its place.
    let (circuit, archetype, told) = filled(&track(), &[("next-to-it", "12 V"), ("signal", "14")]);
    assert!(leaks(&circuit, 14, 15), "{told:?}");
    let feed = circuit
        .wires
        .iter()
        .find(|wire| circuit.parts[wire.part.idx()].id == "beside-15")
        .expect("its wire");
    assert_eq!(
        circuit.points[feed.ends[0].idx()].path,
        "F1/out",
        "12 V as the module's own feed"
    );
    assert!(
        !archetype.questions.iter().any(|one| one.beside.is_some()),
        "it is asked no more"
    );
    let (circuit, ..) = filled(&track(), &[("next-to-it", "ground")]);
    assert!(leaks(&circuit, 5, 6));
    // The only places next to 10 in its row of one are 9, and none beyond the end: taken, it is told.
    let full = track().text.replace(r#"rows = ["1-10", "11-20"]"#, r#"rows = ["1-5"]"#);
    let full = Archetype::read("full", &full).unwrap();
    assert!(
        full.questions.iter().all(|one| one.beside.is_none()),
        "no place is free"
    );
    let (_, _, told) = filled(
        &track(),
        &[
            ("next-to-it", "12 V"),
            ("signal", "1"),
            ("reference", "2"),
            ("sensor-ground", "11"),
        ],
    );
    assert_eq!(
        told.last().map(String::as_str),
        Some(
            "What is in the cavity next to that of the position signal? `12 V` is left out: every cavity next to it is taken"
        )
    );
}
